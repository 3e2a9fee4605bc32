"""The job: what is charged, to which target, with which probes. Read from one TOML file.

This module only says what a job is; `chargeassist.session.job.jobfile` reads it. Every limit the
guide compares with stands here, so that the record of a session carries the limits it was
judged by.
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
    """Where the unit stands: exactly one of altitude and barometer is given.

    Attributes
    ----------
    altitude_m : float or None
        Above sea level; the standard atmosphere gives the pressure.
    barometer_pa_abs : float or None
        Measured station pressure (not reduced to sea level).
    place : Place or None
        Of the outdoor unit; None: the job does not say.
    outdoor_air_k : float or None
        As read at the coil shortly before; counts as if typed when the session begins.
    """

    altitude_m: float | None = None
    barometer_pa_abs: float | None = None
    place: Place | None = None
    outdoor_air_k: float | None = None

    @property
    def at_height(self) -> bool:
        """Whether one can fall from where the unit stands."""
        return self.place in {Place.ROOF, Place.WALL}


@dataclass(frozen=True, slots=True, kw_only=True)
class Equipment:
    """As typed from the plate; free text."""

    make: str = ""
    model: str = ""
    serial: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What the charge is brought to.

    Attributes
    ----------
    method : Method
        Subcooling, or superheat for a fixed orifice.
    subcooling_k : float or None
        The number of a job judged by subcooling.
    superheat_k : float or None
        The maker's number for a job judged by superheat; None: it moves with the weather and is
        looked up in the published table (`chargeassist.physics.target_superheat`).
    tolerance_k : float
        The judged value settled inside target ± tolerance ends the charge.
    source : str
        Where the number or the method was read; never empty.
    tolerance_source : str
        Where the tolerance was read.
    return_wet_bulb_k : float or None
        Of the return air where no probe measures it, and
    return_wet_bulb_source : str
        with what it was measured.
    approach_k : float or None
        Liquid line over outdoor air by the unit's own table, a cross-check; None where the job
        gives none.
    approach_tolerance_k : float
        The default, 1 °F, is that of the manuals named in `chargeassist.physics.approach`.
    approach_source : str
    superheat_low_k, superheat_high_k : float
        Outside these refrigerant is not the cure for the subcooling read. The defaults, 4 and 25 °F
        (2.2 and 13.9 K), are the metering-device check of California Reference Appendix RA3.2
        (2008), used where the maker gives no range. Of a job judged by superheat the lower one
        alone counts: less is a danger to the compressor.
    subcooling_high_k : float
        Of a job judged by superheat: with more subcooling than this a high superheat does not come
        from a shortage.
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
    subcooling_high_k: float = 20.0 * KELVIN_PER_FAHRENHEIT
    subcooling_source: str = "20 °F: common practice, no published source"

    @property
    def judged(self) -> JudgedQuantity:
        """The quantity the charge is judged by."""
        return JUDGED[self.method]

    @property
    def witness(self) -> JudgedQuantity:
        """The quantity beside it."""
        return next(each for each in JUDGED.values() if each is not self.judged)

    @property
    def fixed_k(self) -> float | None:
        """The number the job gives for it [K]; None where it moves with the weather."""
        return self.subcooling_k if self.method is Method.SUBCOOLING else self.superheat_k

    @property
    def middle_k(self) -> float:
        """`fixed_k` where there must be one [K].

        Raises
        ------
        ValueError
            If the target moves with the weather.
        """
        fixed_k = self.fixed_k
        if fixed_k is None:
            raise ValueError("expected a target with a number of its own, got one that moves")
        return fixed_k

    @property
    def floor_k(self) -> float:
        """Where the band ends at the latest [K]; below the range of any subcooling target."""
        return -math.inf if self.method is Method.SUBCOOLING else self.superheat_low_k


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLimits:
    """Masses.

    Attributes
    ----------
    plate_kg : float
        Factory charge on the plate.
    weighed_in_kg : float
        In the circuit before this session, by scale.
    allowance_kg : float
        What the line set adds to the plate charge; negative where a short one takes out.
    allowance_source : str
        Where the adder it was reckoned with was read; empty where it was typed as it is.
    step_cap_kg : float
        Largest single step.
    scale_resolution_kg : float
        Steps are rounded down to this.
    limit_kg : float or None
        The circuit must never hold more: what plate, code or the room's size allow of a refrigerant
        that burns.
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
        """Plate charge plus line-set allowance."""
        return self.plate_kg + self.allowance_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """The compressor frequency at which a reading counts.

    Attributes
    ----------
    required_hz : float or None
        None for a fixed-speed unit.
    tolerance_hz : float
        Still at it, plus or minus. The default is an assumption; a profile's limit comes first.
    lasts_s : float or None
        After this the unit leaves its test mode by itself, or None when it does not.
    """

    required_hz: float | None = None
    tolerance_hz: float = 1.0
    lasts_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Guards:
    """Limits that call for something other than refrigerant; None switches one off.

    Attributes
    ----------
    liquid_pressure_high_pa_gauge, suction_pressure_low_pa_gauge : float or None
        [Pa gauge].
    discharge_temp_high_k : float or None
        [K].
    current_high_a : float or None
        Of the compressor [A].
    source : str
        Where they were read; empty when the job does not say.
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
        Of the tick.
    minimum_wait_s : float
        After each step, however quiet the reading is; the default is common practice, no published
        source.
    settled_band_k : float
        "Settled" means: what is still to come is less than this. The default is an assumption.
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
        Unique in the job; shown when the source is lost.
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
    """One job file.

    Attributes
    ----------
    name, refrigerant : str
        Of the job, as typed; the refrigerant by its designation in the table.
    units : str
        "si" or "us": how numbers are shown; empty where the job leaves it to the reader.
    profile : str
        Name of the profile of limits, several joined by " + "; empty when the job names none.
    role : str
        Whose limits those are: "installer", "verifier"; empty where the profile does not say.
    limits : tuple of Limit
        Those of the profile and of the job's own conditions, one per key, with their sources.
    begins : Stage
        With which the work begins.
    begins_source : str
        Why with none before it, where the job leaves one out.
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
        """Return the limit of `key`, None where the job has none."""
        return next((limit for limit in self.limits if limit.key is key), None)

    def limit_or_usual(self, key: LimitKey) -> Limit:
        """Return the limit of `key`; of a record that lacks it, the program's default.

        Raises
        ------
        KeyError
            Where the program has no default either.
        """
        return self.limit(key) or USUAL[key]

    def limit_si(self, key: LimitKey) -> float:
        """Return the value of `limit_or_usual` [SI]."""
        return self.limit_or_usual(key).value_si
