"""Words for what a reading is judged by: conditions, probes, causes, and what is still moving."""

from collections.abc import Iterable
from typing import Final

from chargeassist.guide.ahead import Ahead
from chargeassist.guide.conditions import TOLD_BY_OTHERS, Condition, ConditionState
from chargeassist.guide.crosscheck import CrossCheck
from chargeassist.guide.diagnosis import Diagnosis, Evidence, RankedCause, Verdict
from chargeassist.guide.fault_terms import Feature
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model import display
from chargeassist.model.channels import Role
from chargeassist.model.display import NO_NUMBER, UnitSystem
from chargeassist.model.job import Job
from chargeassist.model.judged import JUDGED
from chargeassist.model.limits import Kind, Limit, LimitKey
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import ChannelFacts, ChannelState, Facts, SettleState
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity

_CONDITION = {
    LimitKey.OUTDOOR_LOW: ("outdoor air", "at least"),
    LimitKey.OUTDOOR_HIGH: ("outdoor air", "at most"),
    LimitKey.INDOOR_LOW: ("return air", "at least"),
    LimitKey.INDOOR_HIGH: ("return air", "at most"),
    LimitKey.RUN_BEFORE_READING: ("run before a reading", "at least"),
    LimitKey.AIRFLOW_LOW: ("indoor airflow", "at least"),
    LimitKey.WAIT_AFTER_CHANGE: ("wait after each change", "at least"),
    LimitKey.FINAL_HOLD: ("final reading stands for", "at least"),
    LimitKey.FREQUENCY_TOLERANCE: ("frequency off by", "at most"),
    LimitKey.HOLD_LASTS: ("test mode of the unit lasts", ""),
    LimitKey.RAMP_LONGEST: ("ramp to the frequency", "at most"),
    LimitKey.FILTERS_PANELS: ("filter clean, registers open, panels on:", ""),
}

_HIDDEN = {
    False: (
        "What these readings hide: a little air in the circuit (the pressure at rest shows it), a "
        "pressure zero that moves between two charge steps, and short indoor air where nobody "
        "measures a wet bulb."
    ),
    True: (
        "What readings behind a fixed orifice hide: air in the circuit (the pressure at rest shows "
        "it), and a liquid line probe that is off, which does nothing to a charge by superheat. A "
        "leak shows after some minutes without a step."
    ),
}
"""By whether a fixed orifice meters; measured, see tests/benchmarks/RESULTS.md."""

_TROUBLE = {
    ProbeTrouble.STUCK: "its value stands still",
    ProbeTrouble.LOOSE: "it went toward outdoor air while nothing else moved",
    ProbeTrouble.LAGGING: "it creeps while nothing else moves; wait for it",
    ProbeTrouble.NOISY: "it is much noisier than it was, or than it should be",
    ProbeTrouble.JUMPING: "it jumped further than a pipe can",
    ProbeTrouble.OUT_OF_RANGE: "its values lie outside what it can measure",
}

_SEVERITY = {
    Severity.NOTE: "",
    Severity.CAUTION: "look at it before relying on it",
    Severity.UNUSABLE: "its readings say nothing about the unit",
}

_SIGNS = ("low", "normal", "high")
_CLEAR = 0.6
_SPEAKS = 0.05
"""Evidence weaker than this neither speaks for nor against a cause."""

_SHARPEST = 0.005


def whose(job: Job) -> str:
    """Return whose limits apply: "profile california-installer: the installer's limits"."""
    if not job.profile:
        return "no profile"
    return f"profile {job.profile}" + (f": the {job.role}'s limits" if job.role else "")


def target(snapshot: Snapshot, system: UnitSystem) -> tuple[str, list[str]]:
    """Return the target with its tolerance, and the sources of both, a line each."""
    wanted = snapshot.job.target
    goal = snapshot.facts.goal(wanted)
    name = wanted.judged.name
    if isinstance(goal, NoValue):
        return f"{name}: no target now", [goal.reason, f"method: {wanted.source}"]
    number = display.difference_number(goal.value_k, system)
    text = f"{name} {number} ± {display.difference(goal.tolerance_k, system)}"
    sources = [wanted.source, f"tolerance: {wanted.tolerance_source}"]
    if goal.outdoor_k is not None and goal.wet_bulb_k is not None:
        text += ", moves with the weather"
        outdoor = display.temperature(goal.outdoor_k, system)
        wet_bulb = display.temperature(goal.wet_bulb_k, system)
        read = f"{goal.basis}: outdoor air {outdoor}, return wet bulb {wet_bulb}"
        if goal.expanded_k is not None:
            read += f"; uncertain by ± {display.difference(goal.expanded_k, system)}"
        sources.insert(1, f"{read} (wet bulb: {goal.wet_bulb_told_by})")
    if goal.caution:
        sources.append(goal.caution)
    return text, sources


