"""What is installed at the site, as typed from plates: unit, line set, cylinder, crew.

The program fills in nothing: what the job file does not say is None or empty, and the stage that
needs it says what is missing.
"""

from dataclasses import dataclass
from enum import StrEnum


class SafetyGroup(StrEnum):
    """Safety groups of refrigerants (ASHRAE 34 and ISO 817: toxicity A or B, flammability)."""

    A1 = "A1"
    A2L = "A2L"
    A2 = "A2"
    A3 = "A3"

    @property
    def burns(self) -> bool:
        """Whether it can be ignited."""
        return self is not SafetyGroup.A1


class Place(StrEnum):
    """Where the outdoor unit stands; decides whether the caution about falling is shown."""

    GROUND = "ground"
    ROOF = "roof"
    WALL = "wall"  # on brackets, or wherever a ladder is needed


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """What the unit's plate says besides make, model, refrigerant and charge.

    Attributes
    ----------
    safety_group : SafetyGroup or None
    high_side_pa_gauge, low_side_pa_gauge : float or None
        Design (test) pressures of the two sides [Pa].
    rated_load_a, minimum_circuit_a : float or None
        Rated-load amps of the compressor; minimum circuit ampacity of the supply conductors.
    voltage_v : float or None
        Rated supply voltage.
    phases : int
        1 or 3; 0 if the job does not say.
    capacity_w : float or None
        Nominal cooling capacity.
    room_area_m2 : float or None
        Smallest room the plate or the instructions allow for this charge.
    source : str
        Where these were read; empty if nothing was given.
    """

    safety_group: SafetyGroup | None = None
    high_side_pa_gauge: float | None = None
    low_side_pa_gauge: float | None = None
    rated_load_a: float | None = None
    minimum_circuit_a: float | None = None
    voltage_v: float | None = None
    phases: int = 0
    capacity_w: float | None = None
    room_area_m2: float | None = None
    source: str = ""

    @property
    def weaker_side_pa_gauge(self) -> float | None:
        """Highest pressure for both sides together: the lower test pressure [Pa gauge]."""
        sides = (self.low_side_pa_gauge, self.high_side_pa_gauge)
        return min((side for side in sides if side is not None), default=None)


class Metering(StrEnum):
    """Where the metering device is."""

    INDOOR = "indoor"  # the liquid line is full of liquid
    OUTDOOR = "outdoor"  # the liquid line carries liquid and vapour


class ShortLine(StrEnum):
    """What a line set shorter than the factory allowance does to the charge.

    Makers differ: one prints an example that takes 6.75 oz out (easymanua.ls/carrier/38c-series,
    page 27), others leave the charge alone. The unit's instructions say which; there is no default.
    """

    TAKE_OUT = "take out"
    LEAVE = "leave"


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSet:
    """The pipes between the two units.

    Attributes
    ----------
    length_m : float
        One way.
    lift_m : float
        Height between the units; 0 when level.
    included_m : float or None
        Length the plate charge includes.
    liquid_diameter_m, suction_diameter_m : float or None
        Outside diameters.
    adder_kg_per_m : float or None
        The maker's figure for this liquid line; None: the published table is used.
    adder_source : str
    short_line : ShortLine or None
        None if the job does not say; a short line set then stays an open question.
    metering : Metering or None
        None if the job does not say.
    """

    length_m: float
    lift_m: float = 0.0
    included_m: float | None = None
    liquid_diameter_m: float | None = None
    suction_diameter_m: float | None = None
    adder_kg_per_m: float | None = None
    adder_source: str = ""
    short_line: ShortLine | None = None
    metering: Metering | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """The refrigerant cylinder on the scale.

    Attributes
    ----------
    tare_kg, water_capacity_kg : float or None
        Stamped on it.
    gross_kg : float or None
        As weighed before the job.
    """

    tare_kg: float | None = None
    water_capacity_kg: float | None = None
    gross_kg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """Who is responsible for the work, with certificate numbers as typed."""

    certificate: str = ""
    company: str = ""
