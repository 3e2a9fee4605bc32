"""Where every event enters a session: stamped once, checked, bounded, counted.

One thread, one queue, one order. A reading that the program cannot keep up with is let go, oldest
first, counted, and told as a ``Gap``; no other event is ever let go.
"""

import asyncio
import math
from collections import deque
from dataclasses import replace

from chargeassist.model.channels import RECORDED_DECIMALS, Channel, Quality
from chargeassist.model.events import (
    BadInput,
    ChannelDeclared,
    Gap,
    InputEvent,
    Reading,
    SourceBack,
    SourceLost,
)
from chargeassist.model.text import plain
from chargeassist.session.source import Clock, part_name

QUEUE_LIMIT = 20_000
TAKEN_AT_ONCE = 500
"""Events processed before those who read wires have their turn, some 5 ms; of more than twice as
many half, so that what waits cannot grow from turn to turn however fast a wire is read."""
TIME_DECIMALS = 3
GAP_EVERY_S = 1.0
"""Readings let go are told at most so often [s]: under a flood each would have its own event."""


class Heartbeat:
    """Session time has reached `t` [s] although nothing may have arrived. Not recorded."""

    __slots__ = ("t",)

    def __init__(self, t: float) -> None:
        self.t = t


class Intake:
    """The bounded queue between sources and the session.

    Parameters
    ----------
    start_t : float
        No event gets an earlier time [s].
    limit : int
        Events waiting before readings are let go.
    """

    def __init__(self, start_t: float = 0.0, limit: int = QUEUE_LIMIT) -> None:
        self._last_t = round(start_t, TIME_DECIMALS)
        self._limit = limit
        self._queue: deque[InputEvent | Heartbeat] = deque()
        self._dropped: dict[str, int] = {}
        self._gap_t = -math.inf
        self._source_of: dict[str, str] = {}
        self._filled = asyncio.Event()
        self._empty = asyncio.Event()
        self._empty.set()
        self._closed = False

    @property
    def closed(self) -> bool:
        """Whether nothing more is taken."""
        return self._closed

    def put(self, event: InputEvent) -> None:
        """Take one event; a time earlier than the last becomes the last.

        Its time is kept to the millisecond.
        """
        if self._closed:
            return
        t = max(round(event.t, TIME_DECIMALS) + 0.0, self._last_t)
        self._last_t = t
        if t != event.t:
            event = replace(event, t=t)
        if isinstance(event, ChannelDeclared):
            self._source_of[event.channel.name] = event.channel.source
        if len(self._queue) >= self._limit and isinstance(event, Reading):
            self._let_go()
        self._append(event)

    def heartbeat(self, t: float) -> None:
        """Say that session time has reached `t` [s]."""
        t = round(t, TIME_DECIMALS)
        if self._closed or t < self._last_t:
            return
        self._last_t = t
        self._append(Heartbeat(t))

    def dropped(self, source: str, count: int) -> None:
        """Count readings that a source let go before they came here."""
        self._dropped[source] = self._dropped.get(source, 0) + count
        if self._gap_due():
            self._empty.clear()
        self._filled.set()

    def close(self) -> None:
        """Take nothing more."""
        self._closed = True
        self._filled.set()

    async def take(self) -> list[InputEvent | Heartbeat]:
        """Return what is waiting, in order; waits for something. Empty only when closed.

        At most `TAKEN_AT_ONCE` events, or half of them; what is left stays where it can be let go.
        The caller says `done` when it has processed them.
        """
        if self._queue:
            await asyncio.sleep(0)  # left over from the last time: those who read wires come first
        while not self._queue and not self._gap_due() and not self._closed:
            self._filled.clear()
            await self._filled.wait()
        queue = self._queue
        many = min(len(queue), max(TAKEN_AT_ONCE, len(queue) // 2))
        batch = [queue.popleft() for _ in range(many)]
        if self._gap_due():
            t = batch[0].t if batch else self._last_t
            self._gap_t = t
            gaps = [Gap(t=t, source=s, dropped=n) for s, n in self._dropped.items()]
            self._dropped.clear()
            return [*gaps, *batch]
        return batch

    def done(self) -> None:
        """Say that what `take` returned is processed."""
        if not self._queue and not self._gap_due():
            self._empty.set()

    async def processed(self) -> None:
        """Return when nothing is waiting and nothing is being processed."""
        await self._empty.wait()

    def _gap_due(self) -> bool:
        """Return whether readings were let go and that is to be told now."""
        return bool(self._dropped) and (self._closed or self._last_t - self._gap_t >= GAP_EVERY_S)

    def _append(self, event: InputEvent | Heartbeat) -> None:
        self._queue.append(event)
        self._empty.clear()
        self._filled.set()

    def _let_go(self) -> None:
        for index, event in enumerate(self._queue):
            if isinstance(event, Reading):
                del self._queue[index]
                source = self._source_of.get(event.channel, "")
                self._dropped[source] = self._dropped.get(source, 0) + 1
                return


class SourceSink:
    """The `Sink` of one source.

    Parameters
    ----------
    intake : Intake
    clock : Clock
    source : str
        Name of the source in events.
    channels : tuple of Channel
        What it declared; a reading of any other channel is BadInput.
    """

    def __init__(
        self, intake: Intake, clock: Clock, source: str, channels: tuple[Channel, ...]
    ) -> None:
        self._intake = intake
        self._clock = clock
        self._source = source
        self._decimals = {channel.name: RECORDED_DECIMALS[channel.quantity] for channel in channels}
        self._lost: set[str] = set()

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        """Deliver one sample; see `chargeassist.session.source.Sink`."""
        decimals = self._decimals.get(channel)
        if decimals is None:
            self.bad_input(f"no channel {plain(channel, 40)!r} was declared", str(value))
            return
        if not math.isfinite(value):
            self.bad_input(f"{channel}: expected a finite number", repr(value))
            return
        if t is not None and not math.isfinite(t):
            self.bad_input(f"{channel}: expected a finite time", repr(t))
            return
        if device_time is not None and not math.isfinite(device_time):
            device_time = None
        self._intake.put(
            Reading(
                t=round(self._clock.now() if t is None else t, TIME_DECIMALS),
                channel=channel,
                value=round(value, decimals) + 0.0,  # no -0.0: SQLite keeps 0.0 for it
                quality=quality,
                device_time=device_time,
            )
        )

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        """Say that something came that could not be read."""
        self._intake.put(
            BadInput(
                t=self._clock.now(),
                source=self._source,
                reason=plain(reason, 200),
                raw=plain(raw),
                count=count,
            )
        )

    def dropped(self, count: int) -> None:
        """Say that `count` samples were let go before they reached this sink."""
        if count > 0:
            self._intake.dropped(self._source, count)

    def lost(self, reason: str, *, part: str = "") -> None:
        """Say that the source or a part of it is gone; counts once until that is back."""
        if part not in self._lost:
            self._lost.add(part)
            name = part_name(self._source, part)
            self._intake.put(
                SourceLost(t=self._clock.now(), source=name, reason=plain(reason, 200))
            )

    def back(self, *, part: str = "") -> None:
        """Say that the source or a part of it delivers; without effect if it was not lost."""
        if part in self._lost:
            self._lost.remove(part)
            self._intake.put(SourceBack(t=self._clock.now(), source=part_name(self._source, part)))

    @property
    def is_lost(self) -> bool:
        """Whether the source itself, and not a part of it, is gone."""
        return "" in self._lost

    def event(self, event: InputEvent) -> None:
        """Deliver a recorded event with its own time."""
        self._intake.put(event)
