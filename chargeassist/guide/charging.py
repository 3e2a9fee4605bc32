"""The charging advisor: from the facts of one tick to one instruction with its reason.

The order of the questions is the order of what matters: is something wrong that refrigerant does
not cure; is there a reading at all; is the machine in the condition the target is given for; has
the reading settled; and only then, what does it say.
"""

from dataclasses import dataclass

from chargeassist.guide import gates, step_size
from chargeassist.guide.conditions import Condition, ConditionState
from chargeassist.guide.cure import Cure, Remedy
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Job
from chargeassist.physics.uncertainty import Decision, conformance_probability, decide
from chargeassist.stream.facts import (
    Facts,
    Measured,
)

SHORTAGE_SUBCOOLING_K = 3.0
"""A shortage starves the evaporator, and superheat passes its limit, only once hardly any
subcooling is left [K]: on this project's physical plant below about 0.5 K. With more subcooling
than this a high superheat comes from a restriction. Assumption, with room for probes in error."""

STOP_HYSTERESIS = 0.25
"""Share of the tolerance a stopped charge may leave the band by before adding is proposed again."""

SUPERHEAT_HYSTERESIS_K = 0.5
"""So far inside its limit must a complained-of superheat come before the complaint ends [K]."""

_INSIDE = frozenset(
    {
        "inside",
        "inside_not_certain",
        "inside_too_coarse",
        "inside_undeclared",
        "inside_conditions_open",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What else is known at a tick, beside the facts.

    Attributes
    ----------
    conditions : tuple of Condition
    cure : Cure or None
        What the pattern of the settled readings says; None where there is too little of it.
    hold_expired : bool
        The frequency hold ended because the unit's test mode ran out.
    """

    conditions: tuple[Condition, ...] = ()
    cure: Cure | None = None
    hold_expired: bool = False


NOTHING_ELSE = Findings()


def advise(
    job: Job, facts: Facts, previous: Advice | None, findings: Findings = NOTHING_ELSE
) -> Advice:
    """Return the instruction for this tick.

    Parameters
    ----------
    job : Job
    facts : Facts
    previous : Advice or None
        Of the tick before: a proposed amount stays what it was while its reason stays, and a
        stopped charge is not re-opened by a reading on the edge of the band.
    findings : Findings
    """
    return (
        gates.guard(job, facts, previous)
        or gates.missing(facts)
        or gates.probe(facts)
        or gates.impossible(facts, previous)
        or gates.step_open(job, facts, previous)
        or gates.hold(facts, expired=findings.hold_expired)
        or gates.condition(facts, findings.conditions)
        or gates.settling(job, facts)
        or _judge(job, facts, previous, findings)
    )


def _judge(job: Job, facts: Facts, previous: Advice | None, findings: Findings) -> Advice:
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
    short = value_k < min(low_k - slack_k, SHORTAGE_SUBCOOLING_K)
    superheat = _superheat(job, facts, previous, short=short)
    if superheat is not None:
        return superheat
    if low_k - slack_k <= value_k <= high_k + slack_k:
        return _stop(facts, settled, figures, (low_k, high_k), findings)
    gain = step_size.learnt_gain(job.charge.plate_kg, facts.ledger, settled.expanded_k)
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
    return _not_the_cure(facts, findings.cure) or _add(job, facts, figures, gain, previous)


def _not_the_cure(facts: Facts, cure: Cure | None) -> Advice | None:
    """Refuse to add where the pattern of the readings says that refrigerant is not the cure."""
    if cure is None or cure.remedy is not Remedy.FIX:
        return None
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause="not_the_cure",
        subject=cure.cause.cause.value,
        figures={"chance": cure.probability},
    )


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
    expanded_k = figures.get("expanded_k")
    mass_kg = step_size.next_step_kg(job, gain, settled_k, expanded_k)
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
    most_kg = min(room_kg, step_size.largest_kg(job, gain, settled_k, expanded_k))
    mass_kg = min(mass_kg, room_kg)
    left = step_size.steps_left(job, gain, settled_k, expanded_k)
    figures = figures | {
        "steps_left": float(left),
        "minutes_s": 60.0 * step_size.minutes_left(facts.ledger, left),
    }
    if settled_k < step_size.unsealed_below_k(expanded_k):
        figures["unsealed_below_k"] = step_size.unsealed_below_k(expanded_k)
    return _keep_mass(
        Advice(
            t=facts.t,
            action=Action.ADD,
            cause="below_target",
            figures=figures,
            mass_kg=mass_kg,
        ),
        previous,
        most_kg,
    )


def _stop(
    facts: Facts,
    settled: Measured,
    figures: dict[str, float],
    band_k: tuple[float, float],
    findings: Findings,
) -> Advice:
    low_k, high_k = band_k
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
    unknown = [item for item in findings.conditions if item.state is ConditionState.UNKNOWN]
    if unknown and cause in {"inside", "inside_not_certain"}:
        names = ", ".join(item.limit.key.value.replace("_", " ") for item in unknown)
        return Advice(
            t=facts.t,
            action=Action.STOP,
            cause="inside_conditions_open",
            subject=names,
            figures=figures,
        )
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
