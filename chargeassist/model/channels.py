"""Channels: what a probe measures, where it is clamped, how far it can be trusted."""

from dataclasses import dataclass
from enum import StrEnum

from chargeassist.model.errors import UnitError
from chargeassist.model.units import Quantity, Reference, find_unit


class Role(StrEnum):
    """Where a probe is placed; a job has at most one channel per role."""

    LIQUID_PRESSURE = "liquid_pressure"
    LIQUID_TEMPERATURE = "liquid_temperature"
    SUCTION_PRESSURE = "suction_pressure"
    SUCTION_TEMPERATURE = "suction_temperature"
    DISCHARGE_TEMPERATURE = "discharge_temperature"
    OUTDOOR_AIR_TEMPERATURE = "outdoor_air_temperature"
    RETURN_AIR_TEMPERATURE = "return_air_temperature"
    RETURN_AIR_WET_BULB = "return_air_wet_bulb"
    RETURN_AIR_HUMIDITY = "return_air_humidity"
    SUPPLY_AIR_TEMPERATURE = "supply_air_temperature"
    COMPRESSOR_CURRENT = "compressor_current"
    COMPRESSOR_FREQUENCY = "compressor_frequency"
    CYLINDER_MASS = "cylinder_mass"
    BAROMETER = "barometer"
    VACUUM = "vacuum"
    VOLTAGE_AB = "voltage_ab"
    VOLTAGE_BC = "voltage_bc"
    VOLTAGE_CA = "voltage_ca"

    @property
    def quantity(self) -> Quantity:
        """The quantity a probe in this place measures."""
        return _QUANTITY[self]

    @property
    def label(self) -> str:
        """The role in plain words, for sentences: "liquid line temperature"."""
        return _LABEL[self]


_QUANTITY = {
    Role.LIQUID_PRESSURE: Quantity.PRESSURE,
    Role.LIQUID_TEMPERATURE: Quantity.TEMPERATURE,
    Role.SUCTION_PRESSURE: Quantity.PRESSURE,
    Role.SUCTION_TEMPERATURE: Quantity.TEMPERATURE,
    Role.DISCHARGE_TEMPERATURE: Quantity.TEMPERATURE,
    Role.OUTDOOR_AIR_TEMPERATURE: Quantity.TEMPERATURE,
    Role.RETURN_AIR_TEMPERATURE: Quantity.TEMPERATURE,
    Role.RETURN_AIR_WET_BULB: Quantity.TEMPERATURE,
    Role.RETURN_AIR_HUMIDITY: Quantity.FRACTION,
    Role.SUPPLY_AIR_TEMPERATURE: Quantity.TEMPERATURE,
    Role.COMPRESSOR_CURRENT: Quantity.CURRENT,
    Role.COMPRESSOR_FREQUENCY: Quantity.FREQUENCY,
    Role.CYLINDER_MASS: Quantity.MASS,
    Role.BAROMETER: Quantity.PRESSURE,
    Role.VACUUM: Quantity.PRESSURE,
    Role.VOLTAGE_AB: Quantity.VOLTAGE,
    Role.VOLTAGE_BC: Quantity.VOLTAGE,
    Role.VOLTAGE_CA: Quantity.VOLTAGE,
}

_LABEL = {
    Role.LIQUID_PRESSURE: "liquid line pressure",
    Role.LIQUID_TEMPERATURE: "liquid line temperature",
    Role.SUCTION_PRESSURE: "suction line pressure",
    Role.SUCTION_TEMPERATURE: "suction line temperature",
    Role.DISCHARGE_TEMPERATURE: "discharge temperature",
    Role.OUTDOOR_AIR_TEMPERATURE: "outdoor air",
    Role.RETURN_AIR_TEMPERATURE: "return air",
    Role.RETURN_AIR_WET_BULB: "return air wet bulb",
    Role.RETURN_AIR_HUMIDITY: "return air humidity",
    Role.SUPPLY_AIR_TEMPERATURE: "supply air",
    Role.COMPRESSOR_CURRENT: "compressor amps",
    Role.COMPRESSOR_FREQUENCY: "compressor frequency",
    Role.CYLINDER_MASS: "cylinder scale",
    Role.BAROMETER: "barometer",
    Role.VACUUM: "vacuum",
    Role.VOLTAGE_AB: "supply voltage",
    Role.VOLTAGE_BC: "supply voltage, second pair",
    Role.VOLTAGE_CA: "supply voltage, third pair",
}

