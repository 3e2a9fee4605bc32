"""An oil-sealed vacuum pump: speed, ultimate pressure, gas ballast, and water in its oil.

Vapour that a pump compresses to the pressure of its exhaust condenses where its partial pressure
would pass saturation at the temperature of the pump; what condenses stays in the oil, and wet oil
gives vapour back to the inlet. Gas ballast lets air into the compression, so that the same vapour
leaves as part of more gas; the price is a higher ultimate pressure.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.physics.nitrogen import GAS_CONSTANT
from chargeassist.physics.water_vapour import MOLAR_MASS_KG
from chargeassist.plant.figure_limits import refuse_outside
from chargeassist.plant.water import vapour_pa_abs

EXHAUST_SHARE: Final = 1.2
"""Pressure at which the exhaust valve opens, in atmospheres (assumption)."""

BALLAST_SHARE: Final = 0.1
"""Ballast air as a share of the displacement (common practice, about 10 %)."""

BACK_SHARE: Final = 0.02
"""Vapour pressure of soaked oil that reaches the inlet past the stages (assumption)."""

STRIP_S: Final = 900.0
"""Time constant of oil giving water to ballast gas (assumption) [s]."""

WARM_LAG_S: Final = 1500.0
WARM_K: Final = 35.0
BALLAST_WARM_K: Final = 8.0
"""A running pump warms by so much, and by more with ballast (assumptions)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpSettings:
    """What the pump is; the defaults are those of no make.

    Attributes
    ----------
    displacement_m3_per_s : float
        Free air [m3/s]; 2.83e-3 is 6 cubic feet a minute.
    ultimate_pa_abs : float
        With clean oil and shut ballast [Pa absolute].
    ballast_pa_abs : float
        What open ballast adds to it [Pa].
    oil_full_kg : float
        Water at which the oil is milky and holds its full vapour pressure [kg].
    oil_water_kg : float
        Water in the oil at the start [kg].

    Raises
    ------
    ConfigError
        A figure no pump of the trade has.
    """

    displacement_m3_per_s: float = 2.83e-3
    ultimate_pa_abs: float = 2.5
    ballast_pa_abs: float = 20.0
    oil_full_kg: float = 1.5e-3
    oil_water_kg: float = 0.0

    def __post_init__(self) -> None:
        refuse_outside(
            "the simulated pump needs",
            (
                ("displacement", self.displacement_m3_per_s, 1e-4, 0.05, "m3/s"),
                ("ultimate pressure", self.ultimate_pa_abs, 0.01, 5e3, "Pa absolute"),
                ("rise by ballast", self.ballast_pa_abs, 0.0, 1e3, "Pa"),
                ("full oil", self.oil_full_kg, 1e-5, 0.1, "kg of water"),
                ("water in the oil", self.oil_water_kg, 0.0, 0.1, "kg"),
            ),
        )


class VacuumPump:
    """The pump and its oil.

    Parameters
    ----------
    settings : PumpSettings
    air_k, station_pa_abs : float
        Around it [K], [Pa absolute].

    Attributes
    ----------
    running, ballast_open : bool
    oil_k : float
        Temperature of the oil [K].
    oil_mol : float
        Water in the oil [mol].
    gas_out_mol, water_out_mol, refrigerant_out_mol : float
        Left by the exhaust or with changed oil, ballast air not counted [mol]; a little gas comes
        back through the pump at its ultimate pressure, so this can fall.
    """

    def __init__(self, settings: PumpSettings, air_k: float, station_pa_abs: float) -> None:
        self.settings = settings
        self.running = self.ballast_open = False
        self.oil_k = self._air_k = air_k
        self._station = station_pa_abs
        self.oil_mol = settings.oil_water_kg / MOLAR_MASS_KG
        self.gas_out_mol = self.water_out_mol = self.refrigerant_out_mol = 0.0

    @property
    def oil_water_kg(self) -> float:
        """Water in the oil [kg]."""
        return self.oil_mol * MOLAR_MASS_KG

    @property
    def speed_m3_per_s(self) -> float:
        """At the inlet [m3/s]; 0 when it stands, as its check valve shuts the inlet."""
        return self.settings.displacement_m3_per_s if self.running else 0.0

    @property
    def gas_pa_abs(self) -> float:
        """Permanent gas that the inlet cannot fall below [Pa absolute]."""
        return self.settings.ultimate_pa_abs + (
            self.settings.ballast_pa_abs if self.ballast_open else 0.0
        )

    def water_pa_abs(self, dt_s: float) -> float:
        """Return the water vapour that wet oil gives to the inlet [Pa absolute].

        Never so much that a step of `dt_s` [s] would take more than the oil has.
        """
        soaked = min(1.0, self.oil_water_kg / self.settings.oil_full_kg)
        wanted = BACK_SHARE * soaked * vapour_pa_abs(self.oil_k)
        if not self.running:
            return 0.0
        most = self.oil_mol * GAS_CONSTANT * self._air_k / (self.speed_m3_per_s * dt_s)
        return min(wanted, most)

    def change_oil(self) -> None:
        """Replace the oil by dry oil; the water in it goes out with it."""
        self.water_out_mol += self.oil_mol
        self.oil_mol = 0.0

    def take(self, dt_s: float, gas_mol: float, water_mol: float, refrigerant_mol: float) -> None:
        """Pass on what the inlet took in a step (negative where the pump gave back) [mol]."""
        target_k = self._air_k
        if self.running:
            target_k += WARM_K + (BALLAST_WARM_K if self.ballast_open else 0.0)
        self.oil_k += -math.expm1(-dt_s / WARM_LAG_S) * (target_k - self.oil_k)
        self.gas_out_mol += gas_mol
        self.refrigerant_out_mol += refrigerant_mol
        if not self.running:
            return
        dry_mol = max(gas_mol, 0.0) + max(refrigerant_mol, 0.0)
        if self.ballast_open:
            speed = BALLAST_SHARE * self.settings.displacement_m3_per_s
            dry_mol += speed * dt_s * self._station / (GAS_CONSTANT * self._air_k)
        exhaust_pa = EXHAUST_SHARE * self._station
        vapour_pa = min(vapour_pa_abs(self.oil_k), 0.9 * exhaust_pa)
        carried_mol = dry_mol * vapour_pa / (exhaust_pa - vapour_pa)
        if water_mol > carried_mol:
            self.oil_mol += water_mol - carried_mol
            self.water_out_mol += carried_mol
            return
        if water_mol < 0.0:
            self.oil_mol = max(self.oil_mol + water_mol, 0.0)
            water_mol = 0.0
        stripped_mol = min(self.oil_mol * -math.expm1(-dt_s / STRIP_S), carried_mol - water_mol)
        self.oil_mol -= stripped_mol
        self.water_out_mol += water_mol + stripped_mol
