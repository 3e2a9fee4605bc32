"""What discharge temperature the pressures and the suction state call for.

A rise of temperature far above the isentropic one means that work goes into gas that is compressed
twice: valves or scrolls that leak. The rise does not depend on size, so no maker's table is needed.
"""

import math
from typing import Final

from chargeassist.model.values import NoValue

RISE_EXPONENT: Final = {
    "R-22": 0.145,
    "R-32": 0.175,
    "R-134a": 0.100,
    "R-407C": 0.1175,
    "R-410A": 0.140,
    "R-454B": 0.150,
}
"""n in ``T1 ((p2 / p1)^n - 1) / eta = T2 - T1``, fitted to the enthalpies of CoolProp 8 for dew
points of 270 to 286 K, superheats of 3 to 30 K, condensing at 300 to 330 K and eta of 0.5 to 0.85.
The eta it gives is off by 0.09 at worst, by 0.05 at 0.7 (`tests/reference/test_compression.py`).
Other refrigerants have none yet."""

LEAST_RATIO: Final = 1.3
"""Pressures nearer to each other are not those of a running compressor [1] (assumption)."""


def compression_rise_k(
    refrigerant: str, suction_k: float, low_pa_abs: float, high_pa_abs: float, efficiency: float
) -> float | NoValue:
    """Return how much warmer the gas leaves the compressor than it enters it [K].

    Parameters
    ----------
    refrigerant : str
        Designation, "R-32".
    suction_k : float
        Of the gas at the compressor [K].
    low_pa_abs, high_pa_abs : float
        Suction and discharge pressure [Pa absolute].
    efficiency : float
        Isentropic work over enthalpy rise [1].

    Returns
    -------
    float or NoValue
        `NoValue` for a refrigerant without an exponent, or pressures that are not apart.
    """
    exponent = RISE_EXPONENT.get(refrigerant)
    if exponent is None:
        return NoValue(f"no exponent of compression is known for {refrigerant}")
    if not (low_pa_abs > 0.0 and high_pa_abs >= LEAST_RATIO * low_pa_abs):
        return NoValue("the pressures are not far enough apart for a running compressor")
    return suction_k * (math.pow(high_pa_abs / low_pa_abs, exponent) - 1.0) / efficiency
