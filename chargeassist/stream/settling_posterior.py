"""The posterior of every hypothesis: how likely it is, how large, how much is still to come.

A hypothesis is a shape, alone or over one of a few slow creeps. The sizes of shape and creep enter
linearly and are solved for exactly: first the shape alone, then the creep by what it explains in
addition (the Schur complement of the joint normal equations).
"""

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from chargeassist.model.quick_init import quick_init

Floats = NDArray[np.float64]

# Called directly, because the wrapper behind the method `sum` costs as much as the reduction.
_sum, _max = np.add.reduce, np.maximum.reduce
# Numbers as arrays: see `settling_responses`. Rows are computed one by one, because broadcasting
# over the whole table is slower.
_ONE: Final[Floats] = np.array(1.0)
_TWO: Final[Floats] = np.array(2.0)
_ROOT_2: Final[Floats] = np.array(math.sqrt(2.0))
_CERTAIN: Final[Floats] = np.array(3.0)
_LEAST_SPREAD: Final[Floats] = np.array(1e-18)
_ERF_AT: Floats = np.arange(-1000, 1001, dtype=np.float64) * 0.004
_ERF: Floats = np.array([math.erf(z) for z in _ERF_AT.tolist()])
_LEAST_WEIGHT: Final[Floats] = np.array(2.0e-4)
_LEAST_LOG: Final[Floats] = np.array(-50.0)


@dataclass(frozen=True, slots=True, eq=False)
class SizePriors:
    """Prior sizes of change and creep.

    Attributes
    ----------
    change_var : ndarray, shape (m,)
        Variance of the change under each shape [K^2].
    creep_var : float
        Variance of a creep [K^2].
    change_information : ndarray, shape (m,)
        Prior information about the change, 1 / change_var [1/K^2].
    """

    change_var: Floats
    creep_var: float
    change_information: Floats = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "change_information", _ONE / self.change_var)


