"""A session whose recorder fails, or whose end cannot be written."""

import asyncio
import threading
from pathlib import Path

import pytest

from chargeassist.guide.trouble_wording import RECORDER
from chargeassist.model.errors import RecordError
from chargeassist.model.events import (
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionStarted,
    SourceBack,
    SourceLost,
)
from chargeassist.session import keeper
from chargeassist.session.record.store import SessionReader, SessionWriter
from chargeassist.session.source import Clock, Sink
from tests.unit.session.runner_parts import (
    TEMP,
    FakeRecorder,
    FakeSource,
    feed,
    finish,
    forever,
    made,
    of,
    until,
)


@pytest.fixture(autouse=True)
def quick_commits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeper, "COMMIT_EVERY_S", 0.02)


async def test_a_failing_recorder_is_lost_and_back_and_everything_is_there_in_the_end() -> None:
    recorder = FakeRecorder()
    session, told = made(FakeSource(lambda s, c: feed(s)), recorder=recorder)
    running = asyncio.create_task(finish(session))
    await until(lambda: recorder.durable > 5)
    recorder.refuses = True
    await until(lambda: of(told, SourceLost))
    before = len(of(told, Reading))
    await until(lambda: len(of(told, Reading)) > before + 5)
    assert len(of(told, SourceLost)) == 1, "it counts once"
    recorder.refuses = False
    await until(lambda: of(told, SourceBack))
    await session.stop(Outcome.COMPLETE)
    await running
    (lost,), (back,) = of(told, SourceLost), of(told, SourceBack)
    assert isinstance(lost, SourceLost)
    assert isinstance(back, SourceBack)
    assert lost.source == back.source == RECORDER
    assert "disk is full" in lost.reason
    assert recorder.durable == len(recorder.taken)
    assert of(recorder.taken, Reading) == of(told, Reading)


class SlowRecorder(FakeRecorder):
    """Its commits last until `disk` is set."""

    def __init__(self) -> None:
        super().__init__()
        self.disk = threading.Event()
        self.busy = threading.Event()

    def commit(self) -> None:
        self.busy.set()
        self.disk.wait(60.0)
        super().commit()


async def without_pace(sink: Sink, clock: Clock) -> None:
    """Begin with the first commit, and deliver a thousand readings as fast as they are taken."""
    for second in range(1, 1001):
        await clock.sleep_until(float(second))
        sink.reading(TEMP.name, 90.0)
        await asyncio.sleep(0)


async def test_a_source_without_pace_waits_for_a_disk_that_takes_its_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(keeper, "AHEAD_ROWS", 100)
    recorder = SlowRecorder()

    async def play(sink: Sink, clock: Clock) -> None:
        await until(recorder.busy.is_set)
        await without_pace(sink, clock)

    session, told = made(
        FakeSource(play, brings_time=True, simulated=True), recorder=recorder, speed=None
    )
    running = asyncio.create_task(finish(session))
    await until(lambda: len(recorder.taken) >= 100)
    await asyncio.sleep(0.2)
    assert len(recorder.taken) < 200
    assert not running.done()
    recorder.disk.set()
    await asyncio.wait_for(running, 60.0)
    assert len(of(told, Reading)) == len(of(recorder.taken, Reading)) == 1000


async def test_a_source_without_pace_does_not_wait_for_a_disk_that_refuses(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(keeper, "AHEAD_ROWS", 100)
    recorder = FakeRecorder()
    recorder.refuses = True
    source = FakeSource(without_pace, brings_time=True, simulated=True)
    session, told = made(source, recorder=recorder, speed=None)
    running = asyncio.create_task(finish(session))
    await until(lambda: len(of(told, Reading)) == 1000)
    recorder.refuses = False
    await asyncio.wait_for(running, 60.0)
    assert len(of(recorder.taken, Reading)) == 1000


async def test_an_end_that_cannot_be_written_is_tried_twice_and_told() -> None:
    recorder = FakeRecorder()
    session, told = made(FakeSource(forever), recorder=recorder)
    running = asyncio.create_task(finish(session))
    await until(lambda: told)
    recorder.refuses = True
    session.end(Outcome.COMPLETE)
    with pytest.raises(RecordError, match="disk is full"):
        await running
    assert recorder.close_tries == 2
    assert recorder.abandoned
    await asyncio.wait_for(session.stop(Outcome.COMPLETE), 1.0)


async def test_an_end_that_cannot_be_written_waits_where_somebody_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(keeper, "COMMIT_EVERY_S", 0.01)
    recorder = FakeRecorder()
    session, told = made(FakeSource(forever), recorder=recorder)
    said: list[str] = []
    session.wait_for_disk(said.append)
    running = asyncio.create_task(finish(session))
    await until(lambda: told)
    recorder.refuses = True
    session.end(Outcome.COMPLETE)
    await until(lambda: len(said) > 3)
    assert not running.done()
    assert all("disk is full" in text for text in said)
    recorder.refuses = False
    await asyncio.wait_for(running, 5.0)
    assert recorder.closed is not None


async def test_an_end_that_is_given_up_is_tried_once_more_and_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(keeper, "COMMIT_EVERY_S", 0.01)
    recorder = FakeRecorder()
    session, told = made(FakeSource(forever), recorder=recorder)
    said: list[str] = []
    session.wait_for_disk(said.append)
    running = asyncio.create_task(finish(session))
    await until(lambda: told)
    recorder.refuses = True
    session.end(Outcome.COMPLETE)
    await until(lambda: said)
    session.give_up()
    with pytest.raises(RecordError, match="disk is full"):
        await asyncio.wait_for(running, 5.0)
    assert recorder.abandoned


async def test_a_full_disk_loses_no_row_of_a_real_session_file(
    tmp_path: Path, started: SessionStarted
) -> None:
    writer = SessionWriter.create(tmp_path / "a.session", started)
    session, told = made(FakeSource(lambda s, c: feed(s)), recorder=writer)
    running = asyncio.create_task(finish(session))
    await until(lambda: len(of(told, Reading)) > 3)
    (pages,) = writer._db.execute("PRAGMA page_count").fetchone()
    writer._db.execute(f"PRAGMA max_page_count={pages}")
    # SQLite has room for a few more rows in the pages it has; a long note needs new ones.
    for _ in range(40):
        session.mark(MarkKind.NOTE, text="n" * 500)
    await until(lambda: of(told, SourceLost))
    assert writer.pending > 0
    await asyncio.sleep(0.1)
    writer._db.execute("PRAGMA max_page_count=1000000")
    await until(lambda: of(told, SourceBack))
    await session.stop(Outcome.COMPLETE)
    await running
    with SessionReader(tmp_path / "a.session") as reader:
        report = reader.verify()
        assert report.ok, report.problems
        assert report.finished
        recorded = list(reader.events())
    assert of(recorded, Reading, Mark, SourceLost, SourceBack) == of(
        told, Reading, Mark, SourceLost, SourceBack
    )
