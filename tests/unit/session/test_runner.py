"""A session: what happens when sources, recorder, listeners or people misbehave."""

import asyncio
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.trouble_wording import RECORDER
from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ConfigError, RecordError, SourceError
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Gap,
    InputEvent,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
    SourceBack,
    SourceLost,
)
from chargeassist.model.job import ChargeLimits, Job, Processing, Site, Target
from chargeassist.session import keeper
from chargeassist.session.intake import Intake
from chargeassist.session.record.store import SessionReader, SessionWriter
from chargeassist.session.runner import Session
from chargeassist.session.source import Clock, Sink

JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented plate"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11),
    site=Site(altitude_m=210.0),
    processing=Processing(period_s=0.2),
)
TEMP = Channel(name="liquid_t", role=Role.LIQUID_TEMPERATURE, unit="°F", source="rig")

Run = Callable[[Sink, Clock], "asyncio.Future[None]"]


async def forever(sink: Sink, clock: Clock) -> None:
    """Deliver nothing and never return."""
    await asyncio.Event().wait()


@dataclass
class FakeSource:
    """A source whose `run` is given."""

    play: Callable[[Sink, Clock], object]
    name: str = "rig"
    channels: tuple[Channel, ...] = (TEMP,)
    brings_time: bool = False
    simulated: bool = False
    heard: list[Mark] = field(default_factory=list)

    @classmethod
    def from_spec(cls, spec: object, base: Path) -> "FakeSource":
        raise NotImplementedError

    async def run(self, sink: Sink, clock: Clock) -> None:
        result = self.play(sink, clock)
        if asyncio.iscoroutine(result):
            await result

    def technician(self, mark: Mark) -> None:
        self.heard.append(mark)


class FakeRecorder:
    """Keeps events in a list; `refuses` makes its disk full."""

    path = Path("a.session")

    def __init__(self) -> None:
        self.taken: list[Event] = []
        self.durable = 0
        self.refuses = False
        self.closed: SessionStopped | None = None
        self.abandoned = False
        self.close_tries = 0

    def append(self, event: Event) -> None:
        self.taken.append(event)

    def commit(self) -> None:
        if self.refuses:
            raise RecordError("record: the disk is full; free some space")
        self.durable = len(self.taken)

    def close(self, stopped: SessionStopped) -> bool:
        self.close_tries += 1
        self.commit()
        self.closed = stopped
        return True

    def abandon(self) -> None:
        self.abandoned = True


def made(
    *sources: FakeSource, recorder: FakeRecorder | SessionWriter | None = None, **more: object
) -> tuple[Session, list[Event]]:
    told: list[Event] = []
    session = Session(
        Assistant(JOB, SessionMode.FIELD),
        sources,
        recorder=recorder,
        listeners=(told.append,),
        **more,  # type: ignore[arg-type]
    )
    return session, told


def nothing(snapshot: Snapshot) -> None:
    """Show nothing."""


async def finish(session: Session, within_s: float = 10.0) -> None:
    await asyncio.wait_for(session.run(nothing), within_s)


def of(events: list[Event], *kinds: type) -> list[Event]:
    return [event for event in events if isinstance(event, kinds)]


async def until(holds: Callable[[], object], within_s: float = 10.0) -> None:
    async with asyncio.timeout(within_s):
        while not holds():  # noqa: ASYNC110  what is waited for has no event of its own
            await asyncio.sleep(0.005)


@pytest.fixture(autouse=True)
def quick_commits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeper, "COMMIT_EVERY_S", 0.02)


def test_sources_that_bring_time_run_alone() -> None:
    timed = FakeSource(forever, name="recording", brings_time=True)
    with pytest.raises(ConfigError, match="'recording' brings its own time and cannot run beside"):
        made(FakeSource(forever), timed)


