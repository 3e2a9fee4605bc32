"""Make a session record of a generic logger's CSV file.

A small TOML file says which column is which probe; see `read_map` for its keys::

    job = "job.toml"                # a job file beside this one; its sources are not used
    zone = "+02:00"                 # where the times in the log carry no offset

    [time]
    column = "Time"                 # or columns = ["Date", "Time"]

    [[probe]]
    role = "liquid_pressure"
    select = "P liquid"             # header, with or without its unit, or the column's number
    unit = "psig"                   # where the header has none, or not gauge or absolute
    accuracy = "1 psi"

    [[script]]                      # what the technician did, as in a scenario
    at = "12 min"
    do = "shut the valve"
    mass = "85 g"

Every reading keeps its place; what cannot be read is an event of the record, never left out in
silence. The verdicts are those of today's software on these readings.
"""

import datetime as dt
import hashlib
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from chargeassist.guide.assistant import Assistant
from chargeassist.model.build import software
from chargeassist.model.channels import RECORDED_DECIMALS
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import (
    BadInput,
    ChannelDeclared,
    Event,
    InputEvent,
    Mark,
    Outcome,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
)
from chargeassist.model.job import Job, ProbeSpec, SourceSpec
from chargeassist.model.sent_number import why_no_reading
from chargeassist.model.text import plain
from chargeassist.model.units import find_unit
from chargeassist.physics.table import table_hash
from chargeassist.qa.log_text import (
    ENCODINGS,
    NO_NUMBER,
    SEPARATORS,
    LogTable,
    check_form,
    decoded,
    elapsed_s,
    moment,
    number,
    read_table,
    zone_of,
)
from chargeassist.session.bounded import file_bytes
from chargeassist.session.fold import Fold
from chargeassist.session.job.jobfile import read_job
from chargeassist.session.job.probes import read_probes
from chargeassist.session.job.toml_table import TomlTable, file_text, toml_of
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.scenario.script import read_script

SOURCE = "imported log"
MOST_BYTES = 2**28
ELAPSED = "elapsed"
"""The form of a time that counts from the begin of the log."""

MOST_FAULTS = 1000
"""Cells that cannot be read are told one by one up to this many, then counted."""

LONGEST_S = 1e9
PUT_BACK_S = 900.0
"""A log whose time goes back by less [s] is out of order; no zone puts its clocks back by less."""


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
    probes: tuple[tuple[int, ProbeSpec], ...]
    script: tuple[Mark, ...]
    outcome: Outcome


def import_log(log: Path, map_path: Path) -> Iterator[Event]:
    """Yield the session that the file `log` holds, verdicts included.

    Raises
    ------
    ConfigError
        If log or map cannot be used: file and key or line, what was expected, what came.
    """
    data = file_bytes(log, "the CSV file of a logger", MOST_BYTES)
    text = file_text(map_path, "a map of a log")
    top = toml_of(text, str(map_path))
    encoding = top.choice("encoding", ENCODINGS, default="")
    separator = top.choice("separator", SEPARATORS, default="")
    decimal = top.choice("decimal", (".", ","), default="")
    try:
        table = read_table(decoded(data, encoding), separator, decimal)
    except ConfigError as exc:
        raise ConfigError(f"{log}: {exc}") from exc
    mapped = read_map(top, table, map_path.parent, log.name)
    identity = hashlib.sha256(data + b"\0" + text.encode()).hexdigest()[:32]
    return _judged(list(_inputs(table, mapped, log, identity)), mapped.job)


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
    time.finish()
    probes = _probes(top, table)
    job = _job(top, base, log, tuple(probe for _, probe in probes))
    elapsed = form == ELAPSED or (not form and _looks_elapsed(table, places))
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


def _inputs(table: LogTable, mapped: LogMap, log: Path, identity: str) -> Iterator[InputEvent]:
    rows = _Rows(table, mapped, str(log))
    job = mapped.job
    yield SessionStarted(
        t=0.0,
        session_id=identity,
        started_utc=rows.begun.isoformat(timespec="milliseconds"),
        software=software(),
        table_hash=table_hash(),
        mode=SessionMode.FIELD,
        job=job_to_json(job),
    )
    for _, probe in mapped.probes:
        yield ChannelDeclared(t=0.0, channel=probe.channel)
    counts = {probe.channel.name: 0 for _, probe in mapped.probes}
    last_t = 0.0
    waiting = list(mapped.script)
    for event in rows.events():
        while waiting and waiting[0].t <= event.t:
            yield waiting.pop(0)
        last_t = event.t
        if isinstance(event, Reading):
            counts[event.channel] += 1
        yield event
    for mark in waiting:
        yield mark
        last_t = mark.t
    yield SessionStopped(
        t=last_t,
        outcome=mapped.outcome,
        reason=f"imported from {plain(log.name, 80)}; the log ends here",
        counts=counts,
    )


