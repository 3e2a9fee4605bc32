"""Evaporator and suction line: conserved mass and energy, a boiling and a dry zone, one pressure.

The mass says how far boiling reaches. More than the coil holds leaves it wet (exit quality below
one); less than vapour alone would weigh leaves nothing boiling, and the volume is then taken as
well mixed, so that its mass fixes its density and no outflow can draw more than is there.
"""

import math
from typing import Final

from chargeassist.plant.homogeneous import mixed_pressure_pa_abs
from chargeassist.plant.property_table import Fluid, distance_of_superheat
from chargeassist.plant.root import PressureRoot
from chargeassist.plant.unit import Unit

MOVING_SHARE: Final = 0.1
"""Share of the design flow from which the coil counts as running [1] (assumption)."""

LOWEST_EXIT_QUALITY: Final = 0.05
HIGHEST_INLET_QUALITY: Final = 0.95
"""Vapour in what leaves the coil and in what enters it is held at these [kg/kg]: beyond them the
void fraction has no slope to go by."""

LINE_DENSITY_SHARE: Final = 0.98
"""Mean density in the suction line against that at the coil's end [1]: it warms on the way
(assumption)."""

ENERGY_SLOPE_J_PER_M3_PA: Final = 0.35 / 12.2e-3
"""First guess of how the energy of a cubic metre of low side goes with its pressure."""

TWO_THIRDS: Final = 2.0 / 3.0