@quick_init
@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Belief in m shapes, each alone (row 0) or over one of k creeps (rows 1 to k).

    Attributes
    ----------
    evidence : ndarray, shape (k + 1, m)
        Log evidence of each hypothesis, up to a constant.
    weights : ndarray, shape (k + 1, m)
        Posterior weight; they sum to 1.
    change, change_var : ndarray, shape (k + 1, m)
        Size of the shape's part, mean [K] and variance [K^2].
    creep, creep_var : ndarray, shape (k + 1, m)
        Size of the creep, mean [K] and variance [K^2]; row 0 is zero.
    cov : ndarray, shape (k + 1, m)
        Covariance of the two [K^2]; row 0 is zero.
    best : tuple of int
        Row and shape of the likeliest hypothesis.
    """

    evidence: Floats
    weights: Floats
    change: Floats
    change_var: Floats
    creep: Floats
    creep_var: Floats
    cov: Floats
    best: tuple[int, int]

    def mean_of(self, shape_part: Floats, creep_part: Floats) -> float:
        """Return the posterior mean of change and creep times these parts.

        Parameters
        ----------
        shape_part, creep_part : ndarray, shape (m,) and (k,)
            Factors on the size of each shape and of each creep [- or 1/s].

        Returns
        -------
        float
            [K or K/s].
        """
        e = self.change * shape_part
        e[1:] += self.creep[1:] * creep_part[:, None]
        e *= self.weights
        return float(_sum(e, axis=None))

    def remaining(self, shape_left: Floats, creep_left: Floats) -> tuple[float, float]:
        """Return mean and standard deviation of the change still to come [K].

        Parameters
        ----------
        shape_left, creep_left : ndarray, shape (m,) and (k,)
            Part of each shape and of each creep still to come [-].
        """
        e = self.change * shape_left
        e[1:] += self.creep[1:] * creep_left[:, None]
        mean = float(_sum(self.weights * e, axis=None))
        e *= e
        e += self._spread(shape_left, creep_left)
        second = float(_sum(self.weights * e, axis=None))
        return mean, math.sqrt(max(second - mean * mean, 0.0))

    def moments(self, z: Floats) -> tuple[list[float], list[list[float]]]:
        """Return first and second moments of states that depend linearly on the sizes.

        Parameters
        ----------
        z : ndarray, shape (n, m + k)
            Change of each state for 1 K of each shape and of each creep.
        """
        m = self.weights.shape[1]
        w = self.weights
        mean, second = [], [[0.0] * len(z) for _ in z]
        parts = [(row[:m], np.concatenate(([0.0], row[m:]))[:, None]) for row in z]
        dd = w * (self.change_var + self.change * self.change)
        cc = w * (self.creep_var + self.creep * self.creep)
        dc = w * (self.cov + self.change * self.creep)
        for i, (own, slow) in enumerate(parts):
            mean.append(float((w * (self.change * own + self.creep * slow)).sum()))
            for k, (o, s) in enumerate(parts[i:], start=i):
                both = dd * own * o + cc * slow * s + dc * (own * s + slow * o)
                second[i][k] = second[k][i] = float(both.sum())
        return mean, second

    def _spread(self, shape_left: Floats, creep_left: Floats) -> Floats:
        """Return the variance of the change still to come, shape (k + 1, m) [K^2]."""
        spread = np.empty_like(self.weights)
        square, twice = shape_left * shape_left, shape_left * _TWO
        for row, var in zip(spread, self.change_var, strict=True):
            np.multiply(var, square, out=row)
        number = np.empty(())
        for k, left in enumerate(creep_left.tolist(), start=1):
            number[()] = left
            late = self.cov[k] * twice
            late += self.creep_var[k] * number
            late *= number
            spread[k] += late
        return spread

    def chance_inside(self, band_k: float, shape_reach: Floats, creep_left: Floats) -> float:
        """Return the probability that the change still to come stays inside +-band_k [-].

        Parameters
        ----------
        band_k : float
            [K].
        shape_reach : ndarray, shape (m,)
            Largest |part| of each shape from now on [-].
        creep_left : ndarray, shape (k,)
            Part of each creep still to come [-].
        """
        e = np.empty_like(self.weights)
        for row, size in zip(e, self.change, strict=True):
            np.multiply(size, shape_reach, out=row)
        number = np.empty(())
        for k, left in enumerate(creep_left.tolist(), start=1):
            number[()] = left
            tail = self.creep[k] * number
            row = e[k]
            row += tail
            # Once the shape is over, a creep of opposite sign remains alone.
            np.abs(tail, out=tail)
            np.abs(row, out=row)
            np.maximum(row, tail, out=row)
        np.abs(e, out=e)
        sd = self._spread(shape_reach, creep_left)
        np.maximum(sd, _LEAST_SPREAD, out=sd)
        np.sqrt(sd, out=sd)
        sd *= _ROOT_2
        number[()] = band_k
        room = number - e
        room /= sd
        w = self.weights
        certain = room > _CERTAIN
        chance = float(_sum(w[certain]))
        open_ = (w > _LEAST_WEIGHT) & ~certain
        w = w[open_]
        if not w.size:
            return chance
        far = (number + e[open_]) / sd[open_]
        sides = np.interp(np.concatenate((room[open_], far)), _ERF_AT, _ERF)
        return chance + 0.5 * float(_sum(w * (sides[: w.size] + sides[w.size :])))


def weigh(
    own: tuple[Floats, Floats],
    slow: tuple[Floats, Floats],
    cross: Floats,
    sizes: SizePriors,
    prior_log: Floats,
    temper: float,
) -> Posterior:
    """Return the posterior from the sums of the filter.

    Parameters
    ----------
    own : tuple of ndarray, shape (m,)
        Information about the size of each shape [1/K^2], and its product with the readings [1/K].
    slow : tuple of ndarray, shape (k,)
        The same for each creep.
    cross : ndarray, shape (k, m)
        Information shared by creep and shape [1/K^2].
    sizes : SizePriors
    prior_log : ndarray, shape (k + 1, m)
        Log prior of each hypothesis.
    temper : float
        Divides the evidence [-].
    """
    gg, gy = own
    number, creep_size = np.empty(()), np.array(sizes.creep_var)
    n, m = prior_log.shape
    evidence, change, change_var = np.empty((n, m)), np.empty((n, m)), np.empty((n, m))
    creep, creep_var, cov = np.zeros((n, m)), np.zeros((n, m)), np.zeros((n, m))
    information = gg + sizes.change_information
    alone_var = np.divide(_ONE, information, out=change_var[0])
    alone = np.multiply(gy, alone_var, out=change[0])
    first = np.multiply(gy, alone, out=evidence[0])
    information *= sizes.change_var
    first -= np.log(information)
    for k, (slow_gg, slow_gy) in enumerate(zip(slow[0].tolist(), slow[1].tolist(), strict=True), 1):
        shared = cross[k - 1]
        lean = shared * alone_var
        number[()] = slow_gg + 1.0 / sizes.creep_var
        schur = number - shared * lean
        size_var = np.divide(_ONE, schur, out=creep_var[k])
        number[()] = slow_gy
        beyond = number - lean * gy
        size = np.multiply(beyond, size_var, out=creep[k])
        beyond *= size
        schur *= creep_size
        beyond -= np.log(schur)
        np.add(first, beyond, out=evidence[k])
        np.subtract(alone, lean * size, out=change[k])
        lean_var = lean * size_var
        np.negative(lean_var, out=cov[k])
        lean_var *= lean
        np.add(alone_var, lean_var, out=change_var[k])
    number[()] = 0.5 / temper
    evidence *= number
    w = evidence + prior_log
    number[()] = _max(w, axis=None)
    w -= number
    # Smaller weights do not count, and subnormal numbers are slow.
    np.maximum(w, _LEAST_LOG, out=w)
    np.exp(w, out=w)
    number[()] = _sum(w, axis=None)
    w /= number
    best = int(w.argmax())
    return Posterior(evidence, w, change, change_var, creep, creep_var, cov, (best // m, best % m))
