"""The events a session is made of: live, simulated and replayed sessions are the same stream.

There are two families:

- *Input*, from outside: ``SessionStarted``, ``ChannelDeclared``, ``Reading``, ``Mark``,
  ``SourceLost``, ``SourceBack``, ``BadInput``, ``Gap``, ``SessionResumed``, ``ClockSet``,
  ``ProgramHeld``, ``SessionStopped``. Every verdict is a pure function of these.
- *Verdicts*, made from the input: ``Settled``, ``Unsettled``, ``StepRecorded``, ``Advice``,
  ``StageChanged``, ``CheckJudged``, ``FaultJudged``. They are recorded beside it, so that a replay
  can be compared with what the technician saw.

``t`` is seconds since the session started, monotonic, stamped once on arrival. Unknown is None or
absence, never 0 and never NaN.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import get_args

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.fault_event import FaultJudged as FaultJudged
from chargeassist.model.limits import Method
from chargeassist.model.mark_event import Mark as Mark
from chargeassist.model.mark_event import MarkKind as MarkKind
from chargeassist.model.quick_init import quick_init
from chargeassist.model.time_events import ClockSet as ClockSet
from chargeassist.model.time_events import ProgramHeld as ProgramHeld
from chargeassist.model.time_events import SessionResumed as SessionResumed


class Outcome(StrEnum):
    """How a session ended."""

    COMPLETE = "complete"
    ABANDONED = "abandoned"
    FAILED = "failed"


class Action(StrEnum):
    """The instructions: five about refrigerant, and `DO`, which the sentence spells out."""

    WAIT = "wait"
    ADD = "add"
    STOP = "stop"
    RECOVER = "recover"
    FIX_FIRST = "fix first"
    DO = "do"


class Stage(StrEnum):
    """Stages of the job."""

    TIGHTNESS = "tightness"
    DRYNESS = "dryness"
    WEIGH_IN = "weigh-in"
    RUN_UP = "run-up"
    CHARGING = "charging"
    VERIFICATION = "verification"
    CLOSE_OUT = "close-out"


class CheckResult(StrEnum):
    """How a check ended: the four statements of JCGM 106, and three that are no judgement."""

    PASS = "pass"
    PASS_NOT_CERTAIN = "pass, not certain"
    FAIL_NOT_CERTAIN = "fail, not certain"
    FAIL = "fail"
    TOO_COARSE = "instruments too coarse to judge"
    NOT_JUDGED = "not judged"
    RECORDED = "recorded"


class SessionMode(StrEnum):
    """Where the readings come from."""

    FIELD = "field"
    SIMULATED = "simulated"


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionStarted:
    """First event of a session.

    Attributes
    ----------
    session_id : str
        Unique; 32 hexadecimal digits.
    started_utc : str
        RFC 3339, the only wall time of a session.
    software : str
        Name and version of the program.
    table_hash : str
        SHA-256 of the saturation table that was used.
    mode : SessionMode
    job : str
        The job as canonical JSON (`chargeassist.model.job`).
    """

    t: float
    session_id: str
    started_utc: str
    software: str
    table_hash: str
    mode: SessionMode
    job: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelDeclared:
    """A channel of which readings may follow."""

    t: float
    channel: Channel


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One sample.

    Attributes
    ----------
    channel : str
        Name of a declared channel.
    value : float
        In the SI unit of the channel; pressures count from the channel's own reference.
    quality : Quality
    device_time : float or None
        The device's own time [s], whatever its epoch.
    """

    t: float
    channel: str
    value: float
    quality: Quality = Quality.GOOD
    device_time: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceLost:
    """A source no longer delivers: cable out, broker gone."""

    t: float
    source: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceBack:
    """A lost source delivers again."""

    t: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BadInput:
    """Input that could not be read; `raw` is the beginning of it, made printable."""

    t: float
    source: str
    reason: str
    raw: str = ""
    count: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Readings that arrived but were dropped because the program could not keep up."""

    t: float
    source: str
    dropped: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionStopped:
    """Last event of a session; its counts show that nothing was cut off.

    Attributes
    ----------
    counts : Mapping[str, int]
        Readings per channel.
    """

    t: float
    outcome: Outcome
    reason: str = ""
    counts: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """The judged value has settled; its numbers are means over the settled window.

    Attributes
    ----------
    subcooling_k, superheat_k : float or None
        The judged value and its witness; the witness may be missing.
    expanded_k : float or None
        Expanded uncertainty (k = 2) of the judged value; None if not declared.
    judged : Method
    target_k, target_expanded_k : float or None
        The target at this moment and its uncertainty, where it moves with the weather.
    two_phase : bool
        The liquid line is at saturation, so the reading does not show how much is missing.
    by_hand : int or None
        Number of readings by hand it rests on; None if it was read by probes.

    Raises
    ------
    ValueError
        If the judged value is missing.
    """

    t: float
    subcooling_k: float | None = None
    expanded_k: float | None = None
    superheat_k: float | None = None
    judged: Method = Method.SUBCOOLING
    target_k: float | None = None
    target_expanded_k: float | None = None
    two_phase: bool = False
    by_hand: int | None = None

    def __post_init__(self) -> None:
        _ = self.value_k  # a verdict without its value is none

    @property
    def value_k(self) -> float:
        """The judged value [K]."""
        measured = {Method.SUBCOOLING: self.subcooling_k, Method.SUPERHEAT: self.superheat_k}
        value = measured.get(self.judged)  # nothing settles by weight or approach
        if value is None:
            raise ValueError(f"expected the {self.judged.value} that settled, got none")
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsettled:
    """The judged value no longer counts as settled, and why (a key of the wording table)."""

    t: float
    cause: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRecorded:
    """A charge step went into the ledger.

    Attributes
    ----------
    number : int
        From 1.
    mass_kg : float or None
        Added; negative if recovered; None if nobody gave the amount.
    begun_t, ended_t : float
    measured_by : str
        "scale" or "technician".
    """

    t: float
    number: int
    mass_kg: float | None
    begun_t: float
    ended_t: float
    measured_by: str


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One instruction with its reason.

    Attributes
    ----------
    action : Action
    cause : str
        Key of the wording table; the sentence is made from it and `figures` in the reader's units.
    figures : Mapping[str, float]
        SI numbers of the sentence, each with its unit in the name.
    subject : str
        What the sentence is about, if the cause alone does not say; else empty.
    mass_kg : float or None
        Proposed step of ``add`` or ``recover``.
    """

    t: float
    action: Action
    cause: str
    figures: Mapping[str, float] = field(default_factory=dict)
    subject: str = ""
    mass_kg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StageChanged:
    """The job moved to another stage."""

    t: float
    stage: Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckJudged:
    """A check of a stage ended, or was judged again.

    Attributes
    ----------
    check : str
        Its name, such as "standing_pressure", "vacuum_rise", "supply_voltage".
    result : CheckResult
    cause : str
        Key of the wording table.
    figures : Mapping[str, float]
        SI numbers of the sentence, each with its unit in the name.
    subject : str
        What the sentence is about, if the cause alone does not say; else empty.
    sources : tuple of str
        Source of each limit it was judged by, with edition and rank.
    """

    t: float
    stage: Stage
    check: str
    result: CheckResult
    cause: str
    figures: Mapping[str, float] = field(default_factory=dict)
    subject: str = ""
    sources: tuple[str, ...] = ()


InputEvent = (
    SessionStarted
    | ChannelDeclared
    | Reading
    | Mark
    | SourceLost
    | SourceBack
    | BadInput
    | Gap
    | SessionResumed
    | ClockSet
    | ProgramHeld
    | SessionStopped
)
VerdictEvent = (
    Settled | Unsettled | StepRecorded | Advice | StageChanged | CheckJudged | FaultJudged
)
Event = InputEvent | VerdictEvent

INPUT_EVENTS: tuple[type, ...] = get_args(InputEvent)
VERDICT_EVENTS: tuple[type, ...] = get_args(VerdictEvent)
