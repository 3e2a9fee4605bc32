"""Pressure of a well-mixed volume: what is left when the zones of a heat exchanger are no more."""

import math

from chargeassist.plant.property_table import (
    FARTHEST_LIQUID_J_PER_KG,
    FARTHEST_VAPOUR_J_PER_KG,
    Fluid,
)


def mixed_pressure_pa_abs(
    fluid: Fluid, mass_kg: float, energy_j: float, volume_m3: float, guess_pa_abs: float
) -> float:
    """Return the pressure at which a mass with an internal energy fills a volume [Pa absolute].

    Mass and energy fix the state of a well-mixed volume; its density rises with the pressure tried,
    so the root is bracketed and halved. Held at the ends of the table.

    Parameters
    ----------
    fluid : Fluid
    mass_kg, energy_j, volume_m3 : float
        Contents and size [kg], [J], [m3].
    guess_pa_abs : float
        Where to begin [Pa absolute].
    """
    wanted = mass_kg / volume_m3
    low, high = math.log(fluid.low_pa_abs), math.log(fluid.high_pa_abs)

    def density_miss(log_p: float) -> float:
        p = math.exp(log_p)
        s = fluid.state(p)
        h = (energy_j + p * volume_m3) / mass_kg
        return mixed_density_kg_per_m3(s, h) - wanted

    start = math.log(guess_pa_abs)
    left, right = max(low, start - 0.02), min(high, start + 0.02)
    while left > low and density_miss(left) > 0.0:
        left = max(low, left - 4.0 * (right - left))
    while right < high and density_miss(right) < 0.0:
        right = min(high, right + 4.0 * (right - left))
    for _ in range(40):
        middle = 0.5 * (left + right)
        if density_miss(middle) > 0.0:
            right = middle
        else:
            left = middle
    return math.exp(0.5 * (left + right))


def mixed_density_kg_per_m3(s: tuple[float, ...], enthalpy_j_per_kg: float) -> float:
    """Return the density of an equilibrium state at the row `s` of the property table [kg/m3]."""
    d = enthalpy_j_per_kg - s[3]
    if d >= 0.0:
        d = min(d, FARTHEST_VAPOUR_J_PER_KG)
        return s[5] / (1.0 + ((s[11] * d + s[10]) * d + s[9]) * d)
    below = s[2] - enthalpy_j_per_kg
    if below >= 0.0:
        below = min(below, FARTHEST_LIQUID_J_PER_KG)
        return s[4] * (1.0 + (s[15] * below + s[14]) * below)
    x = (enthalpy_j_per_kg - s[2]) / (s[3] - s[2])
    return 1.0 / (x / s[5] + (1.0 - x) / s[4])
