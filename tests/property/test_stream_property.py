"""Whatever arrives: nothing raises, replay says what live said, a step waits for the last one."""

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chargeassist.guide import wording
from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Accuracy, Channel, Quality, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import (
    Action,
    Advice,
    BadInput,
    ChannelDeclared,
    ClockSet,
    Gap,
    InputEvent,
    Mark,
    MarkKind,
    Outcome,
    ProgramHeld,
    Reading,
    SessionMode,
    SessionResumed,
    SessionStopped,
    Settled,
    SourceBack,
    SourceLost,
    StepRecorded,
    VerdictEvent,
)
from chargeassist.model.job import ChargeLimits, Guards, Hold, Job, Processing, Site, Target
from chargeassist.model.reading_run import ReadingRun
from chargeassist.model.units import Quantity, Reference

JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=1.5),
    site=Site(altitude_m=210.0),
    hold=Hold(required_hz=72.0, lasts_s=1800.0),
    guards=Guards(
        liquid_pressure_high_pa_gauge=3.2e6,
        suction_pressure_low_pa_gauge=5e5,
        discharge_temp_high_k=390.0,
        current_high_a=12.0,
    ),
    processing=Processing(minimum_wait_s=40.0),
)
FIXED_SPEED = replace(JOB, hold=Hold())

ROLES = tuple(Role)
USUAL = {
    Role.LIQUID_PRESSURE: 2.3e6,
    Role.LIQUID_TEMPERATURE: 308.0,  # about 4 K of subcooling
    Role.SUCTION_PRESSURE: 9e5,
    Role.SUCTION_TEMPERATURE: 288.0,
    Role.DISCHARGE_TEMPERATURE: 345.0,
    Role.OUTDOOR_AIR_TEMPERATURE: 297.0,
    Role.RETURN_AIR_TEMPERATURE: 297.0,
    Role.SUPPLY_AIR_TEMPERATURE: 286.0,
    Role.COMPRESSOR_CURRENT: 7.4,
    Role.COMPRESSOR_FREQUENCY: 72.0,
    Role.CYLINDER_MASS: 8.0,
    Role.BAROMETER: 98_500.0,
}


def channel(role: Role) -> Channel:
    reference = None
    if role.quantity is Quantity.PRESSURE:
        reference = Reference.ABSOLUTE if role is Role.BAROMETER else Reference.GAUGE
    return Channel(
        name=role.value,
        role=role,
        unit="1",
        reference=reference,
        accuracy=Accuracy(absolute_si=0.1, relative=0.001),
        source="cart",
    )


Jump = tuple[float, InputEvent]

WILD = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([0.0, -0.0, 1e308, -1e308, 5e-324, 1e12, 2.3e6, 308.0]),
)
GAPS = st.one_of(
    st.sampled_from([0.0, 0.3, 1.0, 2.5, 61.0, -5.0, -1e9]),
    st.floats(0.0, 20.0),
)
LEAPS = st.sampled_from([200.0, 3601.0, 7 * 3600.0, 1e308])
MASSES = st.one_of(st.none(), st.floats(-0.3, 0.3), st.sampled_from([0.0, 1e308, -1e308]))


@st.composite
def single(draw: st.DrawFn) -> list[Jump]:
    """One event of any kind after a gap of any kind."""
    gap = draw(GAPS)
    role = draw(st.sampled_from(ROLES))
    event: InputEvent = draw(
        st.one_of(
            st.builds(
                Reading,
                t=st.just(0.0),
                channel=st.sampled_from([*(r.value for r in ROLES), "nobody declared this"]),
                value=WILD,
                quality=st.sampled_from(Quality),
            ),
            st.builds(
                Mark,
                t=st.just(0.0),
                kind=st.sampled_from(MarkKind),
                mass_kg=MASSES,
                frequency_hz=st.one_of(st.none(), WILD, st.just(72.0)),
                text=st.text(max_size=5),
            ),
            st.just(SourceLost(t=0.0, source="cart", reason="cable")),
            st.just(SourceBack(t=0.0, source="cart")),
            st.just(BadInput(t=0.0, source="cart", reason="junk", raw="?")),
            st.just(Gap(t=0.0, source="cart", dropped=3)),
            st.just(SessionResumed(t=0.0, away_s=10.0)),
            st.just(SessionResumed(t=0.0)),
            st.builds(ClockSet, t=st.just(0.0), step_s=WILD),
            st.builds(ProgramHeld, t=st.just(0.0), held_s=WILD, asleep=st.booleans()),
            st.just(SessionStopped(t=0.0, outcome=Outcome.ABANDONED)),
            st.just(ChannelDeclared(t=0.0, channel=channel(role))),
        )
    )
    return [(gap, event)]


