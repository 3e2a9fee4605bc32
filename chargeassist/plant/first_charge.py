"""Simulates the first charge: liquid from a cylinder into an evacuated circuit at rest.

The circuit is one volume of refrigerant and metal at one temperature, warmed by the air around it.
The cylinder on its scale cools as it empties. Mass and energy are conserved. At first the liquid
flashes in the vacuum and cools the metal; once the circuit is full of saturated vapour, what
arrives stays liquid, and the pressure follows the temperature. So the flow stops before the plate
charge is in unless the cylinder is warmer than the circuit, as on a real unit.

Because the circuit has one temperature, no refrigerant moves between its coils.
"""

import math
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.values import NoValue
from chargeassist.physics.molar_mass import molar_mass_kg
from chargeassist.physics.nitrogen import GAS_CONSTANT
from chargeassist.physics.saturation import refrigerant
from chargeassist.plant.figure_limits import refuse_outside
from chargeassist.plant.grid import OnGrid
from chargeassist.plant.property_table import Fluid, distance_of_superheat, fluid
from chargeassist.plant.stores import USUAL_PUSH_PA, Cylinder
from chargeassist.plant.unit import Unit

GRID_S: Final = 0.25
"""Longest step [s]."""

CLOSE_K: Final = 1e-6
"""The search for the temperature ends at a correction below this [K]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstChargeSettings:
    """An evacuated circuit, the air around it, and a cylinder beside it.

    Attributes
    ----------
    refrigerant : str
    volume_m3, metal_j_per_k, air_w_per_k : float
        Of the circuit: inner volume [m3], heat capacity of its metal [J/K], conductance to still
        air [W/K].
    outdoor_k, indoor_k : float
        Air temperatures; their mean warms the circuit [K].
    start_pa_abs : float
        Pressure left by the vacuum pump [Pa absolute].
    cylinder_kg, tare_kg : float
        Refrigerant in the cylinder, and its empty weight [kg].
    cylinder_k : float
        Its temperature at the start [K].
    cylinder_metal_j_per_k, cylinder_w_per_k : float
        Heat capacity of the empty cylinder [J/K], and its conductance to the air [W/K].
    flow_kg_per_s, recovery_kg_per_s : float
        Liquid through the open valve at a pressure difference of `USUAL_PUSH_PA`, and recovery
        [kg/s].
    hose_s : float
        Time constant of the hose [s].
    station_pa_abs : float
        Atmosphere at the site [Pa absolute].

    Raises
    ------
    ConfigError
        A figure is outside the range of the model.
    """

    refrigerant: str = "R-32"
    volume_m3: float = 11e-3
    metal_j_per_k: float = 16e3
    air_w_per_k: float = 25.0
    outdoor_k: float = 297.15
    indoor_k: float = 297.15
    start_pa_abs: float = 50.0
    cylinder_kg: float = 5.0
    tare_kg: float = 4.2
    cylinder_k: float = 305.15
    cylinder_metal_j_per_k: float = 2e3
    cylinder_w_per_k: float = 3.0
    flow_kg_per_s: float = 0.012
    recovery_kg_per_s: float = 0.004
    hose_s: float = 2.0
    station_pa_abs: float = 98_800.0

    def __post_init__(self) -> None:
        refuse_outside(
            "the simulated first charge needs",
            (
                ("volume", self.volume_m3, 1e-4, 1.0, "m3"),
                ("metal", self.metal_j_per_k, 100.0, 1e7, "J/K"),
                ("loss to the air", self.air_w_per_k, 0.0, 1e4, "W/K"),
                ("outdoor air", self.outdoor_k, 263.15, 325.15, "K"),
                ("indoor air", self.indoor_k, 263.15, 325.15, "K"),
                ("vacuum", self.start_pa_abs, 0.1, 120e3, "Pa absolute"),
                ("refrigerant in the cylinder", self.cylinder_kg, 0.0, 100.0, "kg"),
                ("tare", self.tare_kg, 0.0, 100.0, "kg"),
                ("cylinder temperature", self.cylinder_k, 263.15, 325.15, "K"),
                ("metal of the cylinder", self.cylinder_metal_j_per_k, 100.0, 1e6, "J/K"),
                ("loss of the cylinder", self.cylinder_w_per_k, 0.0, 1e3, "W/K"),
                ("flow", self.flow_kg_per_s, 1e-5, 0.5, "kg/s"),
                ("recovery", self.recovery_kg_per_s, 1e-5, 0.5, "kg/s"),
                ("hose", self.hose_s, 0.1, 60.0, "s"),
                ("station pressure", self.station_pa_abs, 47e3, 110e3, "Pa absolute"),
            ),
        )


def circuit_of(unit: Unit) -> tuple[float, float]:
    """Return inner volume [m3] and heat capacity of the metal [J/K] of a machine's circuit."""
    volume_m3 = unit.condenser_m3 + unit.liquid_line_m3 + unit.evaporator_m3 + unit.suction_line_m3
    metal = unit.condenser_wall_j_per_k + unit.evaporator_wall_j_per_k + unit.shell_j_per_k
    return volume_m3, metal


