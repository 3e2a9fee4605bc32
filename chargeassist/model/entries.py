"""Numbers the technician types because no probe measures them; marks in the record."""

from collections.abc import Mapping
from enum import StrEnum

from chargeassist.model.channels import Role
from chargeassist.model.units import Quantity, Reference


class Entry(StrEnum):
    """What a typed number is."""

    VOLTAGE_AB = "voltage_ab"
    VOLTAGE_BC = "voltage_bc"
    VOLTAGE_CA = "voltage_ca"
    CURRENT = "current"
    AIRFLOW = "airflow"
    HEAT = "heat"
    AIR_BEFORE_HEAT = "air_before_heat"
    AIR_AFTER_HEAT = "air_after_heat"
    RETURN_DRY_BULB = "return_dry_bulb"
    OUTDOOR_AIR = "outdoor_air"
    RETURN_WET_BULB = "return_wet_bulb"
    SUPPLY_DRY_BULB = "supply_dry_bulb"
    SUPPLY_WET_BULB = "supply_wet_bulb"
    CYLINDER_GROSS = "cylinder_gross"
    WEIGHED_IN = "weighed_in"
    RECOVERED = "recovered"
    STANDING_PRESSURE = "standing_pressure"
    STANDING_TEMPERATURE = "standing_temperature"
    TEST_PRESSURE = "test_pressure"
    LIQUID_PIPE = "liquid_pipe"
    SUCTION_PIPE = "suction_pipe"
    VACUUM = "vacuum"
    LIQUID_PRESSURE = "liquid_pressure"
    SUCTION_PRESSURE = "suction_pressure"
    DISCHARGE_PIPE = "discharge_pipe"
    ICE_BATH = "ice_bath"
    CYLINDER_PRESSURE = "cylinder_pressure"
    CYLINDER_TEMPERATURE = "cylinder_temperature"
    CYLINDER_RESTED = "cylinder_rested"

    @property
    def quantity(self) -> Quantity:
        """Its quantity."""
        return _QUANTITY[self]

    @property
    def reference(self) -> Reference | None:
        """Reference of a pressure typed without one; None for other quantities."""
        if self.quantity is not Quantity.PRESSURE:
            return None
        return Reference.ABSOLUTE if self is Entry.VACUUM else Reference.GAUGE

    @property
    def label(self) -> str:
        """The entry in plain words."""
        return _LABEL[self]

    @property
    def span_si(self) -> tuple[float, float]:
        """Smallest and largest number accepted [SI]; one outside is taken for a typing error."""
        return _SPAN_SI[self]


_QUANTITY = {
    Entry.VOLTAGE_AB: Quantity.VOLTAGE,
    Entry.VOLTAGE_BC: Quantity.VOLTAGE,
    Entry.VOLTAGE_CA: Quantity.VOLTAGE,
    Entry.CURRENT: Quantity.CURRENT,
    Entry.AIRFLOW: Quantity.AIRFLOW,
    Entry.HEAT: Quantity.POWER,
    Entry.AIR_BEFORE_HEAT: Quantity.TEMPERATURE,
    Entry.AIR_AFTER_HEAT: Quantity.TEMPERATURE,
    Entry.RETURN_DRY_BULB: Quantity.TEMPERATURE,
    Entry.OUTDOOR_AIR: Quantity.TEMPERATURE,
    Entry.RETURN_WET_BULB: Quantity.TEMPERATURE,
    Entry.SUPPLY_DRY_BULB: Quantity.TEMPERATURE,
    Entry.SUPPLY_WET_BULB: Quantity.TEMPERATURE,
    Entry.CYLINDER_GROSS: Quantity.MASS,
    Entry.WEIGHED_IN: Quantity.MASS,
    Entry.RECOVERED: Quantity.MASS,
    Entry.STANDING_PRESSURE: Quantity.PRESSURE,
    Entry.STANDING_TEMPERATURE: Quantity.TEMPERATURE,
    Entry.TEST_PRESSURE: Quantity.PRESSURE,
    Entry.LIQUID_PIPE: Quantity.TEMPERATURE,
    Entry.SUCTION_PIPE: Quantity.TEMPERATURE,
    Entry.VACUUM: Quantity.PRESSURE,
    Entry.LIQUID_PRESSURE: Quantity.PRESSURE,
    Entry.SUCTION_PRESSURE: Quantity.PRESSURE,
    Entry.DISCHARGE_PIPE: Quantity.TEMPERATURE,
    Entry.ICE_BATH: Quantity.TEMPERATURE,
    Entry.CYLINDER_PRESSURE: Quantity.PRESSURE,
    Entry.CYLINDER_TEMPERATURE: Quantity.TEMPERATURE,
    Entry.CYLINDER_RESTED: Quantity.DURATION,
}

