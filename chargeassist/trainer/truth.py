"""What calls are held against: the plant's own truth, or in a recording the tool's verdicts."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.events import (
    Event,
    Mark,
    MarkKind,
    Reading,
    Settled,
    StepRecorded,
    Unsettled,
)
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.target_superheat import target_superheat
from chargeassist.plant.drive import Trip
from chargeassist.plant.faults import FaultCourse, FaultSchedule, MachineFaults
from chargeassist.plant.probe_set import ProbeFaultKind
from chargeassist.plant.run_on import run_on, settled_truth, without_swings
from chargeassist.session.scenario.plant import ScenarioPlant, still_twin
from chargeassist.session.scenario.scenario import ScenarioUnit
from chargeassist.trainer.calls import FIXES, Fix

NEVER_SWINGS_K: Final = 2.0
"""Swing beyond so many settled bands: the machine never settles. Its middle may."""

FREQUENCY_OFF_HZ: Final = 2.0
"""A compressor so far from its required frequency is one to be put right [Hz] (assumption)."""

RAMP_S: Final = 180.0
"""So long after the begin it may still be on its way there [s] (assumption)."""


NOTICED_S: Final = 10.0
"""What happens to a machine by itself shows on no screen before so long [s] (assumption)."""

GROWN: Final = 0.5
"""A fault that grows is too small to be seen before so much of it is there [1] (assumption)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """The time between two disturbances.

    Attributes
    ----------
    begin_t : float
        The valve is shut, the frequency or a fault has changed [s].
    settled_t : float or None
        From when on it is settled [s]; None where it never is, or the tool never said so.
    value_k : float or None
        What it settles at [K]; None likewise.
    unseen_s : float
        So long nobody can know that it has begun: it began by itself [s].
    held : bool
        Whether it comes to rest at the frequency that the target is given for.
    over_pressure : bool
        Whether the high-pressure switch opens in it.
    middle_k : float or None
        Of the swings of a machine that never settles [K]; None where it stands.
    swing_k : float
        Between the lowest and the highest of its swings, where only their middle settles [K].
    shown_k : float
        What zeros of probes that were off before the drill began add to the value on every screen
        [K].
    """

    begin_t: float
    settled_t: float | None
    value_k: float | None
    unseen_s: float = 0.0
    held: bool = True
    over_pressure: bool = False
    middle_k: float | None = None
    swing_k: float = 0.0
    shown_k: float = 0.0

    @property
    def rest_k(self) -> float | None:
        """What its charge comes to: where it settles, else the middle of its swings [K]."""
        return self.middle_k if self.value_k is None else self.value_k


def stretch_at(stretches: Sequence[Stretch], t: float) -> Stretch:
    """Return the stretch that a call at `t` [s] is held against.

    What the call itself sets off begins after it; what nobody could have seen by then does not
    count yet.
    """
    return [each for each in stretches if each.begin_t + each.unseen_s < t or each is stretches[0]][
        -1
    ]


def true_stretches(
    unit: ScenarioUnit, marks: Sequence[Mark], end_t: float, job: Job
) -> tuple[Stretch, ...]:
    """Return where the machine came to rest after each disturbance, by its own equations.

    After each disturbance a twin in still air, to which the same was done until then and nothing
    since, is run on until it rests. No probe and no verdict has a part in it.

    Parameters
    ----------
    unit : ScenarioUnit
    marks : sequence of Mark
        What was done at the unit.
    end_t : float
        Of the drill [s].
    job : Job
        Says which value is judged, and the settled band.

    Raises
    ------
    PlantLimitError
        The machine reached a state that the model has no equations for.
    """
    marks = _with_valve_shut(marks, end_t)
    band_k = job.processing.settled_band_k
    column = 1 if job.target.judged is SUBCOOLING else 2
    by_hand = {mark.t for mark in marks}
    found = []
    for begin_t in _disturbances(unit, marks, end_t):
        twin = ScenarioPlant(still_twin(unit, begin_t))
        for mark in marks:
            if mark.t <= begin_t:
                twin.run_until(mark.t)
                twin.act(mark)
        twin.run_until(begin_t)
        course = [(row[0], row[column]) for row in run_on(twin.plant)]
        truth = whole = settled_truth(course, band_k)
        if whole.swing_k > NEVER_SWINGS_K * band_k and (middle := without_swings(course)):
            # What is charged is the middle of the swings, and that is what comes to rest.
            truth = settled_truth(middle, band_k)
        # However quiet a reading is, the job's minimum wait after a change holds for everybody.
        earliest_t = begin_t + job.processing.minimum_wait_s
        trip = twin.plant.trip
        # One that stands has pressures too, and they say nothing of its charge.
        settles = truth.swing_k <= NEVER_SWINGS_K * band_k and trip is None
        off_hz = abs(twin.plant.frequency_hz - unit.settings.required_hz)
        found.append(
            Stretch(
                begin_t,
                max(truth.settled_t, earliest_t) if settles else None,
                truth.value_k if settles else None,
                unseen_s=0.0 if begin_t in by_hand else _unseen_s(unit, begin_t),
                held=off_hz <= FREQUENCY_OFF_HZ,
                over_pressure=trip is Trip.HIGH_PRESSURE,
                middle_k=whole.value_k if trip is None else None,
                swing_k=0.0 if truth is whole else whole.swing_k,
                shown_k=_shown_k(unit, marks, begin_t, twin.plant.truth(), job),
            )
        )
    return tuple(found)


