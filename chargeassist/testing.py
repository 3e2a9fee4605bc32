"""For authors of adapters: a sink that keeps what comes, clocks, the check every source passes.

No test framework is needed; a failed check is a `ContractError`, which is an AssertionError::

    async def test_my_source() -> None:
        kept = await check_source(MySource.from_spec(spec, Path()), readings=3, feed=device.send)
        assert kept.values("liquid_t") == [308.35, 308.36, 308.37]

    async with running(MySource.from_spec(spec, Path())) as kept:
        device.unplug()
        await kept.until(lambda kept: len(kept.losses) == 1)
"""

import asyncio
import math
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.events import (
    BadInput,
    Gap,
    InputEvent,
    Mark,
    MarkKind,
    Reading,
    SourceBack,
    SourceLost,
)
from chargeassist.model.text import plain
from chargeassist.session.source import Clock, Sink, Source, part_name

STOPS_WITHIN_S = 1.0
"""A cancelled source has ended after this [s]; part of the contract."""


class ContractError(AssertionError):
    """A source does not keep the contract of `chargeassist.session.source.Source`."""


class SteadyClock:
    """Session time by the running event loop's own clock."""

    def __init__(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._start = self._loop.time()

    def now(self) -> float:
        """Return the seconds since this clock was made [s]; may be called from any thread."""
        return self._loop.time() - self._start

    async def sleep_until(self, t: float) -> None:
        """Return when `t` [s] has come."""
        await asyncio.sleep(max(0.0, t - self.now()))


class JumpClock:
    """Session time that jumps to wherever a source wants to sleep to: no waiting in tests."""

    def __init__(self, t: float = 0.0) -> None:
        self.t = t

    def now(self) -> float:
        """Return the time jumped to [s]."""
        return self.t

    async def sleep_until(self, t: float) -> None:
        """Jump to `t` [s], letting other tasks run once."""
        self.t = max(self.t, t)
        await asyncio.sleep(0)


class CollectingSink:
    """Keeps what a source delivers, as the events a session would make of it.

    Attributes
    ----------
    events : list of InputEvent
        In order of arrival, stamped with `clock`.
    """

    def __init__(self, source: str, clock: Clock) -> None:
        self.events: list[InputEvent] = []
        self._source = source
        self._clock = clock
        self._lost: set[str] = set()
        self._changed = asyncio.Event()

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        """Keep one sample; one that is not finite becomes BadInput."""
        if not math.isfinite(value):
            self.bad_input(f"{channel}: not a finite number", str(value))
            return
        self._keep(
            Reading(
                t=self._clock.now() if t is None else t,
                channel=channel,
                value=value,
                quality=quality,
                device_time=device_time,
            )
        )

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        """Keep what could not be read."""
        now = self._clock.now()
        self._keep(BadInput(t=now, source=self._source, reason=reason, raw=plain(raw), count=count))

    def dropped(self, count: int) -> None:
        """Keep that samples were let go."""
        self._keep(Gap(t=self._clock.now(), source=self._source, dropped=count))

    def lost(self, reason: str, *, part: str = "") -> None:
        """Keep that the source or a part of it is gone, once."""
        if part not in self._lost:
            self._lost.add(part)
            name = part_name(self._source, part)
            self._keep(SourceLost(t=self._clock.now(), source=name, reason=reason))

    def back(self, *, part: str = "") -> None:
        """Keep that the source or a part of it delivers again, if it was lost."""
        if part in self._lost:
            self._lost.remove(part)
            self._keep(SourceBack(t=self._clock.now(), source=part_name(self._source, part)))

    def event(self, event: InputEvent) -> None:
        """Keep a recorded event."""
        self._keep(event)

    def _keep(self, event: InputEvent) -> None:
        self.events.append(event)
        self._changed.set()

    @property
    def readings(self) -> list[Reading]:
        """The readings so far."""
        return [e for e in self.events if isinstance(e, Reading)]

    @property
    def bad(self) -> list[BadInput]:
        """What could not be read so far."""
        return [e for e in self.events if isinstance(e, BadInput)]

    @property
    def losses(self) -> list[SourceLost]:
        """The losses so far."""
        return [e for e in self.events if isinstance(e, SourceLost)]

    @property
    def returns(self) -> list[SourceBack]:
        """The returns so far."""
        return [e for e in self.events if isinstance(e, SourceBack)]

    @property
    def let_go(self) -> int:
        """Samples let go so far."""
        return sum(e.dropped for e in self.events if isinstance(e, Gap))

    def values(self, channel: str) -> list[float]:
        """Return the values of `channel` so far, in its SI unit."""
        return [r.value for r in self.readings if r.channel == channel]

    async def until(
        self, holds: Callable[["CollectingSink"], bool], within_s: float = 10.0
    ) -> None:
        """Return as soon as `holds` is true of this sink.

        Raises
        ------
        ContractError
            After `within_s` [s], telling what came instead.
        """
        try:
            async with asyncio.timeout(within_s):
                while not holds(self):
                    self._changed.clear()
                    await self._changed.wait()
        except TimeoutError as exc:
            last = "; ".join(repr(e) for e in self.events[-5:]) or "nothing"
            raise ContractError(
                f"waited {within_s:g} s in vain; {len(self.events)} events came, the last: {last}"
            ) from exc


async def check_source(
    source: Source,
    *,
    readings: int = 1,
    feed: Callable[[], object] | None = None,
    clock: Clock | None = None,
    within_s: float = 10.0,
) -> CollectingSink:
    """Run `source` until it has delivered, cancel it, and return what it delivered.

    Parameters
    ----------
    source : Source
        Made, not yet run.
    readings : int
        So many are waited for; fewer are accepted from a source that returns by itself.
    feed : callable, optional
        Called every 50 ms while waiting, to make the far end send: data, junk, both.
    clock : Clock, optional
        By default real time, or for a source that brings its own time one that jumps.
    within_s : float
        How long the readings may take [s].

    Raises
    ------
    ContractError
        Naming what was promised and what happened: undeclared channels, values that are no
        finite floats, calls from another thread, time stamps where none belong, an exception
        out of `run`, a cancelled source that goes on, a task or thread left behind.
    """
    async with _running(source, clock) as (kept, run):
        feeding = asyncio.create_task(_feed(feed))
        waiting = asyncio.create_task(kept.until(lambda k: len(k.readings) >= readings, within_s))
        try:
            await asyncio.wait({run, waiting}, return_when=asyncio.FIRST_COMPLETED)
            if waiting.done():
                waiting.result()
        finally:
            waiting.cancel()
            feeding.cancel()
            await asyncio.wait({waiting, feeding})
    return kept


@asynccontextmanager
async def running(source: Source, clock: Clock | None = None) -> AsyncIterator[CollectingSink]:
    """Run `source` for as long as the context lasts; give what it delivers.

    Parameters and errors are those of `check_source`. Tasks and threads that were begun in the
    context and go on after it count as the source's.
    """
    async with _running(source, clock) as (kept, _):
        yield kept


@asynccontextmanager
async def _running(
    source: Source, clock: Clock | None
) -> AsyncIterator[tuple[CollectingSink, "asyncio.Task[None]"]]:
    _check_declaration(source)
    if clock is None:
        clock = JumpClock() if source.brings_time else SteadyClock()
    tasks, threads = _tasks(), _threads()
    kept = CollectingSink(source.name, clock)
    watched = _Watched(kept, source)
    source.technician(Mark(t=0.0, kind=MarkKind.NOTE, text="contract check"))
    run = asyncio.create_task(source.run(watched, clock), name=f"run of {source.name}")
    try:
        yield kept, run
    finally:
        await _cancel(run, source)
    if watched.broken:
        raise ContractError(f"{source.name}: {watched.broken[0]}")
    if not run.cancelled() and (exc := run.exception()) is not None:
        raise ContractError(
            f"{source.name}: run raised {exc!r}; trouble is told to the sink"
        ) from exc
    await _check_nothing_left(source, tasks, threads)


def _check_declaration(source: Source) -> None:
    if not isinstance(source, Source):
        raise ContractError(f"{source!r} lacks a member of chargeassist.session.source.Source")
    if not source.name:
        raise ContractError("a source needs a name")
    channels = source.channels
    declared: object = channels
    if not isinstance(declared, tuple) or any(not isinstance(c, Channel) for c in declared):
        raise ContractError(f"{source.name}: channels is to be a tuple of Channel")
    names = [c.name for c in channels]
    if not names or len(set(names)) != len(names):
        raise ContractError(f"{source.name}: expected distinct channels, got {names}")
    for flag in (source.brings_time, source.simulated):
        if not isinstance(flag, bool):
            raise ContractError(f"{source.name}: brings_time and simulated are to be bool")


async def _feed(feed: Callable[[], object] | None) -> None:
    while feed is not None:
        feed()
        await asyncio.sleep(0.05)


async def _cancel(run: "asyncio.Task[None]", source: Source) -> None:
    if not run.done():
        run.cancel()
        await asyncio.wait({run}, timeout=STOPS_WITHIN_S)
    if not run.done():
        raise ContractError(f"{source.name}: still runs {STOPS_WITHIN_S:g} s after being cancelled")


async def _check_nothing_left(
    source: Source, tasks: set["asyncio.Task[object]"], threads: set[threading.Thread]
) -> None:
    for _ in range(5):
        await asyncio.sleep(0)
    for _ in range(20):  # a thread that was told to end may need a moment to do it
        if not any(thread.is_alive() for thread in _threads() - threads):
            break
        await asyncio.sleep(0.05)
    left: list[object] = [t for t in _tasks() - tasks if not t.done()]
    left += [t for t in _threads() - threads if t.is_alive()]
    if left:
        raise ContractError(f"{source.name}: left behind after its end: {left}")


def _tasks() -> set["asyncio.Task[object]"]:
    return set(asyncio.all_tasks())


def _threads() -> set[threading.Thread]:
    # The loop's own pool ("asyncio_0") is kept for the next caller and ended with the loop.
    return {t for t in threading.enumerate() if not t.name.startswith("asyncio_")}


class _Watched:
    """Passes on to a sink and notes what the contract forbids."""

    def __init__(self, sink: Sink, source: Source) -> None:
        self.broken: list[str] = []
        self._sink = sink
        self._channels = {c.name for c in source.channels}
        self._brings_time = source.brings_time
        self._thread = threading.get_ident()

    def _note(self, problem: str) -> None:
        self.broken.append(problem)

    def _same_thread(self, call: str) -> None:
        if threading.get_ident() != self._thread:
            self._note(f"{call} was called outside the event loop's thread")

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        self._same_thread("reading")
        if channel not in self._channels:
            self._note(f"reading of undeclared channel {channel!r}")
        if type(value) is not float or not math.isfinite(value):
            self._note(f"expected a finite float for {channel!r}, got {value!r}")
        if not isinstance(quality, Quality):
            self._note(f"expected a Quality, got {quality!r}")
        if device_time is not None and not math.isfinite(device_time):
            self._note(f"device time {device_time!r} is not finite")
        if t is not None and not self._brings_time:
            self._note("a reading bears a time, but the source does not bring its own time")
        self._sink.reading(channel, value, t=t, quality=quality, device_time=device_time)

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        self._same_thread("bad_input")
        if not reason or reason != plain(reason, 1000):
            self._note(f"bad_input: expected a plain reason, got {reason!r}")
        if count < 1:
            self._note(f"bad_input: expected a count from 1, got {count}")
        self._sink.bad_input(reason, raw, count=count)

    def dropped(self, count: int) -> None:
        self._same_thread("dropped")
        if count < 1:
            self._note(f"dropped: expected a count from 1, got {count}")
        self._sink.dropped(count)

    def lost(self, reason: str, *, part: str = "") -> None:
        self._same_thread("lost")
        if not reason or reason != plain(reason, 1000):
            self._note(f"lost: expected a plain reason, got {reason!r}")
        self._sink.lost(reason, part=part)

    def back(self, *, part: str = "") -> None:
        self._same_thread("back")
        self._sink.back(part=part)

    def event(self, event: InputEvent) -> None:
        self._same_thread("event")
        if not self._brings_time:
            self._note("event() is for sources that bring their own time")
        if isinstance(event, Reading) and event.channel not in self._channels:
            self._note(f"reading of undeclared channel {event.channel!r}")
        self._sink.event(event)
