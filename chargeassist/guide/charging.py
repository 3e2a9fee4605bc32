"""The charging advisor: from the facts of one tick to one instruction with its reason.

The order of the questions is the order of what matters: is something wrong that refrigerant does
not cure; is there a reading at all; is the machine in the condition the target is given for; has
the reading settled; and only then, what does it say.
"""

from functools import lru_cache

from chargeassist.guide import step_size
from chargeassist.model.channels import Role
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Guards, Job
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.uncertainty import Decision, conformance_probability, decide
from chargeassist.stream.facts import (
    ChannelFacts,
    Facts,
    Measured,
    OpenStep,
    SettleState,
)

FIRST_READINGS_S = 20.0
"""A probe that has never been heard is waited for this long before it counts as missing [s]."""

IMPOSSIBLE_SUBCOOLING_K = -3.0
"""A liquid line this much above its saturation temperature [K] is no liquid line: wrong
refrigerant, exchanged probes or a wrong zero. Common practice, no published source."""

IMPOSSIBLE_HYSTERESIS_K = 0.5

GUARD_HYSTERESIS, GUARD_HYSTERESIS_K = 0.01, 1.0
"""So far back inside a limit, as a share of it or in kelvin, must a value come before the warning
ends: a value on the limit would switch it on and off with its noise."""

STOP_HYSTERESIS = 0.25
"""Share of the tolerance a stopped charge may leave the band by before adding is proposed again."""

SUPERHEAT_HYSTERESIS_K = 0.5
"""So far inside its limit must a complained-of superheat come before the complaint ends [K]."""

_INSIDE = frozenset({"inside", "inside_not_certain", "inside_too_coarse", "inside_undeclared"})


def advise(
    job: Job, facts: Facts, previous: Advice | None, *, hold_expired: bool = False
) -> Advice:
    """Return the instruction for this tick.

    Parameters
    ----------
    job : Job
    facts : Facts
    previous : Advice or None
        Of the tick before: a proposed amount stays what it was while its reason stays, and a
        stopped charge is not re-opened by a reading on the edge of the band.
    hold_expired : bool
        The frequency hold ended because the unit's test mode ran out.
    """
    return (
        _guard(job, facts, previous)
        or _missing(facts)
        or _impossible(facts, previous)
        or _step_open(job, facts, previous)
        or _hold(facts, expired=hold_expired)
        or _settling(job, facts)
        or _judge(job, facts, previous)
    )


def _missing(facts: Facts) -> Advice | None:
    """No reading, no advice: which probe is silent, and since when."""
    if not isinstance(facts.subcooling, NoValue):
        return None
    channels = {item.channel.role: item for item in facts.channels}
    for role in (Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE):
        item = channels.get(role)
        if item is None:
            return Advice(
                t=facts.t,
                action=Action.FIX_FIRST,
                cause="no_value",
                subject=f"the job has no {role.label} probe",
            )
        if item.value_si is None:
            return _silent(facts.t, item)
    return Advice(
        t=facts.t, action=Action.FIX_FIRST, cause="no_value", subject=facts.subcooling.reason
    )


def _silent(t: float, item: ChannelFacts) -> Advice:
    label = item.channel.role.label
    if item.age_s is None and t < FIRST_READINGS_S:
        return Advice(t=t, action=Action.WAIT, cause="first_readings", subject=label)
    figures = {} if item.age_s is None else {"age_s": item.age_s}
    return Advice(t=t, action=Action.FIX_FIRST, cause="no_signal", subject=label, figures=figures)


def _guard(job: Job, facts: Facts, previous: Advice | None) -> Advice | None:
    """Limits of the job file that call for something other than refrigerant."""
    limits = _limits(job.guards)
    if not limits:
        return None
    for item in facts.channels:
        guard = limits.get(item.channel.role)
        value = item.value_si
        if guard is None or value is None:
            continue
        cause, unit, limit, is_high = guard
        if item.channel.counted_from is Reference.ABSOLUTE:
            value -= facts.station_pa_abs
        slack = 0.0
        if previous is not None and previous.cause == cause:
            slack = GUARD_HYSTERESIS_K if unit == "k" else GUARD_HYSTERESIS * abs(limit)
        if value <= limit - slack if is_high else value >= limit + slack:
            continue
        return Advice(
            t=facts.t,
            action=Action.FIX_FIRST,
            cause=cause,
            figures={f"value_{unit}": value, f"limit_{unit}": limit},
        )
    return None