class _Rows:
    """The rows of a log as readings and faults, in an order that never goes back."""

    def __init__(self, table: LogTable, mapped: LogMap, where: str) -> None:
        self._table = table
        self._map = mapped
        self._faults = 0
        self._columns = [
            (place, probe, find_unit(probe.channel.unit, probe.channel.quantity))
            for place, probe in mapped.probes
        ]
        problem = "there are no rows"
        for line, cells in table.rows:
            try:
                self._first = self._time(cells)
            except (ValueError, OverflowError) as exc:
                problem = f"line {line}: {exc}" if problem == "there are no rows" else problem
                continue
            break
        else:
            raise ConfigError(f"{where}: expected rows with a time that can be read; {problem}")
        self.begun = mapped.started or dt.datetime.fromtimestamp(self._first, dt.UTC)

    def events(self) -> Iterator[Reading | BadInput]:
        """Yield them all."""
        last_t = 0.0
        origin = 0.0 if self._map.form == ELAPSED else self._first
        for line, cells in self._table.rows:
            try:
                own_t = round(self._time(cells, last_t + origin) - origin, 3)
            except (ValueError, OverflowError) as exc:
                yield from self._fault(last_t, f"line {line}: no time: {exc}", cells)
                continue
            if own_t < last_t:
                reason = f"line {line}: time goes back by {last_t - own_t:g} s"
                yield from self._fault(last_t, reason, cells)
            t, device = max(own_t, last_t), own_t if own_t < last_t else None
            last_t = t
            yield from self._readings(t, device, line, cells)
        if self._faults > MOST_FAULTS:
            yield BadInput(
                t=last_t,
                source=SOURCE,
                reason="more of the same",
                count=self._faults - MOST_FAULTS,
            )

    def _readings(
        self, t: float, device: float | None, line: int, cells: list[str]
    ) -> Iterator[Reading | BadInput]:
        for place, probe, unit in self._columns:
            text = cells[place] if place < len(cells) else ""
            if text.casefold() in NO_NUMBER:
                continue
            channel = probe.channel
            try:
                sent = number(text, self._table.decimal)
            except ValueError as exc:
                yield from self._fault(t, f"line {line}, {channel.name}: {exc}", cells)
                continue
            value = unit.to_si(sent * probe.scale + probe.offset)
            problem = why_no_reading(sent, value, channel.quantity)
            if problem:
                yield from self._fault(t, f"line {line}, {channel.name}: {problem}", cells)
                continue
            yield Reading(
                t=t,
                channel=channel.name,
                value=round(value, RECORDED_DECIMALS[channel.quantity]) + 0.0,
                quality=channel.quality_of(value),
                device_time=device,
            )

    def _time(self, cells: list[str], after: float = -math.inf) -> float:
        """Return a row's time [s], elapsed or since 1970; raises ValueError, OverflowError.

        Where clocks are put back an hour stands twice: a time long before `after` is the second.
        """
        try:
            text = " ".join(cells[place] for place in self._map.times)
        except IndexError as exc:
            raise ValueError("the row is too short") from exc
        if self._map.form == ELAPSED:
            elapsed = elapsed_s(text, self._map.time_unit, self._table.decimal)
            if not abs(elapsed) <= LONGEST_S:
                raise ValueError(f"expected a time in the log, got {elapsed:g} s")
            return elapsed
        first = moment(text, self._map.form, self._map.zone).timestamp()
        if after - first < PUT_BACK_S:
            return first
        second = moment(text, self._map.form, self._map.zone, fold=1).timestamp()
        return second if second >= after else first

    def _fault(self, t: float, reason: str, cells: list[str]) -> Iterator[BadInput]:
        self._faults += 1
        if self._faults <= MOST_FAULTS:
            raw = plain(" | ".join(cells), 120)
            yield BadInput(t=t, source=SOURCE, reason=plain(reason, 200), raw=raw)


def _judged(inputs: list[InputEvent], job: Job) -> Iterator[Event]:
    """Yield the inputs with the verdicts they lead to, each where a live session has it."""
    fold = Fold(Assistant(job, SessionMode.FIELD))
    for event in inputs:
        verdicts = fold.take(event)
        if not isinstance(event, SessionStopped):
            yield event
        yield from verdicts
        if isinstance(event, SessionStopped):
            yield event
