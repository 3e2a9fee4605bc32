"""Recent values: their mean, their highest, their span."""

from collections import deque


class RecentMean:
    """The values of the last `span_s` seconds and their mean.

    Parameters
    ----------
    span_s : float
        How far back a value counts [s].
    """

    def __init__(self, span_s: float) -> None:
        self._span_s = span_s
        self._times: deque[float] = deque()
        self._values: deque[float] = deque()
        self._mean: float | None = None
        self._known = True

    def add(self, t: float, value: float) -> None:
        """Take the value at `t` [s]; times do not go back."""
        self._times.append(t)
        self._values.append(value)
        self._known = False

    def forget_before(self, t: float, *, keep: int = 0) -> None:
        """Drop what is older than the span at `t` [s], but for the newest `keep` values."""
        times, oldest = self._times, t - self._span_s
        while len(times) > keep and times[0] < oldest:
            times.popleft()
            self._values.popleft()
            self._known = False

    def clear(self) -> None:
        """Drop everything."""
        self._times.clear()
        self._values.clear()
        self._known = False

    def mean(self) -> float | None:
        """Return the mean, in the unit of the values; None where there is no value."""
        if not self._known:
            self._mean = sum(self._values) / len(self._values) if self._values else None
            self._known = True
        return self._mean


class HighestOfRecent:
    """The highest of the newest `count` values.

    Parameters
    ----------
    count : int

    Notes
    -----
    Only values that no later one reaches can become the highest; they are kept in falling order,
    and each enters and leaves once.
    """

    def __init__(self, count: int) -> None:
        self._count = count
        self._taken = 0
        self._falling: deque[tuple[int, float]] = deque()

    def add(self, value: float) -> None:
        """Take the next value."""
        falling = self._falling
        while falling and falling[-1][1] <= value:
            falling.pop()
        falling.append((self._taken, value))
        self._taken += 1
        if falling[0][0] < self._taken - self._count:
            falling.popleft()

    def clear(self) -> None:
        """Forget every value."""
        self._falling.clear()

    @property
    def highest(self) -> float | None:
        """The highest, in the unit of the values; None where there is no value."""
        return self._falling[0][1] if self._falling else None


def span(values: list[float]) -> float:
    """Return largest less smallest of `values`, in their unit; 0 for fewer than two."""
    return max(values) - min(values) if len(values) > 1 else 0.0
