"""A physical plant: an air conditioner from conserved mass and energy, for training and tests.

What it is: a lumped dynamic model with a compressor map, a three-zone condenser, a two-zone
evaporator, a metering device with a late bulb, and stores of refrigerant in accumulator and oil.
What it answers to charge, frequency, weather and faults follows from that.

What it is not: a model of any maker's unit. Its coefficients were tuned by this project until it
met the published figures named in the reference tests, within the bounds that stand there. It does
not heat: of a defrost it knows the interruption, not the reversed run. It is no substitute for a
real unit and proves nothing about one.
"""

import math
import random
from collections.abc import Mapping
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.physics.atmosphere import SEA_LEVEL_PA_ABS
from chargeassist.plant.air import IndoorAir
from chargeassist.plant.circuit import Circuit
from chargeassist.plant.drive import Drive, Trip
from chargeassist.plant.errors import PlantLimitError
from chargeassist.plant.faults import FaultSchedule
from chargeassist.plant.grid import OnGrid
from chargeassist.plant.physical_settings import PhysicalSettings
from chargeassist.plant.property_table import fluid
from chargeassist.plant.stores import USUAL_PUSH_PA, Cylinder

GRID_S: Final = 0.25
"""Longest step [s]."""

WEATHER_STEPS: Final = 2
"""Steps between two draws of the outdoor air, and between two looks at the faults."""

GUST_LAG_S: Final = 40.0
"""Correlation time of outdoor air around its mean [s] (assumption)."""

LEAST_CIRCUIT_KG: Final = 0.05
"""Recovery leaves so much in the machine [kg]: the model needs refrigerant on both sides."""


