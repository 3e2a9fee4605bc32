"""A smooth curve through nodes that are uniform in ln p, quick for one value and for many."""

import math
from bisect import bisect_right
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]

FEWEST_NODES = 5
"""The fourth-order slopes reach over five nodes [count]."""


def node_slopes(nodes: FloatArray) -> FloatArray:
    """Return the slope at each node, per node step, to fourth order.

    Parameters
    ----------
    nodes : numpy.ndarray
        Values on a uniform grid, shape (n,), n >= 5 [any unit].

    Returns
    -------
    numpy.ndarray
        Slopes, shape (n,) [unit of `nodes` per node step].

    References
    ----------
    .. [1] Abramowitz and Stegun, Handbook of Mathematical Functions (NBS AMS 55), table 25.2,
       five-point differentiation (from memory; the tests check it is exact for quartics).
    """
    slopes = np.empty_like(nodes)
    slopes[2:-2] = nodes[:-4] - 8.0 * nodes[1:-3] + 8.0 * nodes[3:-1] - nodes[4:]
    at_end = np.array([-25.0, 48.0, -36.0, 16.0, -3.0])
    beside_end = np.array([-3.0, -10.0, 18.0, -6.0, 1.0])
    slopes[0] = at_end @ nodes[:5]
    slopes[1] = beside_end @ nodes[:5]
    slopes[-1] = -(at_end @ nodes[:-6:-1])
    slopes[-2] = -(beside_end @ nodes[:-6:-1])
    slopes /= 12.0
    return slopes


class LogPressureCurve:
    """Piecewise cubic (Hermite) y(ln p) over nodes that are uniform in ln p.

    Hermite pieces with fourth-order slopes are local: each value depends on six nodes at most,
    and the curve and its slope are continuous. No check of the range is made here.

    Parameters
    ----------
    low_pa_abs, high_pa_abs : float
        Pressure of the first and of the last node [Pa absolute].
    nodes : numpy.ndarray
        Values at the nodes, shape (n,), n >= 5 [any unit].
    """

    __slots__ = ("_coefficients", "_high", "_last", "_low", "_nodes", "_per_step", "_rows", "_x0")

    def __init__(self, low_pa_abs: float, high_pa_abs: float, nodes: FloatArray) -> None:
        if len(nodes) < FEWEST_NODES:
            raise ValueError(f"expected at least {FEWEST_NODES} nodes, came {len(nodes)}")
        left, right = nodes[:-1], nodes[1:]
        slopes = node_slopes(nodes)
        slope_left, slope_right = slopes[:-1], slopes[1:]
        self._coefficients = np.stack(
            [
                2.0 * (left - right) + slope_left + slope_right,
                3.0 * (right - left) - 2.0 * slope_left - slope_right,
                slope_left,
                left,
            ]
        )
        self._rows = tuple(
            (float(a), float(b), float(c), float(d)) for a, b, c, d in self._coefficients.T
        )
        self._nodes = tuple(float(node) for node in nodes)
        self._last = len(nodes) - 2
        self._low = low_pa_abs
        self._high = high_pa_abs
        self._x0 = math.log(low_pa_abs)
        self._per_step = (len(nodes) - 1) / math.log(high_pa_abs / low_pa_abs)

    @property
    def first(self) -> float:
        """Value at the lowest pressure [unit of the nodes]."""
        return self._nodes[0]

    @property
    def last(self) -> float:
        """Value at the highest pressure [unit of the nodes]."""
        return self._nodes[-1]

    def value(self, pressure_pa_abs: float) -> float:
        """Return y at one pressure inside the range [unit of the nodes]."""
        u = (math.log(pressure_pa_abs) - self._x0) * self._per_step
        i = int(u)
        if i > self._last:
            i = self._last
        a, b, c, d = self._rows[i]
        t = u - i
        return ((a * t + b) * t + c) * t + d

    def slope(self, pressure_pa_abs: float) -> float:
        """Return dy/dp at one pressure inside the range [unit of the nodes per Pa]."""
        u = (math.log(pressure_pa_abs) - self._x0) * self._per_step
        i = int(u)
        if i > self._last:
            i = self._last
        a, b, c, _ = self._rows[i]
        t = u - i
        return ((3.0 * a * t + 2.0 * b) * t + c) * self._per_step / pressure_pa_abs

    def values(self, pressures_pa_abs: FloatArray) -> FloatArray:
        """Return y at each pressure, shape (n,), all inside the range [unit of the nodes]."""
        u = (np.log(pressures_pa_abs) - self._x0) * self._per_step
        i = np.clip(u.astype(np.intp), 0, self._last)
        t = u - i
        a, b, c, d = self._coefficients[:, i]
        result: FloatArray = ((a * t + b) * t + c) * t + d
        return result

    def pressure(self, value: float) -> float:
        """Return the pressure where a rising curve has this value [Pa absolute].

        Parameters
        ----------
        value : float
            Between `first` and `last` [unit of the nodes].

        Returns
        -------
        float
            Pressure; the inverse of `value` to rounding, because the same cubic piece is
            solved (Newton's method, kept inside the piece) [Pa absolute].
        """
        i = min(max(bisect_right(self._nodes, value) - 1, 0), self._last)
        a, b, c, d = self._rows[i]
        t = (value - d) / (self._nodes[i + 1] - d)
        for _ in range(8):
            step = (((a * t + b) * t + c) * t + d - value) / ((3.0 * a * t + 2.0 * b) * t + c)
            t = min(max(t - step, 0.0), 1.0)
            if abs(step) < 1e-14:
                break
        pressure = math.exp(self._x0 + (i + t) / self._per_step)
        return min(max(pressure, self._low), self._high)
