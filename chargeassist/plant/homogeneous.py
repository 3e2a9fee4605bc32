"""Pressure of a well-mixed volume: what is left when the zones of a heat exchanger are no more."""

import math
from typing import Final

from chargeassist.plant.property_table import (
    FARTHEST_LIQUID_J_PER_KG,
    FARTHEST_VAPOUR_J_PER_KG,
    Fluid,
)

FIRST_BRACKET: Final = 1e-3
"""First distance looked at beside the guess [ln Pa]."""

CLOSE: Final = 1e-10
"""Relative miss of the density that ends the search."""

MOST_STEPS: Final = 60


def mixed_pressure_pa_abs(
    fluid: Fluid, mass_kg: float, energy_j: float, volume_m3: float, guess_pa_abs: float
) -> float:
    """Return the pressure at which a mass with an internal energy fills a volume [Pa absolute].

    Mass and energy fix the state of a well-mixed volume; its density rises with the pressure tried,
    so the root is bracketed and closed in on. Held at the ends of the table. Meant for contents
    with vapour among them; the table's liquid is not compressed by pressure.

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

    left = right = math.log(guess_pa_abs)
    f_left = f_right = density_miss(left)
    width = FIRST_BRACKET
    while f_left > 0.0 and left > low:
        left, right, f_right = max(low, left - width), left, f_left
        f_left = density_miss(left)
        width *= 4.0
    while f_right < 0.0 and right < high:
        left, right, f_left = right, min(high, right + width), f_right
        f_right = density_miss(right)
        width *= 4.0
    if f_left >= 0.0 or f_right <= 0.0:  # exact, or held at an end of the table
        return math.exp(left if f_left >= 0.0 else right)
    # False position with the Illinois rule: an end that stays twice counts half.
    side = 0
    middle = left
    for _ in range(MOST_STEPS):
        middle = (left * f_right - right * f_left) / (f_right - f_left)
        f = density_miss(middle)
        if abs(f) < CLOSE * wanted:
            break
        if f > 0.0:
            right, f_right = middle, f
            if side > 0:
                f_left *= 0.5
            side = 1
        else:
            left, f_left = middle, f
            if side < 0:
                f_right *= 0.5
            side = -1
    return math.exp(middle)


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
