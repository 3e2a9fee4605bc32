"""Gates before a reading is judged: first what is wrong, then what has to be waited for.

Each function returns its instruction, or None to pass on to the next gate.
"""

from chargeassist.guide import by_hand
from chargeassist.guide.conditions import TOLD_BY_OTHERS, Condition
from chargeassist.guide.idle import compressor_stands
from chargeassist.model.channels import Role
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Job
from chargeassist.model.judged import JUDGED, JudgedQuantity
from chargeassist.model.limits import Limit, LimitKey
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import ChannelFacts, Facts, Measured
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity

FIRST_READINGS_S = 20.0
"""A probe that has sent nothing yet is waited for this long before it counts as missing [s]."""

IMPOSSIBLE_HYSTERESIS_K = 0.5
"""A refused reading is accepted again when it is this much nearer to zero [K]. Assumption."""


def missing(facts: Facts) -> Advice | None:
    """Return which probe of the judged value is silent, and since when; None if it has a value."""
    reading = facts.reading
    if not isinstance(reading, NoValue):
        return None
    if facts.by_hand is not None:
        return _missing_by_hand(facts, reading)
    channels = {item.channel.role: item for item in facts.channels}
    for role in (facts.judged.pressure, facts.judged.temperature):
        item = channels.get(role)
        if item is None:
            return Advice(
                t=facts.t,
                action=Action.FIX_FIRST,
                cause=facts.judged.no_value_cause,
                subject=f"the job has no {role.label} probe",
            )
        if item.value_si is None:
            return _silent(facts.t, item)
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause=facts.judged.no_value_cause,
        subject=reading.reason,
    )


def _missing_by_hand(facts: Facts, why: NoValue) -> Advice | None:
    """Ask for a reading by hand; an open step comes first, because it makes readings outdated."""
    channels = {item.channel.role: item for item in facts.channels}
    hand = facts.by_hand
    for role in (facts.judged.pressure, facts.judged.temperature):
        item = channels.get(role)
        by_probe = hand is not None and role not in hand.places
        if by_probe and item is not None and item.value_si is None:
            return _silent(facts.t, item)
    if facts.step_open is not None:
        return None
    judged = facts.judged
    if None not in (facts.live(judged.pressure), facts.live(judged.temperature)):
        # Everything was read and there is still no value.
        return Advice(
            t=facts.t,
            action=Action.FIX_FIRST,
            cause=facts.judged.no_value_cause,
            subject=why.reason,
        )
    # A reading taken before the frequency is held does not count once it is held.
    return None if by_hand.waits_for_hold(facts) else by_hand.asks(facts)


def no_target(facts: Facts, why: NoValue) -> Advice:
    """Return why there is no target; the air probes are waited for like any others."""
    if facts.t < FIRST_READINGS_S:
        subject = "the air around both coils"
        return Advice(t=facts.t, action=Action.WAIT, cause="first_readings", subject=subject)
    return Advice(t=facts.t, action=Action.FIX_FIRST, cause="no_target", subject=why.reason)


def _silent(t: float, item: ChannelFacts) -> Advice:
    label = item.channel.role.label
    if item.age_s is None and t < FIRST_READINGS_S:
        return Advice(t=t, action=Action.WAIT, cause="first_readings", subject=label)
    figures = {} if item.age_s is None else {"age_s": item.age_s}
    return Advice(t=t, action=Action.FIX_FIRST, cause="no_signal", subject=label, figures=figures)


def probe(facts: Facts) -> Advice | None:
    """Return that a probe of the judged value says nothing about the unit; None if all are good.

    A loose clamp is such a probe: its reading drifts towards outdoor air and settles there, which
    would call for refrigerant to be recovered. Noise and single jumps stay cautions, since
    uncertainty and settling account for them. While a charge step is open the valve comes first.
    """
    if facts.step_open is not None:
        return None
    if not facts.findings:
        return None
    return _doubted(facts, facts.judged)


def witness_probe(facts: Facts) -> Advice | None:
    """Return the same for a probe of either line: it may be why the other value contradicts."""
    if not facts.findings:
        return None
    return next((found for each in JUDGED.values() if (found := _doubted(facts, each))), None)


def _doubted(facts: Facts, quantity: JudgedQuantity) -> Advice | None:
    roles = {item.channel.name: item.channel.role for item in facts.channels}
    for finding in facts.findings:
        role = roles.get(finding.channel)
        if role in {quantity.pressure, quantity.temperature} and _forbids_judging(finding):
            return Advice(
                t=facts.t,
                action=Action.FIX_FIRST,
                cause="probe_trouble",
                subject=f"{role.label}: {finding.kind.value}",
                figures={"since_s": max(0.0, facts.t - finding.since_t)},
            )
    return None


def _forbids_judging(finding: ProbeFinding) -> bool:
    return finding.severity is Severity.UNUSABLE or finding.kind is ProbeTrouble.LOOSE


def condition(facts: Facts, conditions: tuple[Condition, ...]) -> Advice | None:
    """Return the first condition of the job that is not met, with the source of its limit."""
    # What has to be put right comes before the run time, which goes on meanwhile.
    for item in sorted(conditions, key=lambda each: each.limit.key is LimitKey.RUN_BEFORE_READING):
        if not item.blocks or item.limit.key in TOLD_BY_OTHERS:
            continue
        limit, value = item.limit, item.value_si
        if limit.key is LimitKey.RUN_BEFORE_READING:
            left_s = limit.value_si - (value or 0.0)
            return Advice(
                t=facts.t,
                action=Action.WAIT,
                cause="run_time",
                subject=limit.citation,
                figures={"seconds_s": max(0.0, left_s)},
            )
        return Advice(
            t=facts.t,
            action=Action.FIX_FIRST,
            cause=f"condition_{limit.key.value}",
            subject=limit.citation,
            figures=_condition_figures(limit, value or 0.0),
        )
    return None


