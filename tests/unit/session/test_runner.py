"""A session: what happens when sources, recorder, listeners or people misbehave."""

import asyncio
import math
from collections.abc import Callable

import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.trouble_wording import source_event
from chargeassist.model.errors import ConfigError, SourceError
from chargeassist.model.events import (
    Advice,
    ChannelDeclared,
    Gap,
    InputEvent,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionStopped,
    SourceBack,
    SourceLost,
)
from chargeassist.session import keeper
from chargeassist.session.board import Teller
from chargeassist.session.clock import LiveClock
from chargeassist.session.intake import Intake
from chargeassist.session.source import Clock, Sink
from tests.unit.session.runner_parts import (
    FakeRecorder,
    FakeSource,
    feed,
    finish,
    forever,
    made,
    of,
    until,
)

Run = Callable[[Sink, Clock], "asyncio.Future[None]"]


@pytest.fixture(autouse=True)
def quick_commits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeper, "COMMIT_EVERY_S", 0.02)


def test_sources_that_bring_time_run_alone() -> None:
    timed = FakeSource(forever, name="recording", brings_time=True)
    with pytest.raises(ConfigError, match="'recording' brings its own time and cannot run beside"):
        made(FakeSource(forever), timed)


async def test_channels_are_declared_at_the_start_however_long_starting_took() -> None:
    """A replay knows them before its first tick; so must the ticks of a start that was slow."""
    recorder = FakeRecorder()
    session, told = made(FakeSource(lambda s, c: s.reading("liquid_t", 300.0)), recorder=recorder)
    session._live_clock = LiveClock(2.6)  # on a busy machine
    running = asyncio.create_task(session.run(lambda snapshot: None))
    await until(lambda: of(told, Advice))
    await session.stop(Outcome.COMPLETE)
    await running
    declared = of(recorder.taken, ChannelDeclared)
    assert declared
    assert {each.t for each in declared} == {0.0}
    first = next(each for each in told if isinstance(each, Advice))
    assert first.cause == "first_readings"


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


class BrokenBoard:
    """A board with a fault of the program in it."""

    async def tell(self, take: object, trouble: object) -> None:
        raise ZeroDivisionError("in the board")

    async def watch(self, hear: object, note: object) -> None:
        """Hear nothing."""


async def test_a_board_that_breaks_is_told_and_ends_nothing() -> None:
    session, told = made(FakeSource(lambda sink, clock: feed(sink)))
    session.tell_to(Teller(BrokenBoard()))
    running = asyncio.create_task(finish(session))
    await until(lambda: len(of(told, Reading)) > 10)
    session.end(Outcome.COMPLETE)
    await running
    (lost,) = [event for event in told if isinstance(event, SourceLost)]
    assert lost.source == "board"
    assert "ZeroDivisionError: in the board" in lost.reason


class FarBoard:
    """A board that is not reached at first, and is not told of every try."""

    def __init__(self) -> None:
        self.reached = asyncio.Event()

    async def tell(self, take: object, trouble: Callable[[str], None]) -> None:
        for _ in range(3):
            trouble("mqtt://broker: connection refused; is the broker running?")
        await self.reached.wait()
        trouble("")
        await asyncio.Event().wait()

    async def watch(self, hear: object, note: object) -> None:
        """Hear nothing."""


async def test_a_board_that_is_not_reached_is_told_once_and_when_it_is_back() -> None:
    session, told = made(FakeSource(lambda sink, clock: feed(sink)))
    board = FarBoard()
    session.tell_to(Teller(board))
    running = asyncio.create_task(finish(session))
    await until(lambda: len(of(told, SourceLost)) == 1)
    board.reached.set()
    await until(lambda: len(of(told, SourceBack)) == 1)
    session.end(Outcome.COMPLETE)
    await running
    said = [source_event(e) for e in told if isinstance(e, SourceLost | SourceBack)]
    assert said == [
        "nobody elsewhere is told: mqtt://broker: connection refused; is the broker running?",
        "watchers elsewhere are told again",
    ]


async def test_a_source_that_broke_off_makes_no_session_complete() -> None:
    async def breaks_off(sink: Sink, clock: Clock) -> None:
        await clock.sleep_until(1.0)
        sink.lost("the model has no equations for this")

    session, told = made(FakeSource(breaks_off, brings_time=True), speed=None)
    await finish(session)
    (stopped,) = of(told, SessionStopped)
    assert isinstance(stopped, SessionStopped)
    assert (stopped.outcome, stopped.reason) == (Outcome.ABANDONED, "rig broke off")


async def test_what_is_done_while_the_record_waits_for_its_disk_is_not_called_recorded() -> None:
    recorder = FakeRecorder()
    session, told = made(FakeSource(lambda s, c: feed(s)), recorder=recorder)
    running = asyncio.create_task(session.run(lambda snapshot: None))
    await until(lambda: len(told) > 5)
    waits: list[str] = []
    session.wait_for_disk(waits.append)
    recorder.refuses = True
    session.end(Outcome.COMPLETE)
    await until(lambda: bool(waits))
    with pytest.raises(ConfigError, match="the session is ending; nothing more is recorded"):
        session.mark(MarkKind.NOTE, text="too late")
    recorder.refuses = False
    await running
    assert not of(told, Mark)
