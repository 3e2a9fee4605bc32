"""Where refrigerant waits: accumulator and oil of the machine, cylinder and hose beside it."""

import math
from typing import Final

from chargeassist.plant.property_table import Fluid
from chargeassist.plant.unit import Unit

FASTEST_KG_PER_S: Final = 0.02
"""Most that the oil takes up or gives off [kg/s] (assumption)."""

USUAL_PUSH_PA: Final = 3e5
"""Pressure difference that drives the usual flow out of a cylinder [Pa] (assumption)."""

LEAST_KG: Final = 1e-9
"""Less than this counts as nothing [kg]."""


class SuctionStores:
    """Liquid charged into the suction line, which boils off slowly, and refrigerant in the oil.

    Parameters
    ----------
    fluid : Fluid
    unit : Unit

    Attributes
    ----------
    liquid_kg, liquid_j : float
        In the accumulator, and its enthalpy [kg], [J].
    oil_kg, oil_j : float
        Dissolved in the oil, and its enthalpy [kg], [J].
    """

    __slots__ = ("_fluid", "_unit", "liquid_j", "liquid_kg", "oil_j", "oil_kg")

    def __init__(self, fluid: Fluid, unit: Unit) -> None:
        self._fluid = fluid
        self._unit = unit
        self.liquid_kg = self.liquid_j = 0.0
        self.oil_kg = self.oil_j = 0.0

    def fill(self, pressure_pa_abs: float, sump_k: float, enthalpy_j_per_kg: float) -> None:
        """Begin with the oil in balance."""
        self.oil_kg = self._balance_kg(pressure_pa_abs, sump_k)
        self.oil_j = self.oil_kg * enthalpy_j_per_kg

    def _balance_kg(self, pressure_pa_abs: float, sump_k: float) -> float:
        unit = self._unit
        ratio = pressure_pa_abs / self._fluid.bubble_pressure_pa_abs(sump_k)
        if ratio > 1.0:
            ratio = 1.0
        return unit.oil_kg * unit.oil_solubility * ratio

    def boil_off(self) -> tuple[float, float]:
        """Return flow out of the accumulator [kg/s] and its enthalpy [J/kg]."""
        kg = self.liquid_kg
        if kg < LEAST_KG:
            return 0.0, 0.0
        return kg / self._unit.boil_off_s, self.liquid_j / kg

    def into_oil(
        self, pressure_pa_abs: float, sump_k: float, offered_j_per_kg: float
    ) -> tuple[float, float]:
        """Return flow into the oil, negative out of it [kg/s], and its enthalpy [J/kg]."""
        missing = self._balance_kg(pressure_pa_abs, sump_k) - self.oil_kg
        flow = missing / self._unit.oil_lag_s
        if flow > 0.0:
            return min(flow, FASTEST_KG_PER_S), offered_j_per_kg
        if self.oil_kg < LEAST_KG:
            return 0.0, offered_j_per_kg
        return max(flow, -FASTEST_KG_PER_S), self.oil_j / self.oil_kg


def returned_j_per_kg(boil_flow: float, boil_h: float, oil_flow: float, oil_h: float) -> float:
    """Return the enthalpy of what flows from the stores back into the low side [J/kg].

    Parameters
    ----------
    boil_flow, boil_h : float
        Out of the accumulator [kg/s], and its enthalpy [J/kg].
    oil_flow, oil_h : float
        Into the oil, negative out of it [kg/s], and its enthalpy [J/kg].
    """
    if boil_flow <= 0.0:
        return oil_h
    if oil_flow >= 0.0:
        return boil_h
    return (boil_flow * boil_h - oil_flow * oil_h) / (boil_flow - oil_flow)


