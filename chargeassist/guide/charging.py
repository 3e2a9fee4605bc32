"""The charging advisor: from the facts of one tick to one instruction with its reason.

The questions are asked in order of importance: is something wrong that refrigerant does not cure;
is there a reading at all; is the unit in the conditions the target is given for; has the reading
settled; and only then, what does it say.
"""

import math
from dataclasses import dataclass

from chargeassist.guide import by_hand, gates, guards, open_step, step_size
from chargeassist.guide.conditions import OPEN, Condition
from chargeassist.guide.cure import Cure
from chargeassist.guide.diagnosis import Diagnosis
from chargeassist.guide.drift import Drift
from chargeassist.guide.fault_found import Fault
from chargeassist.guide.objection import (
    before_recovering,
    drifting,
    instead_of_stopping,
    not_the_cure,
    standing_shifted,
)
from chargeassist.guide.standing import Standing
from chargeassist.guide.witness import contradiction
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.quick_init import quick_init
from chargeassist.model.values import NoValue
from chargeassist.physics.uncertainty import Decision, conformance_probability, decide
from chargeassist.stream.facts import (
    Facts,
    Measured,
    SettleState,
    TargetFacts,
)

STOP_HYSTERESIS = 0.25
"""Fraction of the tolerance by which a stopped charge may leave the band before it is reopened."""

_INSIDE = frozenset(
    {
        "inside",
        "inside_not_certain",
        "inside_too_coarse",
        "inside_undeclared",
        "inside_conditions_open",
        "inside_but_fault",
    }
)


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What is known at a tick besides the facts.

    Attributes
    ----------
    conditions : tuple of Condition
    cure : Cure or None
        Whether refrigerant is the cure by the pattern of the settled readings; None if not settled.
    diagnosis : Diagnosis or None
        The ranking of faults it comes from.
    fault : Fault or None
        The fault that stands.
    drift : Drift or None
        A drift of a settled reading.
    standing : Standing or None
        The newest check of the pressure at rest that decided something.
    cylinder : Standing or None
        The check at a cylinder by which the liquid pressure probe was found shifted.
    hold_expired : bool
        Whether the frequency hold ended because the unit's test mode ran out.
    flooding_s : float
        How long superheat has been too low for the compressor [s].
    """

    conditions: tuple[Condition, ...] = ()
    cure: Cure | None = None
    diagnosis: Diagnosis | None = None
    fault: Fault | None = None
    drift: Drift | None = None
    standing: Standing | None = None
    cylinder: Standing | None = None
    hold_expired: bool = False
    flooding_s: float = 0.0


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
        Of the tick before: a proposed amount stays while its reason stays, and a stopped charge is
        not reopened by a reading on the edge of the band.
    findings : Findings, optional
    """
    found = (
        guards.empty(facts)
        or guards.guard(job, facts, previous)
        or guards.charge_limit(job, facts)
        or open_step.scale_lost(facts, previous)
        or gates.missing(facts)
        or gates.probe(facts)
        or gates.impossible(job, facts, previous)
        or open_step.step_open(job, facts, previous)
        or guards.floodback(job, facts, findings.flooding_s)
        or _shifted_at_rest(job, facts, findings)
        or gates.hold(job, facts, expired=findings.hold_expired)
        or gates.standing_still(job, facts)
        or gates.condition(facts, findings.conditions)
        or _with_target(job, facts, previous, findings)
    )
    return open_step.beside_what_comes_first(job, facts, previous, found)


def _shifted_at_rest(job: Job, facts: Facts, findings: Findings) -> Advice | None:
    """Say of a pressure that is off at rest, before the compressor is started with it."""
    if gates.standing_still(job, facts) is None:
        return None
    return standing_shifted(facts, findings.standing, findings.cylinder)


def _with_target(job: Job, facts: Facts, previous: Advice | None, findings: Findings) -> Advice:
    """Return the instruction when no gate stands before the reading."""
    goal = facts.goal(job.target)
    if isinstance(goal, NoValue):
        return gates.no_target(facts, goal)
    return (
        drifting(facts, findings.drift)
        or gates.settling(job, facts)
        or _judge(job, facts, goal, previous, findings)
    )


def _judge(
    job: Job, facts: Facts, goal: TargetFacts, previous: Advice | None, findings: Findings
) -> Advice:
    """Return the instruction a settled reading leads to."""
    settled = facts.settled
    if settled is None:  # gates.settling has answered
        raise AssertionError("judging without a settled reading")
    judged = facts.judged
    slack_k = 0.0
    if previous is not None and previous.cause in _INSIDE:
        slack_k = STOP_HYSTERESIS * goal.tolerance_k
    refusal = standing_shifted(facts, findings.standing, findings.cylinder)
    if refusal is not None:
        return refusal
    refusal = contradiction(job, facts, goal, previous, slack_k)
    if refusal is not None:
        return gates.witness_probe(facts) or refusal
    figures = _figures(facts, settled, goal)
    value_k = settled.value_k
    under, over = value_k < goal.low_k - slack_k, value_k > goal.high_k + slack_k
    if not under and not over:
        stop = _stop(facts, settled, figures, goal, findings)
        instead = instead_of_stopping(facts, findings.fault, stop)
        return instead if instead is stop else by_hand.asks_beside(facts) or instead
    aim = step_size.aim_of(job, goal)
    gain = step_size.learnt_gain(job.charge.plate_kg, facts.ledger, settled.expanded_k, judged)
    if over if judged.charge_sign > 0.0 else under:
        objection = before_recovering(
            job, facts, findings.diagnosis, findings.cure, findings.standing
        )
        if objection is not None:
            return objection
        mass_kg = step_size.excess_kg(aim, gain, value_k)
        return _keep_mass(
            Advice(
                t=facts.t,
                action=Action.RECOVER,
                cause=judged.excess_cause,
                figures=figures,
                mass_kg=mass_kg,
            ),
            previous,
            mass_kg,
        )
    refusal = not_the_cure(facts, findings.cure)
    if refusal is not None:
        return by_hand.asks_beside(facts) or refusal
    return _add(job, facts, figures, (aim, gain), previous)


