"""The verdicts of a record, computed again."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.guide.assistant import Assistant
from chargeassist.model.events import (
    Advice,
    Event,
    Gap,
    InputEvent,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
    SessionResumed,
    SessionStarted,
    SessionStopped,
    Settled,
    Stage,
    StageChanged,
    VerdictEvent,
)
from chargeassist.qa.recompute import compare
from chargeassist.qa.rescore import rescore, rescore_events
from chargeassist.session.fold import Fold
from chargeassist.session.record.codec import job_from_json
from chargeassist.session.record.package import open_record, write_package

ROOT = Path(__file__).resolve().parents[3]


def job_of(events: list[Event]):  # type: ignore[no-untyped-def]
    assert isinstance(events[0], SessionStarted)
    return job_from_json(events[0].job)


@pytest.mark.parametrize("name", ["millrace-lane-library", "quarry-road-bakery"])
def test_the_recordings_give_their_verdicts_again(name: str) -> None:
    with open_record(ROOT / "recordings" / name) as record:
        session = rescore(record)
        found = compare(session)
    assert found.compared >= 20
    assert found.differences == ()
    assert session.last is not None
    assert session.last.facts.ledger


def test_a_session_file_gives_them_too(session_file: Path) -> None:
    with open_record(session_file) as record:
        assert compare(rescore(record)).differences == ()


def test_an_interrupted_record_is_compared_as_far_as_it_goes(charged: list[Event]) -> None:
    for end in (300, 2000, 3001, 3017):
        found = compare(rescore_events(iter(charged[:end]), job_of(charged)))
        assert found.differences == (), end


def judged_anew(inputs: Sequence[InputEvent]) -> list[Event]:
    """Return `inputs` with the verdicts a session records beside them."""
    fold = Fold(Assistant(job_of([*inputs]), SessionMode.SIMULATED))
    found: list[Event] = []
    for event in inputs:
        verdicts = fold.take(event)
        ended = isinstance(event, SessionStopped)
        found += [*verdicts, event] if ended else [event, *verdicts]
    return found


def test_a_close_out_that_the_technician_began_is_no_end(charged: list[Event]) -> None:
    inputs = [e for e in charged if not isinstance(e, VerdictEvent)]
    place = len(inputs) - 100

    def begun(stage: Stage, at: int) -> Mark:
        return Mark(t=inputs[at].t, kind=MarkKind.STAGE_BEGUN, text=stage.value)

    close_out = begun(Stage.CLOSE_OUT, place)
    again = [
        *(*inputs[:place], close_out, *inputs[place : place + 40]),
        *(begun(Stage.VERIFICATION, place + 40), *inputs[place + 40 :]),
    ]
    events = judged_anew(again)
    assert compare(rescore_events(iter(events), job_of(charged))).differences == ()
    cut = events[: events.index(close_out) + 30]
    assert compare(rescore_events(iter(cut), job_of(charged))).differences == ()


def test_an_edited_verdict_is_named_with_its_field(charged: list[Event]) -> None:
    place = next(i for i, e in enumerate(charged) if isinstance(e, Settled))
    settled = charged[place]
    assert isinstance(settled, Settled)
    assert settled.subcooling_k is not None
    changed = [*charged]
    changed[place] = replace(settled, subcooling_k=settled.subcooling_k + 0.5)
    found = compare(rescore_events(iter(changed), job_of(charged)))
    (difference,) = found.differences
    assert difference.fields == ("subcooling_k",)
    assert difference.t == settled.t
    assert "settled" in difference.now
    assert "subcooling_k was" in difference.text


def test_a_missing_and_an_invented_verdict_are_named(charged: list[Event]) -> None:
    place = next(i for i, e in enumerate(charged) if isinstance(e, Advice) and e.t > 60.0)
    without = [*charged[:place], *charged[place + 1 :]]
    (difference,) = compare(rescore_events(iter(without), job_of(charged))).differences
    assert (difference.kind, difference.recorded) == ("advice", "nothing")
    twice = [*charged[: place + 1], *charged[place:]]
    found = compare(rescore_events(iter(twice), job_of(charged)))
    assert found.differences
    assert found.differences[0].t == charged[place].t


def test_other_readings_give_other_verdicts_and_why_is_said(charged: list[Event]) -> None:
    warmer = [
        replace(e, value=e.value + 3.0)
        if isinstance(e, Reading) and e.channel == "liquid_temperature" and e.t > 100.0
        else e
        for e in charged
    ]
    found = compare(rescore_events(iter(warmer), job_of(charged)))
    assert found.differences
    assert any("the software differs: chargeassist recorded it" in c for c in found.causes)
    started = charged[0]
    assert isinstance(started, SessionStarted)
    other = replace(started, table_hash="0" * 64)
    found = compare(rescore_events(iter([other, *warmer[1:]]), job_of(charged)))
    assert any("the saturation table differs: 000000000000 then" in c for c in found.causes)


def test_two_runs_have_one_hash(charged: list[Event]) -> None:
    one, other = (
        compare(rescore_events(iter(charged), job_of(charged))).verdicts_sha256 for _ in "ab"
    )
    assert one == other


def closed_at(event: Event) -> StageChanged:
    return StageChanged(t=event.t, stage=Stage.CLOSE_OUT)


def test_a_forged_end_in_mid_session_is_a_difference(charged: list[Event], tmp_path: Path) -> None:
    place = len(charged) // 2
    forged = [*charged[:place], closed_at(charged[place - 1]), *charged[place:]]
    found = compare(rescore_events(iter(forged), job_of(charged)))
    assert [(each.kind, each.made) for each in found.differences] == [("stage_changed", "nothing")]
    write_package(forged, tmp_path / "forged")
    assert main(["replay", "--check", str(tmp_path / "forged")]) == 1
    write_package(charged, tmp_path / "as-it-was")
    assert main(["replay", "--check", str(tmp_path / "as-it-was")]) == 0


def test_an_end_that_a_kill_left_behind_is_no_difference(charged: list[Event]) -> None:
    place = len(charged) // 2
    left = closed_at(charged[place - 1])
    # A full disk may have it tell what was let go between the two.
    gap = Gap(t=left.t, source="record", dropped=3)
    for behind in ([left], [left, gap]):
        cut = [*charged[:place], *behind]
        assert compare(rescore_events(iter(cut), job_of(charged))).differences == ()
    inputs = [e for e in charged[:place] if not isinstance(e, VerdictEvent)]
    resumed = SessionResumed(t=left.t + 60.0, away_s=60.0)
    events = judged_anew([*inputs, resumed])
    at = events.index(resumed)
    again = [*events[:at], left, *events[at:]]
    assert compare(rescore_events(iter(again), job_of(charged))).differences == ()


def test_verdicts_out_of_their_order_are_a_difference(charged: list[Event]) -> None:
    places = [n for n, e in enumerate(charged) if isinstance(e, VerdictEvent)]
    one, other = next((a, b) for a, b in pairwise(places[5:]) if charged[a].t < charged[b].t)
    moved = [*charged[:one], charged[other], *charged[one:other], *charged[other + 1 :]]
    found = compare(rescore_events(iter(moved), job_of(charged)))
    assert [each.kind for each in found.differences] == ["order"]
