"""Condenser and liquid line: conserved mass and energy, three zones, one pressure.

The desuperheating zone has the length that its heat needs; the subcooled zone has the length that
the mass leaves for it; between them lies the condensing zone with the mean Zivi void fraction. When
the mass does not fill the outlet with liquid there is no subcooled zone, and the exit quality
follows from the mass; when even that is impossible, the volume is taken as well mixed.
"""

import math
from typing import Final

from chargeassist.physics.nitrogen import GAS_CONSTANT
from chargeassist.plant.air import AIR_SIDE_EXPONENT
from chargeassist.plant.homogeneous import mixed_pressure_pa_abs
from chargeassist.plant.property_table import (
    FARTHEST_LIQUID_J_PER_KG,
    Fluid,
    distance_of_superheat,
)
from chargeassist.plant.root import PressureRoot
from chargeassist.plant.unit import Unit
from chargeassist.plant.void_fraction import mean_void

LONGEST_DESUPERHEATING: Final = 0.5
LONGEST_SUBCOOLED: Final = 0.95
"""Most of the coil that either zone takes [1], so that some is left to condense in."""

HIGHEST_EXIT_QUALITY: Final = 0.97
"""Beyond it at the coil's end the zones no longer hold so little mass [kg/kg]."""

MEAN_SUPERHEAT_SHARE: Final = 0.45
"""Mean enthalpy over the dew point in the desuperheating zone, as a share of that of the gas coming
in [1]: warmer gas cools faster (assumption)."""

ENERGY_SLOPE_J_PER_M3_PA: Final = 12.0
"""First guess of how the energy of a cubic metre of high side goes with its pressure."""

WETTING_K: Final = 15.0
"""A compressor body so much colder than the dew point condenses all that passes (assumption)."""

MOVING_SHARE: Final = 0.1
"""Share of the design flow from which the coil counts as running [1] (assumption)."""

WHOLE_EXPONENT: Final = 0.4
"""Conductance from single-phase refrigerant to air goes with this power of the air flow [1]: less
than the air side alone (assumption)."""

TWO_THIRDS: Final = 2.0 / 3.0