class LowSide:
    """State of the low side and what its pressure implies.

    Parameters
    ----------
    fluid : Fluid
    unit : Unit

    Attributes
    ----------
    mass_kg, energy_j : float
        Conserved: refrigerant, and its internal energy [kg], [J].
    wall_k : float
        Of the boiling zone [K].
    outlet_j_per_kg : float
        Enthalpy at the coil's end [J/kg].
    inlet_j_per_kg : float
        Enthalpy of what the valve lets in [J/kg].
    pressure_pa_abs : float
        In the coil [Pa absolute].
    boiling : float
        Part of the coil that the mass lets boil [1].
    front : float
        The same, following with its transit time [1].
    exit_quality : float
        Of what leaves the coil, 1 when dry [kg/kg].
    """

    __slots__ = (
        "_fluid", "_root", "_unit", "boiling", "bubble_j_per_kg", "bubble_k", "dew_j_per_kg",
        "dew_k", "dew_kg_per_m3", "dry", "energy_j", "exit_quality", "front", "inlet_j_per_kg",
        "inlet_quality", "mass_kg", "outlet_j_per_kg", "pressure_pa_abs", "superheat_1",
        "superheat_2", "superheat_3", "wall_k",
    )  # fmt: skip

    def __init__(self, fluid: Fluid, unit: Unit) -> None:
        self._fluid = fluid
        self._unit = unit
        self._root = PressureRoot(
            self._miss,
            ENERGY_SLOPE_J_PER_M3_PA * unit.low_side_m3,
            fluid.low_pa_abs,
            fluid.high_pa_abs,
        )
        self.dry = False
        self.exit_quality = 1.0
        self.inlet_quality = 0.2
        self.boiling = self.front = 0.86
        self.mass_kg = self.energy_j = 0.0

    def fill(
        self,
        mass_kg: float,
        pressure_pa_abs: float,
        inlet_j_per_kg: float,
        outlet_j_per_kg: float,
        wall_k: float,
    ) -> None:
        """Begin with a mass at a pressure; its energy is what these imply."""
        self.mass_kg = mass_kg
        self.pressure_pa_abs = pressure_pa_abs
        self.inlet_j_per_kg = inlet_j_per_kg
        self.outlet_j_per_kg = outlet_j_per_kg
        self.wall_k = wall_k
        self.energy_j = 0.0
        self.energy_j = self._miss(pressure_pa_abs)
        self.front = self.boiling

    def settle(self) -> None:
        """Set pressure and zones to what mass and energy ask for now."""
        p, found = self._root.find(self.pressure_pa_abs)
        if not found or self.dry:
            p = mixed_pressure_pa_abs(
                self._fluid, self.mass_kg, self.energy_j, self._unit.low_side_m3,
                self.pressure_pa_abs,
            )  # fmt: skip
            self._set_mixed(p)
        fluid = self._fluid
        if p < fluid.low_pa_abs:
            p = fluid.low_pa_abs
        elif p > fluid.high_pa_abs:
            p = fluid.high_pa_abs
        self.pressure_pa_abs = p

    def _miss(self, p: float) -> float:
        """Return the energy at a pressure less the conserved one, and set the zones [J]."""
        row, w = self._fluid.row_at(p)
        (tb, dtb, td, dtd, hl, dhl, hg, dhg, rl, drl, rg, drg, a1, da1, a2, da2, a3, da3,
         c1, dc1, c2, dc2, c3, dc3, _, _, _, _, _, _, _, _) = row  # fmt: skip
        hl += w * dhl
        hg += w * dhg
        rl += w * drl
        rg += w * drg
        x1 = (self.inlet_j_per_kg - hl) / (hg - hl)
        if x1 < 0.0:
            x1 = 0.0
        elif x1 > HIGHEST_INLET_QUALITY:
            x1 = HIGHEST_INLET_QUALITY
        slip = math.pow(rg / rl, TWO_THIRDS)
        rest = 1.0 - slip
        void = 1.0 / rest + slip / (rest * rest * (1.0 - x1)) * math.log(slip + rest * x1)
        d = self.outlet_j_per_kg - hg
        if d > 0.0:
            c1 += w * dc1
            c2 += w * dc2
            c3 += w * dc3
            out_density = rg / (1.0 + ((c3 * d + c2) * d + c1) * d)
            d_mean = 0.5 * d
            rsh = rg / (1.0 + ((c3 * d_mean + c2) * d_mean + c1) * d_mean)
        else:
            d = d_mean = 0.0
            out_density = rsh = rg
        unit = self._unit
        volume = unit.evaporator_m3
        line_kg = unit.suction_line_m3 * LINE_DENSITY_SHARE * out_density
        coil_kg = self.mass_kg - line_kg
        rtp = rl + (rg - rl) * void
        share = (coil_kg / volume - rsh) / (rtp - rsh)
        quality = 1.0
        out_h = hg + d
        self.dry = False
        if share > 1.0:
            quality = _exit_quality((share - 1.0) * (rtp - rsh), (rl - rg) * (1.0 - void), x1)
            share = 1.0
            rtp = coil_kg / volume
            void = (rl - rtp) / (rl - rg)
            out_h = hl + quality * (hg - hl)
        elif share <= 0.0:
            self.dry = True
            share = 0.0
        self.boiling = share
        self.exit_quality = quality
        self.inlet_quality = x1
        self.bubble_k = tb + w * dtb
        self.dew_k = td + w * dtd
        self.bubble_j_per_kg = hl
        self.dew_j_per_kg = hg
        self.dew_kg_per_m3 = rg
        self.superheat_1 = a1 + w * da1
        self.superheat_2 = a2 + w * da2
        self.superheat_3 = a3 + w * da3
        boiling_kg = volume * share * rtp
        gas_kg = volume * share * rg * void
        return (
            (boiling_kg - gas_kg) * hl
            + gas_kg * hg
            + (coil_kg - boiling_kg) * (hg + d_mean)
            + line_kg * out_h
            - p * (volume + unit.suction_line_m3)
            - self.energy_j
        )

    def _set_mixed(self, p: float) -> None:
        """Set what a well-mixed low side implies: nothing boils, one enthalpy everywhere."""
        s = self._fluid.state(p)
        enthalpy = (self.energy_j + p * self._unit.low_side_m3) / self.mass_kg
        self.bubble_k, self.dew_k, self.bubble_j_per_kg, self.dew_j_per_kg = s[:4]
        self.dew_kg_per_m3 = s[5]
        self.superheat_1, self.superheat_2, self.superheat_3 = s[6:9]
        self.boiling = 0.0
        self.exit_quality = min((enthalpy - s[2]) / (s[3] - s[2]), 1.0)
        self.dry = True

    def outlet_k(self) -> float:
        """Return the temperature at the coil's end [K]."""
        d = self.outlet_j_per_kg - self.dew_j_per_kg
        if d <= 0.0:
            return self.dew_k
        return self.dew_k + ((self.superheat_3 * d + self.superheat_2) * d + self.superheat_1) * d

    def boiling_k(self, flow_kg_per_s: float) -> float:
        """Return the mean temperature of the boiling refrigerant [K].

        A running coil goes through the glide from its inlet quality on; at rest liquid is at its
        bubble point.
        """
        moving = flow_kg_per_s / (MOVING_SHARE * self._unit.flow_kg_per_s)
        glide_k = 0.5 * (1.0 + self.inlet_quality) * (self.dew_k - self.bubble_k)
        return self.bubble_k + glide_k * (moving if moving < 1.0 else 1.0)

    def outlet_target_j_per_kg(
        self, flow_kg_per_s: float, air_k: float, conductance_w_per_k: float
    ) -> float:
        """Return the enthalpy the coil would settle to at its end [J/kg]."""
        if self.exit_quality < 1.0:
            hl = self.bubble_j_per_kg
            return hl + self.exit_quality * (self.dew_j_per_kg - hl)
        flow = flow_kg_per_s if flow_kg_per_s > 1e-5 else 1e-5
        start_k = self.dew_k
        # superheat_1 is the inverse of the vapour's heat capacity at the dew point.
        ntu = conductance_w_per_k * (1.0 - self.front) * self.superheat_1 / flow
        warmed_k = (air_k - start_k) * -math.expm1(-ntu)
        return self.dew_j_per_kg + distance_of_superheat(
            self.superheat_1, self.superheat_2, self.superheat_3, warmed_k
        )


def _exit_quality(too_much: float, liquid_kg_per_m3: float, inlet_quality: float) -> float:
    """Return the quality at the end of a coil that is wet to its end [kg/kg].

    Parameters
    ----------
    too_much : float
        Density beyond that of a coil that just boils dry at its end [kg/m3].
    liquid_kg_per_m3 : float
        What the liquid of such a coil would add to vapour alone [kg/m3].
    inlet_quality : float
        [kg/kg].
    """
    quality = 1.0 - too_much / (liquid_kg_per_m3 / (1.0 - inlet_quality))
    return quality if quality > LOWEST_EXIT_QUALITY else LOWEST_EXIT_QUALITY
