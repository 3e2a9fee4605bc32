"""Simple published ways to tell that a reading has settled, to compare with.

Each takes means over 2 s and starts afresh after an announced disturbance.
"""

import math
from collections import deque
from collections.abc import Mapping
from itertools import pairwise


class _Windowed:
    """Means over 2 s in a sliding window."""

    def __init__(self, window_s: float) -> None:
        self._window_s = window_s
        self._points: deque[tuple[float, float]] = deque()
        self._held: list[tuple[float, float]] = []
        self._settled = False

    def disturbed(self, t: float) -> None:
        self._points.clear()
        self._held.clear()
        self._settled = False

    def update(self, t: float, values: Mapping[str, float]) -> bool:
        value = values.get("subcooling", math.nan)
        if math.isnan(value):
            return self._settled
        held, points = self._held, self._points
        if held and t - held[0][0] >= 2.0:
            n = len(held)
            points.append((sum(p[0] for p in held) / n, sum(p[1] for p in held) / n))
            held.clear()
            while points[-1][0] - points[0][0] > self._window_s:
                points.popleft()
            full = points[-1][0] - points[0][0] >= 0.8 * self._window_s and len(points) >= 8
            self._settled = full and self._judge(list(points))
        held.append((t, value))
        return self._settled

    def _judge(self, points: list[tuple[float, float]]) -> bool:
        raise NotImplementedError


def _line(points: list[tuple[float, float]]) -> tuple[float, float, float]:
    """Return slope, its standard error and the lag-1 autocorrelation of the residuals."""
    n = len(points)
    t0 = sum(t for t, _ in points) / n
    y0 = sum(y for _, y in points) / n
    sxx = sum((t - t0) ** 2 for t, _ in points)
    slope = sum((t - t0) * (y - y0) for t, y in points) / sxx
    rest = [y - y0 - slope * (t - t0) for t, y in points]
    sse = sum(r * r for r in rest)
    lag = sum(a * b for a, b in pairwise(rest))
    phi = min(max(lag / sse if sse > 0.0 else 0.0, 0.0), 0.95)
    return slope, math.sqrt(sse / (n - 2) / sxx), phi


class MovingSpread(_Windowed):
    """Moving standard deviation under a limit (the idea of Kim et al., 2008, one feature)."""

    def __init__(self, window_s: float = 120.0, limit_k: float = 0.15) -> None:
        super().__init__(window_s)
        self._limit_k = limit_k

    def _judge(self, points: list[tuple[float, float]]) -> bool:
        n = len(points)
        mean = sum(y for _, y in points) / n
        return sum((y - mean) ** 2 for _, y in points) / (n - 1) < self._limit_k**2


class SlopeTest(_Windowed):
    """The slope's t test does not reject zero, and the slope is small (a textbook test)."""

    def __init__(self, window_s: float = 200.0, t_limit: float = 1.1) -> None:
        super().__init__(window_s)
        self._t_limit = t_limit

    def _judge(self, points: list[tuple[float, float]]) -> bool:
        slope, error, _ = _line(points)
        return abs(slope) < self._t_limit * error and abs(slope) < 0.08 / 60.0


class SlopeEquivalence(_Windowed):
    """The whole interval of the slope lies inside what is allowed; noise may be correlated."""

    def __init__(self, window_s: float = 228.0, tau_s: float = 114.0, z: float = 0.43) -> None:
        super().__init__(window_s)
        self._tau_s = tau_s
        self._z = z

    def _judge(self, points: list[tuple[float, float]]) -> bool:
        slope, error, phi = _line(points)
        error *= math.sqrt((1.0 + phi) / (1.0 - phi))
        return (abs(slope) + self._z * error) * self._tau_s < 0.275
