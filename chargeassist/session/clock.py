"""Session time: the real clock of live sessions, and the time of sources that bring their own."""

import asyncio
import sys
import time
from collections.abc import Awaitable, Callable

if sys.platform == "linux":

    def steady_s() -> float:
        """Return seconds of a clock that is never set and also runs while the machine sleeps."""
        return time.clock_gettime(time.CLOCK_BOOTTIME)

else:
    # Elsewhere the time a sleeping machine misses is missing from the session too.
    steady_s = time.monotonic


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
        self._going = asyncio.Event()
        self._going.set()
        self._stopped = False

    def now(self) -> float:
        """Return the session time [s]."""
        return self._t

    @property
    def paused(self) -> bool:
        """Whether time is being held."""
        return not self._going.is_set()

    def toggle_pause(self) -> None:
        """Hold time, or let it go on."""
        if self._going.is_set():
            self._going.clear()
        else:
            self._anchor = None
            self._going.set()

    def stop(self) -> None:
        """Let time go no further: whoever sleeps now sleeps until cancelled."""
        self._stopped = True

    async def sleep_until(self, t: float) -> None:
        """Return when session time `t` [s] has come and all before it is processed."""
        await self._processed()
        if self._speed is not None:
            await self._pace(t, self._speed)
        await self._going.wait()
        if self._stopped:
            # Else it would depend on the speed whether one more step is made before the end.
            await asyncio.Event().wait()
        self._t = max(self._t, t)
        self._reached(self._t)

    async def _pace(self, t: float, speed: float) -> None:
        loop = asyncio.get_running_loop()
        while True:
            await self._going.wait()
            if self._anchor is None:
                self._anchor = (loop.time(), self._t)
            wall, session = self._anchor
            left = (t - session) / speed - (loop.time() - wall)
            if left <= 0.0:
                return
            # Short naps, so that a pause takes hold at once.
            await asyncio.sleep(min(left, 0.2))
