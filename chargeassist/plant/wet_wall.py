"""Water on the wall of a pipe under vacuum: it boils, cools itself, freezes, and sublimes slowly.

Heat comes from the wall only. Where vapour is taken away faster than that heat arrives, the water
cools to the triple point and freezes; ice touches the wall less, so it stays cold and gives little
vapour. Gas in the gaps between ice and wall carries heat once its mean free path is short.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.physics.nitrogen import GAS_CONSTANT
from chargeassist.physics.water_vapour import (
    COLDEST_ICE_K,
    MOLAR_MASS_KG,
    TRIPLE_POINT_K,
)
from chargeassist.plant import water
from chargeassist.plant.figure_limits import refuse_outside

LIQUID_J_PER_KG_K: Final = 4186.0
ICE_J_PER_KG_K: Final = 2100.0
VAPOUR_J_PER_KG_K: Final = 1860.0
FUSION_J_PER_KG: Final = 333.4e3
EVAPORATION_J_PER_KG: Final = 2.501e6
"""At 0 degrees Celsius (ASHRAE Handbook - Fundamentals (2017), chapter 1, equations 30 to 35)."""

ACCOMMODATION: Final = 0.01
"""Share of the free-molecular evaporation that a film inside a pipe reaches (assumption) [-]."""

DIFFUSIVITY_M2_PA_PER_S: Final = 2.5
"""Of water vapour in air or nitrogen, times pressure: 2.5e-5 m2/s at 1 bar [m2 Pa/s]."""

DIFFUSION_PATH_M: Final = 0.05
"""How far vapour must diffuse through standing gas to be carried off (assumption) [m]."""

GAP_PA_ABS: Final = 1000.0
"""Pressure at which gas in the gaps under the ice carries half of what it can: the mean free path
is 7 micrometres, near a tenth of such gaps (assumption) [Pa absolute]."""

_EMPTY_KG: Final = 1e-15


@dataclass(frozen=True, slots=True, kw_only=True)
class WallSettings:
    """How water lies on the wall; assumptions, none of them measured.

    Attributes
    ----------
    area_m2 : float
        Most that it covers, and what vapour can condense on [m2].
    depth_m : float
        Of the puddle or film; less water covers less wall [m].
    wall_w_per_m2_k : float
        From wall to liquid [W/(m2 K)]; 300 is conduction through 2 mm of water.
    ice_share : float
        Share of this that ice in vacuum keeps [-].

    Raises
    ------
    ConfigError
        A figure is outside what the model can run with.
    """

    area_m2: float = 0.02
    depth_m: float = 2e-3
    wall_w_per_m2_k: float = 250.0
    ice_share: float = 0.15

    def __post_init__(self) -> None:
        refuse_outside(
            "simulated water on a wall needs",
            (
                ("area", self.area_m2, 1e-5, 2.0, "m2"),
                ("depth", self.depth_m, 2e-4, 0.05, "m"),
                ("contact", self.wall_w_per_m2_k, 1.0, 1e4, "W/(m2 K)"),
                ("share of contact for ice", self.ice_share, 0.01, 1.0, ""),
            ),
        )


class WetWall:
    """Water, ice or both at one place; energy is counted from liquid at the triple point.

    Parameters
    ----------
    settings : WallSettings
    mol : float
        Water at the start, liquid or ice as the wall has it [mol].
    wall_k : float
        Temperature of the wall [K].

    Attributes
    ----------
    mol : float
        Water and ice [mol].
    energy_j : float
        Its enthalpy [J].
    heat_in_j : float
        From the wall since the start [J].
    """

    __slots__ = ("_all_over", "_wall_k", "energy_j", "heat_in_j", "mol", "settings")

    def __init__(self, settings: WallSettings, mol: float, wall_k: float) -> None:
        self.settings = settings
        self.mol = mol
        self._wall_k = wall_k
        self._all_over = False
        self.energy_j = self._at_wall_j(wall_k)
        self.heat_in_j = 0.0

    @property
    def mass_kg(self) -> float:
        """Water and ice [kg]."""
        return self.mol * MOLAR_MASS_KG

    @property
    def ice_share(self) -> float:
        """Share of the mass that is ice [-]."""
        if self.mass_kg <= _EMPTY_KG:
            return 0.0
        return min(max(-self.energy_j / (self.mass_kg * FUSION_J_PER_KG), 0.0), 1.0)

    @property
    def temp_k(self) -> float:
        """Of water or ice; of the wall where there is none [K]."""
        kg = self.mass_kg
        if kg <= _EMPTY_KG:
            return self._wall_k
        specific = self.energy_j / kg
        if specific >= 0.0:
            return TRIPLE_POINT_K + specific / LIQUID_J_PER_KG_K
        if specific >= -FUSION_J_PER_KG:
            return TRIPLE_POINT_K
        cold_k = TRIPLE_POINT_K + (specific + FUSION_J_PER_KG) / ICE_J_PER_KG_K
        return max(cold_k, COLDEST_ICE_K)

    def exchange(
        self, dt_s: float, wall_k: float, vapour_pa_abs: float, gas_pa_abs: float
    ) -> tuple[float, float]:
        """Return what a step's evaporation goes by.

        Parameters
        ----------
        dt_s : float
            Step to come [s].
        wall_k : float
            Temperature of the wall now [K].
        vapour_pa_abs, gas_pa_abs : float
            Water vapour, and all other gas, over it [Pa absolute].

        Returns
        -------
        (float, float)
            Rate per pascal [mol/(s Pa)] and vapour pressure of the water [Pa absolute]; the rate
            is already that of a surface which cools by evaporating in the step.
        """
        self._wall_k = wall_k
        temp_k = self.temp_k
        own_pa = water.vapour_pa_abs(temp_k)
        s = self.settings
        # Vapour above what the wall itself saturates at settles all over it and leaves its heat
        # there; less than that, only on water or ice that is colder than the wall.
        wall_pa = own_pa if temp_k == wall_k else water.vapour_pa_abs(wall_k)
        self._all_over = vapour_pa_abs > max(own_pa, wall_pa)
        area = s.area_m2 if self._all_over else self._area_m2()
        if self._all_over:
            own_pa = wall_pa
        elif self.mass_kg <= _EMPTY_KG:
            return 0.0, own_pa
        free = ACCOMMODATION / math.sqrt(
            2.0 * math.pi * MOLAR_MASS_KG * GAS_CONSTANT * temp_k
        )  # fmt: skip
        hindered = DIFFUSION_PATH_M * GAS_CONSTANT * temp_k * gas_pa_abs / DIFFUSIVITY_M2_PA_PER_S
        rate = area / (1.0 / free + hindered)
        slope = water.vapour_slope_pa_per_k(temp_k)
        specific = ICE_J_PER_KG_K if self.ice_share > 0.5 else LIQUID_J_PER_KG_K
        held = self.mass_kg * specific + area * s.wall_w_per_m2_k * dt_s
        cooling = rate * MOLAR_MASS_KG * EVAPORATION_J_PER_KG * slope * dt_s / held
        rate /= 1.0 + cooling
        # A step takes what lies there at most; the rest of the inequality holds by the area.
        most = self.mol / (dt_s * own_pa) if vapour_pa_abs <= own_pa else rate
        return min(rate, most), own_pa

    def lose(self, dt_s: float, mol: float, gas_pa_abs: float) -> None:
        """Take away what evaporated (negative: what condensed) [mol], then let the wall warm it."""
        temp_k = self.temp_k
        kg = mol * MOLAR_MASS_KG
        vapour_j = EVAPORATION_J_PER_KG + VAPOUR_J_PER_KG_K * (temp_k - TRIPLE_POINT_K)
        self.mol = max(self.mol - mol, 0.0)
        if self.mass_kg <= _EMPTY_KG:
            self.heat_in_j += kg * vapour_j - self.energy_j
            self.energy_j = 0.0
            return
        if self._all_over and mol < 0.0:
            self.energy_j -= kg * self._at_wall_j_per_kg(self._wall_k)
            self.heat_in_j += kg * (vapour_j - self._at_wall_j_per_kg(self._wall_k))
        else:
            self.energy_j -= kg * vapour_j
        gap = gas_pa_abs / (gas_pa_abs + GAP_PA_ABS)
        share = self.settings.ice_share
        contact = 1.0 - self.ice_share * (1.0 - share) * (1.0 - gap)
        conductance = self._area_m2() * self.settings.wall_w_per_m2_k * contact
        heat_j = conductance * (self._wall_k - self.temp_k) * dt_s
        whole_j = self._at_wall_j(self._wall_k) - self.energy_j
        heat_j = min(heat_j, whole_j) if whole_j >= 0.0 else max(heat_j, whole_j)
        self.energy_j += heat_j
        self.heat_in_j += heat_j

    def _area_m2(self) -> float:
        s = self.settings
        return min(s.area_m2, self.mass_kg / (1000.0 * s.depth_m))

    def _at_wall_j(self, wall_k: float) -> float:
        return self.mass_kg * self._at_wall_j_per_kg(wall_k)

    @staticmethod
    def _at_wall_j_per_kg(wall_k: float) -> float:
        if wall_k >= TRIPLE_POINT_K:
            return LIQUID_J_PER_KG_K * (wall_k - TRIPLE_POINT_K)
        return ICE_J_PER_KG_K * (wall_k - TRIPLE_POINT_K) - FUSION_J_PER_KG
