"""A replay: the same at any speed, ending as its record did, and what was changed in it found."""

from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.guide.assistant import Assistant
from chargeassist.model.events import (
    Advice,
    Event,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionResumed,
    SessionStopped,
    VerdictEvent,
)
from chargeassist.session.compare import VerdictComparison
from chargeassist.session.fold import LONGEST_LEAP_S, Fold
from chargeassist.session.opening import open_new, open_replay
from chargeassist.session.pilot import Pilot
from chargeassist.session.record.store import SessionWriter
from tests.unit.session.played import ago, cut, demo, events_of, lines_of, play


@pytest.mark.parametrize("speed", [None, 200.0])
def test_the_same_seed_gives_the_same_session_at_any_speed(
    tmp_path: Path, simulated: list[Event], speed: float | None
) -> None:
    opened = open_new(demo(300), tmp_path, record=tmp_path, speed=speed, attendant=Pilot())
    play(opened)
    (path,) = tmp_path.iterdir()
    made = [e for e in events_of(path)[1:] if e.t < 299.0 and not isinstance(e, SessionStopped)]
    whole = [e for e in simulated[1:] if e.t < 299.0]
    assert lines_of(made) == lines_of(whole)


def test_another_seed_gives_another_session(tmp_path: Path, simulated: list[Event]) -> None:
    play(open_new(demo(20, seed=8), tmp_path, record=tmp_path, speed=None))
    (path,) = tmp_path.iterdir()
    made = [e.value for e in events_of(path) if isinstance(e, Reading)]
    assert made != [e.value for e in simulated if isinstance(e, Reading)][: len(made)]


def test_a_replay_ends_as_the_record_did(tmp_path: Path, simulated: list[Event]) -> None:
    path = tmp_path / "a.session"
    cut(simulated, 300, path, ago(400.0))
    told: list[Event] = []
    opened = open_replay(path, speed=None, listeners=[told.append])
    assert opened.session.replayed
    assert opened.session.record_path is None
    play(opened)
    (stopped,) = [e for e in told if isinstance(e, SessionStopped)]
    assert (stopped.outcome, stopped.reason) == (
        Outcome.ABANDONED,
        "the record ends here without an end",
    )
    writer, t = SessionWriter.resume(path)
    writer.close(SessionStopped(t=t, outcome=Outcome.FAILED, reason="invented"))
    told.clear()
    play(open_replay(path, speed=None, listeners=[told.append]))
    (stopped,) = [e for e in told if isinstance(e, SessionStopped)]
    assert (stopped.outcome, stopped.reason) == (Outcome.FAILED, "invented")


def test_a_verdict_that_was_changed_is_found(tmp_path: Path, simulated: list[Event]) -> None:
    rows = list(simulated)
    index = next(i for i, e in enumerate(rows) if isinstance(e, Advice) and e.figures)
    advice = rows[index]
    assert isinstance(advice, Advice)
    figures = {key: value + 1e-12 * abs(value) for key, value in advice.figures.items()}
    rows[index] = replace(advice, figures=figures)
    path = tmp_path / "a.session"
    cut(rows, len(rows) - 2, path, ago(400.0))
    comparison = VerdictComparison(path)
    play(open_replay(path, speed=None, listeners=[comparison]))
    (difference,) = comparison.differences()
    assert "recorded" in difference
    assert "replayed" in difference


def test_a_verdict_that_was_left_out_is_found(tmp_path: Path, simulated: list[Event]) -> None:
    index = next(i for i, e in enumerate(simulated) if isinstance(e, Advice) and e.t > 100.0)
    path = tmp_path / "a.session"
    cut([*simulated[:index], *simulated[index + 1 :]], 3500, path, ago(400.0))
    comparison = VerdictComparison(path)
    play(open_replay(path, speed=None, listeners=[comparison]))
    assert comparison.differences()
    # The same for the last verdict, with readings after it that prove it was left out.
    verdicts = [i for i, e in enumerate(simulated) if isinstance(e, VerdictEvent)]
    late = tmp_path / "late.session"
    last = verdicts[-3]
    cut([*simulated[:last], *simulated[last + 1 :]], last + 19, late, ago(400.0))
    comparison = VerdictComparison(late)
    play(open_replay(late, speed=None, listeners=[comparison]))
    assert comparison.differences()


def test_a_recording_that_leaps_years_is_not_ticked_through(
    tmp_path: Path, simulated: list[Event]
) -> None:
    path = tmp_path / "a.session"
    far = Mark(t=1e12, kind=MarkKind.NOTE, text="later")
    cut([*simulated[:200], far], 201, path, ago(400.0))
    play(open_replay(path, speed=None))


def test_fold_ticks_up_to_an_event_but_not_while_the_program_was_away() -> None:
    def fold() -> Fold:
        return Fold(Assistant(demo(), SessionMode.FIELD))

    through = fold()
    first = through.reach(1.0)
    assert [type(v).__name__ for v in first] == ["Advice"]
    assert through.reach(0.5) == ()
    assert fold().take(SessionResumed(t=40.0)) == ()
    taken = fold().take(Mark(t=40.0, kind=MarkKind.NOTE))
    assert taken[0] == first[0]
    assert fold().reach(LONGEST_LEAP_S + 1.0) == ()
