"""Simple published ways to tell that a reading has settled, to compare with.

Each takes means over a few seconds and starts afresh after an announced disturbance. The numbers
in the signatures were tuned on a training set of the same kind, by loss of false and late verdicts.
"""

import math
from collections import deque
from collections.abc import Mapping
from itertools import pairwise

import numpy as np


class _Windowed:
    """Means over short bins in a sliding window."""

    _least_points = 8

    def __init__(
        self, window_s: float, *, bin_s: float = 2.0, least_s: float | None = None
    ) -> None:
        self._window_s = window_s
        self._bin_s = bin_s
        self._least_s = 0.8 * window_s if least_s is None else least_s
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
        if held and t - held[0][0] >= self._bin_s:
            n = len(held)
            points.append((sum(p[0] for p in held) / n, sum(p[1] for p in held) / n))
            held.clear()
            while points[-1][0] - points[0][0] > self._window_s:
                points.popleft()
            full = (
                points[-1][0] - points[0][0] >= self._least_s and len(points) >= self._least_points
            )
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


class EwVariance(_Windowed):
    """Exponentially weighted variance about an exponentially weighted mean, under a limit."""

    _least_points = 1

    def __init__(self, tau_s: float = 118.0, limit_k: float = 0.5) -> None:
        super().__init__(20.0, least_s=0.0)
        self._tau_s = tau_s
        self._limit_k = limit_k
        self.disturbed(0.0)

    def disturbed(self, t: float) -> None:
        super().disturbed(t)
        self._t = self._t_first = math.nan
        self._mean, self._var = 0.0, 4.0

    def _judge(self, points: list[tuple[float, float]]) -> bool:
        t, y = points[-1]
        if math.isnan(self._t):
            self._t = self._t_first = t
            self._mean = y
            return False
        a = 1.0 - math.exp(-(t - self._t) / self._tau_s)
        self._t = t
        off = y - self._mean
        self._mean += a * off
        self._var = (1.0 - a) * (self._var + a * off * off)
        return t - self._t_first > self._tau_s and self._var < self._limit_k**2


class VarianceRatio(_Windowed):
    """Ratio of two filtered variances (S. Cao, R. Rhinehart, J. Process Control 5, 1995)."""

    _least_points = 1

    def __init__(
        self,
        spacing_s: float = 12.0,
        filters: tuple[float, float, float] = (0.2, 0.29, 0.27),
        reject: float = 3.56,
        accept: float = 1.41,
    ) -> None:
        super().__init__(100.0, bin_s=spacing_s, least_s=0.0)
        self._filters = filters
        self._reject, self._accept = reject, accept
        self.disturbed(0.0)

    def disturbed(self, t: float) -> None:
        super().disturbed(t)
        self._count = 0
        self._filtered = self._last = 0.0
        self._about_mean, self._between = 1.0, 0.01

    def _judge(self, points: list[tuple[float, float]]) -> bool:
        y = points[-1][1]
        first, second, third = self._filters
        if self._count == 0:
            self._filtered = self._last = y
        self._about_mean += second * ((y - self._filtered) ** 2 - self._about_mean)
        self._filtered += first * (y - self._filtered)
        self._between += third * ((y - self._last) ** 2 - self._between)
        self._last = y
        self._count += 1
        ratio = (2.0 - first) * self._about_mean / max(self._between, 1e-9)
        if self._count < 3.0 / second or ratio > self._reject:
            return False
        return self._settled or ratio < self._accept


class TwoWindows(_Windowed):
    """Two halves of a window agree in mean (t test) and in variance (F test); textbook tests."""

    def __init__(
        self, window_s: float = 185.0, t_limit: float = 1.46, f_limit: float = 6.5
    ) -> None:
        super().__init__(window_s, bin_s=4.0)
        self._t_limit, self._f_limit = t_limit, f_limit

    def _judge(self, points: list[tuple[float, float]]) -> bool:
        half = len(points) // 2
        a, b = (np.array([y for _, y in part]) for part in (points[:half], points[half:]))
        var_a, var_b = float(a.var(ddof=1)) + 1e-9, float(b.var(ddof=1)) + 1e-9
        t = abs(float(a.mean() - b.mean())) / math.sqrt(var_a / a.size + var_b / b.size)
        return t < self._t_limit and max(var_a / var_b, var_b / var_a) < self._f_limit


class Mser5(_Windowed):
    """MSER-5: the least standard error leaves enough of the record (K. White, 1997)."""

    def __init__(
        self, window_s: float = 432.0, keep_s: float = 227.0, limit_k: float = 0.076
    ) -> None:
        super().__init__(window_s, bin_s=5.0, least_s=0.0)
        self._keep_s, self._limit_k = keep_s, limit_k

    def _judge(self, points: list[tuple[float, float]]) -> bool:
        y = np.array([y for _, y in points])[::-1]
        n = np.arange(1.0, y.size + 1.0)
        squared_error = (np.cumsum(y * y) - np.cumsum(y) ** 2 / n) / (n * n)
        k = 4 + int(squared_error[4:].argmin())
        kept_s = points[-1][0] - points[-1 - k][0]
        return kept_s >= self._keep_s and math.sqrt(max(squared_error[k], 0.0)) < self._limit_k


class ExponentialFit(_Windowed):
    """Fit of one exponential on a grid of time constants; the rest to come is surely small."""

    def __init__(
        self, window_s: float = 297.0, band_k: float = 0.156, z: float = 2.2, least_s: float = 40.0
    ) -> None:
        super().__init__(window_s, bin_s=4.0, least_s=least_s)
        self._band_k, self._z = band_k, z
        self._taus_s = np.array([20.0, 35.0, 60.0, 100.0, 180.0])

    def _judge(self, points: list[tuple[float, float]]) -> bool:
        t, y = np.array(points).T
        y = y - y.mean()
        g = np.exp((t[-1] - t)[None, :] / self._taus_s[:, None])
        g -= g.mean(axis=1, keepdims=True)
        information = (g * g).sum(axis=1)
        rest_k = (g * y).sum(axis=1) / information
        off = y - rest_k[:, None] * g
        sse = (off * off).sum(axis=1)
        best = int(sse.argmin())
        lag = float((off[best, 1:] * off[best, :-1]).sum()) / max(float(sse[best]), 1e-12)
        phi = min(max(lag, 0.0), 0.95)
        var = float(sse[best]) / (t.size - 3) * (1.0 + phi) / (1.0 - phi) + 1e-12
        weight = np.exp(-(sse - sse[best]) / (2.0 * var))
        weight /= weight.sum()
        mean = float((weight * rest_k).sum())
        second = float((weight * (rest_k * rest_k + var / information)).sum())
        return abs(mean) + self._z * math.sqrt(max(second - mean * mean, 0.0)) < self._band_k
