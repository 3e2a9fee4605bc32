"""The assistant and time: ticks, silences, sleeps, clocks, the end."""

from dataclasses import replace

import pytest

from chargeassist.guide import wording
from chargeassist.guide.assistant import Assistant
from chargeassist.guide.tick_times import LATEST_T, LONGEST_SILENCE_S
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import (
    Action,
    BadInput,
    ClockSet,
    Gap,
    Mark,
    MarkKind,
    Outcome,
    ProgramHeld,
    SessionMode,
    SessionResumed,
    SessionStopped,
    SourceBack,
    SourceLost,
    Stage,
    StageChanged,
)
from chargeassist.model.job import Processing
from tests.unit.guide.room import JOB, Room, judged


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


@pytest.mark.parametrize(("away_s", "anew"), [(20.0, False), (3000.0, True), (9000.0, True)])
def test_a_unit_nobody_watched_for_long_has_not_run_all_the_while(
    away_s: float, *, anew: bool
) -> None:
    """What is required of the run before a reading counts from when it is seen to run again."""
    room = Room()
    room.run(200)
    room.t += away_s
    room.step(SessionResumed(t=room.t, away_s=away_s))
    since_t = room.run(10).facts.running_since_t
    assert since_t is not None
    assert (since_t > room.t - 11.0) is anew


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