def _figures(facts: Facts, settled: Measured, goal: TargetFacts) -> dict[str, float]:
    """Return the figures that every sentence about a settled reading uses."""
    figures = {
        facts.judged.figure: settled.value_k,
        "target_k": goal.value_k,
        "tolerance_k": goal.tolerance_k,
    }
    if settled.expanded_k is not None:
        figures["expanded_k"] = settled.expanded_k
    if math.isfinite(goal.floor_k):
        figures["floor_k"] = goal.floor_k
    if goal.outdoor_k is not None and goal.wet_bulb_k is not None:
        figures["outdoor_k"], figures["wet_bulb_k"] = goal.outdoor_k, goal.wet_bulb_k
        if goal.expanded_k is not None:
            figures["target_expanded_k"] = goal.expanded_k
    return figures


def _add(
    job: Job,
    facts: Facts,
    figures: dict[str, float],
    how: tuple[step_size.Aim, step_size.Gain],
    previous: Advice | None,
) -> Advice:
    aim, gain = how
    judged = facts.judged
    settled_k = figures[judged.figure]
    two_phase = facts.settling.state is SettleState.TWO_PHASE
    if two_phase:
        gain = step_size.cautious_gain(job.charge.plate_kg, gain, judged)
    if any(step.mass_kg is None for step in facts.ledger):
        return gates.mass_unknown(facts)
    expanded_k = figures.get("expanded_k")
    mass_kg = step_size.next_step_kg(aim, gain, settled_k, expanded_k)
    full_kg = job.charge.full_kg
    limit_kg = job.charge.limit_kg
    if limit_kg is not None and limit_kg < full_kg:
        full_kg = limit_kg
    room_kg = step_size.round_down(full_kg - facts.total_kg, job.charge.scale_resolution_kg)
    if room_kg < job.charge.scale_resolution_kg:
        return Advice(
            t=facts.t,
            action=Action.FIX_FIRST,
            cause="over_full" if full_kg != limit_kg else "up_to_limit",
            subject="" if full_kg != limit_kg else job.charge.limit_source,
            figures={"total_kg": facts.total_kg, "full_kg": full_kg},
        )
    if mass_kg <= 0.0:
        return Advice(t=facts.t, action=Action.STOP, cause="step_too_fine", figures=figures)
    most_kg = min(room_kg, step_size.largest_kg(aim, gain, settled_k, expanded_k))
    mass_kg = min(mass_kg, room_kg)
    left = step_size.steps_left(aim, gain, settled_k, expanded_k)
    figures = figures | {
        "steps_left": float(left),
        "minutes_s": step_size.seconds_left(facts.ledger, left),
    }
    if two_phase:
        figures["two_phase"] = 1.0
    if judged is SUBCOOLING and settled_k < step_size.unsealed_below_k(expanded_k):
        figures["unsealed_below_k"] = step_size.unsealed_below_k(expanded_k)
    return _keep_mass(
        Advice(
            t=facts.t,
            action=Action.ADD,
            cause=judged.short_cause,
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
    goal: TargetFacts,
    findings: Findings,
) -> Advice:
    low_k, high_k = goal.low_k, goal.high_k
    cause = "inside_undeclared"
    if settled.expanded_k is not None and goal.expanded_k is not None:
        # The distance between reading and target counts, and both are uncertain.
        expanded_k = math.hypot(settled.expanded_k, goal.expanded_k)
        figures = dict(figures)
        figures["conformance"] = conformance_probability(
            settled.value_k, expanded_k / 2.0, low_k, high_k
        )
        # Just outside the band, within the slack, the verdict is still that of its edge.
        value_k = min(max(settled.value_k, low_k), high_k)
        match decide(value_k, expanded_k, low_k, high_k):
            case Decision.PASS:
                cause = "inside"
            case Decision.TOO_COARSE:
                cause = "inside_too_coarse"
            case _:
                cause = "inside_not_certain"
    open_ones = [item for item in findings.conditions if item.state in OPEN]
    if open_ones and cause in {"inside", "inside_not_certain"}:
        names = ", ".join(item.words for item in open_ones)
        return Advice(
            t=facts.t,
            action=Action.STOP,
            cause="inside_conditions_open",
            subject=names,
            figures=figures,
        )
    return Advice(t=facts.t, action=Action.STOP, cause=cause, figures=figures)


def _keep_mass(advice: Advice, previous: Advice | None, most_kg: float) -> Advice:
    """Return `advice` with the amount proposed before, so that it does not change while read.

    An amount above `most_kg` is not kept: the reading may have drifted since.
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
