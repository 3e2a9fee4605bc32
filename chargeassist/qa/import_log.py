"""Make a session record of a generic logger's CSV file.

A small TOML file says which column is which probe; `chargeassist.qa.log_map` reads it::

    job = "job.toml"                # a job file beside this one; its sources are not used
    zone = "+02:00"                 # where the times in the log carry no offset

    [time]
    column = "Time"                 # or columns = ["Date", "Time"]
    # date = "2026-05-04"           # of the first row, where the log has times of the day alone

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

import contextlib
import datetime as dt
import hashlib
import math
from collections.abc import Iterator
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
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
)
from chargeassist.model.job import Job
from chargeassist.model.sent_number import why_no_reading
from chargeassist.model.text import plain
from chargeassist.model.units import find_unit
from chargeassist.physics.table import table_hash
from chargeassist.qa.log_map import ELAPSED, SOURCE, LogMap, read_map
from chargeassist.qa.log_text import (
    ENCODINGS,
    NO_NUMBER,
    SEPARATORS,
    LogTable,
    decoded,
    elapsed_s,
    moment,
    number,
    read_table,
    time_of_day,
)
from chargeassist.session.bounded import file_bytes
from chargeassist.session.fold import LONGEST_LEAP_S, Fold
from chargeassist.session.job.toml_table import file_text, toml_of
from chargeassist.session.record.codec import job_to_json

MOST_BYTES = 2**28
MOST_FAULTS = 1000
"""Cells that cannot be read are told one by one up to this many, then counted."""

LONGEST_S = 1e9
DAY_S = 86_400.0
LOOKED_ON = 20
"""So many rows without a time may follow a leap before it is believed."""
PUT_BACK_S = 900.0
"""A log whose time goes back by less [s] is out of order; no zone puts its clocks back by less."""


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
        for at, (line, cells) in enumerate(self._table.rows):
            try:
                own_t = round(self._time(cells, last_t + origin) - origin, 3)
            except (ValueError, OverflowError) as exc:
                yield from self._fault(last_t, f"line {line}: no time: {exc}", cells)
                continue
            if own_t - last_t > LONGEST_LEAP_S and self._comes_back(at, own_t, last_t + origin):
                reason = f"line {line}: time leaps by {own_t - last_t:g} s and comes back"
                yield from self._fault(last_t, reason, cells)
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

    def _comes_back(self, at: int, own_t: float, after: float) -> bool:
        """Return whether the row after row `at` is earlier: then that one's time is no time."""
        origin = 0.0 if self._map.form == ELAPSED else self._first
        for _, cells in self._table.rows[at + 1 : at + 1 + LOOKED_ON]:
            with contextlib.suppress(ValueError, OverflowError):
                return self._time(cells, after) - origin < own_t
        return False

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
        first = self._moment(text, after)
        if after - first < PUT_BACK_S:
            return first
        second = self._moment(text, after, fold=1)
        return second if second >= after else first

    def _moment(self, text: str, after: float, fold: int = 0) -> float:
        """Return a time since 1970 [s]; of a time of the day that which is nearest to `after`."""
        mapped = self._map
        if mapped.date is None:
            return moment(text, mapped.form, mapped.zone, fold).timestamp()
        clock = time_of_day(text, mapped.form, self._table.decimal)

        def on(day: dt.date) -> float:
            at = dt.datetime.combine(day, clock, mapped.zone).replace(fold=fold)
            return at.timestamp()

        begun = on(mapped.date)
        days = round((after - begun) / DAY_S) if math.isfinite(after) else 0
        return on(mapped.date + dt.timedelta(days=max(0, days)))

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