class HighSide:
    """State of the high side and what its pressure implies.

    Parameters
    ----------
    fluid : Fluid
    unit : Unit
    outdoor_k : float
        Outdoor air, which everything is as warm as to begin with [K].

    Attributes
    ----------
    mass_kg, energy_j : float
        Conserved: refrigerant, and its internal energy [kg], [J].
    wall_k : float
        Of the condensing zone [K].
    exit_j_per_kg, line_j_per_kg : float
        Enthalpy at the coil's end and at the end of the liquid line [J/kg].
    pressure_pa_abs : float
        Of the refrigerant alone [Pa absolute].
    gas_pa : float
        Partial pressure of non-condensable gas [Pa].
    desuperheating, condensing, subcooled : float
        Shares of the coil [1].
    exit_quality : float
        Vapour in what leaves the coil [kg/kg].
    line_kg, subcooled_kg, vapour_m3 : float
        Contents of the liquid line and of the subcooled zone [kg]; room of the vapour [m3].
    """

    __slots__ = (
        "_air_effect", "_desuperheating_w_per_k", "_fluid", "_root", "_subcooling_w_per_k", "_unit",
        "air_w_per_k", "bubble_j_per_kg", "bubble_k", "condensing", "condensing_w_per_k",
        "desuperheating", "dew_j_per_kg", "dew_k", "discharge_d", "discharge_j_per_kg",
        "discharge_k", "energy_j", "exit_j_per_kg", "exit_quality", "flow_kg_per_s", "gas_mol",
        "gas_pa", "line_j_per_kg", "line_kg", "line_kg_per_m3", "mass_kg", "mixed", "outdoor_k",
        "pressure_pa_abs", "subcooled", "subcooled_kg", "subcooling_1", "subcooling_2", "vapour_m3",
        "wall_k",
    )  # fmt: skip

    def __init__(self, fluid: Fluid, unit: Unit, outdoor_k: float) -> None:
        self._fluid = fluid
        self._unit = unit
        self._root = PressureRoot(
            self._miss,
            ENERGY_SLOPE_J_PER_M3_PA * unit.high_side_m3,
            fluid.low_pa_abs,
            fluid.high_pa_abs,
        )
        self.outdoor_k = outdoor_k
        self.gas_mol = 0.0
        self.gas_pa = 0.0
        self.exit_quality = 0.0
        self.flow_kg_per_s = 0.0
        self.discharge_k = outdoor_k
        self.wall_k = outdoor_k
        self.mass_kg = 0.0
        self.energy_j = 0.0
        self.mixed = False
        self.set_coil(1.0, 1.0)

    def set_coil(self, air_share: float, surface_share: float) -> None:
        """Change outdoor air flow and coil conductance [shares of the clean coil's]."""
        u = self._unit
        air_share = max(air_share, 1e-3)
        surface = surface_share * math.pow(air_share, WHOLE_EXPONENT)
        self.air_w_per_k = u.condenser_air_w_per_k * air_share
        conductance = (
            u.condenser_air_side_w_per_k * surface_share * math.pow(air_share, AIR_SIDE_EXPONENT)
        )
        self._air_effect = -math.expm1(-conductance / self.air_w_per_k)
        self._desuperheating_w_per_k = u.desuperheating_w_per_k * surface
        self._subcooling_w_per_k = u.subcooling_w_per_k * surface
        self.condensing_w_per_k = u.condensing_w_per_k * surface_share

    def fill(self, mass_kg: float, pressure_pa_abs: float, subcooling_k: float) -> None:
        """Begin with a mass at a pressure; its energy is what these imply."""
        s = self._fluid.state(pressure_pa_abs)
        liquid = self._fluid.liquid_enthalpy_j_per_kg(pressure_pa_abs, s[0] - subcooling_k)
        self.exit_j_per_kg = self.line_j_per_kg = liquid
        self.mass_kg = mass_kg
        self.pressure_pa_abs = pressure_pa_abs
        self.energy_j = 0.0
        self.energy_j = self._miss(pressure_pa_abs)
        self._gas()

    def settle(self) -> None:
        """Set pressure and zones to what mass and energy ask for now."""
        p, found = self._root.find(self.pressure_pa_abs)
        if not found or self.mixed:
            p = mixed_pressure_pa_abs(
                self._fluid, self.mass_kg, self.energy_j, self._unit.high_side_m3,
                self.pressure_pa_abs,
            )  # fmt: skip
            self._set_mixed(p)
        fluid = self._fluid
        if p < fluid.low_pa_abs:
            p = fluid.low_pa_abs
        elif p > fluid.high_pa_abs:
            p = fluid.high_pa_abs
        self.pressure_pa_abs = p
        self._gas()

    def _gas(self) -> None:
        if self.gas_mol > 0.0:
            room = max(self.vapour_m3, 0.02 * self._unit.condenser_m3)
            self.gas_pa = self.gas_mol * GAS_CONSTANT * self.bubble_k / room
        else:
            self.gas_pa = 0.0

    def _miss(self, p: float) -> float:
        """Return the energy at a pressure less the conserved one, and set the zones [J]."""
        row, w = self._fluid.row_at(p)
        (tb, dtb, td, dtd, hl, dhl, hg, dhg, rl, drl, rg, drg, a1, da1, a2, da2, a3, da3,
         c1, dc1, c2, dc2, c3, dc3, k1, dk1, k2, dk2, e1, de1, e2, de2) = row  # fmt: skip
        td += w * dtd
        hl += w * dhl
        hg += w * dhg
        rl += w * drl
        rg += w * drg
        e1 += w * de1
        e2 += w * de2
        unit = self._unit
        volume = unit.condenser_m3

        line_h = self.line_j_per_kg
        line_density = _line_kg_per_m3(hl - line_h, hg - hl, rl, rg, e1, e2)
        line_kg = unit.liquid_line_m3 * line_density
        coil_kg = self.mass_kg - line_kg

        over = self.discharge_k - td
        if over > 0.0:
            d_dis = distance_of_superheat(a1 + w * da1, a2 + w * da2, a3 + w * da3, over)
            d_mean = MEAN_SUPERHEAT_SHARE * d_dis
            sh = self._desuperheating_share(td, over, d_dis)
            rsh = rg / (
                1.0 + ((((c3 + w * dc3) * d_mean) + c2 + w * dc2) * d_mean + c1 + w * dc1) * d_mean
            )
            discharge_h = hg + d_dis
        else:
            d_dis = d_mean = sh = 0.0
            rsh = rg
            discharge_h = hg - (hg - hl) * _wetness(over)
        d = hl - self.exit_j_per_kg
        d = 0.5 * d if d > 0.0 else 0.0
        rsc = rl * (1.0 + (e2 * d + e1) * d)
        sh, tp, sc, void = self._divide(coil_kg / volume, sh, rsh, rsc, rl, rg)

        sh_kg = volume * sh * rsh
        sc_kg = volume * sc * rsc
        tp_kg = coil_kg - sh_kg - sc_kg
        gas_kg = volume * tp * rg * void
        self.desuperheating = sh
        self.condensing = tp
        self.subcooled = sc
        self.line_kg = line_kg
        self.line_kg_per_m3 = line_density
        self.subcooled_kg = sc_kg
        self.vapour_m3 = volume * (sh + tp * void)
        self.discharge_d = d_dis
        self.discharge_j_per_kg = discharge_h
        self.bubble_k = tb + w * dtb
        self.dew_k = td
        self.bubble_j_per_kg = hl
        self.dew_j_per_kg = hg
        self.subcooling_1 = k1 + w * dk1
        self.subcooling_2 = k2 + w * dk2
        return (
            sh_kg * (hg + d_mean)
            + gas_kg * hg
            + (tp_kg - gas_kg) * hl
            + sc_kg * (hl - d)
            + line_kg * line_h
            - p * (volume + unit.liquid_line_m3)
            - self.energy_j
        )

    def _desuperheating_share(self, dew_k: float, over_k: float, over_j_per_kg: float) -> float:
        """Return the share of the coil in which the gas cools to the dew point [1]."""
        air_k = self.outdoor_k
        near = dew_k - air_k
        if near < 1.0:
            near = 1.0
        far = self.discharge_k - air_k
        if far <= near:
            return 0.0
        capacity = self.flow_kg_per_s * over_j_per_kg / over_k
        share = capacity / self._desuperheating_w_per_k * math.log(far / near)
        return share if share < LONGEST_DESUPERHEATING else LONGEST_DESUPERHEATING

    def _divide(
        self, coil_density: float, sh: float, rsh: float, rsc: float, rl: float, rg: float
    ) -> tuple[float, float, float, float]:
        """Return the shares of the three zones, the hot end first, and the void of the second [1].

        The mass says how far the subcooled zone reaches; without one, how much vapour goes out.

        Parameters
        ----------
        coil_density : float
            Of all the coil holds [kg/m3].
        sh : float
            Share that desuperheating needs [1].
        rsh, rsc, rl, rg : float
            Mean densities of desuperheated and of subcooled refrigerant, and those of boiling
            liquid and dry vapour [kg/m3].
        """
        slip = math.pow(rg / rl, TWO_THIRDS)
        rest = 1.0 - slip
        void = 1.0 / rest + slip / (rest * rest) * math.log(slip)
        rtp = rl + (rg - rl) * void
        density = coil_density - sh * rsh
        sc = (density - (1.0 - sh) * rtp) / (rsc - rtp)
        self.exit_quality, self.mixed, was = 0.0, False, self.exit_quality
        if sc < 0.0:
            sc = 0.0
            void, self.exit_quality, self.mixed = _unsealed(density / (1.0 - sh), was, rl, rg, slip)
        elif sc > LONGEST_SUBCOOLED:
            sc = LONGEST_SUBCOOLED
        tp = 1.0 - sh - sc
        return (sh, tp, sc, void) if tp >= 0.0 else (1.0 - sc, 0.0, sc, void)

    def _set_mixed(self, p: float) -> None:
        """Set what a well-mixed high side implies: no zones, one enthalpy everywhere."""
        unit = self._unit
        s = self._fluid.state(p)
        enthalpy = (self.energy_j + p * unit.high_side_m3) / self.mass_kg
        x = min(max((enthalpy - s[2]) / (s[3] - s[2]), 0.0), 1.0)
        self.bubble_k, self.dew_k, self.bubble_j_per_kg, self.dew_j_per_kg = s[:4]
        self.subcooling_1, self.subcooling_2 = s[12], s[13]
        self.desuperheating = 0.0
        self.condensing = 1.0
        self.subcooled = self.subcooled_kg = 0.0
        self.exit_quality = x
        self.line_kg_per_m3 = self.mass_kg / unit.high_side_m3
        self.line_kg = unit.liquid_line_m3 * self.line_kg_per_m3
        self.vapour_m3 = unit.condenser_m3 * x
        over = self.discharge_k - s[1]
        self.discharge_d = distance_of_superheat(s[6], s[7], s[8], over)
        self.discharge_j_per_kg = s[3] + self.discharge_d - _wetness(over) * (s[3] - s[2])

    def liquid_k(self, enthalpy_j_per_kg: float) -> float:
        """Return the temperature of liquid (or of the boiling mixture) at this pressure [K]."""
        d = self.bubble_j_per_kg - enthalpy_j_per_kg
        if d > 0.0:
            return self.bubble_k - (self.subcooling_2 * d + self.subcooling_1) * d
        x = -d / (self.dew_j_per_kg - self.bubble_j_per_kg)
        return self.bubble_k + (x if x < 1.0 else 1.0) * (self.dew_k - self.bubble_k)

    def condensing_heat_w(self) -> tuple[float, float]:
        """Return heat from refrigerant to wall, and from wall to outdoor air [W]."""
        share = self.condensing
        if self.gas_pa > 0.0:
            # Gas gathers at the condensing surface; how strongly is a guess of this project.
            share /= 1.0 + 3.0 * self.gas_pa / self.pressure_pa_abs
        # Along a running coil the blend goes through all of its glide; at rest it is nearly all
        # liquid, and at its bubble point.
        moving = self.flow_kg_per_s / (MOVING_SHARE * self._unit.flow_kg_per_s)
        glide_k = self.dew_k - self.bubble_k
        mean_k = self.bubble_k + 0.5 * glide_k * (moving if moving < 1.0 else 1.0)
        to_wall = self.condensing_w_per_k * share * (mean_k - self.wall_k)
        to_air = (
            self.condensing * self.air_w_per_k * self._air_effect * (self.wall_k - self.outdoor_k)
        )
        return to_wall, to_air

    def outlet_j_per_kg(self, flow_kg_per_s: float) -> float:
        """Return the enthalpy the coil would settle to at its end [J/kg].

        The subcooled zone is a crossflow exchanger, both sides unmixed (effectiveness by NTU^0.22,
        Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, table 11.3, from memory).
        """
        hl = self.bubble_j_per_kg
        share = self.subcooled
        if share <= 0.0:
            return hl + self.exit_quality * (self.dew_j_per_kg - hl)
        air = self.air_w_per_k * share
        liquid = flow_kg_per_s / self.subcooling_1
        if air < liquid:
            smaller = air
            ratio = air / liquid
        else:
            smaller = liquid
            ratio = liquid / air
        ntu = self._subcooling_w_per_k * share / smaller
        effect = 1.0 - math.exp(
            math.pow(ntu, 0.22) / ratio * (math.exp(-ratio * math.pow(ntu, 0.78)) - 1.0)
        )
        return hl - effect * smaller * (self.bubble_k - self.outdoor_k) / flow_kg_per_s

    def line_heat_w(self, flow_kg_per_s: float) -> float:
        """Return heat from the liquid line to outdoor air, which slow liquid comes close to [W]."""
        rate = flow_kg_per_s / self.subcooling_1
        ntu = self._unit.liquid_line_w_per_k / rate
        over_k = self.liquid_k(self.exit_j_per_kg) - self.outdoor_k
        return rate * over_k * -math.expm1(-ntu)


