"""What the stream knows at one tick: the facts that advice and screens are made from."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from chargeassist.model.channels import Channel, Role
from chargeassist.model.entries import Entry
from chargeassist.model.job import Target
from chargeassist.model.judged import SUBCOOLING, JudgedQuantity
from chargeassist.model.quick_init import quick_init
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.stream.probe_findings import ProbeFinding


class ChannelState(StrEnum):
    """One word per channel."""

    SETTLED = "settled"
    MOVING = "moving"
    NO_SIGNAL = "no signal"
    BY_HAND = "by hand"  # read off and typed: nothing shows how it moves in between


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelFacts:
    """One channel at a tick.

    Attributes
    ----------
    channel : Channel
    value_si : float or None
        Robust mean of the newest period that had samples [SI]; None without signal.
    age_s : float or None
        Since the newest live sample [s]; None when there never was one.
    slope_si_per_s : float or None
        Over the last minute [SI per second]; None while there is too little to say.
    allowed_si_per_s : float
        Change that counts as settled [SI per second].
    state : ChannelState
    why : str
        Why there is no signal: "nothing for 12 s", "out of its range", "last known value only".
    """

    channel: Channel
    value_si: float | None = None
    age_s: float | None = None
    slope_si_per_s: float | None = None
    allowed_si_per_s: float = 0.0
    state: ChannelState = ChannelState.NO_SIGNAL
    why: str = "nothing yet"


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A derived value with its expanded uncertainty (k = 2) [K]; None where none was declared."""

    value_k: float
    expanded_k: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetFacts:
    """The target of the judged value [K], as it is now.

    Attributes
    ----------
    value_k, tolerance_k : float
    expanded_k : float or None
        Uncertainty of the target itself (k = 2) [K]: 0 for a number the job gives, None where a
        probe it was looked up with declares no accuracy.
    basis : str
        Where it comes from.
    outdoor_k, wet_bulb_k : float or None
        What it was looked up with [K].
    wet_bulb_told_by : str
        "probe", "dry bulb and humidity" or "typed: ...".
    caution : str
        One clause, or empty.
    floor_k : float
        The band never reaches below this [K]: less superheat endangers the compressor.
    """

    value_k: float
    tolerance_k: float
    expanded_k: float | None = 0.0
    basis: str = ""
    outdoor_k: float | None = None
    wet_bulb_k: float | None = None
    wet_bulb_told_by: str = ""
    caution: str = ""
    floor_k: float = -math.inf

    @property
    def low_k(self) -> float:
        """Lower end of the band [K]."""
        return max(self.value_k - self.tolerance_k, self.floor_k)

    @property
    def high_k(self) -> float:
        """Upper end of the band [K]."""
        return self.value_k + self.tolerance_k


def fixed_target(target: Target) -> TargetFacts | NoValue:
    """Return the number the job gives as its target, or that it gives none."""
    if target.fixed_k is None:
        return NoValue("no target yet")
    return TargetFacts(
        value_k=target.fixed_k,
        tolerance_k=target.tolerance_k,
        basis=target.source,
        floor_k=target.floor_k,
    )