def approach(check: CrossCheck | None, system: UnitSystem) -> str:
    """Return the approach against what is wanted and what it says; empty without a cross-check."""
    if check is None:
        return ""
    wanted = (
        f"wanted {display.difference_number(check.target_k, system)} ± "
        f"{display.difference(check.tolerance_k, system)} [{check.source}]"
    )
    if isinstance(check.approach, NoValue):
        return f"{check.approach.reason}; {wanted}"
    if isinstance(check.says, NoValue):
        return f"{check.says.reason}; {wanted}"
    value = display.with_uncertainty(check.approach.value_k, check.approach.expanded_k, system)
    agrees = {True: ", as the reading does", False: ", the reading does not", None: ""}
    return f"{value}, {wanted}: {check.says.value}{agrees[check.agrees]}"


def condition_name(limit: Limit) -> str:
    """Return what is limited, in words: "outdoor air at least"."""
    what, how = _CONDITION.get(limit.key, (limit.key.words, ""))
    return f"{what} {'more than' if limit.strict and how == 'at least' else how}".rstrip()


def condition_limit(limit: Limit, system: UnitSystem) -> str:
    """Return the limit's value in the reader's units, where there is more than one."""
    if limit.key.kind is Kind.TEMP:
        return display.temperature(limit.value_si, system)
    return limit.as_written


def condition_value(item: Condition, system: UnitSystem) -> str:
    """Return what was measured: "now 11.4 °C"; that it was checked; or what is wanting."""
    if item.state is ConditionState.WAIVED:
        return f"gone on without: {item.why}"
    unheld = item.state is not ConditionState.MET and item.limit.key in TOLD_BY_OTHERS
    if item.value_si is None and unheld:
        return "not held, or nobody has said so"
    if item.value_si is None:
        checked = item.state is ConditionState.MET
        return "checked and confirmed" if checked else "nothing measures it"
    if item.limit.key is LimitKey.AIRFLOW_LOW:
        return f"measured {display.airflow_per_capacity(item.value_si, system)}"
    if item.limit.key is LimitKey.HOLD_LASTS:
        return f"{display.duration(item.value_si)} left"
    if item.limit.key.kind is Kind.FREQUENCY:
        return f"now {item.value_si:.1f} Hz off"
    if item.limit.key.kind is Kind.DURATION:
        return f"so far {display.duration(item.value_si)}"
    return f"now {display.temperature(item.value_si, system)}"


def finding(item: ProbeFinding, label: str, t: float) -> str:
    """Return what was found about a probe: "liquid line temperature, for 2 min: ..."."""
    parts = [_TROUBLE[item.kind], *filter(None, [_SEVERITY[item.severity]])]
    if item.kind is ProbeTrouble.LAGGING and item.severity is not Severity.NOTE:
        limit = display.duration(item.figures["limit_s"])
        parts = [f"it creeps for longer than {limit}: bad contact, dirt, or no insulation over it"]
    since = display.duration(max(0.0, t - item.since_t))
    return f"{label}, for {since}: {'; '.join(parts)}"


def still_moving(facts: Facts) -> str:
    """Return which inputs of the judgement still move, and what else does; empty for nothing.

    Pressure and temperature of one line are judged; those of the other and amps are witnesses. What
    is judged has settled where both move alike: then they are not named.
    """
    if facts.step_open is not None or not facts.hold.held:
        return ""
    if facts.settling.state is SettleState.NO_SIGNAL:
        return ""
    first = {item.channel.role: item.state for item in reversed(facts.channels)}
    moving = {role for role, state in first.items() if state is ChannelState.MOVING}
    by = facts.judged
    named = ((by.pressure, "pressure"), (by.temperature, "temperature"))
    judged = [name for role, name in named if role in moving and not facts.settling.stands]
    if judged:
        judged[0] = f"{by.line} {judged[0]}"
    witnesses = [
        each.name
        for each in JUDGED.values()
        if each is not by and moving & {each.pressure, each.temperature}
    ]
    if Role.COMPRESSOR_CURRENT in moving:
        witnesses.append("amps")
    parts = [f"{' and '.join(names)} still moving" for names in (judged, witnesses) if names]
    return "; ".join(parts)


