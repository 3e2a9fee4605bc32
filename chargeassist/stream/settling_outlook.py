"""What is still to come: the settled value and the seconds to go, each with a 90 % interval."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargeassist.stream.settling_bank import TransientBank

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
_LEAST_WEIGHT = 1.0e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """Settled value and time to go; each with the bounds of a 90 % interval.

    Attributes
    ----------
    forecast_k, forecast_low_k, forecast_high_k : float
        Where the reading is going to settle [K].
    seconds_to_go, seconds_to_go_low, seconds_to_go_high : float
        Time until the remaining change stays inside the band and its slope inside the limit [s].
    """

    forecast_k: float
    forecast_low_k: float
    forecast_high_k: float
    seconds_to_go: float
    seconds_to_go_low: float
    seconds_to_go_high: float


def _quantiles(value: Floats, weight: Floats, at: tuple[float, ...]) -> list[float]:
    order = np.argsort(value, kind="stable")
    v, w = value[order], np.cumsum(weight[order])
    middle = w - 0.5 * weight[order]
    return [float(np.interp(q * w[-1], middle, v)) for q in at]


def outlook(
    bank: TransientBank, *, band_k: float, slope_k_per_s: float, widen: float
) -> Outlook | None:
    """Return the outlook of a bank, or None when it has seen nothing yet.

    Parameters
    ----------
    bank : TransientBank
        The hypotheses and their weights.
    band_k : float
        Remaining change that counts as settled [K].
    slope_k_per_s : float
        Slope of the transient that counts as settled [K/s].
    widen : float
        Factor on the standard deviations, from the calibration test [-].
    """
    if bank.t is None:
        return None
    age = bank.t - bank.onset_t
    belief, m = bank.belief, bank.m
    row, shape = np.nonzero(belief.weights > _LEAST_WEIGHT)
    pick = (row, shape)
    w, d, v = belief.weights[pick], belief.change[pick], belief.change_var[pick]
    a, av, cov = belief.creep[pick], belief.creep_var[pick], belief.cov[pick]
    # Given the sizes, the level is x - X d - C a and the settled value that plus d + a.
    slow = m + np.maximum(row - 1, 0)
    lever, slow_lever = 1.0 - bank.response[0, shape], 1.0 - bank.response[0, slow]
    mean = bank.noise.x[0] + lever * d + slow_lever * a
    spread = lever * lever * v + slow_lever * slow_lever * av + 2.0 * lever * slow_lever * cov
    sd = np.sqrt(bank.noise.p[0][0] + np.maximum(spread, 0.0)) * widen
    n = _NODES.size
    values = (mean[:, None] + sd[:, None] * _NODES).ravel()
    weights = np.repeat(w / n, n)
    low, mid, high = _quantiles(values, weights, (0.05, 0.5, 0.95))
    sizes = d[:, None] + (np.sqrt(v) * widen)[:, None] * _NODES
    settled = bank.shapes.settled_age_s(shape, sizes, band_k, slope_k_per_s)
    late = row > 0
    if late.any():
        sizes = a[late, None] + (np.sqrt(av[late]) * widen)[:, None] * _NODES
        crept = bank.shapes.settled_age_s(slow[late], sizes, band_k, slope_k_per_s)
        settled[late] = np.maximum(settled[late], crept)
    to_go = np.maximum(settled - age, 0.0).ravel()
    t_low, t_mid, t_high = _quantiles(to_go, weights, (0.05, 0.5, 0.95))
    return Outlook(
        forecast_k=mid,
        forecast_low_k=low,
        forecast_high_k=high,
        seconds_to_go=t_mid,
        seconds_to_go_low=t_low,
        seconds_to_go_high=t_high,
    )


class OutlookNumbers:
    """The numbers of an outlook one by one; each is None before there is one."""

    def _look(self) -> Outlook | None:
        raise NotImplementedError

    @property
    def forecast_k(self) -> float | None:
        """Where the reading is going to settle [K]."""
        look = self._look()
        return None if look is None else look.forecast_k

    @property
    def forecast_low_k(self) -> float | None:
        """Lower end of the 90 % interval of the settled value [K]."""
        look = self._look()
        return None if look is None else look.forecast_low_k

    @property
    def forecast_high_k(self) -> float | None:
        """Upper end of the 90 % interval of the settled value [K]."""
        look = self._look()
        return None if look is None else look.forecast_high_k

    @property
    def seconds_to_go(self) -> float | None:
        """Time until band and slope limit are kept for good [s]."""
        look = self._look()
        return None if look is None else look.seconds_to_go

    @property
    def seconds_to_go_low(self) -> float | None:
        """Lower end of the 90 % interval of the time to go [s]."""
        look = self._look()
        return None if look is None else look.seconds_to_go_low

    @property
    def seconds_to_go_high(self) -> float | None:
        """Upper end of the 90 % interval of the time to go [s]."""
        look = self._look()
        return None if look is None else look.seconds_to_go_high