def _unseen_s(unit: ScenarioUnit, begin_t: float) -> float:
    """Return for how long nobody can know of what has begun by itself at `begin_t` [s]."""
    courses = [c for c in unit.settings.courses if c.start_s == begin_t]
    return NOTICED_S + GROWN * max((c.full_s - c.start_s for c in courses), default=0.0)


def _shown_k(
    unit: ScenarioUnit,
    marks: Sequence[Mark],
    begin_t: float,
    true: Mapping[Role, float],
    job: Job,
) -> float:
    """Return what zeros that are off from the beginning add to the judged value [K].

    In a running machine nothing shows them: only a probe at rest or open to the air does.
    """
    seen_to = {m.text for m in marks if m.kind is MarkKind.PROBE_SEEN_TO and m.t <= begin_t}
    off = {
        fault.role: fault.amount
        for fault in unit.probes.faults
        if fault.trouble is ProbeFaultKind.ZERO
        and max(fault.start_s, fault.full_s) <= 0.0
        and fault.role not in seen_to
    }
    fluid = refrigerant(unit.settings.refrigerant)
    if job.target.judged is SUBCOOLING:
        line, port, saturated = Role.LIQUID_TEMPERATURE, Role.LIQUID_PRESSURE, fluid.bubble_temp_k
    else:
        line, port, saturated = Role.SUCTION_TEMPERATURE, Role.SUCTION_PRESSURE, fluid.dew_temp_k
    rightly_k, wrongly_k = saturated(true[port]), saturated(true[port] + off.get(port, 0.0))
    if isinstance(rightly_k, NoValue) or isinstance(wrongly_k, NoValue):
        return 0.0
    more_k = wrongly_k - rightly_k - off.get(line, 0.0)
    return more_k if job.target.judged is SUBCOOLING else -more_k


def true_target_k(unit: ScenarioUnit, job: Job) -> float | None:
    """Return the target of a job in the weather of a scenario [K]; None where there is none."""
    if job.target.fixed_k is not None:
        return job.target.fixed_k
    found = target_superheat(unit.settings.outdoor_k, unit.settings.return_wet_k)
    return None if isinstance(found, NoValue) else found.value_k


def told_target_k(job: Job, events: Iterable[Event]) -> float | None:
    """Return the target of a job as the tool last told it [K]; None where it told none."""
    told = [e.target_k for e in events if isinstance(e, Settled) and e.target_k is not None]
    return told[-1] if job.target.fixed_k is None and told else job.target.fixed_k


def _with_valve_shut(marks: Sequence[Mark], end_t: float) -> Sequence[Mark]:
    """Return what was done, and that the cylinder's valve is shut at the end if it is open."""
    steps = [m.kind for m in marks if m.kind in {MarkKind.STEP_BEGUN, MarkKind.STEP_ENDED}]
    if steps[-1:] != [MarkKind.STEP_BEGUN]:
        return marks
    return [*marks, Mark(t=end_t, kind=MarkKind.STEP_ENDED)]


def _disturbances(unit: ScenarioUnit, marks: Sequence[Mark], end_t: float) -> list[float]:
    times = {0.0}
    times |= {mark.t for mark in marks if mark.kind is not MarkKind.NOTE}
    times |= _changes_of_frequency(unit, marks)
    times |= {t for course in unit.settings.courses for t in (course.start_s, course.full_s)}
    settings = unit.settings
    for begin_s, lasts_s in (
        (settings.oil_return_at_s, settings.oil_return_for_s),
        (settings.defrost_at_s, settings.defrost_for_s),
    ):
        if begin_s >= 0.0:
            times |= {begin_s, begin_s + lasts_s}
    return sorted(t for t in times if t <= end_t)


