"""The outlook: the settled value and the seconds to go, each with a 90 % interval."""

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from chargeassist.stream.settling_bank import TransientBank
from chargeassist.stream.settling_posterior import Posterior

Floats = NDArray[np.float64]

# Midpoints of ten equally likely parts of the standard normal distribution (NIST/SEMATECH
# e-Handbook of Statistical Methods, 1.3.6.6.1, inverse of the distribution function).
_NODES: Floats = np.array(
    [
        -1.6448536,
        -1.0364334,
        -0.6744898,
        -0.3853205,
        -0.1256613,
        0.1256613,
        0.3853205,
        0.6744898,
        1.0364334,
        1.6448536,
    ]
)
WIDEN: Final = 1.2
"""Factor on the standard deviations of a forecast, from the test of its calibration [-]."""
_LEAST_WEIGHT = 1.0e-4
_TAIL = 0.05
_POINTS: Floats = np.array([0.5, _TAIL, 1.0 - _TAIL])
_POINTS_FROM_FLOOR: Floats = np.array([0.5, _TAIL, 1.0 - 2.0 * _TAIL])
_PARTS = 2048
_UPTO: Floats = np.arange(1.0, _PARTS + 2.0) / _PARTS


class Interval(NamedTuple):
    """A value with the bounds of its 90 % interval."""

    value: float
    low: float
    high: float


def interval(value: Floats, weight: Floats, *, floor: float = -math.inf) -> Interval:
    """Return the weighted median and the interval that holds 90 % of the weight.

    5 % lie outside on either side. Where 5 % and more lie on the floor, nothing lies below the
    interval, which then begins on the floor, and 10 % lie above: with 5 % it would hold 95 %.

    Parameters
    ----------
    value, weight : ndarray, shape (n,)
        The values, unsorted, and their weights; ends are found to a 2048th of the range.
    floor : float
        No value lies below it, many may lie on it.
    """
    low = float(value.min())
    span = float(value.max()) - low
    if span <= 0.0:
        return Interval(low, low, low)
    part = ((value - low) * (_PARTS / span)).astype(np.intp)
    below = np.cumsum(np.bincount(part, weight, _PARTS + 1))
    on_floor = float(weight[value <= floor].sum() / below[-1])
    points = _POINTS if on_floor < _TAIL else _POINTS_FROM_FLOOR
    found = np.interp(points * below[-1], below, _UPTO)
    found[points <= on_floor] = 0.0
    return Interval(*(low + span * each for each in found.tolist()))


def settled_value_k(bank: TransientBank) -> Interval:
    """Return the value at which the reading will settle [K].

    Parameters
    ----------
    bank : TransientBank
        The hypotheses and their weights.
    """
    belief = bank.belief
    pick = row, shape = np.nonzero(belief.weights > _LEAST_WEIGHT)
    d, v = belief.change[pick], belief.change_var[pick]
    a, av, cov = belief.creep[pick], belief.creep_var[pick], belief.cov[pick]
    # Given the sizes d and a, the level is x - X d - C a, and the settled value d + a more.
    slow = bank.m + np.maximum(row - 1, 0)
    level = bank.responses.response[0]
    lever, slow_lever = 1.0 - level[shape], 1.0 - level[slow]
    mean = bank.noise.x[0] + lever * d + slow_lever * a
    spread = lever * lever * v + slow_lever * slow_lever * av + 2.0 * lever * slow_lever * cov
    sd = np.sqrt(bank.noise.p[0][0] + np.maximum(spread, 0.0)) * WIDEN
    values = mean[:, None] + sd[:, None] * _NODES
    return interval(values.ravel(), np.repeat(belief.weights[pick], _NODES.size))


def seconds_to_go(bank: TransientBank, *, band_k: float, slope_k_per_s: float) -> Interval:
    """Return the time until the remaining change stays inside the band and the slope limit [s].

    Parameters
    ----------
    bank : TransientBank
        The hypotheses and their weights; it has taken a reading.
    band_k : float
        Remaining change that counts as settled [K].
    slope_k_per_s : float
        Slope of the transient that counts as settled [K/s].
    """
    assert bank.t is not None  # noqa: S101 - checked by the caller
    belief, age_s = bank.belief, bank.t - bank.onset_t
    pick = row, shape = np.nonzero(belief.weights > _LEAST_WEIGHT)
    sizes = belief.change[pick][:, None] + _widths(belief.change_var[pick])
    settled = bank.shapes.settled_age_s(shape, sizes, band_k, slope_k_per_s)
    late = row > 0
    if late.any():
        a, av = belief.creep[pick][late], belief.creep_var[pick][late]
        sizes = a[:, None] + _widths(av)
        crept = bank.shapes.settled_age_s(bank.m + row[late] - 1, sizes, band_k, slope_k_per_s)
        settled[late] = np.maximum(settled[late], crept)
    to_go = np.maximum(settled - age_s, 0.0)
    return interval(to_go.ravel(), np.repeat(belief.weights[pick], _NODES.size), floor=0.0)


def _widths(var: Floats) -> Floats:
    """Return deviations at the nodes for variances of shape (k,), shape (k, 10)."""
    widths: Floats = (np.sqrt(var) * WIDEN)[:, None] * _NODES
    return widths


class OutlookNumbers:
    """The numbers of an outlook; each is None before the first reading.

    They are computed on demand and kept until the next reading, because few readings need them.
    """

    def __init__(self, *, band_k: float, slope_k_per_s: float) -> None:
        self.band_k = band_k
        self._slope_limit_k_per_s = slope_k_per_s
        self._value: tuple[Posterior, Interval] | None = None
        self._to_go: tuple[Posterior, Interval] | None = None

    @property
    def _seen(self) -> TransientBank | None:
        """The bank, once it has taken a reading."""
        raise NotImplementedError

    def _settles_at(self) -> Interval | None:
        bank = self._seen
        if bank is None:
            return None
        # Each posterior belongs to one reading and one onset.
        if self._value is None or self._value[0] is not bank.belief:
            self._value = bank.belief, settled_value_k(bank)
        return self._value[1]

    def _settles_in(self) -> Interval | None:
        bank = self._seen
        if bank is None:
            return None
        if self._to_go is None or self._to_go[0] is not bank.belief:
            limits = {"band_k": self.band_k, "slope_k_per_s": self._slope_limit_k_per_s}
            self._to_go = bank.belief, seconds_to_go(bank, **limits)
        return self._to_go[1]

    @property
    def forecast_k(self) -> float | None:
        """Value at which the reading will settle [K]."""
        found = self._settles_at()
        return None if found is None else found.value

    @property
    def forecast_low_k(self) -> float | None:
        """Lower end of the 90 % interval of the settled value [K]."""
        found = self._settles_at()
        return None if found is None else found.low

    @property
    def forecast_high_k(self) -> float | None:
        """Upper end of the 90 % interval of the settled value [K]."""
        found = self._settles_at()
        return None if found is None else found.high

    @property
    def seconds_to_go(self) -> float | None:
        """Time until the reading stays within band and slope limit [s]."""
        found = self._settles_in()
        return None if found is None else found.value

    @property
    def seconds_to_go_low(self) -> float | None:
        """Lower end of the 90 % interval of the time to go [s]."""
        found = self._settles_in()
        return None if found is None else found.low

    @property
    def seconds_to_go_high(self) -> float | None:
        """Upper end of the 90 % interval of the time to go [s]."""
        found = self._settles_in()
        return None if found is None else found.high