@st.composite
def steady(draw: st.DrawFn, *, calm: bool = False) -> list[Jump]:
    """Minutes of steady readings, long enough to settle; the scale may fall meanwhile."""
    seconds = draw(st.integers(100 if calm else 5, 160))
    colder_k = draw(st.floats(-3.0, 0.0) if calm else st.floats(-4.0, 8.0))
    flow = 0.0 if calm else draw(st.sampled_from([0.0, 0.0, 0.0003, 0.002]))
    kilogram = draw(st.sampled_from([8.0, 3.0]))
    left_out = set() if calm else draw(st.sets(st.sampled_from(ROLES), max_size=2))
    jumps: list[Jump] = []
    for i in range(seconds):
        values = USUAL | {
            Role.LIQUID_TEMPERATURE: USUAL[Role.LIQUID_TEMPERATURE] - colder_k,
            Role.CYLINDER_MASS: kilogram - flow * i,
        }
        gap = 1.0
        for role, value in values.items():
            if role not in left_out:
                jumps.append((gap, Reading(t=0.0, channel=role.value, value=value)))
                gap = 0.0
    return jumps


@st.composite
def leap(draw: st.DrawFn) -> list[Jump]:
    """A silence of minutes, of hours, or a time that cannot be."""
    return [(draw(LEAPS), Mark(t=0.0, kind=MarkKind.NOTE, text="back"))]


@st.composite
def charged(draw: st.DrawFn) -> list[Jump]:
    """A step by keys."""
    return [
        (1.0, Mark(t=0.0, kind=MarkKind.STEP_BEGUN)),
        (20.0, Mark(t=0.0, kind=MarkKind.STEP_ENDED, mass_kg=draw(MASSES))),
    ]


ANYTHING = st.lists(
    st.one_of(single(), single(), steady(), steady(), charged(), leap()), min_size=1, max_size=12
)
BEGUN_WELL = st.builds(
    lambda first, step, then, rest: [first, *step, *then, *rest],
    steady(calm=True),
    st.lists(charged(), max_size=1),
    st.lists(steady(calm=True), max_size=1),
    ANYTHING,
)
SESSIONS = st.one_of(ANYTHING, BEGUN_WELL)


def timed(pieces: list[list[Jump]]) -> list[InputEvent]:
    """Return the events with their times; a gap below zero makes an event out of order."""
    events: list[InputEvent] = [ChannelDeclared(t=0.0, channel=channel(role)) for role in ROLES]
    t = 0.0
    for gap, event in itertools.chain.from_iterable(pieces):
        events.append(replace(event, t=min(t + gap, 1e308)))
        t = max(t, min(t + gap, 1e308))
    return events


def fold(job: Job, events: list[InputEvent]) -> Iterator[tuple[VerdictEvent, ...]]:
    assistant = Assistant(job, SessionMode.SIMULATED)
    for event in events:
        yield assistant.step(event)


def live(job: Job, events: list[InputEvent], beats: list[float]) -> list[VerdictEvent]:
    """Return the verdicts with heartbeats between the events, as a live session has them."""
    assistant = Assistant(job, SessionMode.SIMULATED)
    verdicts: list[VerdictEvent] = []
    heard = 0.0
    for event in events:
        # While the program is away nobody ticks.
        if not isinstance(event, SessionResumed) and event.t > heard:
            for share in beats:
                verdicts += assistant.advance(heard + share * (event.t - heard))
        heard = max(heard, event.t)
        verdicts += assistant.step(event)
    return verdicts


