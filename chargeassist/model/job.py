"""The job: what is charged, to which target, with which probes.

`chargeassist.session.job.jobfile` reads it from one TOML file. Every limit the guide compares with
is part of the job, so the record of a session carries the limits it was judged by.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from chargeassist.model.channels import Channel
from chargeassist.model.events import Stage
from chargeassist.model.installation import Crew, Cylinder, LineSet, Place, Plate
from chargeassist.model.judged import JUDGED, JudgedQuantity
from chargeassist.model.limits import Limit, LimitKey, Method
from chargeassist.model.performance import Performance
from chargeassist.model.stage_plan import StagePlan
from chargeassist.model.units import KELVIN_PER_FAHRENHEIT
from chargeassist.model.usual_limits import USUAL


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The site of the unit; exactly one of altitude and barometer is given.

    Attributes
    ----------
    altitude_m : float or None
        Above sea level; the standard atmosphere gives the pressure.
    barometer_pa_abs : float or None
        Measured station pressure (not reduced to sea level).
    place : Place or None
        Of the outdoor unit; None if the job does not say.
    outdoor_air_k : float or None
        Read at the coil shortly before; counts as typed when the session begins.
    """

    altitude_m: float | None = None
    barometer_pa_abs: float | None = None
    place: Place | None = None
    outdoor_air_k: float | None = None

    @property
    def at_height(self) -> bool:
        """Whether someone working at the unit can fall."""
        return self.place in {Place.ROOF, Place.WALL}


