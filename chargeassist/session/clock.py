"""Session time: the real clock of live sessions, and the time of sources that bring their own."""

import asyncio
import datetime as dt
import math
import sys
import time
from collections.abc import Awaitable, Callable
from typing import Final

if sys.platform == "linux":

    def steady_s() -> float:
        """Return seconds of a clock that is never set and also runs while the machine sleeps."""
        return time.clock_gettime(time.CLOCK_BOOTTIME)

else:
    # Elsewhere the time a sleeping machine misses is missing from the session too.
    steady_s = time.monotonic


def utc_now() -> dt.datetime:
    """Return the date and time of the wall clock, which may be wrong and may be set."""
    return dt.datetime.now(dt.UTC)


class LiveClock:
    """Seconds since the session started, by a clock that is never set.

    A unit's test mode runs out while a laptop sleeps: the sleep counts where the system can tell.

    Parameters
    ----------
    start_t : float
        Session time at construction [s]; not 0 when a session is resumed.
    """

    def __init__(self, start_t: float = 0.0) -> None:
        self._origin = steady_s() - start_t

    def now(self) -> float:
        """Return the session time [s]."""
        return steady_s() - self._origin

    async def sleep_until(self, t: float) -> None:
        """Return when session time `t` [s] has come."""
        await asyncio.sleep(max(0.0, t - self.now()))


SPEEDS: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 60.0)
"""Paces a person can choose from: session seconds per second."""


class SourceClock:
    """The time of a source that brings its own: a recording or a simulator.

    Time stands still between two calls of `sleep_until`; each call first waits until everything
    delivered so far has been processed, then paces itself, then moves time to `t`. So a session
    gives the same events at any speed, and "as fast as possible" is only the absence of pacing.

    Parameters
    ----------
    speed : float or None
        Session seconds per second; None for as fast as possible.
    processed : callable returning an awaitable
        Returns when all that was delivered has been processed.
    reached : callable
        Told each new time [s] before `sleep_until` returns.
    """

    def __init__(
        self,
        speed: float | None,
        processed: Callable[[], Awaitable[None]],
        reached: Callable[[float], None],
    ) -> None:
        self._speed = speed
        self._processed = processed
        self._reached = reached
        self._t = 0.0
        self._anchor: tuple[float, float] | None = None
        self._paused = False
        self._rush_t = -math.inf
        self._changed = asyncio.Event()
        self._stopped = False

    def now(self) -> float:
        """Return the session time [s]."""
        return self._t

    @property
    def speed(self) -> float | None:
        """Session seconds per second; None for as fast as possible."""
        return self._speed

    @property
    def paused(self) -> bool:
        """Whether time is being held."""
        return self._paused

    def toggle_pause(self) -> None:
        """Hold time, or let it go on."""
        self._paused = not self._paused
        self._begin_anew()

    def set_speed(self, speed: float | None) -> None:
        """Go on at another pace from here; None for as fast as possible."""
        self._speed = speed
        self._begin_anew()

    def rush_to(self, t: float) -> None:
        """Let time run unpaced to `t` [s], a pause notwithstanding, and go on from there as before.

        Nothing is left out on the way: what lies between is processed like anything else.
        """
        self._rush_t = t
        self._begin_anew()

    def stop(self) -> None:
        """Let time go no further: whoever sleeps now sleeps until cancelled."""
        self._stopped = True

    async def sleep_until(self, t: float) -> None:
        """Return when session time `t` [s] has come and all before it is processed."""
        await self._processed()
        while (left := self._left(t)) > 0.0:
            if self._t < self._rush_t:
                # Where nothing is delivered at the very time wanted, time alone comes to it.
                self._t = self._rush_t
                self._reached(self._t)
                await self._processed()
            elif left == math.inf:
                self._changed.clear()
                await self._changed.wait()
            else:
                # Short naps, so that a pause or another pace takes hold at once.
                await asyncio.sleep(min(left, 0.2))
        if self._stopped:
            # Else it would depend on the speed whether one more step is made before the end.
            await asyncio.Event().wait()
        self._t = max(self._t, t)
        self._reached(self._t)

    def _begin_anew(self) -> None:
        """Neither a pause nor another pace is made up for."""
        self._anchor = None
        self._changed.set()

    def _left(self, t: float) -> float:
        """Return the wall seconds until `t`, infinite while time is held."""
        if t <= self._rush_t:
            return 0.0
        if self._paused:
            return math.inf
        if self._speed is None:
            return 0.0
        wall = asyncio.get_running_loop().time()
        if self._anchor is None:
            self._anchor = (wall, self._t)
        since, session = self._anchor
        return (t - session) / self._speed - (wall - since)


def other_speed(speed: float | None, change: int) -> float:
    """Return the next of `SPEEDS` above (`change` 1) or below (-1) `speed`; the last one stays."""
    now = math.inf if speed is None else speed
    others = [each for each in SPEEDS if (each > now if change > 0 else each < now)]
    if not others:
        return SPEEDS[-1] if change > 0 else SPEEDS[0]
    return others[0] if change > 0 else others[-1]