def in_runs(job: Job, events: list[InputEvent]) -> Iterator[tuple[VerdictEvent, ...]]:
    """Fold as a record is computed again: readings that follow one another come together."""
    assistant = Assistant(job, SessionMode.SIMULATED)
    for is_reading, stretch in itertools.groupby(events, lambda event: type(event) is Reading):
        if is_reading:
            readings = [event for event in stretch if isinstance(event, Reading)]
            good = all(reading.quality is Quality.GOOD for reading in readings)
            yield from assistant.steps(
                ReadingRun(
                    times=[reading.t for reading in readings],
                    channels=[reading.channel for reading in readings],
                    values=[reading.value for reading in readings],
                    qualities=None if good else [reading.quality for reading in readings],
                )
            )
        else:
            yield from map(assistant.step, stretch)


SLOW = settings(max_examples=15, suppress_health_check=list(HealthCheck))


@SLOW
@given(
    pieces=SESSIONS,
    job=st.sampled_from([JOB, FIXED_SPEED]),
    beats=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4).map(sorted),
)
def test_live_says_what_replay_says(pieces: list[list[Jump]], job: Job, beats: list[float]) -> None:
    events = timed(pieces)
    replayed = list(itertools.chain.from_iterable(fold(job, events)))
    assert replayed == list(itertools.chain.from_iterable(fold(job, events)))
    assert replayed == live(job, events, beats)
    assert replayed == list(itertools.chain.from_iterable(in_runs(job, events)))
    times = [verdict.t for verdict in replayed]
    assert times == sorted(times)
    assert all(math.isfinite(t) for t in times)


@SLOW
@given(pieces=BEGUN_WELL, job=st.sampled_from([JOB, FIXED_SPEED]))
def test_everything_can_be_shown_and_no_step_comes_before_the_last_settled(
    pieces: list[list[Jump]], job: Job
) -> None:
    assistant = Assistant(job, SessionMode.SIMULATED)
    settled = False
    last_t = 0.0
    for event in timed(pieces):
        for verdict in assistant.step(event):
            match verdict:
                case Settled():
                    settled = True
                case StepRecorded() if verdict.number > 0:
                    said_later = verdict.t - verdict.ended_t > 4.0
                    settled = settled and said_later
                case Advice(action=Action.ADD | Action.RECOVER, mass_kg=mass_kg):
                    assert settled
                    assert mass_kg is not None
                    assert 0.0 < mass_kg <= job.charge.step_cap_kg
                case _:
                    pass
        snapshot = assistant.snapshot()
        if snapshot is None or snapshot.t == last_t:
            continue
        assert snapshot.t > last_t
        last_t = snapshot.t
        _can_be_shown(snapshot)
        facts, advice = snapshot.facts, snapshot.advice
        if advice.action in {Action.ADD, Action.RECOVER, Action.STOP}:
            assert facts.settled is not None
            assert facts.step_open is None
            assert facts.hold.held
            assert facts.settling.since_s >= job.processing.minimum_wait_s
        if advice.action is Action.ADD and advice.mass_kg is not None:
            room_kg = job.charge.full_kg - facts.total_kg
            assert advice.mass_kg <= room_kg + 1e-9
            steps = advice.mass_kg / job.charge.scale_resolution_kg
            assert abs(steps - round(steps)) < 1e-6
            assert facts.ledger == () or facts.ledger[-1].after_k is not None


def _can_be_shown(snapshot: Snapshot) -> None:
    facts = snapshot.facts
    assert math.isfinite(facts.total_kg)
    for item in facts.channels:
        assert item.value_si is None or math.isfinite(item.value_si)
        assert item.slope_si_per_s is None or math.isfinite(item.slope_si_per_s)
    for system in UnitSystem:
        assert wording.sentence(snapshot.advice, system)
        assert wording.settling(facts.settling, system)
        for caution in snapshot.cautions:
            assert wording.caution(caution, system)