@lru_cache(maxsize=16)
def _limits(guards: Guards) -> dict[Role, tuple[str, str, float, bool]]:
    """Return, for each guarded role, cause, unit suffix, limit and whether it is an upper one."""
    every = (
        (Role.LIQUID_PRESSURE, "liquid_pressure_high", "pa", guards.liquid_pressure_high_pa_gauge),
        (Role.SUCTION_PRESSURE, "suction_pressure_low", "pa", guards.suction_pressure_low_pa_gauge),
        (Role.DISCHARGE_TEMPERATURE, "discharge_temp_high", "k", guards.discharge_temp_high_k),
        (Role.COMPRESSOR_CURRENT, "current_high", "a", guards.current_high_a),
    )
    return {
        role: (cause, unit, limit, cause.endswith("_high"))
        for role, cause, unit, limit in every
        if limit is not None
    }


def _impossible(facts: Facts, previous: Advice | None) -> Advice | None:
    subcooling = facts.subcooling
    if not isinstance(subcooling, Measured) or facts.settling.since_s < FIRST_READINGS_S:
        return None
    limit_k = IMPOSSIBLE_SUBCOOLING_K
    if previous is not None and previous.cause == "impossible_subcooling":
        limit_k += IMPOSSIBLE_HYSTERESIS_K
    if subcooling.value_k + (subcooling.expanded_k or 0.0) >= limit_k:
        return None
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause="impossible_subcooling",
        figures={"subcooling_k": subcooling.value_k},
    )


def _step_open(job: Job, facts: Facts, previous: Advice | None) -> Advice | None:
    """Say how far the open step is, and when the proposed amount is in."""
    step: OpenStep | None = facts.step_open
    if step is None:
        return None
    figures: dict[str, float] = {}
    if previous is not None and previous.action is Action.ADD and previous.mass_kg is not None:
        figures["wanted_kg"] = previous.mass_kg
    elif previous is not None and previous.cause in {"step_open", "step_full"}:
        figures |= {k: v for k, v in previous.figures.items() if k == "wanted_kg"}
    cause = "step_open"
    if step.so_far_kg is not None:
        figures["so_far_kg"] = step.so_far_kg
        wanted_kg = figures.get("wanted_kg")
        if wanted_kg is not None and step.so_far_kg >= wanted_kg - job.charge.scale_resolution_kg:
            cause = "step_full"
    return Advice(t=facts.t, action=Action.WAIT, cause=cause, figures=figures)


def _hold(facts: Facts, *, expired: bool) -> Advice | None:
    hold = facts.hold
    if hold.held or hold.required_hz is None:
        return None
    figures = {"required_hz": hold.required_hz}
    if expired:
        return Advice(t=facts.t, action=Action.FIX_FIRST, cause="hold_expired", figures=figures)
    if hold.actual_hz is not None:
        figures["actual_hz"] = hold.actual_hz
    return Advice(t=facts.t, action=Action.FIX_FIRST, cause="hold_missing", figures=figures)


def _settling(job: Job, facts: Facts) -> Advice | None:
    settling = facts.settling
    if settling.state is SettleState.SETTLED and facts.settled is not None:
        return None
    if settling.cause == "minimum_wait":
        left = job.processing.minimum_wait_s - settling.since_s
        return Advice(
            t=facts.t, action=Action.WAIT, cause="minimum_wait", figures={"seconds_s": left}
        )
    figures: dict[str, float] = {}
    if settling.slope_k_per_s is not None:
        figures["slope_k_per_s"] = settling.slope_k_per_s
    if settling.hunting_period_s is not None:
        figures["period_s"] = settling.hunting_period_s
    if settling.forecast is not None and settling.forecast.seconds is not None:
        figures["seconds_s"] = settling.forecast.seconds
    return Advice(
        t=facts.t,
        action=Action.WAIT,
        cause="settling",
        subject=settling.cause,
        figures=figures,
    )


def _judge(job: Job, facts: Facts, previous: Advice | None) -> Advice:
    """Return what a settled reading says."""
    settled = facts.settled
    if settled is None:  # _settling has answered
        raise AssertionError("judging without a settled reading")
    target = job.target
    value_k = settled.value_k
    figures = {
        "subcooling_k": value_k,
        "target_k": target.subcooling_k,
        "tolerance_k": target.tolerance_k,
    }
    if settled.expanded_k is not None:
        figures["expanded_k"] = settled.expanded_k
    low_k = target.subcooling_k - target.tolerance_k
    high_k = target.subcooling_k + target.tolerance_k
    slack_k = 0.0
    if previous is not None and previous.cause in _INSIDE:
        slack_k = STOP_HYSTERESIS * target.tolerance_k
    superheat = _superheat(job, facts, previous, short=value_k < low_k - slack_k)
    if superheat is not None:
        return superheat
    gain = step_size.learnt_gain(job.charge.plate_kg, facts.ledger)
    if value_k < low_k - slack_k:
        return _add(job, facts, figures, gain, previous)
    if value_k > high_k + slack_k:
        mass_kg = step_size.excess_kg(job, gain, value_k)
        return _keep_mass(
            Advice(
                t=facts.t,
                action=Action.RECOVER,
                cause="above_target",
                figures=figures,
                mass_kg=mass_kg,
            ),
            previous,
            mass_kg,
        )
    return _stop(facts, settled, figures, low_k, high_k)


