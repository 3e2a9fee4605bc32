"""Going about in a recording: wherever one goes, it looks as a replay from the start does there."""

import asyncio
import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import (
    Action,
    Advice,
    MarkKind,
    Outcome,
    SessionStarted,
    SessionStopped,
    StepRecorded,
    VerdictEvent,
)
from chargeassist.session.fold import Fold
from chargeassist.session.record.package import open_record, write_package
from chargeassist.trainer.moments import moments
from chargeassist.trainer.replay_desk import ReplayDesk
from chargeassist.trainer.sidecar import EntryKind

RECORDING = Path(__file__).resolve().parents[3] / "recordings" / "quarry-road-bakery"


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    return Path(shutil.copytree(RECORDING, tmp_path / "bakery"))


@asynccontextmanager
async def sat_at(desk: ReplayDesk) -> AsyncIterator[list[Snapshot]]:
    """Run a desk and give what it shows."""
    shown: list[Snapshot] = []
    running = asyncio.create_task(desk.run(shown.append))
    await asyncio.sleep(0.01)
    try:
        yield shown
    finally:
        await desk.stop(Outcome.ABANDONED)
        await asyncio.wait_for(running, 5.0)


def straight(recording: Path, t: float) -> Snapshot:
    """Fold the recording's input up to `t`, with no session around it."""
    with open_record(recording) as record:
        assistant = Assistant(record.job, record.started.mode, replayed=True)
        fold = Fold(assistant)
        for event in record.events():
            if not isinstance(event, VerdictEvent | SessionStarted) and event.t <= t:
                fold.take(event)
    fold.reach(t)
    snapshot = assistant.snapshot()
    assert snapshot is not None
    return snapshot


async def arrived(shown: list[Snapshot], t: float) -> Snapshot:
    for _ in range(1000):
        if shown and shown[-1].t == t:
            return shown[-1]
        await asyncio.sleep(0.01)
    raise AssertionError(f"wanted {t}, shown {shown[-1].t if shown else None}")


async def test_ahead_and_back_show_what_a_straight_replay_shows(recording: Path) -> None:
    desk = ReplayDesk(recording)
    async with sat_at(desk) as shown:
        desk.toggle_pause()
        for t in (400.0, 500.0, 200.0, 199.0, 333.0):
            desk.go_to(t)
            there = await arrived(shown, t)
            assert there == straight(recording, t)
            await asyncio.sleep(0.02)
            assert desk.paused
            assert shown[-1].t == t


async def test_the_end_is_no_dead_end(recording: Path) -> None:
    desk = ReplayDesk(recording, None)
    async with sat_at(desk) as shown:
        end = next(m.t for m in desk.moments[::-1])
        for _ in range(1000):
            await asyncio.sleep(0.01)
            if shown and shown[-1].finished:
                break
        assert shown[-1].t == pytest.approx(end, abs=1.0)
        desk.toggle_pause()
        desk.go_to(100.0)
        assert not (await arrived(shown, 100.0)).finished


async def test_event_by_event_and_to_a_step(recording: Path) -> None:
    desk = ReplayDesk(recording)
    async with sat_at(desk) as shown:
        desk.toggle_pause()
        first = desk.neighbour(1)
        assert first is not None
        assert first == min(m.t for m in desk.moments if m.t > 0.0)
        step = desk.step(1)
        assert step is not None
        assert desk.step(99) is None
        desk.go_to(step)
        there = await arrived(shown, float(int(step)))
        assert not there.facts.ledger, "the step begins here; it has not ended"
        after, before = desk.neighbour(1), desk.neighbour(-1)
        assert after is not None
        assert before is not None
        assert before < step < after


async def test_bookmarks_are_places_to_go_and_lie_beside_the_recording(recording: Path) -> None:
    desk = ReplayDesk(recording)
    async with sat_at(desk) as shown:
        desk.toggle_pause()
        desk.go_to(333.0)
        await arrived(shown, 333.0)
        desk.keep(EntryKind.BOOKMARK)
        desk.keep(EntryKind.NOTE, "say why", 340.0)
        desk.go_to(300.0)
        await arrived(shown, 300.0)
        assert desk.neighbour(1) in {333.0, min(m.t for m in desk.moments if m.t > 300.0)}
        with pytest.raises(ConfigError, match="takes no mark"):
            desk.mark(MarkKind.NOTE, text="no")
    again = ReplayDesk(recording)
    assert [(e.t, e.kind) for e in again.entries] == [
        (333.0, EntryKind.BOOKMARK),
        (340.0, EntryKind.NOTE),
    ]
    assert desk.notes_path.parent == recording.parent


def test_moments_tell_steps_settled_readings_and_instructions() -> None:
    words = [moment.text(UnitSystem.SI) for moment in moments(RECORDING)]
    for begin in ("charge step 1 begins", "settled at", "told: Recover", "told: Stop", "the end"):
        assert any(word.startswith(begin) for word in words), begin
    assert not any(word.startswith("told: Wait") for word in words)


def test_a_step_whose_amount_was_told_later_is_one_moment(tmp_path: Path) -> None:
    """The ledger tells it again under its number."""
    with open_record(RECORDING) as record:
        events = list(record.events())
    place, step = next((k, e) for k, e in enumerate(events) if isinstance(e, StepRecorded))
    events[place : place + 1] = [replace(step, mass_kg=None), step]
    write_package(events, tmp_path / "told-later")
    words = [moment.text(UnitSystem.SI) for moment in moments(tmp_path / "told-later")]
    (told,) = [word for word in words if word.startswith("charge step 1 begins")]
    assert "not given" not in told


def test_a_fault_told_right_after_another_is_a_moment_of_its_own(tmp_path: Path) -> None:
    """Who was told of a clamp is told of the coil next, with no wait between: both are moments."""
    with open_record(RECORDING) as record:
        kept = [event for event in record.events() if event.t < 60.0]
    causes = (("probe_trouble", "a: loose"), ("not_the_cure", "b"), ("not_the_cure", "b"))
    told = [
        Advice(t=60.0 + k, action=Action.FIX_FIRST, cause=cause, subject=subject)
        for k, (cause, subject) in enumerate(causes)
    ]
    stopped = SessionStopped(t=70.0, outcome=Outcome.COMPLETE, reason="target reached")
    write_package([*kept, *told, stopped], tmp_path / "two")
    found = [moment.t for moment in moments(tmp_path / "two") if moment.t >= 60.0]
    assert found == [60.0, 61.0, 70.0]