class Cylinder:
    """Cylinder on a scale, its valve, and a hose that holds some of what left the scale.

    Parameters
    ----------
    cylinder_kg : float
        Refrigerant in it [kg].
    flow_kg_per_s, recovery_kg_per_s : float
        Liquid through the open valve, and recovery, at the usual pressures [kg/s].
    hose_s : float
        Time constant of what the hose holds back [s].

    Attributes
    ----------
    cylinder_kg, hose_kg : float
        On the scale, and in the hose [kg].
    flowed_kg : float
        Left the scale for the step that was begun last, less what it recovered [kg].
    """

    __slots__ = (
        "_flow", "_hose_s", "_inflow_kg", "_open", "_recovery", "_recovery_kg", "_to_add_kg",
        "_to_recover_kg", "cylinder_kg", "flowed_kg", "hose_kg",
    )  # fmt: skip

    def __init__(
        self, cylinder_kg: float, flow_kg_per_s: float, recovery_kg_per_s: float, hose_s: float
    ) -> None:
        self.cylinder_kg = cylinder_kg
        self._flow = flow_kg_per_s
        self._recovery = recovery_kg_per_s
        self._hose_s = hose_s
        self.hose_kg = 0.0
        self.flowed_kg = 0.0
        self._inflow_kg = self._recovery_kg = 0.0  # of the open step
        self._to_add_kg = self._to_recover_kg = 0.0  # told, and still to be made up for
        self._open = False

    def begin(self, mass_kg: float | None) -> None:
        """Open the valve; see `PhysicalPlant.begin_step`."""
        self._open = True
        self.flowed_kg = 0.0
        self._inflow_kg = math.inf if mass_kg is None else max(mass_kg, 0.0)
        self._recovery_kg = 0.0 if mass_kg is None else max(-mass_kg, 0.0)

    def end(self, mass_kg: float | None) -> None:
        """Shut the valve; see `PhysicalPlant.end_step`."""
        self._inflow_kg = self._recovery_kg = 0.0
        if mass_kg is not None and mass_kg < 0.0:
            # Of an open step the whole comes to that; one that has ended stays as it was.
            more_kg = (self.flowed_kg if self._open else 0.0) - mass_kg
            self._to_recover_kg += max(more_kg, 0.0)
        elif not self._open and mass_kg is not None:
            self._to_add_kg += mass_kg
        self._open = False

    @property
    def busy(self) -> bool:
        """Whether anything flows or may flow."""
        return (
            self._inflow_kg > 0.0
            or self._to_add_kg > 0.0
            or self._recovery_kg > 0.0
            or self._to_recover_kg > 0.0
            or self.hose_kg > LEAST_KG
        )

    def give(self, dt_s: float, push: float) -> float:
        """Return the mass that enters the unit in `dt_s` [kg].

        Parameters
        ----------
        push : float
            Share of the usual flow that the pressure of the cylinder still drives [1].
        """
        out = min(self._flow * push * dt_s, self._inflow_kg + self._to_add_kg, self.cylinder_kg)
        of_step = min(out, self._inflow_kg)
        self._inflow_kg -= of_step
        self._to_add_kg = max(self._to_add_kg - (out - of_step), 0.0)
        self.flowed_kg += of_step
        self.cylinder_kg -= out
        self.hose_kg += out
        # What is in the hose drains to the lower pressure also after the cylinder is shut.
        drained = self.hose_kg * -math.expm1(-dt_s / self._hose_s)
        if self.hose_kg < 10.0 * LEAST_KG:
            drained = self.hose_kg
        self.hose_kg -= drained
        return drained

    def take(self, dt_s: float, left_kg: float) -> float:
        """Return the mass recovered from the unit in `dt_s`, `left_kg` at most [kg]."""
        wanted_kg = self._recovery_kg + self._to_recover_kg
        taken = min(self._recovery * dt_s, wanted_kg, max(left_kg, 0.0))
        of_step = min(taken, self._recovery_kg)
        self._recovery_kg -= of_step
        self._to_recover_kg = max(self._to_recover_kg - (taken - of_step), 0.0)
        self.flowed_kg -= of_step
        self.cylinder_kg += taken
        return taken