class PhysicalPlant(OnGrid):
    """One air conditioner with a cylinder connected to its suction port.

    Parameters
    ----------
    settings : PhysicalSettings
    grid_s : float
        Longest step [s]; the default unless a test looks at the step itself.

    Raises
    ------
    ConfigError
        The settings cannot be simulated.

    Attributes
    ----------
    circuit : Circuit
        All that holds refrigerant in the machine.
    """

    def __init__(self, settings: PhysicalSettings, *, grid_s: float = GRID_S) -> None:
        super().__init__(grid_s)
        self.settings = settings
        self._fluid = fluid(settings.refrigerant)
        unit = settings.machine()
        air_density = settings.station_pa_abs / SEA_LEVEL_PA_ABS
        self._indoor = IndoorAir(
            settings.return_k, settings.return_wet_k, unit.indoor_air_kg_per_s * air_density,
            unit.bypass, unit.indoor_fan_w, settings.station_pa_abs,
        )  # fmt: skip
        self.circuit = Circuit(
            self._fluid, unit, settings.valve, charge_kg=settings.charge_kg,
            outdoor_k=settings.outdoor_k, indoor=self._indoor, plate_kg=settings.plate_kg,
            air_density_share=air_density,
        )  # fmt: skip
        self._faults = FaultSchedule(settings.faults, settings.courses)
        self._drive = Drive(settings)
        self._cylinder = Cylinder(
            settings.cylinder_kg, settings.flow_kg_per_s, settings.recovery_kg_per_s,
            settings.hose_s,
        )  # fmt: skip
        cylinder_pa = self._fluid.bubble_pressure_pa_abs(settings.outdoor_k)
        self._cylinder_pa_abs = cylinder_pa
        self._added_j_per_kg = self._fluid.state(cylinder_pa)[2]
        self._gusts = random.Random(f"gusts {settings.seed}")  # seeded play, no secret
        self.circuit.set_faults(settings.faults)
        if settings.start_hz > 0.0:
            self._run_in()
        self.circuit.outdoor_k += settings.gust_k * self._gusts.gauss(0.0, 1.0)
        self.circuit.heat_in_j = 0.0
        self.circuit.leaked_kg = 0.0
        self.circuit.set_faults(self._faults.at(0.0))

    def _run_in(self) -> None:
        """Run at the starting frequency in still weather, before time 0."""
        drive, circuit = self._drive, self.circuit
        steps = round(self.settings.settle_s / self._grid_s)
        self.circuit.set_fans(on=True)
        for k in range(steps):
            hz = drive.advance(self._grid_s, k * self._grid_s - self.settings.settle_s)
            circuit.advance(self._grid_s, hz, 0.0, self._added_j_per_kg, 0.0)
            drive.watch(
                self._grid_s, k * self._grid_s - self.settings.settle_s, circuit.suction_pa_abs,
                circuit.discharge_pa_abs, circuit.discharge_k,
            )  # fmt: skip
        drive.frequency_hz = self.settings.start_hz if drive.trip is None else 0.0

    @property
    def frequency_hz(self) -> float:
        """Of the compressor, 0 when it stands [Hz]."""
        return self._drive.frequency_hz

    @property
    def trip(self) -> Trip | None:
        """Why the drive stopped by itself."""
        return self._drive.trip

    @property
    def outdoor_k(self) -> float:
        """Outdoor air now [K]."""
        return self.circuit.outdoor_k

    @property
    def subcooling_k(self) -> float:
        """At the liquid port, without any probe's error [K]."""
        return self.circuit.subcooling_k

    @property
    def superheat_k(self) -> float:
        """At the suction port, without any probe's error [K]."""
        return self.circuit.superheat_k

    @property
    def discharge_k(self) -> float:
        """Of the compressor body and its discharge line [K]."""
        return self.circuit.discharge_k

    @property
    def arriving_kg(self) -> float:
        """Added refrigerant that has not boiled off yet, hose included [kg]."""
        return self.hose_kg + self.circuit.stores.liquid_kg

    @property
    def circuit_kg(self) -> float:
        """Refrigerant in the machine [kg]."""
        return self.circuit.mass_kg

    @property
    def hose_kg(self) -> float:
        """Refrigerant between scale and machine [kg]."""
        return self._cylinder.hose_kg

    @property
    def cylinder_kg(self) -> float:
        """Refrigerant on the scale [kg]."""
        return self._cylinder.cylinder_kg

    @property
    def leaked_kg(self) -> float:
        """Lost to the air [kg]."""
        return self.circuit.leaked_kg

    @property
    def current_a(self) -> float:
        """Line current of the outdoor unit [A]."""
        unit = self.circuit.unit
        if self._drive.frequency_hz <= 0.0:
            return unit.standby_a
        real_w = self.circuit.power_w + unit.outdoor_fan_w
        return real_w / (unit.volts * unit.power_factor) + unit.standby_a

    @property
    def capacity_w(self) -> float:
        """Net cooling of the indoor air [W]."""
        return self.circuit.capacity_w

    @property
    def power_w(self) -> float:
        """Compressor and both fans [W]."""
        unit = self.circuit.unit
        fans_w = unit.outdoor_fan_w + self._indoor.fan_w if self.frequency_hz > 0.0 else 0.0
        return self.circuit.power_w + fans_w

    def begin_step(self, mass_kg: float | None = None) -> None:
        """Open the valve.

        Parameters
        ----------
        mass_kg : float, optional
            Exactly this much leaves the cylinder, or is recovered when negative [kg]; without it
            liquid flows until `end_step`.
        """
        self._cylinder.begin(mass_kg)

    def end_step(self, mass_kg: float | None = None) -> None:
        """Shut the valve; what is told of a step that was not seen is made up for.

        Parameters
        ----------
        mass_kg : float, optional
            What the technician says went in. The plant goes by what flowed, with two exceptions,
            each done at the usual rate: a negative mass is recovered, so that a step still open
            comes to it as a whole; a positive one without a step begun is added.
        """
        self._cylinder.end(mass_kg)

    def command_frequency(self, frequency_hz: float | None = None) -> None:
        """Let the compressor go to a frequency; None is the required one, 0 stops it [Hz]."""
        self._drive.command(frequency_hz, self.t)

    def reset_trip(self) -> None:
        """Let a machine that stopped by itself start again."""
        self._drive.reset()

    def _advance(self, dt_s: float) -> None:
        circuit, drive, cylinder = self.circuit, self._drive, self._cylinder
        hz = drive.advance(dt_s, self.t)
        circuit.set_fans(on=hz > 0.0)
        circuit.reversing = drive.reversing
        added_kg = taken_kg = 0.0
        if cylinder.busy:
            push = (self._cylinder_pa_abs - circuit.suction_pa_abs) / USUAL_PUSH_PA
            push = 1.0 if push >= 1.0 else (math.sqrt(push) if push > 0.0 else 0.0)
            added_kg = cylinder.give(dt_s, push)
            left_kg = min(circuit.mass_kg - LEAST_CIRCUIT_KG, 0.2 * circuit.high.mass_kg * dt_s)
            taken_kg = cylinder.take(dt_s, left_kg)
        circuit.advance(dt_s, hz, added_kg, self._added_j_per_kg, taken_kg)
        drive.watch(
            dt_s, self.t, circuit.suction_pa_abs, circuit.discharge_pa_abs, circuit.discharge_k
        )
        if not (circuit.high.mass_kg > 0.0 and circuit.low.mass_kg > 0.0):
            raise PlantLimitError(
                f"the simulated machine ran empty on one side at {self.t:.2f} s: "
                f"{circuit.inventories_kg} kg"
            )

    def _on_grid(self) -> None:
        """Change the weather: drawn on the grid, it does not depend on how the time is cut."""
        if self._steps % WEATHER_STEPS != 0:
            return
        settings, circuit = self.settings, self.circuit
        if settings.gust_k > 0.0:
            keep = math.exp(-WEATHER_STEPS * self._grid_s / GUST_LAG_S)
            kick_k = settings.gust_k * math.sqrt(1.0 - keep * keep) * self._gusts.gauss(0.0, 1.0)
            away_k = circuit.outdoor_k - settings.outdoor_k
            circuit.outdoor_k = settings.outdoor_k + keep * away_k + kick_k
        circuit.set_faults(self._faults.at(self.t))

    def truth(self) -> Mapping[Role, float]:
        """Return what a probe without error would read, by role [SI; pressures Pa absolute]."""
        circuit, settings = self.circuit, self.settings
        return {
            Role.LIQUID_PRESSURE: circuit.head_pa_abs,
            Role.LIQUID_TEMPERATURE: circuit.liquid_pipe_k,
            Role.SUCTION_PRESSURE: circuit.suction_pa_abs,
            Role.SUCTION_TEMPERATURE: circuit.port_k,
            Role.DISCHARGE_TEMPERATURE: circuit.discharge_k,
            Role.OUTDOOR_AIR_TEMPERATURE: circuit.outdoor_k,
            Role.RETURN_AIR_TEMPERATURE: self._indoor.dry_k,
            Role.RETURN_AIR_WET_BULB: self._indoor.wet_k,
            Role.RETURN_AIR_HUMIDITY: self._indoor.relative_humidity,
            Role.SUPPLY_AIR_TEMPERATURE: circuit.supply_k,
            Role.COMPRESSOR_CURRENT: self.current_a,
            Role.COMPRESSOR_FREQUENCY: self._drive.frequency_hz,
            Role.CYLINDER_MASS: self._cylinder.cylinder_kg + settings.tare_kg,
            Role.BAROMETER: settings.station_pa_abs,
        }
