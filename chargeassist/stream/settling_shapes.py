"""The shapes of a transient: the part of a change that is still to come, by its age.

Each shape is a curve g(u), u seconds after the disturbance, from g(0) = 1 (nothing has happened
yet) to 0 (all has happened). It may lie over a slow creep of independent size: oil, shell and valve
go on changing for minutes after the pressures have followed the charge. The curves are tabulated
once per process; the detector only interpolates, so an update needs no exponentials.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HORIZON_S = 1500
"""Age beyond which every transient counts as over [s]."""

_LEVELS = 121
_LEVEL_SPAN = math.log(1000.0)

_USUAL_TAU_S = (15.0, 180.0)
_FIRST_ORDER_TAU_S = (
    15.0, 17.7, 20.9, 24.6, 29.0, 34.3, 40.4, 47.7,
    56.3, 66.4, 78.4, 92.5, 109.0, 129.0, 152.0, 179.0,
)  # fmt: skip
_TWO_LAG_TAU_S = (18.0, 23.0, 29.0, 37.0, 47.0, 60.0, 76.0, 97.0, 123.0, 150.0, 178.0)
_TWO_LAG_RATIO = (0.2, 0.4, 0.6, 0.9)
_DAMPED_TAU_S = (12.0, 18.0, 27.0, 40.0, 60.0, 88.0)
_DAMPED_ZETA = (0.55, 0.7, 0.85)
_STRETCHED_TAU_S = (12.0, 17.0, 24.0, 34.0, 48.0, 68.0, 96.0)
_STRETCH = 0.8
# Many unequal lags in parallel end more slowly than any single one. Without this family the tail
# is taken for noise: 6 instead of 2 % of such steps were called settled too early.
_CREEP_TAU_S = (150.0,)
_CREEP_WEIGHT = (0.15,)
_START_CREEP_TAU_S = (200.0,)
_START_CREEP_WEIGHT = (0.25,)
# Longer and likelier: on this project's physical plant the rest of a start after three minutes has
# time constants of 150 to 220 s, that of a charge step 75 to 100 s.
_QUIET_TAU_S = (30.0, 60.0, 120.0)
_QUIET_SHARE = 0.08
_QUIET_SIZE = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class ShapeBank:
    """A table of m shapes and k creeps.

    Attributes
    ----------
    remaining : ndarray, shape (HORIZON_S + 2, m + k)
        Part of the change still to come at each second of age; shapes first, then creeps [-].
    log_prior : ndarray, shape (k + 1, m)
        Log of the prior weight of each shape alone (row 0) and over each creep; the weights sum
        to 1.
    time_scale_s : ndarray, shape (k + 1, m)
        Slowest time constant of each combination [s].
    family : tuple of str, length m
        "first order", "two lags", "under-damped", "stretched" (many lags in parallel) or "quiet" (a
        step that changes almost nothing).
    reach : ndarray, shape (HORIZON_S + 2, m + k)
        Largest |g| from that age on [-].
    size_factor : ndarray, shape (m,)
        Expected size of the change, as a factor on the usual one; small for "quiet" [-].
    leave_value_s, leave_slope_s : ndarray, shape (121, m + k)
        Last age at which |g| (or |dg/du| times 10 s) exceeds 0.001 ** (row / 120) [s].
    """

    remaining: Floats
    reach: Floats
    size_factor: Floats
    log_prior: Floats
    time_scale_s: Floats
    family: tuple[str, ...]
    leave_value_s: Floats
    leave_slope_s: Floats

    def at(self, age_s: float) -> Floats:
        """Return the part still to come at one age, shape (m + k,)."""
        if age_s <= 0.0:
            first: Floats = self.remaining[0]
            return first
        k = int(age_s)
        if k > HORIZON_S:
            last: Floats = self.remaining[HORIZON_S + 1]
            return last
        f = age_s - k
        here: Floats = self.remaining[k] * (1.0 - f) + self.remaining[k + 1] * f
        return here

    def reach_at(self, age_s: float) -> Floats:
        """Return the largest part still to come from one age on, shape (m + k,)."""
        k = min(max(int(age_s), 0), HORIZON_S)
        f = min(max(age_s - k, 0.0), 1.0)
        here: Floats = self.reach[k] * (1.0 - f) + self.reach[k + 1] * f
        return here

    def slope_per_s(self, age_s: float) -> Floats:
        """Return dg/du at one age, shape (m + k,) [1/s]."""
        k = min(max(int(age_s), 0), HORIZON_S)
        slope: Floats = self.remaining[k + 1] - self.remaining[k]
        return slope

    def settled_age_s(
        self, shape: NDArray[np.int64], change_k: Floats, band_k: float, slope_k_per_s: float
    ) -> Floats:
        """Return the age from which changes of given sizes stay inside band and slope [s].

        Parameters
        ----------
        shape : ndarray of int, shape (k,)
            Which shapes.
        change_k : ndarray, shape (k, n)
            Sizes of the change, n for each shape [K].
        band_k, slope_k_per_s : float
            The limits [K], [K/s].

        Returns
        -------
        ndarray, shape (k, n)
            The ages [s].
        """
        size = np.maximum(np.abs(change_k), 1e-9)
        scale = (_LEVELS - 1) / _LEVEL_SPAN
        row = np.log(size) * scale
        v = np.minimum(row - math.log(band_k) * scale, _LEVELS - 1.0)
        s = np.minimum(row - math.log(10.0 * slope_k_per_s) * scale, _LEVELS - 1.0)
        column = shape[:, None]
        # A negative row is a level above 1: neither |g| nor the scaled slope exceeds it.
        age_v = np.where(v < 0.0, 0.0, self.leave_value_s[np.maximum(v, 0.0).astype(int), column])
        age_s = np.where(s < 0.0, 0.0, self.leave_slope_s[np.maximum(s, 0.0).astype(int), column])
        age: Floats = np.maximum(age_v, age_s)
        return age


def _first_order(u: Floats, tau_s: float) -> Floats:
    g: Floats = np.exp(-u / tau_s)
    return g


def _two_lags(u: Floats, tau_s: float, other_s: float) -> Floats:
    g: Floats = (tau_s * np.exp(-u / tau_s) - other_s * np.exp(-u / other_s)) / (tau_s - other_s)
    return g


def _damped(u: Floats, tau_s: float, zeta: float) -> Floats:
    w = math.sqrt(1.0 - zeta * zeta) / (zeta * tau_s)
    g: Floats = np.exp(-u / tau_s) * (np.cos(w * u) + np.sin(w * u) / (w * tau_s))
    return g


def _stretched(u: Floats, tau_s: float) -> Floats:
    g: Floats = np.exp(-((u / tau_s) ** _STRETCH))
    return g


def _flat(grid_s: tuple[float, ...]) -> list[tuple[float, float]]:
    """Return each time constant of a grid with its share of a flat prior over the usual range."""
    low, high = _USUAL_TAU_S
    middle = [math.sqrt(a * b) for a, b in pairwise(grid_s)]
    edges = [min(low, grid_s[0]), *middle, max(high, grid_s[-1])]
    width = [b - a for a, b in pairwise(edges)]
    return [(tau, w / sum(width)) for tau, w in zip(grid_s, width, strict=True)]


def _last_above(curve: Floats) -> Floats:
    """Return for each level the last age at which the curve exceeds it, shape (121, m)."""
    rising = np.maximum.accumulate(curve[::-1], axis=0).T  # from the last age to the first
    levels = np.exp(-_LEVEL_SPAN * np.arange(_LEVELS) / (_LEVELS - 1))
    ages = [len(curve) - np.searchsorted(each, levels, side="right") for each in rising]
    return np.stack(ages, axis=1).astype(np.float64)


def shape_bank(*, start: bool = False) -> ShapeBank:
    """Return the table of shapes; built on the first call, then shared.

    The families and ranges are this project's choice: first order, two lags in series, an
    under-damped pair and a stretched exponential, each alone or over a creep. The detector learns
    the time constants of a plant; the prior is only the first guess.

    Parameters
    ----------
    start : bool
        The table for a start or a change of frequency, after which metal and oil warm up: creeps
        are longer and likelier. Otherwise the table for a charge step.
    """
    return _tabulated(start=start)


@lru_cache(maxsize=2)
def _tabulated(*, start: bool) -> ShapeBank:
    u = np.arange(HORIZON_S + 2, dtype=np.float64)
    curves: list[Floats] = []
    prior: list[float] = []
    scale: list[float] = []
    family: list[str] = []

    def add(name: str, curve: Floats, tau_s: float, weight: float) -> None:
        curves.append(curve)
        prior.append(weight)
        scale.append(tau_s)
        family.append(name)

    for tau, part in _flat(_FIRST_ORDER_TAU_S):
        add("first order", _first_order(u, tau), tau, 0.45 * part)
    for tau, part in _flat(_TWO_LAG_TAU_S):
        for ratio in _TWO_LAG_RATIO:
            weight = 0.38 * part / len(_TWO_LAG_RATIO)
            add("two lags", _two_lags(u, tau, ratio * tau), tau, weight)
    for tau, part in _flat(tuple(2.0 * tau for tau in _DAMPED_TAU_S)):
        for zeta in _DAMPED_ZETA:
            weight = 0.08 * part / len(_DAMPED_ZETA)
            add("under-damped", _damped(u, 0.5 * tau, zeta), 0.5 * tau, weight)
    for tau, part in _flat(_STRETCHED_TAU_S):
        mean_s = tau * math.gamma(1.0 + 1.0 / _STRETCH)
        add("stretched", _stretched(u, tau), mean_s, 0.09 * part)
    for tau in _QUIET_TAU_S:
        add("quiet", _two_lags(u, tau, 0.4 * tau), tau, 0.0)
    creep_tau_s = _START_CREEP_TAU_S if start else _CREEP_TAU_S
    creep_weight = _START_CREEP_WEIGHT if start else _CREEP_WEIGHT
    curves += [_first_order(u, tau) for tau in creep_tau_s]
    table = np.stack(curves, axis=1)
    table[-1] = 0.0
    quiet = np.array([name == "quiet" for name in family])
    weights = np.array(prior)
    weights = np.where(quiet, _QUIET_SHARE * weights.sum() / quiet.sum(), weights)
    rows = np.array([1.0 - sum(creep_weight), *creep_weight])
    slope = 10.0 * np.abs(np.diff(table[:-1], axis=0))
    return ShapeBank(
        remaining=np.ascontiguousarray(table),
        reach=np.ascontiguousarray(np.maximum.accumulate(np.abs(table)[::-1], axis=0)[::-1]),
        size_factor=np.where(quiet, _QUIET_SIZE, 1.0),
        log_prior=np.log(rows[:, None] * (weights / weights.sum())),
        time_scale_s=np.maximum(np.array(scale), np.array([0.0, *creep_tau_s])[:, None]),
        family=tuple(family),
        leave_value_s=_last_above(np.abs(table)),
        leave_slope_s=_last_above(slope),
    )