def ahead(item: Ahead | None) -> str:
    """Return what is left after this wait, as it looks now; empty where it cannot be said."""
    if item is None:
        return ""
    low, high = item.steps_low, item.steps_high
    if item.passes:
        return "it looks like settling past its target"
    if high == 0:
        text = "it looks like settling inside its target"
    else:
        number = f"{high}" if low == high else f"{low} {'or' if high - low == 1 else 'to'} {high}"
        minutes = max(1, round(item.seconds / 60.0))
        span = "in all" if item.wait_known else "after this wait"
        text = f"then about {number} step{'' if high == 1 else 's'}, {minutes} min {span}"
    return f"{text}, or past its target" if item.may_pass else text


def verdict(diagnosis: Diagnosis | None) -> str:
    """Return how far the readings go, as a sentence without full stop."""
    if diagnosis is None:
        return "Nothing to rank yet: causes are ranked by settled readings only"
    if diagnosis.verdict is Verdict.NOT_ENOUGH:
        return "Not enough to tell: too few readings differ clearly from what is expected"
    text = diagnosis.verdict.value
    return text[0].upper() + text[1:]


def chance(item: RankedCause) -> str:
    """Return a probability in whole percent: "62 %", "< 1 %"."""
    if item.probability < _SHARPEST:
        return "< 1 %"
    return f"{min(99, round(item.probability * 100)):d} %"


def cause_name(item: RankedCause) -> str:
    """Return the cause, and how it looks where it can look several ways."""
    return f"{item.cause.value} ({item.pattern})" if item.pattern else item.cause.value


def evidence(item: Evidence) -> tuple[str, str]:
    """Return "for", "against" or "silent", and the reading beside what the cause would do to it."""
    side = "silent"
    if abs(item.log_ratio) >= _SPEAKS:
        side = "for" if item.log_ratio > 0.0 else "against"
    found, would = sign(item.sign), item.expected.value
    text = f"{item.feature.value} {found}"
    if would == "not known":
        text += "; not known what the cause does to it"
    elif side == "for" and would in _SIGNS and found in _SIGNS and would != found:
        side = "silent"  # the range is a general one: a reading inside it rules nothing out
        text += f"; would be {would}, but need not show in so wide a range"
    elif would != found:
        text += f"; would be {would}"
    return side, f"{text} (sources disagree)" if item.sources_disagree else text


def sign(likelihood: tuple[float, float, float]) -> str:
    """Return where a reading lies: "high", "normal or high", or that it is too uncertain."""
    if max(likelihood) >= _CLEAR:
        return _SIGNS[likelihood.index(max(likelihood))]
    least = likelihood.index(min(likelihood))
    if likelihood[least] > 0.15 or least == 1:
        return "too uncertain to say"
    return " or ".join(word for index, word in enumerate(_SIGNS) if index != least)


def would_tell(diagnosis: Diagnosis, channels: Iterable[ChannelFacts] = ()) -> str:
    """Return which missing readings would tell most; a dash for none.

    What a probe of `channels` reads is missing for want of a figure to compare it with.
    """
    read = {each.channel.role for each in channels if each.state is not ChannelState.NO_SIGNAL}
    return (
        ", ".join(
            f"the maker's figure for {item.value}" if _READ_BY.get(item) in read else item.value
            for item in diagnosis.would_tell
        )
        or NO_NUMBER
    )


_READ_BY: Final = {
    Feature.DISCHARGE: Role.DISCHARGE_TEMPERATURE,
    Feature.CURRENT: Role.COMPRESSOR_CURRENT,
}
"""What only the maker's table tells the expected value of."""


def hidden(diagnosis: Diagnosis) -> str:
    """Return which faults readings like these do not show, and what does."""
    return _HIDDEN[diagnosis.orifice]