def _changes_of_frequency(unit: ScenarioUnit, marks: Sequence[Mark]) -> set[float]:
    """Return when the unit is told by itself another frequency than it was told before [s]."""
    settings = unit.settings
    by_hand = {
        MarkKind.FREQUENCY_HELD: settings.required_hz,
        MarkKind.FREQUENCY_LEFT: settings.load_hz,
    }
    told = [(t, settings.required_hz if hz is None else hz, True) for t, hz in unit.commands]
    told += [(mark.t, by_hand[mark.kind], False) for mark in marks if mark.kind in by_hand]
    changes, now_hz = set(), settings.start_hz
    for t, hertz, by_itself in sorted(told, key=lambda each: each[0]):
        # Who has put it right already is not disturbed by its coming right by itself.
        if by_itself and hertz != now_hz:
            changes.add(t)
        now_hz = hertz
    return changes


def told_stretches(events: Iterable[Event]) -> tuple[Stretch, ...]:
    """Return the stretches as the tool saw them: from each unsettling to its first "settled"."""
    found = [Stretch(0.0, None, None)]
    steps: set[int] = set()
    for event in events:
        if isinstance(event, StepRecorded):
            if event.number in steps:
                continue  # its amount was told later, and nothing has moved by that
            steps.add(event.number)
            found.append(Stretch(event.ended_t, None, None))
        elif isinstance(event, Unsettled):
            if found[-1].settled_t is not None:
                found.append(Stretch(event.t, None, None))
        elif isinstance(event, Settled) and found[-1].settled_t is None:
            found[-1] = Stretch(found[-1].begin_t, event.t, event.value_k)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class FaultWatch:
    """Which faults are there at which time, by the words of `FIXES`.

    A probe that no call sees to, a scale or one in the air, stands there with its own name.

    Attributes
    ----------
    unit : ScenarioUnit
    marks : tuple of Mark
        A probe seen to is in order from then on.
    frequency : tuple of (float, float)
        The compressor's frequency as read: time [s], [Hz].
    required_hz : float or None
    """

    unit: ScenarioUnit
    marks: tuple[Mark, ...]
    frequency: tuple[tuple[float, float], ...]
    required_hz: float | None

    def at(self, t: float) -> frozenset[str]:
        """Return the faults that are there at `t` [s], however small."""
        return self._at(t, self.unit.settings.courses)

    def grown_at(self, t: float) -> frozenset[str]:
        """Return the faults of which `GROWN` is there at `t` [s]."""
        courses = self.unit.settings.courses
        grown_s = [c.start_s + GROWN * (c.full_s - c.start_s) for c in courses]
        jumps = zip(courses, grown_s, strict=True)
        return self._at(t, [replace(c, start_s=at_s, full_s=at_s) for c, at_s in jumps])

    def _at(self, t: float, courses: Sequence[FaultCourse]) -> frozenset[str]:
        now = FaultSchedule(self.unit.settings.faults, courses).at(t)
        wrong = _wrong_fields(now)
        found = {word for word, fix in FIXES.items() if fix.fields & wrong}
        for fault in self.unit.probes.faults:
            seen_to = any(
                mark.kind is MarkKind.PROBE_SEEN_TO and mark.text == fault.role and mark.t < t
                for mark in self.marks
            )
            if fault.start_s <= t and not seen_to:
                found.add(_word_of(fault.role))
        reads = [hz for at_t, hz in self.frequency if at_t <= t]
        off_hz = abs(reads[-1] - self.required_hz) if self.required_hz and reads else 0.0
        if t > RAMP_S and off_hz > FREQUENCY_OFF_HZ:
            found.add("frequency")
        return frozenset(found)


def _word_of(role: Role) -> str:
    """Return the call that puts a probe right; its name where there is none."""
    words = (word for word in ("zero", "clamp") if role in FIXES[word].roles)
    return next(words, role.label)


def _wrong_fields(now: MachineFaults) -> frozenset[str]:
    healthy = MachineFaults()
    wrong = {
        field.name
        for field in fields(MachineFaults)
        if getattr(now, field.name) != getattr(healthy, field.name)
    } - {"valve_stuck", "valve_gain"}
    if not math.isnan(now.valve_stuck):
        wrong.add("stuck shut" if now.valve_stuck < 1.0 else "stuck open")
    return frozenset(wrong)


def frequencies(events: Iterable[Event]) -> tuple[tuple[float, float], ...]:
    """Return the compressor's frequency as it was read."""
    name = Role.COMPRESSOR_FREQUENCY.value
    return tuple((e.t, e.value) for e in events if isinstance(e, Reading) and e.channel == name)


def probes_of(fix: Fix, channels: Iterable[str]) -> list[str]:
    """Return the channels a technician sees to who calls `fix`."""
    wanted = {role.value for role in fix.roles}
    return [name for name in channels if name in wanted]