VOLTAGE_ROLES = (Role.VOLTAGE_AB, Role.VOLTAGE_BC, Role.VOLTAGE_CA)
"""The supply voltages; a single-phase unit has only the first."""

RECORDED_DECIMALS = {
    Quantity.PRESSURE: 2,
    Quantity.TEMPERATURE: 4,
    Quantity.CURRENT: 4,
    Quantity.FREQUENCY: 3,
    Quantity.MASS: 5,
    Quantity.VOLTAGE: 3,
    Quantity.FRACTION: 5,
}
"""Decimals kept of an SI reading: 0.01 Pa, 0.1 mK, 0.1 mA, 1 mHz, 10 mg, 1 mV, 0.001 %.

A hundred times finer than any field probe resolves; it keeps a record short enough to read.
"""

TEMP_ROUNDING_K = 1e-4
"""A temperature this near to a limit equals it [K]: 70.0 °F is recorded as 294.2611 K, which is
0.01 mK short of 70 °F. Enough for a difference of two."""


class Quality(StrEnum):
    """What is known about a reading besides its value."""

    GOOD = "good"
    RANGE = "range"  # outside what the probe says it can measure
    RETAINED = "retained"  # a broker's last known value, not a live sample


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Declared limits of error, half widths: ``absolute_si + relative * |value|``.

    They are of what the probe shows: the rounding to its smallest step is in them.

    Attributes
    ----------
    absolute_si : float
        In the SI unit of the channel.
    relative : float
        Share of the reading, of what the probe shows: see `Channel.half_width`.
    """

    absolute_si: float = 0.0
    relative: float = 0.0

    def half_width(self, value_si: float) -> float:
        """Return the half width of the limits at `value_si`, in its unit."""
        return self.absolute_si + self.relative * abs(value_si)


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One declared stream of readings.

    Attributes
    ----------
    name : str
        Key of the channel in events; one to 40 of ``a-z 0-9 _``.
    role : Role
    unit : str
        The unit the probe sends, for example "psig".
    reference : Reference or None
        Gauge or absolute, for pressures only; None where the unit's name already says so.
    accuracy : Accuracy or None
        Declared limits of error; None if the job does not declare any.
    low_si, high_si : float or None
        Range the probe can measure, SI.
    resolution_si : float or None
        Smallest step of the probe, SI.
    max_age_s : float
        A value older than this counts as no signal [s].
    source : str
        Name of the source that feeds it.
    serial, calibrated : str
        As typed in the job; empty when not given.
    """

    name: str
    role: Role
    unit: str
    reference: Reference | None = None
    accuracy: Accuracy | None = None
    low_si: float | None = None
    high_si: float | None = None
    resolution_si: float | None = None
    max_age_s: float = 10.0
    source: str = ""
    serial: str = ""
    calibrated: str = ""

    @property
    def quantity(self) -> Quantity:
        """The quantity the channel measures."""
        return self.role.quantity

    def quality_of(self, value_si: float) -> Quality:
        """Return the quality of a reading: `RANGE` outside what the probe can measure."""
        below = self.low_si is not None and value_si < self.low_si
        above = self.high_si is not None and value_si > self.high_si
        return Quality.RANGE if below or above else Quality.GOOD

    def half_width(self, value_si: float) -> float | None:
        """Return the declared limits of error at a reading, plus or minus [SI]; None without.

        A share counts of what the probe shows: of 35 °C, not of 308 K.
        """
        accuracy = self.accuracy
        if accuracy is None:
            return None
        if not accuracy.relative or self.quantity is not Quantity.TEMPERATURE:
            return accuracy.half_width(value_si)
        try:
            zero_si = find_unit(self.unit, Quantity.TEMPERATURE).to_si(0.0)
        except UnitError:  # of a record: no job has such a unit
            zero_si = 0.0
        return accuracy.half_width(value_si - zero_si)

    @property
    def counted_from(self) -> Reference | None:
        """Reference of a pressure: as declared, else as the unit's name says; None if unknown."""
        if self.reference is not None or self.quantity is not Quantity.PRESSURE:
            return self.reference
        try:
            return find_unit(self.unit, Quantity.PRESSURE).reference
        except UnitError:
            return None
