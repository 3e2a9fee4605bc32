"""Density of refrigerant vapour: the few grams that stand in a suction line."""

import math
from typing import Final

from chargeassist.model.values import NoValue
from chargeassist.physics.nitrogen import GAS_CONSTANT
from chargeassist.physics.saturation import Refrigerant

HIGHEST_REDUCED: Final = 0.6
"""Share of the critical pressure to which the fit holds [-]."""

_FITS: Final[dict[str, tuple[float, float, float, float]]] = {
    "R-22": (86.468, -0.8124, 0.3901, -0.1593),
    "R-32": (52.024, -1.1094, 0.7256, -0.2546),
    "R-134a": (102.032, -0.8513, 0.4302, -0.1733),
    "R-290": (44.096, -0.7385, 0.3090, -0.1436),
    "R-404A": (97.604, -0.8980, 0.4973, -0.2080),
    "R-407A": (90.111, -0.8884, 0.4832, -0.1933),
    "R-407C": (86.204, -0.9054, 0.5038, -0.1967),
    "R-407F": (82.058, -0.9235, 0.5221, -0.2013),
    "R-407H": (79.099, -0.9293, 0.5274, -0.2004),
    "R-410A": (72.585, -1.0610, 0.6898, -0.2559),
    "R-417A": (106.746, -0.7986, 0.3726, -0.1651),
    "R-421A": (111.746, -0.7907, 0.3647, -0.1644),
    "R-422B": (108.518, -0.7831, 0.3546, -0.1604),
    "R-422D": (109.935, -0.7717, 0.3421, -0.1570),
    "R-427A": (90.444, -0.8840, 0.4745, -0.1900),
    "R-434A": (105.737, -0.8135, 0.3923, -0.1723),
    "R-448A": (86.283, -0.8938, 0.4921, -0.1975),
    "R-449A": (87.213, -0.8967, 0.4967, -0.1963),
    "R-450A": (108.669, -0.7867, 0.3509, -0.1505),
    "R-452A": (103.511, -0.8228, 0.4181, -0.1789),
    "R-452B": (63.525, -1.0534, 0.6729, -0.2440),
    "R-454A": (80.468, -0.9101, 0.5153, -0.2059),
    "R-454B": (62.614, -1.0506, 0.6684, -0.2432),
    "R-454C": (90.776, -0.8618, 0.4587, -0.1908),
    "R-455A": (87.453, -0.8493, 0.4438, -0.1859),
    "R-459A": (62.985, -1.0288, 0.6397, -0.2367),
    "R-466A": (80.690, -1.0745, 0.7035, -0.2555),
    "R-507A": (98.859, -0.8986, 0.4996, -0.2090),
    "R-513A": (108.426, -0.8094, 0.3839, -0.1599),
    "R-515B": (117.485, -0.7330, 0.2842, -0.1292),
    "R-600a": (58.122, -0.7273, 0.2939, -0.1391),
    "R-744": (44.010, -0.7442, 0.3123, -0.1437),
    "R-1234yf": (114.042, -0.7737, 0.3366, -0.1478),
    "R-1234ze(E)": (114.042, -0.7301, 0.2807, -0.1269),
    "R-1270": (42.080, -0.7500, 0.3194, -0.1426),
}
"""Molar mass [g/mol] and a, b, c of the compressibility at the dew point (see Notes below)."""


def molar_mass_kg(refrigerant: Refrigerant) -> float | NoValue:
    """Return the molar mass [kg/mol], as of CoolProp 8."""
    fit = _FITS.get(refrigerant.name)
    return NoValue(f"no molar mass of {refrigerant.name}") if fit is None else fit[0] * 1e-3


def vapour_density_kg_per_m3(
    refrigerant: Refrigerant, pressure_pa_abs: float, temp_k: float | None = None
) -> float | NoValue:
    """Return the density of vapour at its dew point, or superheated [kg/m3].

    Parameters
    ----------
    refrigerant : Refrigerant
    pressure_pa_abs : float
        [Pa absolute].
    temp_k : float or None
        None for the dew point; colder than the dew point counts as the dew point [K].

    Returns
    -------
    float or NoValue
        `NoValue` where there is no dew point, and above 0.6 of the critical pressure.

    Notes
    -----
    ``Z = 1 + a r^0.75 + b r + c r^2`` with r the share of the critical pressure, fitted by this
    project to CoolProp 8: within 0.15 % at the dew point. Superheated vapour takes
    ``1 - (1 - Z) (T_dew / T)^5`` for its compressibility: within 1.5 % to 30 K of superheat for
    common refrigerants below 1.5 MPa.
    """
    dew_k = refrigerant.dew_temp_k(pressure_pa_abs)
    if isinstance(dew_k, NoValue):
        return dew_k
    fit = _FITS.get(refrigerant.name)
    if fit is None:
        return NoValue(f"no vapour density of {refrigerant.name}")
    reduced = pressure_pa_abs / refrigerant.critical_pressure_pa_abs
    if reduced > HIGHEST_REDUCED:
        return NoValue("the pressure is too near the critical point for the vapour density")
    gram, a, b, c = fit
    missing = -(a * math.pow(reduced, 0.75) + b * reduced + c * reduced * reduced)
    at_k = dew_k if temp_k is None else max(temp_k, dew_k)
    compressibility = 1.0 - missing * math.pow(dew_k / at_k, 5.0)
    return pressure_pa_abs * 1e-3 * gram / (GAS_CONSTANT * at_k * compressibility)