@dataclass(frozen=True, slots=True, kw_only=True)
class Equipment:
    """As typed from the plate; free text."""

    make: str = ""
    model: str = ""
    serial: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The target of the charge.

    Attributes
    ----------
    method : Method
        Subcooling, or superheat for a fixed orifice.
    subcooling_k : float or None
        Target of a job judged by subcooling.
    superheat_k : float or None
        The maker's target of a job judged by superheat; None: it moves with the weather and is
        looked up in the published table (`chargeassist.physics.target_superheat`).
    tolerance_k : float
        The charge ends with the judged value settled inside target ± tolerance.
    source : str
        Where the target or the method was read; never empty.
    tolerance_source : str
        Where the tolerance was read.
    return_wet_bulb_k : float or None
        Wet bulb of the return air, if no probe measures it.
    return_wet_bulb_source : str
        How it was measured.
    approach_k : float or None
        Liquid line over outdoor air by the unit's own table, as a cross-check; None if the job
        gives none.
    approach_tolerance_k : float
        The default, 1 °F, is that of the manuals named in `chargeassist.physics.approach`.
    approach_source : str
    superheat_low_k, superheat_high_k : float
        With superheat outside this range, refrigerant is not the cure for the subcooling. The
        defaults, 4 and 25 °F (2.2 and 13.9 K), are the metering-device check of California
        Reference Appendix RA3.2 (2008), used if the maker gives no range. A job judged by superheat
        uses only the lower one: less endangers the compressor.
    superheat_source : str
        Where that range was read.
    subcooling_high_k : float
        In a job judged by superheat: with more subcooling than this, a high superheat does not come
        from a shortage.
    subcooling_source : str
        Where that was read.
    """

    tolerance_k: float
    source: str
    method: Method = Method.SUBCOOLING
    subcooling_k: float | None = None
    superheat_k: float | None = None
    tolerance_source: str = "job file"
    return_wet_bulb_k: float | None = None
    return_wet_bulb_source: str = ""
    approach_k: float | None = None
    approach_tolerance_k: float = 1.0 * KELVIN_PER_FAHRENHEIT
    approach_source: str = ""
    superheat_low_k: float = 4.0 * KELVIN_PER_FAHRENHEIT
    superheat_high_k: float = 25.0 * KELVIN_PER_FAHRENHEIT
    superheat_source: str = "RA3.2 (2008), metering device check: 4 to 25 °F"
    subcooling_high_k: float = USUAL[LimitKey.SUBCOOLING_HIGH].value_si
    subcooling_source: str = USUAL[LimitKey.SUBCOOLING_HIGH].citation

    @property
    def judged(self) -> JudgedQuantity:
        """The quantity the charge is judged by."""
        return JUDGED[self.method]

    @property
    def witness(self) -> JudgedQuantity:
        """The other of the two quantities."""
        return next(each for each in JUDGED.values() if each is not self.judged)

    @property
    def fixed_k(self) -> float | None:
        """The target the job gives [K]; None if it moves with the weather."""
        return self.subcooling_k if self.method is Method.SUBCOOLING else self.superheat_k

    @property
    def middle_k(self) -> float:
        """`fixed_k`, for a job that must have one [K].

        Raises
        ------
        ValueError
            If the target moves with the weather.
        """
        fixed_k = self.fixed_k
        if fixed_k is None:
            raise ValueError("expected a fixed target, got one that moves with the weather")
        return fixed_k

    @property
    def floor_k(self) -> float:
        """Lowest the band may reach [K]; -inf for a job judged by subcooling."""
        return -math.inf if self.method is Method.SUBCOOLING else self.superheat_low_k


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLimits:
    """Masses the charge is limited by.

    Attributes
    ----------
    plate_kg : float
        Factory charge on the plate.
    weighed_in_kg : float
        Weighed into the circuit before this session.
    allowance_kg : float
        What the line set adds to the plate charge; negative if a short one takes some out.
    allowance_source : str
        Where the adder behind it was read; empty if the allowance itself was typed.
    step_cap_kg : float
        Largest single step.
    scale_resolution_kg : float
        Steps are rounded down to this.
    limit_kg : float or None
        Most the circuit may hold of a refrigerant that burns, by plate, code or room size.
    limit_source : str
        Where that was read.
    """

    plate_kg: float
    step_cap_kg: float
    weighed_in_kg: float = 0.0
    allowance_kg: float = 0.0
    scale_resolution_kg: float = 0.005
    allowance_source: str = ""
    limit_kg: float | None = None
    limit_source: str = ""

    @property
    def full_kg(self) -> float:
        """Plate charge plus line-set allowance [kg]."""
        return self.plate_kg + self.allowance_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """The compressor frequency at which a reading counts.

    Attributes
    ----------
    required_hz : float or None
        None for a fixed-speed unit.
    tolerance_hz : float
        Half width around it. The default is an assumption; a profile's limit comes first.
    lasts_s : float or None
        Time after which the unit leaves its test mode by itself; None if it does not.
    """

    required_hz: float | None = None
    tolerance_hz: float = 1.0
    lasts_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Guards:
    """Limits that call for something other than refrigerant; None turns one off.

    Attributes
    ----------
    liquid_pressure_high_pa_gauge, suction_pressure_low_pa_gauge : float or None
        [Pa gauge].
    discharge_temp_high_k : float or None
        [K].
    current_high_a : float or None
        Of the compressor [A].
    source : str
        Where they were read; empty if the job does not say.
    """

    liquid_pressure_high_pa_gauge: float | None = None
    suction_pressure_low_pa_gauge: float | None = None
    discharge_temp_high_k: float | None = None
    current_high_a: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Processing:
    """How readings become verdicts.

    Attributes
    ----------
    period_s : float
        Time between two ticks.
    minimum_wait_s : float
        Wait after each step, however quiet the reading is; the default is common practice, no
        published source.
    settled_band_k : float
        A reading has settled when less than this is still to come. The default is an assumption.
    """

    period_s: float = 1.0
    minimum_wait_s: float = 60.0
    settled_band_k: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeSpec:
    """One probe of a source: its channel and how to find its value in what the source sends.

    Attributes
    ----------
    channel : Channel
    select : str
        Column number (from 1), key, JSON path or SenML name, by the source's format.
    topic : str
        MQTT topic.
    scale, offset : float
        Applied to the number as sent, before its unit: ``value * scale + offset``.
    """

    channel: Channel
    select: str = ""
    topic: str = ""
    scale: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceSpec:
    """One address readings come from.

    Attributes
    ----------
    name : str
        Unique in the job; shown if the source is lost.
    url : str
        ``scheme:rest``; the scheme names the adapter.
    format : str
        Of the payload: "number", "csv", "keyvalue", "json" or "senml".
    options : Mapping[str, str]
        Further settings of the adapter, as text.
    probes : tuple of ProbeSpec
    """

    name: str
    url: str
    format: str = "number"
    options: Mapping[str, str] = field(default_factory=dict)
    probes: tuple[ProbeSpec, ...] = ()

    @property
    def scheme(self) -> str:
        """The part of the address before the first colon."""
        return self.url.partition(":")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One job.

    Attributes
    ----------
    name : str
        As typed.
    refrigerant : str
        Designation as in the saturation table, for example "R-32".
    units : str
        "si" or "us": how numbers are shown; empty if the job leaves it to the reader.
    profile : str
        Name of the profile of limits, several joined by " + "; empty if the job names none.
    role : str
        Whose limits those are: "installer", "verifier"; empty if the profile does not say.
    limits : tuple of Limit
        One per key, with its source: of the job, its profiles and the defaults.
    begins : Stage
        Stage the work begins with.
    begins_source : str
        Why the stages before it are left out; empty if the job does not say.
    """

    name: str
    refrigerant: str
    target: Target
    charge: ChargeLimits
    site: Site
    hold: Hold = field(default_factory=Hold)
    guards: Guards = field(default_factory=Guards)
    processing: Processing = field(default_factory=Processing)
    equipment: Equipment = field(default_factory=Equipment)
    sources: tuple[SourceSpec, ...] = ()
    units: str = ""
    profile: str = ""
    role: str = ""
    limits: tuple[Limit, ...] = ()
    plate: Plate = field(default_factory=Plate)
    line_set: LineSet | None = None
    cylinder: Cylinder = field(default_factory=Cylinder)
    crew: Crew = field(default_factory=Crew)
    stages: StagePlan = field(default_factory=StagePlan)
    performance: Performance | None = None
    begins: Stage = Stage.RUN_UP
    begins_source: str = ""

    def limit(self, key: LimitKey) -> Limit | None:
        """Return the limit of `key`; None if the job has none."""
        return next((limit for limit in self.limits if limit.key is key), None)

    def limit_or_usual(self, key: LimitKey) -> Limit:
        """Return the limit of `key`; the program's default if an old record lacks it.

        Raises
        ------
        KeyError
            If the program has no default either.
        """
        return self.limit(key) or USUAL[key]

    def limit_si(self, key: LimitKey) -> float:
        """Return the value of `limit_or_usual` [SI]."""
        return self.limit_or_usual(key).value_si
