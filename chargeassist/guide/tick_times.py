"""The times at which the assistant ticks: each whole period, more seldom in a long silence.

Only events count, never the moment at which somebody asks, so heartbeats of a live session make no
difference to a replay.
"""

from collections.abc import Iterator
from math import ceil

LONGEST_SILENCE_S = 3600.0
"""Every tick fires for this long after the last event [s]."""

SELDOM_S, LONGEST_WAIT_S = 60.0, 3.0 * 86_400.0
"""After that a tick fires only once in `SELDOM_S`, and after `LONGEST_WAIT_S` none until the next
event [s]. A standing test that is read only at its ends is waited for over a weekend, and a damaged
time is not ticked through."""

LATEST_T = 1e9
"""No session lasts this long [s]; a later time comes from a damaged record."""


class TickTimes:
    """Counts the ticks of a session.

    Parameters
    ----------
    period_s : float
        The processing period of the job.
    """

    __slots__ = ("_count", "_period_s", "heard_t", "next_t")

    def __init__(self, period_s: float) -> None:
        self._period_s = period_s
        self._count = 0
        self.heard_t = 0.0
        """Time of the last event [s]."""
        self.next_t = period_s
        """Time of the next tick [s]."""

    def ordered(self, t: float) -> float:
        """Return the time at which an event of time `t` [s] is taken: none before the last one."""
        return min(t, LATEST_T) if t > self.heard_t else self.heard_t

    def is_silence(self, t: float) -> bool:
        """Whether nothing has been heard for so long at `t` [s] that not every tick fires."""
        return t - self.heard_t > LONGEST_SILENCE_S

    def due(self, t: float) -> Iterator[float]:
        """Yield each tick up to and including `t` [s] that fires though little may have come."""
        until = min(t, self.heard_t + LONGEST_SILENCE_S)
        while self.next_t <= until:
            yield self._take(self._count + 1)

    def due_seldom(self, t: float) -> Iterator[float]:
        """Yield the ticks up to and including `t` [s] that fire in a silence that lasts."""
        if not self.is_silence(t):
            return
        until = min(t, self.heard_t + LONGEST_WAIT_S)
        each = max(ceil(SELDOM_S / self._period_s), 1)
        while (count := (self._count // each + 1) * each) * self._period_s <= until:
            yield self._take(count)

    def leap(self, t: float) -> None:
        """Pass over the ticks until `t` [s]."""
        self._take(max(self._count, int(t // self._period_s)))

    def _take(self, count: int) -> float:
        self._count = count
        self.next_t = (count + 1) * self._period_s
        return count * self._period_s
