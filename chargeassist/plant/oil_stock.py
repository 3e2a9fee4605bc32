"""What the compressor's oil holds in solution, and gives off slowly under vacuum."""

from typing import Final

from chargeassist.physics.water_vapour import MOLAR_MASS_KG
from chargeassist.plant.evacuation_settings import EvacuationSettings
from chargeassist.plant.water import vapour_pa_abs

REFRIGERANT_PA_PER_KG: Final = 1e7
"""Pressure in balance with refrigerant in the oil: 15 bar at 150 g (assumption) [Pa/kg]."""


class OilStock:
    """One substance in solution, its pressure in balance rising with its amount (Henry).

    Parameters
    ----------
    mol : float
        At the start [mol].
    pa_per_mol : float
        Pressure in balance per amount [Pa/mol].
    most_pa_abs : float
        Never more than this [Pa absolute].
    lag_s : float
        Time constant of giving off into vacuum [s].

    Attributes
    ----------
    mol : float
        Still in the oil [mol].
    """

    __slots__ = ("_lag_s", "_most_pa_abs", "_pa_per_mol", "mol")

    def __init__(self, mol: float, pa_per_mol: float, most_pa_abs: float, lag_s: float) -> None:
        self.mol = mol
        self._pa_per_mol = pa_per_mol
        self._most_pa_abs = most_pa_abs
        self._lag_s = lag_s

    @classmethod
    def of_water(cls, settings: EvacuationSettings) -> "OilStock":
        """Return the water in the compressor's oil, at the wall temperature of the start."""
        saturated = vapour_pa_abs(settings.near_k)
        full_mol = settings.oil_full_water_kg / MOLAR_MASS_KG
        mol = settings.oil_water_kg / MOLAR_MASS_KG
        return cls(mol, saturated / full_mol, saturated, settings.oil_water_s)

    @classmethod
    def of_refrigerant(cls, settings: EvacuationSettings, molar_mass_kg: float) -> "OilStock":
        """Return the refrigerant in the compressor's oil."""
        mol = settings.oil_refrigerant_kg / molar_mass_kg
        per_mol = REFRIGERANT_PA_PER_KG * molar_mass_kg
        return cls(mol, per_mol, 1.5e6, settings.oil_refrigerant_s)

    def exchange(self, dt_s: float) -> tuple[float, float]:
        """Return rate per pascal [mol/(s Pa)] and pressure in balance [Pa absolute] of a step.

        The rate is that of a stock which falls as it gives, so a step cannot take all of it.
        """
        rate = 1.0 / (self._pa_per_mol * (self._lag_s + dt_s))
        return rate, min(self._pa_per_mol * self.mol, self._most_pa_abs)

    def lose(self, mol: float) -> None:
        """Take away what was given off (negative: what was taken up) [mol]."""
        self.mol -= mol