def _superheat(job: Job, facts: Facts, previous: Advice | None, *, short: bool) -> Advice | None:
    """Superheat that contradicts what subcooling alone would say."""
    superheat_k = facts.settled_superheat_k
    if superheat_k is None:
        return None
    expanded = facts.superheat.expanded_k if isinstance(facts.superheat, Measured) else None
    margin_k = expanded or 0.0
    low_k, high_k = job.target.superheat_low_k, job.target.superheat_high_k
    said = "" if previous is None else previous.cause
    low_slack_k = SUPERHEAT_HYSTERESIS_K if said == "low_superheat" else 0.0
    high_slack_k = SUPERHEAT_HYSTERESIS_K if said == "not_the_charge" else 0.0
    if superheat_k + margin_k < low_k + low_slack_k:
        cause, limit_k = "low_superheat", low_k
    elif not short and superheat_k - margin_k > high_k - high_slack_k:
        cause, limit_k = "not_the_charge", high_k
    else:
        return None
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause=cause,
        figures={"superheat_k": superheat_k, "limit_k": limit_k},
    )


def _add(
    job: Job,
    facts: Facts,
    figures: dict[str, float],
    gain: step_size.Gain,
    previous: Advice | None,
) -> Advice:
    settled_k = figures["subcooling_k"]
    if any(step.mass_kg is None for step in facts.ledger):
        return Advice(t=facts.t, action=Action.FIX_FIRST, cause="mass_unknown")
    mass_kg = step_size.next_step_kg(job, gain, settled_k)
    full_kg = job.charge.full_kg
    room_kg = step_size.round_down(full_kg - facts.total_kg, job.charge.scale_resolution_kg)
    if room_kg < job.charge.scale_resolution_kg:
        return Advice(
            t=facts.t,
            action=Action.FIX_FIRST,
            cause="over_full",
            figures={"total_kg": facts.total_kg, "full_kg": full_kg},
        )
    if mass_kg <= 0.0:
        return Advice(t=facts.t, action=Action.STOP, cause="step_too_fine", figures=figures)
    most_kg = min(
        room_kg,
        job.charge.step_cap_kg,
        step_size.prudent_mass_kg(
            gain, job.target.subcooling_k + job.target.tolerance_k - settled_k
        ),
    )
    mass_kg = min(mass_kg, room_kg)
    left = step_size.steps_left(job, gain, settled_k, mass_kg)
    return _keep_mass(
        Advice(
            t=facts.t,
            action=Action.ADD,
            cause="below_target",
            figures={**figures, "steps_left": float(left)},
            mass_kg=mass_kg,
        ),
        previous,
        most_kg,
    )


def _stop(
    facts: Facts, settled: Measured, figures: dict[str, float], low_k: float, high_k: float
) -> Advice:
    cause = "inside_undeclared"
    if settled.expanded_k is not None:
        figures = dict(figures)
        figures["conformance"] = conformance_probability(
            settled.value_k, settled.expanded_k / 2.0, low_k, high_k
        )
        # On the edge of the band, inside the slack, the reading still says what it said inside.
        value_k = min(max(settled.value_k, low_k), high_k)
        match decide(value_k, settled.expanded_k, low_k, high_k):
            case Decision.PASS:
                cause = "inside"
            case Decision.TOO_COARSE:
                cause = "inside_too_coarse"
            case _:
                cause = "inside_not_certain"
    return Advice(t=facts.t, action=Action.STOP, cause=cause, figures=figures)


def _keep_mass(advice: Advice, previous: Advice | None, most_kg: float) -> Advice:
    """Keep the amount proposed before: a number that changes while one reads it is no help.

    Unless it is more than `most_kg`, which the reading, drifting inside what counts as settled,
    allows by now.
    """
    if (
        previous is None
        or (previous.action, previous.cause) != (advice.action, advice.cause)
        or previous.mass_kg is None
        or previous.mass_kg > most_kg
    ):
        return advice
    return Advice(
        t=advice.t,
        action=advice.action,
        cause=advice.cause,
        figures=advice.figures,
        subject=advice.subject,
        mass_kg=previous.mass_kg,
    )
