"""One session: sources -> bounded queue -> recorder first -> assistant -> subscribers.

Everything runs in one task group on one event loop. A live source that ends early is lost and ends
nothing else. A program error in any part ends the session visibly, after what had arrived is
committed; the record is left without an end, so that the session can be resumed.
"""

import asyncio
import math
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Unpack

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.errors import ConfigError, SourceError
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    InputEvent,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionResumed,
    SessionStopped,
)
from chargeassist.model.job import Job
from chargeassist.model.mark_event import MarkDetails
from chargeassist.model.text import plain
from chargeassist.session.before import NOTHING, WentBefore
from chargeassist.session.board import Teller, say_farewell
from chargeassist.session.clock import LiveClock, SourceClock
from chargeassist.session.fold import Fold
from chargeassist.session.intake import TIME_DECIMALS, Heartbeat, Intake, SourceSink
from chargeassist.session.keeper import Recorder, RecordKeeper
from chargeassist.session.paced import Paced
from chargeassist.session.pilot import Attendant
from chargeassist.session.source import Clock, Source, check_together
from chargeassist.session.time_watch import watch_time

Listener = Callable[[Event], None]

_FIRST = asyncio.FIRST_COMPLETED


class Session(Paced):
    """A session that can be run, marked, paused and stopped.

    Parameters
    ----------
    assistant : Assistant
        Fresh, or with the earlier events of a resumed session folded in.
    sources : sequence of Source
        Either any number of live ones, or exactly one that brings its own time.
    recorder : Recorder or None
        None for a replay: what is recorded already is not recorded again.
    speed : float or None
        Of a source that brings its own time; None for as fast as possible.
    opening : sequence of events
        Put in first, before any channel is declared (a resumed session says so here).
    before : WentBefore
        Of a session that is resumed or replayed.
    ends_as : (Outcome, str), optional
        Outcome and reason when the sources have ended by themselves.
    listeners : sequence of callables
        Called with every event, input and verdict, in order.
    attendant : Attendant or None
        Sees each snapshot and answers with marks.

    Raises
    ------
    ConfigError
        If live sources and one that brings its own time are mixed.
    """

    def __init__(
        self,
        assistant: Assistant,
        sources: Sequence[Source],
        *,
        recorder: Recorder | None = None,
        speed: float | None = 1.0,
        opening: Sequence[InputEvent] = (),
        before: WentBefore = NOTHING,
        ends_as: tuple[Outcome, str] | None = None,
        listeners: Sequence[Listener] = (),
        attendant: Attendant | None = None,
    ) -> None:
        timed = check_together(sources)
        self._assistant = assistant
        self._fold = Fold(assistant)
        self._sources = tuple(sources)
        self._keeper = RecordKeeper(recorder)
        self._opening = tuple(opening)
        self._before = before
        self._ticked = deque(before.ticked)
        self._listeners = tuple(listeners)
        self._attendant = attendant
        self._tellers: list[Teller] = []
        self._intake = Intake(before.start_t)
        self._source_clock: SourceClock | None = None
        if timed:
            self._source_clock = SourceClock(speed, self._caught_up, self._intake.heartbeat)
        self._live_clock = LiveClock(before.start_t)
        self._ending = asyncio.Event()
        self._ended = asyncio.Event()
        # Where nobody said the charge is done, sources that end do not make it so.
        usual = Outcome.COMPLETE if timed else Outcome.ABANDONED, "every source has ended"
        self._outcome, self._reason = ends_as or usual
        self._left = False
        self._failure: SourceError | None = None
        self._stopped: SessionStopped | None = None
        self._counts: dict[str, int] = {}

    @property
    def job(self) -> Job:
        """The job being charged."""
        return self._assistant.job

    @property
    def mode(self) -> SessionMode:
        """Whether readings are measured or simulated."""
        return self._assistant.mode

    @property
    def replayed(self) -> bool:
        """Whether this is a recording played again."""
        return self._assistant.replayed

    @property
    def record_path(self) -> str | None:
        """Where the session is being recorded; None when it is not."""
        return self._keeper.path

    @property
    def now(self) -> float:
        """Session time [s]."""
        return self._clock.now()

    @property
    def takes_marks(self) -> bool:
        """Whether what the technician does still goes into the record."""
        return not self._intake.closed

    def mark(self, kind: MarkKind, **told: Unpack[MarkDetails]) -> None:
        """Put what the technician did into the session, at its present time.

        Raises
        ------
        ConfigError
            If a number is not finite, or a reading is told to have been read in the future, or
            before the last one of its kind; also once nothing more is recorded.
        """
        self.take_mark(Mark(t=0.0, kind=kind, **told))

    def take_mark(self, mark: Mark) -> None:
        """Put `mark` into the session, at its present time whatever the mark says; see `mark`."""
        if not self.takes_marks:
            raise ConfigError("the session is ending; nothing more is recorded")
        for number in (mark.mass_kg, mark.frequency_hz, mark.value_si, mark.read_t):
            if number is not None and not math.isfinite(number):
                raise ConfigError(f"mark: expected a finite number, got {number!r}")
        mark = replace(
            mark,
            t=round(self._clock.now(), TIME_DECIMALS),  # sources hear the time the record keeps
            text=plain(mark.text, 500),
            read_t=None if mark.read_t is None else round(mark.read_t, TIME_DECIMALS),
        )
        refusal = self._assistant.refusal(mark)
        if refusal:
            raise ConfigError(refusal)
        self._intake.put(mark)
        for source in self._sources:
            source.technician(mark)

    def end(self, outcome: Outcome, reason: str = "") -> None:
        """Ask the session to end; returns at once."""
        if not self._ending.is_set():
            self._outcome = outcome
            self._reason = reason
            if self._source_clock is not None:
                self._source_clock.stop()
            self._ending.set()

    def break_off(self) -> None:
        """End as the terminal is closed; returns at once.

        A live session gets no end in its record, so that it can be resumed; what brings its own
        time cannot be, and ends.
        """
        if not self._ending.is_set():
            self._left = self._source_clock is None
            self.end(Outcome.ABANDONED, "terminated")

    def wait_for_disk(self, tell: Callable[[str], None]) -> None:
        """Let the end wait for a disk that refuses it, and `tell` each time why."""
        self._keeper.wait_for_disk(tell)

    def give_up(self) -> None:
        """Wait no longer for the disk: what is not written by now is lost."""
        self._keeper.give_up()

    def tell_to(self, teller: Teller) -> None:
        """Let `teller` see every snapshot; to be called before `run`."""
        self._tellers.append(teller)

    async def stop(self, outcome: Outcome) -> None:
        """End the session; returns when everything is recorded and `run` has ended."""
        self.end(outcome)
        await self._ended.wait()

    async def run(self, on_snapshot: Callable[[Snapshot], None]) -> None:
        """Run the session to its end; may be called once.

        Parameters
        ----------
        on_snapshot : callable
            Called with each new snapshot on the event loop's thread.

        Raises
        ------
        RecordError
            If the end cannot be written even after a retry, or the disk was given up; what was
            committed stands.
        SourceError
            If a source raised; what had arrived is committed.
        ExceptionGroup
            Of other program errors in a part of the session.
        """
        try:
            await self._run(on_snapshot)
        finally:
            self._keeper.abandon()
            self._ended.set()

    @property
    def _clock(self) -> Clock:
        return self._live_clock if self._source_clock is None else self._source_clock

    async def _run(self, on_snapshot: Callable[[Snapshot], None]) -> None:
        intake, clock = self._intake, self._clock
        self._tell(self._before.unrecorded)
        for event in self._opening:
            intake.put(event)
            if isinstance(event, Mark):
                for source in self._sources:
                    source.technician(event)
        for source in self._sources:
            for channel in source.channels:
                if channel not in self._before.declared:
                    # Known from the start, however long starting took: a replay declares them so.
                    intake.put(ChannelDeclared(t=0.0, channel=channel))
        try:
            async with asyncio.TaskGroup() as group:
                pump = group.create_task(self._pump(on_snapshot), name="pump")
                feeders = [
                    group.create_task(self._feed(source), name=f"source {source.name}")
                    for source in self._sources
                ]
                keeping = self._keeper.keep_committing(intake, clock)
                others = [group.create_task(keeping, name="recorder")]
                if self._source_clock is None:
                    watching = watch_time(intake, clock)
                    others.append(group.create_task(self._beat(), name="heartbeat"))
                    others.append(group.create_task(watching, name="time watch"))
                telling = [
                    group.create_task(t.run(intake, clock), name="teller") for t in self._tellers
                ]
                await self._wait_for_end(feeders)
                for task in (*feeders, *others):
                    task.cancel()
                await asyncio.gather(*feeders, *others, return_exceptions=True)
                if self.paused:
                    self.toggle_pause()
                now = clock.now()
                if self._failure is None and not self._left:
                    intake.put(SessionStopped(t=now, outcome=self._outcome, reason=self._reason))
                intake.close()
                await pump
                await say_farewell(self._tellers, telling)
        except BaseException:
            # Whatever went wrong: what has arrived until now is on disk before it is told.
            self._keeper.commit_what_came()
            raise
        if self._stopped is not None:
            await self._keeper.close(self._stopped)
        else:
            self._keeper.commit_what_came()
        if self._failure is not None:
            raise self._failure

    async def _wait_for_end(self, feeders: list[asyncio.Task[None]]) -> None:
        ending = asyncio.create_task(self._ending.wait(), name="ending")
        running = set(feeders)
        try:
            # Without a probe the technician's word is all there is, and ends the session.
            while (running or not self._sources) and not ending.done():
                done, _ = await asyncio.wait({*running, ending}, return_when=_FIRST)
                running -= done
        finally:
            ending.cancel()
            await asyncio.gather(ending, return_exceptions=True)

    async def _feed(self, source: Source) -> None:
        sink = SourceSink(self._intake, self._clock, source.name, source.channels)
        try:
            await source.run(sink, self._clock)
        except Exception as error:  # noqa: BLE001  told to the record first, then raised by run
            said = plain(f"{type(error).__name__}: {error}", 160)
            sink.lost(f"ended by a program error: {said}")
            told = f"source {source.name!r} ended by a program error: {said}"
            self._failure = SourceError(f"{told}; what had arrived until then is recorded")
            self._failure.__cause__ = error
            self.end(Outcome.FAILED)
            return
        if self._source_clock is None:
            sink.lost("it has ended by itself")
        else:
            if sink.is_lost and not self._ending.is_set():  # so did what it was to show
                self._outcome, self._reason = Outcome.ABANDONED, f"{source.name} broke off"
            await self._source_clock.sleep_until(self._source_clock.now())

    async def _caught_up(self) -> None:
        """Return when all that came is processed, and the record is not far behind."""
        await self._intake.processed()
        await self._keeper.caught_up()

    async def _beat(self) -> None:
        period_s = self.job.processing.period_s
        beats = int(self._live_clock.now() // period_s)
        while True:
            beats += 1
            await self._live_clock.sleep_until(beats * period_s)
            self._intake.heartbeat(self._live_clock.now())
            beats = max(beats, int(self._live_clock.now() // period_s))

    async def _pump(self, on_snapshot: Callable[[Snapshot], None]) -> None:
        shown = -math.inf, False
        while batch := await self._intake.take():
            for number, item in enumerate(batch, start=1):
                if not isinstance(item, Heartbeat):
                    self._step(item)
                    continue
                # While the program was away nobody ticked: not right before a resumption.
                following = batch[number] if number < len(batch) else None
                if not isinstance(following, SessionResumed):
                    self._tell(self._fold.reach(item.t))
            pictured = self._assistant.pictured
            if pictured > shown and (snapshot := self._assistant.snapshot()) is not None:
                shown = pictured
                on_snapshot(snapshot)
                for teller in self._tellers:
                    teller.take(snapshot)
                self._attend(snapshot)
            self._intake.done()

    def _step(self, event: InputEvent) -> None:
        if isinstance(event, Reading):  # by far the most
            self._counts[event.channel] = self._counts.get(event.channel, 0) + 1
            self._keeper.append(event)
            verdicts = self._fold.take(event)
            if self._listeners:
                self._tell((event,), record=False)
            if verdicts:
                self._tell(verdicts)
            return
        if isinstance(event, SessionResumed | SessionStopped) and self._ticked:
            self._tell(self._fold.reach(self._ticked.popleft()))
        if isinstance(event, SessionStopped):
            event = self._stopped = replace(event, counts=self._counts)
        else:
            if isinstance(event, ChannelDeclared):
                self._counts.setdefault(event.channel.name, 0)
            self._keeper.append(event)
        verdicts = self._fold.take(event)
        self._tell((event,), record=False)
        self._tell(verdicts)

    def _attend(self, snapshot: Snapshot) -> None:
        if self._attendant is None or snapshot.finished or not self.takes_marks:
            return
        for mark in self._attendant.look(snapshot):
            self.take_mark(mark)
        if self._attendant.finished:
            self.end(Outcome.COMPLETE, "target reached")

    def _tell(self, events: Sequence[Event], *, record: bool = True) -> None:
        for event in events:
            if record:
                self._keeper.append(event)
            for listener in self._listeners:
                listener(event)
