"""Vapour pressure of liquid water and of ice, and how it rises with temperature.

What evacuation is judged by: in a circuit with water in it, pressure cannot stay below the vapour
pressure of that water; under the triple point there is no liquid, only ice and vapour.
"""

import math
from typing import Final

from chargeassist.model.values import NoValue

TRIPLE_POINT_K: Final = 273.16
TRIPLE_POINT_PA_ABS: Final = 611.657
"""Where ice, liquid and vapour meet: 4 588 microns (IAPWS R6-95, table 1; R14-08, table 1)."""

COLDEST_ICE_K: Final = 190.0
"""End of the ice line here [K]: 0.032 Pa, a quarter of a micron."""

COLDEST_LIQUID_K: Final = 243.15
"""Liquid below the triple point is supercooled; the equation is held to this far down [K]."""

WARMEST_K: Final = 423.15
"""End of the liquid line here [K]: above what a circuit or the oil of a pump reaches."""

MOLAR_MASS_KG: Final = 0.018015268
"""Of water [kg/mol] (IAPWS R6-95)."""

_CRITICAL_K: Final = 647.096
_CRITICAL_PA_ABS: Final = 22.064e6
_LIQUID: Final = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)
_ICE: Final = (
    (-21.2144006, 0.00333333333),
    (27.3203819, 1.20666667),
    (-6.10598130, 1.70333333),
)


def liquid_pressure_pa_abs(temp_k: float) -> float | NoValue:
    """Return the vapour pressure of liquid water [Pa absolute].

    Parameters
    ----------
    temp_k : float
        243.15 to 423.15 [K]. Below 273.16 K the liquid is supercooled and the equation is
        extrapolated: within 1.5 % of the supercooled-water equation of Murphy and Koop.

    Returns
    -------
    float or NoValue
        [Pa absolute].

    References
    ----------
    .. [1] IAPWS SR1-86(1992), Revised Supplementary Release on Saturation Properties of Ordinary
       Water Substance, equation 1; W. Wagner, A. Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783.
    """
    if not COLDEST_LIQUID_K <= temp_k <= WARMEST_K:
        return NoValue(f"{temp_k:.4g} K is outside the table of liquid water (243 to 423 K)")
    return _liquid_pa(temp_k)


def ice_pressure_pa_abs(temp_k: float) -> float | NoValue:
    """Return the vapour pressure of ice [Pa absolute].

    Parameters
    ----------
    temp_k : float
        190 to 273.16 [K].

    Returns
    -------
    float or NoValue
        [Pa absolute].

    References
    ----------
    .. [1] IAPWS R14-08(2011), Revised Release on the Pressure along the Melting and Sublimation
       Curves of Ordinary Water Substance, equation 6.
    """
    if not COLDEST_ICE_K <= temp_k <= TRIPLE_POINT_K:
        return NoValue(f"{temp_k:.4g} K is outside the table of ice (190 to 273.16 K)")
    return _ice_pa(temp_k)


def saturation_pressure_pa_abs(temp_k: float) -> float | NoValue:
    """Return the vapour pressure of water as it is at this temperature [Pa absolute].

    Over ice up to the triple point, over liquid above; see `ice_pressure_pa_abs` and
    `liquid_pressure_pa_abs`.
    """
    if temp_k <= TRIPLE_POINT_K:
        return ice_pressure_pa_abs(temp_k)
    return liquid_pressure_pa_abs(temp_k)


def saturation_slope_pa_per_k(temp_k: float) -> float | NoValue:
    """Return how the vapour pressure rises with temperature [Pa/K], on the line of that side."""
    pressure = saturation_pressure_pa_abs(temp_k)
    if isinstance(pressure, NoValue):
        return pressure
    return pressure * _log_slope_per_k(temp_k, icy=temp_k <= TRIPLE_POINT_K)


def _liquid_pa(temp_k: float) -> float:
    tau = 1.0 - temp_k / _CRITICAL_K
    total = 0.0
    for factor, power in _LIQUID:
        total += factor * tau**power
    return _CRITICAL_PA_ABS * math.exp(total * _CRITICAL_K / temp_k)


def _ice_pa(temp_k: float) -> float:
    theta = temp_k / TRIPLE_POINT_K
    total = 0.0
    for factor, power in _ICE:
        total += factor * theta**power
    return TRIPLE_POINT_PA_ABS * math.exp(total / theta)


def _log_slope_per_k(temp_k: float, *, icy: bool) -> float:
    """Return d(ln p)/dT [1/K], from the derivative of either equation."""
    total = slope = 0.0
    if icy:
        theta = temp_k / TRIPLE_POINT_K
        for factor, power in _ICE:
            total += factor * theta**power
            slope += factor * power * theta ** (power - 1.0)
        return (slope / theta - total / (theta * theta)) / TRIPLE_POINT_K
    tau = 1.0 - temp_k / _CRITICAL_K
    for factor, power in _LIQUID:
        total += factor * tau**power
        slope += factor * power * tau ** (power - 1.0)
    return -(slope + total * _CRITICAL_K / temp_k) / temp_k