class SettleState(StrEnum):
    """Where the settling of the judged value stands.

    Two-phase: it has settled at saturation, where it does not show how much charge is missing.
    """

    NO_SIGNAL = "no signal"
    MOVING = "moving"
    NEARLY = "nearly settled"
    TWO_PHASE = "two-phase"
    SETTLED = "settled"


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """Where the judged value will settle [K] and when; every interval holds 90 %.

    Attributes
    ----------
    seconds, seconds_low, seconds_high : float or None
        To go until it can be called settled [s]; None when that cannot be said yet.
    """

    value_k: float
    low_k: float
    high_k: float
    seconds: float | None = None
    seconds_low: float | None = None
    seconds_high: float | None = None


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """The state of settling with its reason.

    Attributes
    ----------
    state : SettleState
    cause : str
        Key of the wording table: why it is not settled yet.
    slope_k_per_s : float or None
        Present change; None once it has settled, and while something rules settling out.
    since_s : float
        Seconds since the last disturbance (charge step, frequency change, start).
    hunting_period_s : float or None
        Period of the expansion valve's hunting, where it hunts.
    forecast : Forecast or None
        None once it has settled, and while something rules settling out.
    held_s : float or None
        How much longer a witness that moves, or a new clamp, can hold it back, at most [s].
    """

    state: SettleState = SettleState.NO_SIGNAL
    cause: str = "no_signal"
    slope_k_per_s: float | None = None
    since_s: float = 0.0
    hunting_period_s: float | None = None
    forecast: Forecast | None = None
    held_s: float | None = None

    @property
    def stands(self) -> bool:
        """Whether no more change is expected: settled, or at saturation."""
        return self.state is SettleState.SETTLED or self.state is SettleState.TWO_PHASE


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class HoldFacts:
    """The compressor frequency against what the job requires.

    Attributes
    ----------
    required_hz : float or None
        None: the job requires none, and `held` is True.
    actual_hz : float or None
    held : bool
    since_t : float or None
        Session time from which it has been held without a break.
    expires_s : float or None
        Seconds until the unit leaves its test mode by itself.
    told_by : str
        "channel", "technician" or "" when nothing says.
    ramp_s : float or None
        How long the frequency has been changing on its way to what is required [s]; None while it
        is held, stands elsewhere, or no channel says.
    """

    required_hz: float | None = None
    actual_hz: float | None = None
    held: bool = True
    since_t: float | None = None
    expires_s: float | None = None
    told_by: str = ""
    ramp_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeStep:
    """One line of the ledger, with when the step began and ended [s].

    Attributes
    ----------
    mass_kg : float or None
        Added, negative if recovered [kg]; None if nobody said how much, but if it `came_out`.
    before_k, after_k : float or None
        Settled value before and after [K]; None where it never settled.
    gain_k_per_kg, gain_over_kg : float or None
        What it taught [K/kg] and over which mass [kg]: its own, and of earlier ones not settled.
    probe_changed : bool
        A probe of the judged line was put right or changed since: `before_k` compares with nothing.
    """

    number: int
    mass_kg: float | None
    begun_t: float
    ended_t: float
    measured_by: str
    before_k: float | None = None
    after_k: float | None = None
    gain_k_per_kg: float | None = None
    gain_over_kg: float | None = None
    came_out: bool = False
    probe_changed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenStep:
    """A charge step in progress: begun when [s], how much the scale said last [kg], is it lost."""

    begun_t: float
    so_far_kg: float | None = None
    scale_lost: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """A number the technician typed [SI], and when [s]."""

    value_si: float
    t: float


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class HandFacts:
    """The judged line as it is read by hand.

    Attributes
    ----------
    readings, least : int
        Whole readings since the last change, and how many a verdict needs at least.
    newest_t : float or None
        When the newest whole reading was taken [s].
    due_t : float
        When the next reading becomes useful [s].
    places, wanted : tuple of Role
        Which places of the line are read by hand, and which the next reading still needs.
    """

    readings: int
    least: int
    due_t: float
    newest_t: float | None = None
    places: tuple[Role, ...] = ()
    wanted: tuple[Role, ...] = ()

    @property
    def begun(self) -> bool:
        """Whether a reading is half taken."""
        return 0 < len(self.wanted) < len(self.places)


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """All the stream knows at tick `t`.

    Attributes
    ----------
    subcooling, superheat : Measured or NoValue
        Live, from the newest values.
    liquid_saturation_k, suction_saturation_k : float or None
        Bubble point at the liquid pressure, dew point at the suction pressure.
    settled : Measured or None
        Settled value with its uncertainty; None unless settled, or standing at saturation.
    settled_superheat_k, settled_subcooling_k : float or None
        Means over the settled window, the judged one and its witness; None unless settled.
    station_pa_abs : float
        By which gauge readings were made absolute.
    step_open : OpenStep or None
    ledger : tuple of ChargeStep
    total_kg : float
        Weighed in before plus every step whose mass is known.
    running_since_t : float or None
        Since when the unit has run as it is judged: from the first reading of the liquid line or
        the last change of the frequency hold, whichever is later [s]. None before.
    values : mapping of Role to float or None
        Live channel values [SI], where there is a signal; pressures are gauge. None: `live`
        looks at the channels.
    findings : tuple of ProbeFinding
        Probes that cannot be believed.
    confirmed : frozenset of str
        Keys of limits the technician has checked by other means.
    waived : mapping of str to str
        Keys of conditions the technician goes on without, and why.
    entered : mapping of Entry to Entered
        What was typed, the newest of each.
    judged : JudgedQuantity
        What the charge is judged by.
    target : TargetFacts, NoValue or None
        The target now, or why there is none; None: the number the job gives.
    by_hand : HandFacts or None
        How the readings taken by hand stand; None where probes read the judged line.
    typed : frozenset of Role
        Places whose live value was typed.
    evacuated_t : float or None
        When the vacuum pump was last told to run [s]: what was in the circuit is gone.
    """

    t: float
    channels: Sequence[ChannelFacts]
    subcooling: Measured | NoValue
    superheat: Measured | NoValue
    liquid_saturation_k: float | None
    suction_saturation_k: float | None
    settling: Settling
    settled: Measured | None
    settled_superheat_k: float | None
    hold: HoldFacts
    station_pa_abs: float
    step_open: OpenStep | None
    ledger: tuple[ChargeStep, ...]
    total_kg: float
    running_since_t: float | None = None
    values: Mapping[Role, float] | None = None
    findings: tuple[ProbeFinding, ...] = ()
    confirmed: frozenset[str] = frozenset()
    waived: Mapping[str, str] = field(default_factory=dict)
    entered: Mapping[Entry, Entered] = field(default_factory=dict)
    settled_subcooling_k: float | None = None
    judged: JudgedQuantity = SUBCOOLING
    target: TargetFacts | NoValue | None = None
    by_hand: HandFacts | None = None
    typed: frozenset[Role] = frozenset()
    evacuated_t: float | None = None

    @property
    def reading(self) -> Measured | NoValue:
        """The judged value, live."""
        return self.value(self.judged)

    def value(self, quantity: JudgedQuantity) -> Measured | NoValue:
        """Return the live value of a quantity."""
        return self.subcooling if quantity is SUBCOOLING else self.superheat

    @property
    def settled_witness_k(self) -> float | None:
        """The value beside the judged one, over the settled window [K]."""
        if self.judged is SUBCOOLING:
            return self.settled_superheat_k
        return self.settled_subcooling_k

    def goal(self, target: Target) -> TargetFacts | NoValue:
        """Return the target now, or the number the job gives where these facts hold none."""
        return fixed_target(target) if self.target is None else self.target

    def live(self, role: Role) -> float | None:
        """Return the live value of the first channel of `role` [SI]; pressures are gauge."""
        if self.values is not None:
            return self.values.get(role)
        for item in self.channels:
            if item.channel.role is role:
                value = item.value_si
                if value is not None and item.channel.counted_from is Reference.ABSOLUTE:
                    value -= self.station_pa_abs
                return value
        return None
