"""The whole pure program: ticks, stages, silences, amounts, and its verdicts over a session."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from chargeassist.guide import wording
from chargeassist.guide.assistant import LATEST_T, LONGEST_SILENCE_S, Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Accuracy, Channel, Role
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
    Stage,
    StageChanged,
    StepRecorded,
    Unsettled,
    VerdictEvent,
)
from chargeassist.model.job import ChargeLimits, Hold, Job, Processing, Site, Target
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant

JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=1.8),
    site=Site(altitude_m=0.0),
)
LIQUID_PA = 2.3e6
GAIN_K_PER_KG = 14.0


def bubble_k() -> float:
    temp_k = refrigerant("R-32").bubble_temp_k(LIQUID_PA + 101_325.0)
    assert not isinstance(temp_k, NoValue)
    return temp_k


class Room:
    """An assistant beside a unit whose subcooling the test sets; 1 Hz readings."""

    def __init__(self, job: Job = JOB, *, expanded: bool = True) -> None:
        self.assistant = Assistant(job, SessionMode.SIMULATED)
        self.t = 0.0
        self.events: list[InputEvent] = []
        self.verdicts: list[VerdictEvent] = []
        self.subcooling = 3.0
        for role, unit, limit in (
            (Role.LIQUID_PRESSURE, "Pa", 3000.0),
            (Role.LIQUID_TEMPERATURE, "K", 0.1),
        ):
            channel = Channel(
                name=role.value,
                role=role,
                unit=unit,
                reference=Reference.GAUGE if role is Role.LIQUID_PRESSURE else None,
                accuracy=Accuracy(absolute_si=limit) if expanded else None,
            )
            self.step(ChannelDeclared(t=0.0, channel=channel))

    def step(self, event: InputEvent) -> None:
        self.events.append(event)
        self.verdicts += self.assistant.step(event)

    def run(self, seconds: int) -> Snapshot:
        temp_k = bubble_k() - self.subcooling
        for _ in range(seconds):
            self.t += 1.0
            for name, value in (("liquid_pressure", LIQUID_PA), ("liquid_temperature", temp_k)):
                self.step(Reading(t=self.t, channel=name, value=value))
        return self.snapshot

    @property
    def snapshot(self) -> Snapshot:
        snapshot = self.assistant.snapshot()
        assert snapshot is not None
        return snapshot

    def stage(self) -> Stage:
        return self.snapshot.stage

    def mark(self, kind: MarkKind, mass_kg: float | None = None) -> None:
        self.step(Mark(t=self.t, kind=kind, mass_kg=mass_kg))

    def until(self, wanted: Callable[[Snapshot], bool], seconds: int = 900) -> Snapshot:
        for _ in range(seconds):
            snapshot = self.run(1)
            if wanted(snapshot):
                return snapshot
        raise AssertionError(f"not in {seconds} s; last advice {self.snapshot.advice}")

    def advice(self) -> list[tuple[Action, str]]:
        return [(v.action, v.cause) for v in self.verdicts if isinstance(v, Advice)]


def judged(snapshot: Snapshot) -> bool:
    return snapshot.facts.settled is not None


def test_nothing_is_known_before_the_first_tick() -> None:
    assert Assistant(JOB, SessionMode.FIELD).snapshot() is None


def test_a_job_from_short_to_full() -> None:
    """Follow the advice to the letter on a unit of known gain; check each promise on the way."""
    room = Room()
    amounts: list[float] = []
    for _ in range(10):
        snapshot = room.until(judged)
        advice = snapshot.advice
        if advice.action is Action.STOP:
            break
        assert advice.action is Action.ADD
        assert advice.mass_kg is not None
        amounts.append(advice.mass_kg)
        assert advice.mass_kg <= JOB.charge.step_cap_kg
        room.run(5)
        assert room.snapshot.advice.mass_kg == advice.mass_kg
        room.mark(MarkKind.STEP_BEGUN)
        room.run(20)
        assert room.snapshot.advice.cause == "step_open"
        room.subcooling += GAIN_K_PER_KG * advice.mass_kg
        room.mark(MarkKind.STEP_ENDED, advice.mass_kg)
        # The old settled reading says nothing about the new charge.
        assert room.run(1).advice.action is Action.WAIT
    snapshot = room.snapshot
    assert snapshot.advice.action is Action.STOP
    assert snapshot.advice.cause in {"inside", "inside_not_certain"}
    assert room.subcooling <= 5.8
    assert room.subcooling >= 4.2
    assert snapshot.stage is Stage.VERIFICATION
    assert snapshot.facts.total_kg == pytest.approx(1.8 + sum(amounts))
    gains = [step.gain_k_per_kg for step in snapshot.facts.ledger]
    assert all(gain == pytest.approx(GAIN_K_PER_KG, rel=0.15) for gain in gains)
    recorded = [v.mass_kg for v in room.verdicts if isinstance(v, StepRecorded)]
    assert recorded == amounts
    stages = [v.stage for v in room.verdicts if isinstance(v, StageChanged)]
    assert stages == [Stage.CHARGING, Stage.VERIFICATION]


def test_between_steps_there_is_a_settled_verdict() -> None:
    room = Room()
    for _ in range(3):
        room.until(judged)
        room.mark(MarkKind.STEP_BEGUN)
        room.run(10)
        room.mark(MarkKind.STEP_ENDED, 0.02)
    room.until(judged)
    kinds = [type(v) for v in room.verdicts if isinstance(v, Settled | StepRecorded | Unsettled)]
    assert kinds == [Settled, Unsettled, StepRecorded] * 3 + [Settled]


def test_an_unknown_amount_stops_adding_until_it_is_said() -> None:
    room = Room()
    room.until(judged)
    room.mark(MarkKind.STEP_BEGUN)
    room.run(10)
    room.mark(MarkKind.STEP_ENDED)
    room.run(10)
    assert room.until(judged).advice.cause == "mass_unknown"
    room.mark(MarkKind.STEP_ENDED, 0.04)
    snapshot = room.run(1)
    assert snapshot.advice.cause == "below_target"
    assert snapshot.facts.total_kg == pytest.approx(1.84)


def test_a_mark_pressed_twice_changes_nothing() -> None:
    once, twice = Room(), Room()
    for room, presses in ((once, 1), (twice, 2)):
        room.run(5)
        for _ in range(presses):
            room.mark(MarkKind.STEP_BEGUN)
        room.run(20)
        for _ in range(presses):
            room.mark(MarkKind.STEP_ENDED, 0.05)
        room.run(200)
    assert once.verdicts == twice.verdicts


def test_a_stage_goes_back_when_the_charge_is_opened_again() -> None:
    room = Room()
    room.subcooling = 5.0
    room.until(judged)
    assert room.stage() is Stage.VERIFICATION
    room.mark(MarkKind.STEP_BEGUN)
    room.run(1)
    assert room.stage() is Stage.CHARGING
    room.run(10)
    room.mark(MarkKind.STEP_ENDED, -0.1)
    room.subcooling = 3.6
    room.run(1)
    assert room.stage() is Stage.CHARGING
    assert room.until(judged).advice.action is Action.ADD
    room.subcooling = 5.0
    room.until(lambda s: s.advice.action is Action.STOP)
    assert room.stage() is Stage.VERIFICATION
    room.subcooling = 3.0  # refrigerant lost, or the weather: nobody marked anything
    room.until(lambda s: s.advice.action is Action.ADD)
    assert room.stage() is Stage.CHARGING


def test_instruments_too_coarse_are_told() -> None:
    room = Room(replace(JOB, target=replace(JOB.target, tolerance_k=0.2)))
    room.subcooling = 5.0
    snapshot = room.until(judged)
    assert (snapshot.advice.action, snapshot.advice.cause) == (Action.STOP, "inside_too_coarse")


def test_undeclared_accuracy_gives_no_verdict() -> None:
    room = Room(expanded=False)
    room.subcooling = 5.0
    assert room.until(judged).advice.cause == "inside_undeclared"


def test_a_required_frequency_is_asked_for_first_and_cautioned_before_it_ends() -> None:
    room = Room(replace(JOB, hold=Hold(required_hz=72.0, lasts_s=600.0)))
    assert room.run(120).advice.cause == "hold_missing"
    assert room.snapshot.stage is Stage.RUN_UP
    room.mark(MarkKind.FREQUENCY_HELD)
    room.until(judged)
    room.until(lambda s: bool(s.cautions))
    (caution,) = room.snapshot.cautions
    assert caution.cause == "hold_expiring"
    assert caution.figures["seconds_s"] <= 300.0
    snapshot = room.until(lambda s: s.advice.cause == "hold_expired")
    assert snapshot.t == pytest.approx(720.0, abs=2.0)
    room.mark(MarkKind.FREQUENCY_HELD)
    snapshot = room.run(2)
    assert snapshot.advice.cause == "settling"
    assert snapshot.cautions == ()


def test_first_readings_are_waited_for_and_then_missed() -> None:
    assistant = Assistant(JOB, SessionMode.FIELD)
    channel = Channel(name="p", role=Role.LIQUID_PRESSURE, unit="Pa", reference=Reference.GAUGE)
    assistant.step(ChannelDeclared(t=0.0, channel=channel))
    said = [v for v in assistant.advance(60.0) if isinstance(v, Advice)]
    assert [(v.t, v.cause) for v in said] == [(1.0, "first_readings"), (20.0, "no_signal")]


def test_a_reading_that_means_nothing_is_told_once() -> None:
    room = Room()
    for i in range(60):
        room.t += 1.0
        # Near a vacuum, and never twice the same.
        room.step(Reading(t=room.t, channel="liquid_pressure", value=-9e4 + i * 10.0))
        room.step(Reading(t=room.t, channel="liquid_temperature", value=300.0))
    said = [v for v in room.verdicts if isinstance(v, Advice) and v.cause == "no_value"]
    assert len(said) == 1


def test_ticks_are_whole_periods_and_fire_before_the_event() -> None:
    room = Room(replace(JOB, processing=Processing(period_s=0.5)))
    room.step(Mark(t=1.0, kind=MarkKind.STEP_BEGUN))
    assert room.snapshot.t == 1.0
    assert room.snapshot.facts.step_open is None
    room.step(Mark(t=1.49, kind=MarkKind.NOTE))
    assert room.snapshot.t == 1.0
    room.step(Mark(t=1.5, kind=MarkKind.NOTE))
    assert room.snapshot.t == 1.5
    assert room.snapshot.facts.step_open is not None


def test_an_event_out_of_order_counts_as_at_the_last_time() -> None:
    late, on_time = Room(), Room()
    for room, t in ((late, 3.0), (on_time, 50.0)):
        room.run(50)
        room.step(Mark(t=t, kind=MarkKind.STEP_BEGUN))
        room.run(30)
        room.step(Mark(t=-1e308 if t == 3.0 else room.t, kind=MarkKind.STEP_ENDED, mass_kg=0.1))
        room.run(100)
    assert late.verdicts == on_time.verdicts


SILENCES = [30.0, 61.0, 1000.0, 3599.5, 3600.0, 3601.0, 7 * 3600.0, 26 * 3600.0]


@pytest.mark.parametrize("silence_s", SILENCES)
@pytest.mark.parametrize("beat_s", [1.0, 0.7])
def test_a_silence_says_the_same_with_and_without_heartbeats(
    silence_s: float, beat_s: float
) -> None:
    live, replay = Room(), Room()
    for room in (live, replay):
        room.until(judged)
        if room is live:
            t = room.t
            while t + beat_s < room.t + silence_s:
                t += beat_s
                room.verdicts += room.assistant.advance(t)
        room.t += silence_s
        room.run(200)
    assert live.events == replay.events
    assert live.verdicts == replay.verdicts
    assert (Action.FIX_FIRST, "no_signal") in live.advice()


def test_a_long_silence_starts_settling_afresh() -> None:
    room = Room()
    room.until(judged)
    room.t += LONGEST_SILENCE_S + 100.0
    assert not judged(room.run(20))
    room.until(judged)


def test_a_resumed_session_starts_settling_afresh_and_keeps_its_ledger() -> None:
    room = Room()
    room.until(judged)
    room.mark(MarkKind.STEP_BEGUN)
    room.run(10)
    room.mark(MarkKind.STEP_ENDED, 0.05)
    room.until(judged)
    room.t += 20.0
    ticked = room.snapshot.t
    room.step(SessionResumed(t=room.t, away_s=20.0))
    assert room.snapshot.t == ticked  # nobody was there to tick
    snapshot = room.run(10)
    assert not judged(snapshot)
    assert snapshot.facts.total_kg == pytest.approx(1.85)


@pytest.mark.parametrize("t", [1e15, 1e308, float("inf")])
def test_a_time_that_cannot_be_is_survived(t: float) -> None:
    room = Room()
    room.run(5)
    room.step(Mark(t=t, kind=MarkKind.NOTE, text="damaged"))
    room.step(Mark(t=t, kind=MarkKind.NOTE, text="again"))
    assert room.snapshot.t <= LATEST_T


def test_a_stop_closes_the_job_once() -> None:
    room = Room()
    room.run(5)
    for _ in range(2):
        room.step(SessionStopped(t=room.t, outcome=Outcome.COMPLETE))
    assert [v.stage for v in room.verdicts if isinstance(v, StageChanged)] == [Stage.CLOSE_OUT]
    assert room.snapshot.finished
    room.subcooling = 5.0
    room.run(300)
    assert room.snapshot.stage is Stage.CLOSE_OUT


def test_trouble_with_sources_is_kept_and_cautioned() -> None:
    room = Room()
    room.run(3)
    room.step(BadInput(t=3.0, source="cart", reason="junk", count=2))
    room.step(BadInput(t=3.0, source="cart", reason="junk"))
    room.step(Gap(t=3.0, source="cart", dropped=7))
    room.step(SourceLost(t=3.0, source="cart", reason="cable out"))
    snapshot = room.run(5)
    (source,) = snapshot.sources
    assert (source.bad_inputs, source.dropped, source.lost_since) == (3, 7, 3.0)
    (caution,) = snapshot.cautions
    assert (caution.cause, caution.subject, caution.figures) == (
        "source_lost",
        "cart",
        {"seconds_s": 5.0},
    )
    room.step(SourceBack(t=room.t, source="cart"))
    assert room.run(1).cautions == ()


def test_a_clock_that_was_set_and_a_sleep_are_cautioned_for_two_minutes() -> None:
    room = Room()
    room.run(3)
    advice = room.snapshot.advice
    room.step(ClockSet(t=3.0, step_s=-3600.0))
    room.step(ProgramHeld(t=3.0, held_s=600.0, asleep=True))
    room.step(ProgramHeld(t=3.0, held_s=5.0, asleep=False))
    room.step(ProgramHeld(t=3.0, held_s=610.0, asleep=True))
    snapshot = room.run(1)
    assert snapshot.advice.cause == advice.cause
    said = [wording.caution(each, UnitSystem.SI) for each in snapshot.cautions]
    assert any("set back by 60 min" in text and "not affected" in text for text in said)
    assert any("slept for 10 min" in text and "fresh readings" in text for text in said)
    assert len(said) == 2
    assert room.run(125).cautions == ()


def test_notes_are_kept_in_order_and_bounded() -> None:
    room = Room()
    for i in range(250):
        room.step(Mark(t=float(i), kind=MarkKind.NOTE, text=f"note {i}"))
    notes = room.snapshot.notes
    assert len(notes) == 200
    assert notes[-1] == (249.0, "note 249")
    assert notes[0] == (50.0, "note 50")


def test_replayed_is_shown_and_changes_nothing() -> None:
    room = Room()
    room.until(judged)
    again = Assistant(JOB, SessionMode.SIMULATED, replayed=True)
    verdicts = [verdict for event in room.events for verdict in again.step(event)]
    assert verdicts == room.verdicts
    snapshot = again.snapshot()
    assert snapshot is not None
    assert snapshot.replayed
    assert not room.snapshot.replayed
