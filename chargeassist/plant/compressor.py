"""Variable-speed compressor: a ten-coefficient map, scaled in size, frequency and suction state."""

from typing import Final

from chargeassist.model.units import (
    KILOGRAM_PER_POUND,
    fahrenheit_from_kelvin,
    kelvin_from_fahrenheit,
)
from chargeassist.plant.property_table import (
    FARTHEST_VAPOUR_J_PER_KG,
    Fluid,
    distance_of_superheat,
)
from chargeassist.plant.reference_compressor import MAP_SUPERHEAT_K, polynomial
from chargeassist.plant.unit import Unit

KILOGRAM_PER_S_PER_POUND_PER_H: Final = KILOGRAM_PER_POUND / 3600.0
DENSITY_SHARE: Final = 0.75
"""Share of a suction density change that the flow follows (AHRI 540 practice; from memory)."""

WETTEST_DENSITY: Final = 1.12
"""Liquid in the suction gas flashes on the warm body: it adds no more to the flow than this."""

LOWEST_SUCTION_F: Final = -10.0
HIGHEST_SUCTION_F: Final = 65.0
HIGHEST_DISCHARGE_F: Final = 165.0
LEAST_LIFT_F: Final = 20.0
"""Dew temperatures at which the polynomials are held, and the least difference of the two [°F];
beyond, flow and power go with suction density alone."""

SLOWEST_SHARE: Final = 0.2
"""Of the base frequency; below it the loss of flow is held [1]."""


class Compressor:
    """Flow and power at given suction and discharge states.

    Parameters
    ----------
    fluid : Fluid
    unit : Unit

    Attributes
    ----------
    leakage : float
        Share of the flow that slips back through its valves [1].
    dew_k, suction_k : float
        Dew point and temperature of what it drew last [K].
    """

    __slots__ = (
        "_fluid", "_specific_held_high", "_specific_held_low", "_unit", "dew_k", "leakage",
        "suction_k",
    )  # fmt: skip

    def __init__(self, fluid: Fluid, unit: Unit) -> None:
        self._fluid = fluid
        self._unit = unit
        self._specific_held_low = self._map_specific_m3_per_kg(LOWEST_SUCTION_F)
        self._specific_held_high = self._map_specific_m3_per_kg(HIGHEST_SUCTION_F)
        self.leakage = 0.0
        self.dew_k = self.suction_k = 280.0

    def _map_specific_m3_per_kg(self, dew_f: float) -> float:
        dew_k = kelvin_from_fahrenheit(dew_f)
        # The bubble pressure of a warmer state has this dew point; two corrections suffice.
        p = self._fluid.bubble_pressure_pa_abs(dew_k)
        for _ in range(4):
            s = self._fluid.state(p)
            p = self._fluid.bubble_pressure_pa_abs(s[0] + dew_k - s[1])
        s = self._fluid.state(p)
        d = distance_of_superheat(s[6], s[7], s[8], MAP_SUPERHEAT_K)
        return (1.0 + ((s[11] * d + s[10]) * d + s[9]) * d) / s[5]

    def run(
        self,
        suction_pa_abs: float,
        discharge_pa_abs: float,
        suction_j_per_kg: float,
        share: float,
    ) -> tuple[float, float]:
        """Return mass flow [kg/s] and shaft power [W]; sets the suction temperatures.

        Parameters
        ----------
        suction_pa_abs, discharge_pa_abs : float
            At the compressor [Pa absolute].
        suction_j_per_kg : float
            Of what it draws [J/kg].
        share : float
            Frequency over the base frequency, above 0 [1].
        """
        row, w = self._fluid.row_at(discharge_pa_abs)
        discharge_f = fahrenheit_from_kelvin(row[2] + w * row[3])
        specific, specific_map = self._draw(suction_pa_abs, suction_j_per_kg)
        density = specific_map / specific if specific > 0.0 else WETTEST_DENSITY
        if density > WETTEST_DENSITY or density <= 0.0:
            density = WETTEST_DENSITY
        factor = 1.0 + DENSITY_SHARE * (density - 1.0)
        suction_f, discharge_f, held = self._on_the_map(discharge_f, specific_map)
        slow = share if share > SLOWEST_SHARE else SLOWEST_SHARE
        unit, fluid = self._unit, self._fluid
        size = unit.displacement * share * held * factor
        flow = (
            polynomial(fluid.flow_map, suction_f, discharge_f)
            * KILOGRAM_PER_S_PER_POUND_PER_H
            * size
            * (1.0 + unit.flow_loss * (1.0 - 1.0 / slow))
            * (1.0 - self.leakage)
        )
        off_base = share - 1.0
        power = (
            polynomial(fluid.power_map, suction_f, discharge_f)
            * size
            / density
            * (1.0 + unit.power_rise * off_base * off_base)
            * (1.0 - 0.1 * self.leakage)
        )
        return flow, power

    def _draw(self, pressure_pa_abs: float, j_per_kg: float) -> tuple[float, float]:
        """Return the volume of what it draws, and at the superheat of its map [m3/kg].

        Sets the suction temperatures.
        """
        row, w = self._fluid.row_at(pressure_pa_abs)
        (_, _, td, dtd, hl, dhl, hg, dhg, rl, drl, rg, drg, a1, da1, a2, da2, a3, da3,
         c1, dc1, c2, dc2, c3, dc3, _, _, _, _, _, _, _, _) = row  # fmt: skip
        td += w * dtd
        hg += w * dhg
        rg += w * drg
        a1 += w * da1
        a2 += w * da2
        a3 += w * da3
        c1 += w * dc1
        c2 += w * dc2
        c3 += w * dc3
        d = j_per_kg - hg
        if d > 0.0:
            if d > FARTHEST_VAPOUR_J_PER_KG:
                d = FARTHEST_VAPOUR_J_PER_KG
            self.suction_k = td + ((a3 * d + a2) * d + a1) * d
            specific = (1.0 + ((c3 * d + c2) * d + c1) * d) / rg
        else:
            self.suction_k = td
            hl += w * dhl
            quality = (j_per_kg - hl) / (hg - hl)
            specific = quality / rg + (1.0 - quality) / (rl + w * drl)
        self.dew_k = td
        d = distance_of_superheat(a1, a2, a3, MAP_SUPERHEAT_K)
        return specific, (1.0 + ((c3 * d + c2) * d + c1) * d) / rg

    def _on_the_map(self, discharge_f: float, specific_map: float) -> tuple[float, float, float]:
        """Return the dew temperatures to enter the map with [°F], and what remains of the flow [1].

        Where the suction is held at an end of the map, flow and power go with density from there.
        """
        suction_f = fahrenheit_from_kelvin(self.dew_k)
        held = 1.0
        if suction_f < LOWEST_SUCTION_F:
            suction_f = LOWEST_SUCTION_F
            held = self._specific_held_low / specific_map
        elif suction_f > HIGHEST_SUCTION_F:
            suction_f = HIGHEST_SUCTION_F
            held = self._specific_held_high / specific_map
        if discharge_f > HIGHEST_DISCHARGE_F:
            discharge_f = HIGHEST_DISCHARGE_F
        elif discharge_f < suction_f + LEAST_LIFT_F:
            discharge_f = suction_f + LEAST_LIFT_F
        return suction_f, discharge_f, held
