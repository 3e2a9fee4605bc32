"""How much of a tube with boiling or condensing refrigerant is vapour."""

import math
from typing import Final

THIN: Final = 1e-6
"""Quality interval below which the mean is taken at its beginning [1]."""


def mean_void(slip: float, quality_low: float, quality_high: float) -> float:
    """Return the mean Zivi void fraction between two qualities [m3/m3].

    Quality is taken linear along the tube; the integral is then closed. A numerical quadrature in
    the reference tests checks it.

    Parameters
    ----------
    slip : float
        (rho_vapour / rho_liquid)^(2/3), below 1.
    quality_low, quality_high : float
        Mass shares of vapour at the two ends, low <= high [kg/kg].

    References
    ----------
    .. [1] S. M. Zivi, Estimation of steady-state steam void-fraction by means of the principle of
       minimum entropy production, J. Heat Transfer 86 (1964) 247-252 (from memory).
    """
    rest = 1.0 - slip
    width = quality_high - quality_low
    if width < THIN:
        return quality_low / (slip + rest * quality_low)
    ratio = (slip + rest * quality_high) / (slip + rest * quality_low)
    return 1.0 / rest - slip / (rest * rest) * math.log(ratio) / width