class FirstCharge(OnGrid):
    """A circuit at rest, and a cylinder on a scale connected to its liquid port.

    Parameters
    ----------
    settings : FirstChargeSettings

    Attributes
    ----------
    charge_kg : float
        Refrigerant in the circuit [kg].
    circuit_k, cylinder_k : float
        Temperatures [K].
    pressure_pa_abs : float
        In the circuit [Pa absolute].

    Raises
    ------
    ConfigError
        The molar mass of the refrigerant is not known.
    """

    def __init__(self, settings: FirstChargeSettings) -> None:
        super().__init__(GRID_S)
        self.settings = settings
        self._fluid = fluid(settings.refrigerant)
        mol_kg = molar_mass_kg(refrigerant(settings.refrigerant))
        if isinstance(mol_kg, NoValue):
            raise ConfigError(f"the simulated first charge: {mol_kg.reason}")
        self._gas = GAS_CONSTANT / mol_kg
        self._cylinder = Cylinder(
            settings.cylinder_kg,
            settings.flow_kg_per_s,
            settings.recovery_kg_per_s,
            settings.hose_s,
        )
        self._air_k = 0.5 * (settings.outdoor_k + settings.indoor_k)
        self.circuit_k, self.cylinder_k = self._air_k, settings.cylinder_k
        # Gas the pump left: it adds its pressure, and its mass is neglected.
        self._left_pa_abs = settings.start_pa_abs
        self.charge_kg = 0.0
        self.pressure_pa_abs = settings.start_pa_abs
        self._energy_j = settings.metal_j_per_k * self.circuit_k

    @property
    def cylinder_kg(self) -> float:
        """Refrigerant in the cylinder [kg]."""
        return self._cylinder.cylinder_kg

    @property
    def given_kg(self) -> float:
        """Refrigerant that has left the cylinder for good, hose included [kg]."""
        return self.charge_kg + self._cylinder.hose_kg

    def begin_step(self, mass_kg: float | None = None) -> None:
        """Open the valve; see `chargeassist.plant.physical.PhysicalPlant.begin_step`."""
        self._cylinder.begin(mass_kg)

    def end_step(self, mass_kg: float | None = None) -> None:
        """Shut the valve; see `chargeassist.plant.physical.PhysicalPlant.end_step`."""
        self._cylinder.end(mass_kg)

    def truth(self) -> Mapping[Role, float]:
        """Return what a probe without error would read, by role [SI; pressures Pa absolute]."""
        settings = self.settings
        return {
            Role.LIQUID_PRESSURE: self.pressure_pa_abs,
            Role.SUCTION_PRESSURE: self.pressure_pa_abs,
            Role.LIQUID_TEMPERATURE: self.circuit_k,
            Role.SUCTION_TEMPERATURE: self.circuit_k,
            Role.OUTDOOR_AIR_TEMPERATURE: settings.outdoor_k,
            Role.RETURN_AIR_TEMPERATURE: settings.indoor_k,
            Role.CYLINDER_MASS: self._cylinder.cylinder_kg + settings.tare_kg,
        }

    def _advance(self, dt_s: float) -> None:
        settings, cylinder = self.settings, self._cylinder
        added_kg = taken_kg = 0.0
        cylinder_pa = self._fluid.bubble_pressure_pa_abs(self.cylinder_k)
        if cylinder.busy:
            push = max(cylinder_pa - self.pressure_pa_abs, 0.0) / USUAL_PUSH_PA
            before_kg = cylinder.cylinder_kg
            added_kg = cylinder.give(dt_s, math.sqrt(push))
            self._cool_cylinder(before_kg - cylinder.cylinder_kg)
            taken_kg = cylinder.take(dt_s, self.charge_kg)
        air_w = settings.cylinder_w_per_k * (settings.outdoor_k - self.cylinder_k)
        self.cylinder_k += air_w * dt_s / self._cylinder_j_per_k()
        liquid = self._fluid.state(cylinder_pa)
        # Recovered refrigerant leaves as liquid and takes its heat along.
        here = self._fluid.state(max(self.pressure_pa_abs, self._fluid.low_pa_abs))
        self._energy_j += added_kg * liquid[2] - taken_kg * here[2]
        self._energy_j += settings.air_w_per_k * (self._air_k - self.circuit_k) * dt_s
        self.charge_kg += added_kg - taken_kg
        self.circuit_k = self._temperature_k()
        charge_pa = self._state(self.circuit_k)[0]
        self.pressure_pa_abs = self._left_pa_abs + charge_pa

    def _cylinder_j_per_k(self) -> float:
        """Return the heat capacity of cylinder and liquid [J/K].

        1.9 kJ/(kg K) is that of liquid R-32 at 25 °C (CoolProp 8); other refrigerants have less.
        """
        return self.settings.cylinder_metal_j_per_k + 1900.0 * self._cylinder.cylinder_kg

    def _cool_cylinder(self, gone_kg: float) -> None:
        """Boil off the vapour that replaces `gone_kg` of liquid, which cools the cylinder."""
        state = self._fluid.state(self._fluid.bubble_pressure_pa_abs(self.cylinder_k))
        boiled_kg = gone_kg * state[5] / (state[4] - state[5])
        self.cylinder_k -= boiled_kg * (state[3] - state[2]) / self._cylinder_j_per_k()

    def _temperature_k(self) -> float:
        """Return the temperature at which charge and metal hold the present energy [K]."""
        temp_k = self.circuit_k
        for _ in range(30):
            miss_j = self._energy_at(temp_k) - self._energy_j
            slope = (self._energy_at(temp_k + 0.01) - miss_j - self._energy_j) / 0.01
            change_k = miss_j / slope
            temp_k -= max(-20.0, min(20.0, change_k))
            if abs(change_k) < CLOSE_K:
                break
        return temp_k

    def _energy_at(self, temp_k: float) -> float:
        return self.settings.metal_j_per_k * temp_k + self.charge_kg * self._state(temp_k)[1]

    def _state(self, temp_k: float) -> tuple[float, float]:
        """Return pressure and internal energy of the charge at a temperature [Pa], [J/kg].

        Superheated vapour follows ``p = d R T (1 + B d)``, with B such that it meets the dew point;
        its energy is then linear in the density.
        """
        density = self.charge_kg / self.settings.volume_m3
        if density <= 0.0:
            return 0.0, 0.0
        dew_pa = dew_pressure_pa_abs(self._fluid, temp_k)
        dew = self._fluid.state(dew_pa)
        if density <= dew[5]:
            ideal_pa = dew[5] * self._gas * temp_k
            share = density / dew[5]
            pressure_pa = share * (ideal_pa + (dew_pa - ideal_pa) * share)
            thin = self._thin_j_per_kg(temp_k)
            return pressure_pa, thin + share * (dew[3] - dew_pa / dew[5] - thin)
        bubble_pa = self._fluid.bubble_pressure_pa_abs(temp_k)
        bubble = self._fluid.state(bubble_pa)
        share = (1.0 / density - 1.0 / bubble[4]) / (1.0 / dew[5] - 1.0 / bubble[4])
        vapour = max(0.0, min(1.0, share))
        pressure_pa = bubble_pa + vapour * (dew_pa - bubble_pa)
        liquid_j = bubble[2] - bubble_pa / bubble[4]
        return pressure_pa, liquid_j + vapour * (dew[3] - dew_pa / dew[5] - liquid_j)

    def _thin_j_per_kg(self, temp_k: float) -> float:
        """Return the internal energy of thin vapour, taken at the low end of the table [J/kg]."""
        low = self._fluid.state(self._fluid.low_pa_abs)
        superheat_k = max(temp_k - low[1], 0.0)
        enthalpy = low[3] + distance_of_superheat(low[6], low[7], low[8], superheat_k)
        return enthalpy - self._gas * temp_k


def dew_pressure_pa_abs(of: Fluid, temp_k: float) -> float:
    """Return the dew pressure at a temperature, clamped to the table [Pa absolute]."""
    i = bisect_right(of.rows, temp_k, key=lambda row: row[2]) - 1
    if i < 0:
        return of.low_pa_abs
    row = of.rows[min(i, of.last)]
    share = min((temp_k - row[2]) / row[3], 1.0)
    return math.exp(of.log_low + (min(i, of.last) + share) / of.per_step)