def _condition_figures(limit: Limit, value_si: float) -> dict[str, float]:
    if limit.key is LimitKey.FILTERS_PANELS:
        return {}
    if limit.key is LimitKey.AIRFLOW_LOW:
        return {"value_m3_per_s_per_w": value_si, "limit_m3_per_s_per_w": limit.value_si}
    return {"value_k": value_si, "limit_k": limit.value_si}


def impossible(job: Job, facts: Facts, previous: Advice | None) -> Advice | None:
    """Refuse a reading so far below zero that it cannot be right.

    A liquid line that much above its saturation temperature, or a suction line that much below,
    means the wrong refrigerant, swapped probes or a pressure probe with a wrong zero.
    """
    reading = facts.reading
    if not isinstance(reading, Measured) or facts.settling.since_s < FIRST_READINGS_S:
        return None
    if reading.value_k >= 0.0 or standing_still(job, facts) is not None:
        return None
    limit = job.limit_or_usual(LimitKey.IMPOSSIBLE_READING)
    limit_k = -limit.value_si
    cause = f"impossible_{facts.judged.name}"
    if previous is not None and previous.cause == cause:
        limit_k += IMPOSSIBLE_HYSTERESIS_K
    if reading.value_k + (reading.expanded_k or 0.0) >= limit_k:
        return None
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause=cause,
        subject=limit.citation,
        figures={facts.judged.figure: reading.value_k, "limit_k": limit_k},
    )


def standing_still(job: Job, facts: Facts) -> Advice | None:
    """Judge nothing while the compressor stands: at rest no reading shows the charge."""
    if facts.running_since_t is not None:
        return None
    if not compressor_stands(facts, job.limit_si(LimitKey.IDLE_CURRENT)):
        return None
    frequency_hz = facts.live(Role.COMPRESSOR_FREQUENCY)
    current_a = facts.live(Role.COMPRESSOR_CURRENT)
    seen = {"actual_hz": frequency_hz} if frequency_hz is not None else {"value_a": current_a}
    figures = {name: value for name, value in seen.items() if value is not None}
    return Advice(t=facts.t, action=Action.FIX_FIRST, cause="compressor_stands", figures=figures)


def mass_unknown(facts: Facts) -> Advice:
    """Ask for the amount of the newest step that has none."""
    lacking = [step for step in facts.ledger if step.mass_kg is None][-1]
    # Of the last step its number need not be said.
    figures = {"step": float(lacking.number)} if lacking.number < len(facts.ledger) else {}
    if lacking.came_out:
        figures["recovered"] = 1.0
    return Advice(t=facts.t, action=Action.FIX_FIRST, cause="mass_unknown", figures=figures)


def hold(job: Job, facts: Facts, *, expired: bool) -> Advice | None:
    """Ask for the frequency the target is given for; during a limited ramp, wait for it."""
    seen = facts.hold
    if seen.held or seen.required_hz is None:
        return None
    figures = {"required_hz": seen.required_hz}
    if expired:
        return Advice(t=facts.t, action=Action.FIX_FIRST, cause="hold_expired", figures=figures)
    if seen.actual_hz is not None:
        figures["actual_hz"] = seen.actual_hz
    longest = None if seen.ramp_s is None else job.limit(LimitKey.RAMP_LONGEST)
    if longest is not None and seen.ramp_s is not None:
        figures |= {"ramp_s": seen.ramp_s, "limit_s": longest.value_si}
        ramps = seen.ramp_s <= longest.value_si
        return Advice(
            t=facts.t,
            action=Action.WAIT if ramps else Action.FIX_FIRST,
            cause="hold_ramps" if ramps else "hold_ramp_long",
            subject=longest.citation,
            figures=figures,
        )
    return Advice(t=facts.t, action=Action.FIX_FIRST, cause="hold_missing", figures=figures)


def settling(job: Job, facts: Facts) -> Advice | None:
    """Wait until the reading has settled."""
    settling = facts.settling
    if settling.stands and facts.settled is not None:
        return None
    if facts.by_hand is not None and settling.cause not in {"minimum_wait", "clamp_settles"}:
        return by_hand.asks(facts)
    if settling.cause == "minimum_wait":
        left = job.processing.minimum_wait_s - settling.since_s
        return Advice(
            t=facts.t, action=Action.WAIT, cause="minimum_wait", figures={"seconds_s": left}
        )
    if settling.cause == "clamp_settles":
        limit = job.limit_or_usual(LimitKey.PROBE_SETTLING)
        left_s = limit.value_si if settling.held_s is None else settling.held_s
        figures = {"seconds_s": max(left_s, 0.0)}
        subject = limit.citation
        return Advice(
            t=facts.t, action=Action.WAIT, cause="clamp_settles", subject=subject, figures=figures
        )
    figures = {}
    if settling.slope_k_per_s is not None:
        figures["slope_k_per_s"] = settling.slope_k_per_s
    if settling.hunting_period_s is not None:
        figures["period_s"] = settling.hunting_period_s
    if settling.held_s is not None:
        figures["held_s"] = settling.held_s
    elif settling.forecast is not None and settling.forecast.seconds is not None:
        figures["seconds_s"] = settling.forecast.seconds
    return Advice(
        t=facts.t,
        action=Action.WAIT,
        cause=facts.judged.settling_cause,
        subject=settling.cause,
        figures=figures,
    )
