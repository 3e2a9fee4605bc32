"""What a fleet's dataset holds of a session: five tables, made from its recomputed record.

``sessions`` one row; ``steps`` one per charge step; ``channels`` one per probe; ``events`` all but
the readings, as recorded; ``readings`` in SI, by channel and time, which is what packs best,
without those a broker only remembered. What is weighed in at rest is no charge step.
"""

import datetime as dt
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from chargeassist.model.events import SessionStarted, Settled
from chargeassist.model.text import plain
from chargeassist.model.values import NoValue
from chargeassist.physics.uncertainty import decide
from chargeassist.qa.gathered import Gathered, Readings
from chargeassist.qa.recompute import verdicts_sha256
from chargeassist.qa.rescore import (
    Rescored,
    charge_steps,
    rescore_events,
    settled_facts,
    started_at,
)
from chargeassist.session.record.chain import EventRow
from chargeassist.session.record.package_layout import SI_UNIT
from chargeassist.session.record.reader import RecordReader
from chargeassist.stream.facts import ChargeStep, Measured

END_S = 120.0
"""The last so many seconds [s] stand for a probe's value at the end of a session."""

NO_DATE = "1970-01-01"

Columns = Mapping[str, list[Any]]


@dataclass(frozen=True, slots=True)
class FleetTables:
    """The tables of one session.

    Attributes
    ----------
    session_id, date : str
        `date` is the day it began, in UTC: the partition.
    tables : mapping of str to columns
    """

    session_id: str
    date: str
    tables: Mapping[str, Columns]


def fleet_tables(
    record: RecordReader, sealed_as: str, supersedes: Sequence[str] = ()
) -> FleetTables:
    """Return the tables of `record`.

    Parameters
    ----------
    record : RecordReader
    sealed_as : str
        Its seal; "" where it is no archive.
    supersedes : sequence of str
        Seals of all archives it takes the place of, as far as they are known.

    Raises
    ------
    RecordError
        If it cannot be read.
    """
    gathered = Gathered(record)
    session = rescore_events(gathered.runs(), record.job)
    began = started_at(session.started)
    readings = gathered.readings
    tables: dict[str, Columns] = {
        "sessions": _sessions(session, sealed_as, supersedes, began),
        "steps": _steps(session),
        "channels": _channels(session, readings),
        "events": _events(gathered.others, session.started.session_id),
        "readings": _long(session.started.session_id, readings),
    }
    return FleetTables(session.started.session_id, date_of(session.started), tables)


def date_of(started: SessionStarted) -> str:
    """Return the day a session began, in UTC; `NO_DATE` where the record has no readable time."""
    began = started_at(started)
    return NO_DATE if began is None else began.date().isoformat()


def _sessions(
    session: Rescored, sealed_as: str, supersedes: Sequence[str], began: dt.datetime | None
) -> Columns:
    job, last, stopped = session.job, session.last, session.stopped
    judged = settled_facts(session)
    goal = None if judged is None else judged.goal(job.target)
    settled = None if judged is None else judged.settled
    low = high = target = tolerance = None
    if goal is not None and not isinstance(goal, NoValue):
        low, high, target, tolerance = goal.low_k, goal.high_k, goal.value_k, goal.tolerance_k
    decision = ""
    if settled is not None and low is not None and high is not None:
        decision = decide(settled.value_k, settled.expanded_k or 0.0, low, high).value
    row = {
        "session_id": session.started.session_id,
        "sealed_as": sealed_as,
        "supersedes": " ".join(supersedes),
        "started": began,
        "mode": session.started.mode.value,
        "software": session.started.software,
        "table_hash": session.started.table_hash,
        "job": plain(job.name, 80),
        "refrigerant": job.refrigerant,
        "make": plain(job.equipment.make, 60),
        "model": plain(job.equipment.model, 60),
        "company": plain(job.crew.company, 60),
        "certificate": plain(job.crew.certificate, 60),
        "method": job.target.method.value,
        "outcome": "" if stopped is None else stopped.outcome.value,
        "lasted_s": None if stopped is None else stopped.t,
        "readings": session.readings,
        "steps": len(charge_steps(session)),
        "total_kg": None if last is None else last.facts.total_kg,
        "full_kg": job.charge.full_kg,
        "step_cap_kg": job.charge.step_cap_kg,
        "required_hz": job.hold.required_hz,
        "target_k": target,
        "tolerance_k": tolerance,
        "settled_k": None if settled is None else settled.value_k,
        "expanded_k": None if settled is None else settled.expanded_k,
        "over_k": _over_k(job.target.judged.charge_sign, settled, low, high),
        "decision": decision,
        "verdicts": len(session.made),
        "verdicts_sha256": verdicts_sha256(session.made),
    }
    return {name: [value] for name, value in row.items()}


