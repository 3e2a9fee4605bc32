"""What water and ice at the coldest place of a circuit make of a level below or at a limit."""

from typing import Final

from chargeassist.model.values import NoValue
from chargeassist.physics import water_vapour
from chargeassist.physics.vacuum_gauge import GaugeLimits

SATURATION_BAND: Final = (0.85, 1.15)
"""A level is that of water or ice between these shares of its saturation pressure, the upper one
times what the gauge shows too much [1] (assumption)."""

ICE_MARGIN: Final = 1.5
"""Ice hides below a limit unless its vapour pressure is this many times the limit [1]
(assumption)."""


def at_saturation(
    level: float, level_u: float, coldest_k: float | None, gauge: GaugeLimits
) -> bool:
    """Return whether a level is that of water or ice at the coldest place.

    Parameters
    ----------
    level, level_u : float
        Where the rise levels off, and its standard uncertainty [Pa absolute], [Pa].
    coldest_k : float or None
        Coldest metal of the circuit, where it is known [K].
    gauge : GaugeLimits
    """
    if coldest_k is None:
        return False
    own = water_vapour.saturation_pressure_pa_abs(coldest_k)
    if isinstance(own, NoValue):
        return False
    least, most = SATURATION_BAND
    highest = most * gauge.water_most * own
    return least * own <= level + 2.0 * level_u and level - 2.0 * level_u <= highest


def ice_hides(coldest_k: float | None, limit_pa: float) -> bool:
    """Return whether ice at the coldest place [K] could stand below a limit [Pa] for ever."""
    if coldest_k is None:
        return False
    own = water_vapour.saturation_pressure_pa_abs(coldest_k)
    if isinstance(own, NoValue):
        return coldest_k < water_vapour.COLDEST_ICE_K
    return own < ICE_MARGIN * limit_pa