_LABEL = {
    Entry.VOLTAGE_AB: "voltage, line to line or line to neutral",
    Entry.VOLTAGE_BC: "voltage, second pair of lines",
    Entry.VOLTAGE_CA: "voltage, third pair of lines",
    Entry.CURRENT: "running amps",
    Entry.AIRFLOW: "indoor airflow",
    Entry.HEAT: "heat into the air by heater or furnace, compressor off, blower as for cooling",
    Entry.AIR_BEFORE_HEAT: "air before heater or furnace",
    Entry.AIR_AFTER_HEAT: "air after heater or furnace",
    Entry.RETURN_DRY_BULB: "return air, dry bulb",
    Entry.OUTDOOR_AIR: "outdoor air at the coil, in the shade",
    Entry.RETURN_WET_BULB: "return air, wet bulb",
    Entry.SUPPLY_DRY_BULB: "supply air, dry bulb",
    Entry.SUPPLY_WET_BULB: "supply air, wet bulb",
    Entry.CYLINDER_GROSS: "cylinder on the scale",
    Entry.WEIGHED_IN: "weighed in",
    Entry.RECOVERED: "recovered before the work",
    Entry.STANDING_PRESSURE: "standing pressure of the idle circuit",
    Entry.STANDING_TEMPERATURE: "temperature of the idle circuit's coldest part",
    Entry.TEST_PRESSURE: "pressure of the circuit under nitrogen",
    Entry.LIQUID_PIPE: "temperature of the liquid line's pipe",
    Entry.SUCTION_PIPE: "temperature of the suction line's pipe",
    Entry.VACUUM: "vacuum of the circuit",
    Entry.LIQUID_PRESSURE: "pressure of the liquid line",
    Entry.SUCTION_PRESSURE: "pressure of the suction line",
    Entry.DISCHARGE_PIPE: "temperature of the discharge line's pipe",
    Entry.ICE_BATH: "thermometer in ice water",
    Entry.CYLINDER_PRESSURE: "pressure of a resting cylinder, by the liquid pressure probe",
    Entry.CYLINDER_TEMPERATURE: "wall of the resting cylinder at the liquid, probe insulated",
    Entry.CYLINDER_RESTED: "how long the cylinder has rested",
}

_SPAN_SI = {
    Entry.VOLTAGE_AB: (10.0, 1000.0),
    Entry.VOLTAGE_BC: (10.0, 1000.0),
    Entry.VOLTAGE_CA: (10.0, 1000.0),
    Entry.CURRENT: (0.0, 1000.0),
    Entry.AIRFLOW: (0.005, 50.0),
    Entry.HEAT: (200.0, 1e6),
    Entry.AIR_BEFORE_HEAT: (263.15, 328.15),
    Entry.AIR_AFTER_HEAT: (263.15, 343.15),
    Entry.RETURN_DRY_BULB: (263.15, 328.15),
    Entry.OUTDOOR_AIR: (233.15, 333.15),
    Entry.RETURN_WET_BULB: (263.15, 318.15),
    Entry.SUPPLY_DRY_BULB: (253.15, 328.15),
    Entry.SUPPLY_WET_BULB: (263.15, 318.15),
    Entry.CYLINDER_GROSS: (0.0, 2000.0),
    Entry.WEIGHED_IN: (0.0, 500.0),
    Entry.RECOVERED: (0.0, 500.0),
    Entry.STANDING_PRESSURE: (0.0, 15e6),
    Entry.STANDING_TEMPERATURE: (243.15, 338.15),
    Entry.TEST_PRESSURE: (0.0, 15e6),
    Entry.LIQUID_PIPE: (243.15, 338.15),
    Entry.SUCTION_PIPE: (243.15, 338.15),
    Entry.VACUUM: (0.1, 110e3),
    Entry.LIQUID_PRESSURE: (0.0, 15e6),
    Entry.SUCTION_PRESSURE: (-100e3, 15e6),
    Entry.DISCHARGE_PIPE: (243.15, 423.15),
    Entry.ICE_BATH: (253.15, 293.15),
    Entry.CYLINDER_PRESSURE: (0.0, 15e6),
    Entry.CYLINDER_TEMPERATURE: (243.15, 338.15),
    Entry.CYLINDER_RESTED: (0.0, 30.0 * 86_400.0),
}

RUNNING_ROLES: Mapping[Entry, Role] = {
    Entry.LIQUID_PRESSURE: Role.LIQUID_PRESSURE,
    Entry.LIQUID_PIPE: Role.LIQUID_TEMPERATURE,
    Entry.SUCTION_PRESSURE: Role.SUCTION_PRESSURE,
    Entry.SUCTION_PIPE: Role.SUCTION_TEMPERATURE,
    Entry.DISCHARGE_PIPE: Role.DISCHARGE_TEMPERATURE,
}
"""Entries of the running circuit and the role each stands for; pressures are gauge."""


def believed(text: str, value_si: float | None) -> Entry | None:
    """Return the entry a typed number belongs to; None if unknown or outside its `span_si`."""
    try:
        entry = Entry(text)
    except ValueError:
        return None
    low, high = entry.span_si
    return entry if value_si is not None and low <= value_si <= high else None