def _over_k(
    charge_sign: float, settled: Measured | None, low: float | None, high: float | None
) -> float | None:
    """Return how far a settled value lies beyond the end of the band that too much charge passes.

    Superheat falls as refrigerant is added: there it is how far it lies under the band.
    """
    if settled is None or low is None or high is None:
        return None
    return settled.value_k - high if charge_sign > 0.0 else low - settled.value_k


def _steps(session: Rescored) -> Columns:
    ledger = charge_steps(session)
    settled = [e.t for e in session.made if isinstance(e, Settled)]
    rows = []
    for place, step in enumerate(ledger):
        until = ledger[place + 1].begun_t if place + 1 < len(ledger) else float("inf")
        rows.append((step, _settle_s(step, settled, until)))
    return {
        "session_id": [session.started.session_id for _ in rows],
        "number": [step.number for step, _ in rows],
        "begun_t": [step.begun_t for step, _ in rows],
        "ended_t": [step.ended_t for step, _ in rows],
        "mass_kg": [step.mass_kg for step, _ in rows],
        "measured_by": [step.measured_by for step, _ in rows],
        "before_k": [step.before_k for step, _ in rows],
        "after_k": [step.after_k for step, _ in rows],
        "gain_k_per_kg": [step.gain_k_per_kg for step, _ in rows],
        "settle_s": [seconds for _, seconds in rows],
    }


def _settle_s(step: ChargeStep, settled: list[float], until_t: float) -> float | None:
    """Return how long after the step the reading was called settled [s], None if it never was."""
    first = next((t for t in settled if step.ended_t < t <= until_t), None)
    return None if first is None else first - step.ended_t


def _channels(session: Rescored, readings: Readings) -> Columns:
    rows = []
    # Of the session, not of the channel: what a probe said before it fell silent is not the end.
    last = max((times[-1] for times, _ in readings.values()), default=0.0)
    end_t = last if session.stopped is None else session.stopped.t
    for channel in session.channels:
        times, values = readings.get(channel.name, ([], []))
        late = [v for t, v in zip(times, values, strict=True) if t >= end_t - END_S]
        rows.append((channel, times, values, late))
    accuracy = [c.accuracy for c, *_ in rows]
    return {
        "session_id": [session.started.session_id for _ in rows],
        "channel": [c.name for c, *_ in rows],
        "role": [c.role.value for c, *_ in rows],
        "quantity": [c.quantity.value for c, *_ in rows],
        "unit": [SI_UNIT[c.quantity] for c, *_ in rows],
        "counted_from": [c.counted_from.value if c.counted_from else "" for c, *_ in rows],
        "serial": [plain(c.serial, 60) for c, *_ in rows],
        "calibrated": [plain(c.calibrated, 60) for c, *_ in rows],
        "accuracy_absolute": [None if a is None else float(a.absolute_si) for a in accuracy],
        "accuracy_relative": [None if a is None else float(a.relative) for a in accuracy],
        "readings": [len(values) for _, _, values, _ in rows],
        "lowest": [min(values, default=None) for _, _, values, _ in rows],
        "highest": [max(values, default=None) for _, _, values, _ in rows],
        "at_end": [statistics.fmean(late) if late else None for *_, late in rows],
    }


def _events(rows: list[EventRow], session_id: str) -> Columns:
    return {
        "session_id": [session_id for _ in rows],
        "seq": [row.seq for row in rows],
        "t": [row.t for row in rows],
        "kind": [row.kind for row in rows],
        "body": [row.body for row in rows],
    }


def _long(session_id: str, readings: Readings) -> Columns:
    names = sorted(readings)
    channel = [name for name in names for _ in readings[name][0]]
    return {
        "session_id": [session_id] * len(channel),
        "channel": channel,
        "t": [t for name in names for t in readings[name][0]],
        "value": [value for name in names for value in readings[name][1]],
    }
