"""Vapour pressure of water at temperatures that the settings keep inside its equations."""

from chargeassist.model.values import NoValue
from chargeassist.physics.water_vapour import (
    saturation_pressure_pa_abs,
    saturation_slope_pa_per_k,
)


def vapour_pa_abs(temp_k: float) -> float:
    """Return the vapour pressure of water or ice [Pa absolute].

    Raises
    ------
    AssertionError
        The temperature is outside the equations: an error of the program.
    """
    return _known(saturation_pressure_pa_abs(temp_k))


def vapour_slope_pa_per_k(temp_k: float) -> float:
    """Return how it rises with temperature [Pa/K]; raises as `vapour_pa_abs`."""
    return _known(saturation_slope_pa_per_k(temp_k))


def _known(value: float | NoValue) -> float:
    if isinstance(value, float):
        return value
    raise AssertionError(value.reason)
