"""The map of a logger's file: which column is which probe, and how its times are written."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, Outcome
from chargeassist.model.job import Job, ProbeSpec, SourceSpec
from chargeassist.model.text import plain
from chargeassist.qa.log_text import LogTable, check_form, elapsed_s, has_day, moment, zone_of
from chargeassist.session.job.jobfile import read_job
from chargeassist.session.job.probes import read_probes
from chargeassist.session.job.toml_table import TomlTable, file_text, toml_of
from chargeassist.session.scenario.script import read_script

SOURCE = "imported log"
ELAPSED = "elapsed"
"""The form of a time that counts from the begin of the log."""


@dataclass(frozen=True, slots=True)
class LogMap:
    """How a log is read.

    Attributes
    ----------
    times : tuple of int
        Columns that together are the time.
    form : str
        "elapsed", or a ``strptime`` form, or "" for ISO 8601.
    time_unit : str
    zone : tzinfo or None
    started : datetime or None
        Of a log with elapsed time.
    date : date or None
        Of the first row of a log with times of the day.
    probes : tuple of (int, ProbeSpec)
        Column and probe.
    script : tuple of Mark
    outcome : Outcome
    """

    job: Job
    times: tuple[int, ...]
    form: str
    time_unit: str
    zone: dt.tzinfo | None
    started: dt.datetime | None
    date: dt.date | None
    probes: tuple[tuple[int, ProbeSpec], ...]
    script: tuple[Mark, ...]
    outcome: Outcome


def read_map(top: TomlTable, table: LogTable, base: Path, log: str) -> LogMap:
    """Return the map in `top` for the columns of `table`.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    time = top.table("time")
    names = time.texts("columns") or (time.text("column"),)
    places = tuple(_place(time, "column", name, table) for name in names)
    form = _form(time)
    started = top.text("started", default="")
    zone = zone_of(top.text("zone", default=""))
    unit = time.text("unit", default=table.columns[places[0]].unit)
    day = _day(time, form)
    time.finish()
    probes = _probes(top, table)
    job = _job(top, base, log, tuple(probe for _, probe in probes))
    elapsed = form == ELAPSED or (not form and day is None and _looks_elapsed(table, places))
    if elapsed and not form:
        _refuse_times_of_day(time, table, places[0])
    if day is not None and zone is None:
        raise top.error("zone", "expected where the log was made, for it has no offsets", "none")
    begun = None
    if elapsed:
        if not started:
            raise top.error(
                "started", "expected when the log began, for its times are elapsed", "nothing"
            )
        try:
            begun = moment(started, "", zone)
        except ValueError as exc:
            raise ConfigError(f"{top.where('started')}: {exc}") from exc
    found = LogMap(
        job=job,
        times=places,
        form=ELAPSED if elapsed else form,
        time_unit=unit,
        zone=zone,
        started=begun,
        date=day,
        probes=probes,
        script=read_script(top, job.hold.required_hz or 0.0),
        outcome=Outcome(top.choice("outcome", tuple(Outcome), default="abandoned")),
    )
    top.finish()
    return found


def _form(time: TomlTable) -> str:
    form = time.text("form", default="")
    if form and form != ELAPSED:
        try:
            check_form(form)
        except ValueError as exc:
            raise time.error(
                "form",
                f'expected "{ELAPSED}", or a strptime form such as "%Y-%m-%d %H:%M:%S" ({exc})',
                repr(plain(form, 40)),
            ) from exc
    return form


def _job(top: TomlTable, base: Path, log: str, probes: tuple[ProbeSpec, ...]) -> Job:
    source = SourceSpec(name=SOURCE, url=f"log:{plain(log, 80)}", format="csv", probes=probes)
    if isinstance(top.data.get("job"), Mapping):
        return read_job(top.table("job"), (source,))
    path = base / top.text("job")
    table = toml_of(file_text(path, "a job file"), str(path))
    if "source" in table.data:
        return replace(read_job(table), sources=(source,))
    return read_job(table, (source,))


def _probes(top: TomlTable, table: LogTable) -> tuple[tuple[int, ProbeSpec], ...]:
    """Read the ``[[probe]]`` tables, with the unit of the header where they name none."""
    filled: list[TomlTable] = []
    places: list[int] = []
    for probe in top.tables("probe"):
        place = _place(probe, "select", probe.text("select"), table)
        column = table.columns[place]
        if "unit" not in probe.data and not column.unit:
            raise probe.error(
                "unit",
                f"expected one, for the header {plain(column.header, 40)!r} has none",
                "none",
            )
        places.append(place)
        filled.append(replace(probe, data={"unit": column.unit, **probe.data}))
    if not filled:
        raise top.error("probe", "expected at least one [[probe]]", "none")
    return tuple(zip(places, read_probes(tuple(filled), SOURCE), strict=True))


def _place(where: TomlTable, key: str, name: str, table: LogTable) -> int:
    place = table.find(name)
    if place is None:
        columns = ", ".join(repr(plain(c.header, 40)) for c in table.columns[:30])
        raise where.error(key, f"expected a column of the log ({columns})", repr(plain(name, 40)))
    return place


def _looks_elapsed(table: LogTable, places: tuple[int, ...]) -> bool:
    if len(places) > 1 or not table.rows:
        return False
    cells = table.rows[0][1]
    try:
        elapsed_s(cells[places[0]], "s", table.decimal)
    except (ValueError, IndexError):
        return False
    return True


def _day(time: TomlTable, form: str) -> dt.date | None:
    value = time.get("date")
    told = ELAPSED if form == ELAPSED else "a form with a day" if form and has_day(form) else ""
    if value is not None and told:
        raise time.error("date", "expected none: it is for times of the day alone", told)
    if value is None and form and not told:
        expected = 'expected the day of the first row, which the form does not say: "2026-05-04"'
        raise time.error("date", expected, "none")
    try:
        return dt.date.fromisoformat(str(value)) if value is not None else None
    except ValueError as exc:
        came = repr(plain(str(value), 40))
        raise time.error("date", 'expected the day of the first row: "2026-05-04"', came) from exc


def _refuse_times_of_day(time: TomlTable, table: LogTable, place: int) -> None:
    """Ask what "08:15:03" is: an elapsed log begins at nought, or one row later."""
    cells = [row[place] for _, row in table.rows[:2] if place < len(row)]
    try:
        begun, *following = (elapsed_s(text, "s", table.decimal) for text in cells)
    except ValueError:
        return
    if cells[0].count(":") == 2 and begun > max([0.0, *(t - begun for t in following)]):
        raise time.error(
            "form",
            f'expected form = "{ELAPSED}", or, if these are times of the day, the day of the first '
            'row: date = "2026-05-04"',
            repr(plain(cells[0], 40)),
        )
