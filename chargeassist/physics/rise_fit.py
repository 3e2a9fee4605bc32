"""Which law does a rise of vacuum follow? Five of them compared, with honest odds.

Flat; a straight line (a leak); one that levels off (outgassing of water or refrigerant); both; and
two that level off at different pace (water in two places, or ice that warms). Each is linear in its
amounts once its time constants are chosen, so its evidence is a formula; the time constants are
summed over a grid.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SHORTEST_S: Final = 30.0
LONGEST_S: Final = 10_800.0
TIMES: Final = 22
"""Grid of time constants of levelling off, even in the logarithm [s] (assumption: what gives off
slower than in three hours cannot be told from a leak in any test of the trade)."""

PRIOR: Final = {"flat": 0.15, "leak": 0.25, "level": 0.25, "both": 0.20, "two": 0.15}
"""Odds before the first reading (assumption)."""

MOST_WORTH: Final = 20.0
"""At most this many neighbouring means that err alike count as one (assumption)."""


@dataclass(frozen=True, slots=True)
class Law:
    """One law with one choice of time constants: weight and what it says.

    Attributes
    ----------
    kind : str
        "flat", "leak", "level", "both" or "two".
    weight : float
        Share of the belief [-]; all laws together have 1.
    slope, slope_u : float
        Of its straight part and its standard uncertainty, 0 where it has none [Pa/s].
    level, level_u : float
        Where it ends without the straight part, and its standard uncertainty [Pa absolute], [Pa].
    amounts : tuple of float
        Pressure at t = 0, then slope, then rises [Pa], [Pa/s], [Pa].
    taus_s : tuple of float
        [s].
    """

    kind: str
    weight: float
    slope: float
    slope_u: float
    level: float
    level_u: float
    amounts: tuple[float, ...]
    taus_s: tuple[float, ...]

    @property
    def leaks(self) -> bool:
        """Whether it has a straight part."""
        return self.kind in ("leak", "both")

    def pressure(self, t: float) -> float:
        """Return its pressure at a time since the first mean [Pa absolute]."""
        total = self.amounts[0] + self.slope * t
        rises = self.amounts[2:] if self.leaks else self.amounts[1:]
        for rise, tau in zip(rises, self.taus_s, strict=True):
            total -= rise * math.expm1(-t / tau)
        return total


def compare(
    times_s: FloatArray, pressures_pa: FloatArray, us_pa: FloatArray, *, scale_pa: float
) -> list[Law]:
    """Return every law with its weight, the heaviest first.

    Parameters
    ----------
    times_s, pressures_pa, us_pa : ndarray, shape (n,)
        Means of readings: time from the first of them, pressure, and standard uncertainty by the
        gauge's declared scatter; it is made larger where the best law fits worse than that, and
        once more where neighbouring misfits are alike [s], [Pa absolute], [Pa].
    scale_pa : float
        Rise that would not surprise, as a standard deviation before the test [Pa].

    References
    ----------
    .. [1] D. J. C. MacKay, Information Theory, Inference, and Learning Algorithms (2003), chapter
       28: evidence of linear models with normal priors.
    """
    span = float(times_s[-1])
    taus = np.geomspace(SHORTEST_S, LONGEST_S, TIMES)
    base = [np.ones_like(times_s), times_s / span]
    columns = np.column_stack([*base, *(-np.expm1(-times_s / tau) for tau in taus)])
    offset = float(pressures_pa[0])
    y = pressures_pa - offset
    widths = np.full(columns.shape[1], scale_pa)
    choices = _choices(TIMES)
    fits = _fit_all(columns, y, us_pa, widths, choices)
    best = max(fits, key=lambda fit: fit.log_weight)
    rest = (y - columns[:, best.used] @ best.mean) / us_pa
    fits = _fit_all(columns, y, us_pa * _inflation(rest), widths, choices)
    top = max(fit.log_weight for fit in fits)
    weights = [math.exp(fit.log_weight - top) for fit in fits]
    total = math.fsum(weights)
    laws = [
        _law(fit, weight / total, span, offset, taus)
        for fit, weight in zip(fits, weights, strict=True)
        if weight > 1e-6 * total
    ]
    return sorted(laws, key=lambda law: -law.weight)


@dataclass(slots=True)
class _Fit:
    kind: str
    used: list[int]
    log_weight: float
    mean: FloatArray
    covariance: FloatArray


def _choices(count: int) -> list[tuple[str, list[int], float]]:
    """Return (law, columns, prior) of all; columns 0 and 1 are the constant and the line."""
    rows: list[tuple[str, list[int], float]] = [
        ("flat", [0], PRIOR["flat"]),
        ("leak", [0, 1], PRIOR["leak"]),
    ]
    rows += [("level", [0, 2 + i], PRIOR["level"] / count) for i in range(count)]
    rows += [("both", [0, 1, 2 + i], PRIOR["both"] / count) for i in range(count)]
    # Two paces less than a factor of three apart are one for the eye and for the arithmetic.
    apart = max(1, round(math.log(3.0) / (math.log(LONGEST_S / SHORTEST_S) / (count - 1))))
    pairs = [(i, j) for i in range(count) for j in range(i + apart, count)]
    rows += [("two", [0, 2 + i, 2 + j], PRIOR["two"] / len(pairs)) for i, j in pairs]
    return rows


def _fit_all(
    columns: FloatArray,
    y: FloatArray,
    us: FloatArray,
    widths: FloatArray,
    choices: Sequence[tuple[str, list[int], float]],
) -> list[_Fit]:
    """Return the fit of each law; laws with as many columns are solved together."""
    weighted = columns / us[:, None]
    target = y / us
    gram = weighted.T @ weighted
    right = weighted.T @ target
    square = float(target @ target)
    fits: list[_Fit] = []
    for size in (1, 2, 3):
        rows = [choice for choice in choices if len(choice[1]) == size]
        index = np.array([used for _, used, _ in rows])
        matrices = gram[index[:, :, None], index[:, None, :]].copy()
        prior = 1.0 / widths[index] ** 2
        # The pressure at the start may be anything.
        prior[:, 0] = 1e-12
        matrices[:, range(size), range(size)] += prior
        covariances = np.linalg.inv(matrices)
        means = np.einsum("kij,kj->ki", covariances, right[index])
        misfits = square - np.einsum("ki,ki->k", means, right[index])
        signs, logs = np.linalg.slogdet(matrices)
        evidence = -0.5 * misfits - 0.5 * logs + 0.5 * np.log(prior[:, 1:]).sum(axis=1)
        for k, (kind, used, prior_weight) in enumerate(rows):
            log_weight = float(evidence[k]) + math.log(prior_weight)
            for i in range(1, size):
                # Leaks and outgassing only raise: the part of the normal law above 0 counts.
                z = float(means[k, i]) / math.sqrt(max(float(covariances[k, i, i]), 1e-300))
                log_weight += math.log(max(math.erfc(-z / math.sqrt(2.0)), 1e-290))
            if signs[k] > 0.0:
                fits.append(_Fit(kind, used, log_weight, means[k], covariances[k]))
    return fits


def _inflation(rest: FloatArray) -> float:
    """Return by how much the declared scatter is too small for what is left."""
    n = len(rest)
    variance = float(rest @ rest) / max(n - 4, 1)
    echo = float(rest[1:] @ rest[:-1]) / max(float(rest @ rest), 1e-30)
    worth = min(max((1.0 + echo) / (1.0 - min(echo, 0.95)), 1.0), MOST_WORTH)
    return math.sqrt(max(variance, 1.0) * worth)


def _law(fit: _Fit, weight: float, span: float, offset: float, taus: FloatArray) -> Law:
    mean, covariance = fit.mean, fit.covariance
    leaks = fit.kind in ("leak", "both")
    end = np.ones(len(mean))
    slope = slope_u = 0.0
    amounts = [float(value) for value in mean]
    if leaks:
        end[1] = 0.0
        slope = float(mean[1]) / span
        slope_u = math.sqrt(max(float(covariance[1, 1]), 0.0)) / span
        amounts[1] = slope
    amounts[0] += offset
    return Law(
        kind=fit.kind,
        weight=weight,
        slope=slope,
        slope_u=slope_u,
        level=offset + float(end @ mean),
        level_u=math.sqrt(max(float(end @ covariance @ end), 0.0)),
        amounts=tuple(amounts),
        taus_s=tuple(float(taus[i - 2]) for i in fit.used if i >= 2),
    )