async def test_a_source_that_raises_ends_the_session_and_loses_nothing_that_came() -> None:
    async def breaks(sink: Sink, clock: Clock) -> None:
        for k in range(5):
            sink.reading("liquid_t", 300.0 + k)
        raise ZeroDivisionError("in the adapter\x1b[2J")

    recorder = FakeRecorder()
    session, told = made(FakeSource(breaks), FakeSource(forever, "other", ()), recorder=recorder)
    with pytest.raises(SourceError, match="source 'rig' ended by a program error: ZeroDiv") as got:
        await finish(session)
    assert isinstance(got.value.__cause__, ZeroDivisionError)
    assert "\x1b" not in str(got.value)
    readings = of(recorder.taken, Reading)
    assert [r.value for r in readings if isinstance(r, Reading)] == [300.0 + k for k in range(5)]
    assert recorder.durable == len(recorder.taken)
    (lost,) = of(recorder.taken, SourceLost)
    assert isinstance(lost, SourceLost)
    assert "ZeroDivisionError" in lost.reason
    # No end is written: the session can be gone on with once the fault is mended.
    assert recorder.closed is None
    assert recorder.abandoned
    assert of(told, SourceLost) == [lost]


async def test_an_error_in_the_middle_of_the_program_commits_and_is_raised() -> None:
    recorder = FakeRecorder()

    def broken(snapshot: Snapshot) -> None:
        raise RuntimeError("the screen")

    session, _ = made(FakeSource(lambda s, c: feed(s)), recorder=recorder)
    with pytest.raises(ExceptionGroup) as got:
        await asyncio.wait_for(session.run(broken), 10.0)
    assert got.group_contains(RuntimeError, match="the screen")
    assert recorder.durable == len(recorder.taken) > 0
    assert recorder.abandoned


async def feed(sink: Sink) -> None:
    while True:
        sink.reading("liquid_t", 300.0)
        await asyncio.sleep(0.02)


async def test_a_live_source_that_returns_is_lost_and_ends_nothing_else() -> None:
    short = FakeSource(lambda s, c: s.reading("liquid_t", 300.0))
    session, told = made(short, FakeSource(forever, "other", ()))
    running = asyncio.create_task(finish(session))
    await until(lambda: of(told, SourceLost))
    assert of(told, SourceLost)[0].source == "rig"  # type: ignore[union-attr]
    await asyncio.sleep(0.05)
    assert not running.done()
    await session.stop(Outcome.COMPLETE)
    await running
    (stopped,) = of(told, SessionStopped)
    assert isinstance(stopped, SessionStopped)
    assert stopped.outcome is Outcome.COMPLETE
    assert stopped.counts == {"liquid_t": 1}


async def test_without_any_probe_the_technicians_word_is_all_and_ends_the_session() -> None:
    session, told = made()
    running = asyncio.create_task(finish(session))
    session.mark(MarkKind.NOTE, text="read off the gauge", value_si=1.5)
    await asyncio.sleep(0.5)
    assert not running.done()
    await session.stop(Outcome.COMPLETE)
    await running
    (mark,) = of(told, Mark)
    assert isinstance(mark, Mark)
    assert mark.value_si == 1.5
    assert of(told, SessionStopped)


async def test_when_every_live_source_has_returned_the_charge_is_not_called_complete() -> None:
    session, told = made(FakeSource(lambda s, c: None))
    await finish(session)
    (stopped,) = of(told, SessionStopped)
    assert isinstance(stopped, SessionStopped)
    assert stopped.outcome is Outcome.ABANDONED
    assert stopped.reason == "every source has ended"


async def test_a_source_with_its_own_time_ends_the_session_when_all_is_processed() -> None:
    async def play(sink: Sink, clock: Clock) -> None:
        for k in range(100):
            await clock.sleep_until(k / 10)
            sink.reading("liquid_t", 300.0, t=k / 10)

    session, told = made(FakeSource(play, brings_time=True), speed=None)
    seen: list[float] = []
    await asyncio.wait_for(session.run(lambda snapshot: seen.append(snapshot.t)), 10.0)
    assert len(of(told, Reading)) == 100
    (stopped,) = of(told, SessionStopped)
    assert isinstance(stopped, SessionStopped)
    assert (stopped.t, stopped.outcome) == (9.9, Outcome.COMPLETE)
    ticks = seen[: seen.index(max(seen)) + 1]
    assert ticks == sorted(set(ticks))
    assert len(ticks) == pytest.approx(49, abs=1), "every tick was seen"