def _line_kg_per_m3(
    below_j_per_kg: float, latent_j_per_kg: float, rl: float, rg: float, e1: float, e2: float
) -> float:
    """Return the density in the liquid line, by how far it is below the bubble point [kg/m3].

    Above it the line holds a boiling mixture.
    """
    d = below_j_per_kg
    if d >= 0.0:
        if d > FARTHEST_LIQUID_J_PER_KG:
            d = FARTHEST_LIQUID_J_PER_KG
        return rl * (1.0 + (e2 * d + e1) * d)
    x = -d / latent_j_per_kg
    return 1.0 / (x / rg + (1.0 - x) / rl)


def _wetness(over_k: float) -> float:
    """Return the share of the gas that a body so much above the dew point condenses [kg/kg].

    Gas condenses on a colder compressor body and leaves it wet; on a warmer one nothing does.
    """
    if over_k >= 0.0:
        return 0.0
    wet = -over_k / WETTING_K
    return wet if wet < 1.0 else 1.0


def _unsealed(
    wanted_density: float, guess: float, rl: float, rg: float, slip: float
) -> tuple[float, float, bool]:
    """Return void, exit quality, and whether the zones cannot hold so little mass.

    Newton's method on the mean void, from a guess of the exit quality.
    """
    wanted = (rl - wanted_density) / (rl - rg)
    top = mean_void(slip, HIGHEST_EXIT_QUALITY, 1.0)
    if wanted >= top:
        return top, HIGHEST_EXIT_QUALITY, True
    rest = 1.0 - slip
    x = min(guess, HIGHEST_EXIT_QUALITY)
    void = mean_void(slip, x, 1.0)
    for _ in range(12):
        slope = (void - x / (slip + rest * x)) / (1.0 - x)
        change = (wanted - void) / slope
        x = min(max(x + change, 0.0), HIGHEST_EXIT_QUALITY)
        void = mean_void(slip, x, 1.0)
        if -1e-9 < change < 1e-9:
            break
    return void, x, False