async def test_what_is_recorded_is_what_is_told_in_the_same_order() -> None:
    recorder = FakeRecorder()
    session, told = made(FakeSource(lambda s, c: feed(s)), recorder=recorder)
    running = asyncio.create_task(finish(session))
    await until(lambda: len(told) > 20)
    session.mark(MarkKind.STEP_BEGUN)
    session.mark(MarkKind.STEP_ENDED, mass_kg=0.1, text="valve shut\x1b[0m\u202e")
    session.end(Outcome.COMPLETE, "said so")
    session.end(Outcome.FAILED, "too late")
    await running
    inputs = [e for e in told if isinstance(e, InputEvent)]
    assert [e.t for e in inputs] == sorted(e.t for e in inputs)
    assert recorder.closed == of(told, SessionStopped)[0]
    told.remove(recorder.closed)
    last_verdicts = [e for e in recorder.taken if not isinstance(e, InputEvent)]
    assert [e for e in told if isinstance(e, InputEvent)] == [
        e for e in recorder.taken if isinstance(e, InputEvent)
    ]
    assert [e for e in told if not isinstance(e, InputEvent)] == last_verdicts
    marks = of(told, Mark)
    assert isinstance(marks[1], Mark)
    assert marks[1].text == "valve shut·[0m·"
    assert recorder.closed.outcome is Outcome.COMPLETE
    assert recorder.closed.reason == "said so"


async def test_a_mark_reaches_every_source_and_a_number_that_is_none_is_refused() -> None:
    one, two = FakeSource(forever), FakeSource(forever, "two", ())
    session, told = made(one, two)
    running = asyncio.create_task(finish(session))
    session.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    for value in (math.nan, math.inf):
        with pytest.raises(ConfigError, match="expected a finite number"):
            session.mark(MarkKind.STEP_ENDED, mass_kg=value)
        with pytest.raises(ConfigError, match="expected a finite number"):
            session.mark(MarkKind.FREQUENCY_HELD, frequency_hz=value)
    await session.stop(Outcome.ABANDONED)
    await running
    assert [m.frequency_hz for m in one.heard] == [72.0]
    assert one.heard == two.heard == of(told, Mark)
    assert not session.can_pause
    session.toggle_pause()
    assert not session.paused


async def test_a_paused_session_can_be_ended() -> None:
    async def play(sink: Sink, clock: Clock) -> None:
        t = 0.0
        while True:
            await clock.sleep_until(t)
            t += 0.1

    session, told = made(FakeSource(play, brings_time=True), speed=50.0)
    running = asyncio.create_task(finish(session))
    await asyncio.sleep(0.03)
    assert session.can_pause
    session.toggle_pause()
    assert session.paused
    await asyncio.sleep(0.02)
    held = session.now
    await asyncio.sleep(0.02)
    assert session.now == held
    await session.stop(Outcome.ABANDONED)
    await running
    assert of(told, SessionStopped)


async def test_overflow_under_a_stalled_pump_is_told_as_a_gap(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(Intake.__init__, "__defaults__", (0.0, 50))

    async def flood(sink: Sink, clock: Clock) -> None:
        # No await in between: the pump cannot run, as if the processor were busy elsewhere.
        for k in range(500):
            sink.reading("liquid_t", 300.0 + k / 100)
        await asyncio.sleep(60.0)

    recorder = FakeRecorder()
    session, told = made(FakeSource(flood), recorder=recorder)
    running = asyncio.create_task(finish(session))
    await until(lambda: of(told, Reading))
    await session.stop(Outcome.ABANDONED)
    await running
    dropped = sum(e.dropped for e in of(recorder.taken, Gap) if isinstance(e, Gap))
    readings = of(recorder.taken, Reading)
    assert len(readings) + dropped == 500
    assert len(readings) <= 50
    assert {e.source for e in of(recorder.taken, Gap) if isinstance(e, Gap)} == {"rig"}
    assert isinstance(readings[-1], Reading)
    assert readings[-1].value == pytest.approx(304.99)
    assert of(recorder.taken, ChannelDeclared), "only readings are let go"


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


async def test_a_cancelled_session_leaves_nothing_running_and_its_rows_on_disk() -> None:
    recorder = FakeRecorder()
    session, told = made(FakeSource(lambda s, c: feed(s)), recorder=recorder)
    running = asyncio.create_task(finish(session))
    await until(lambda: len(of(told, Reading)) > 5)
    running.cancel()
    with pytest.raises(asyncio.CancelledError):
        await running
    assert recorder.durable == len(recorder.taken)
    assert recorder.abandoned
