"""Refusals where the other value, the witness, contradicts the judged one.

Charging by subcooling is checked by superheat, and charging by superheat is checked by subcooling.
A shortage moves the two in opposite directions on any unit; a restriction or a wrong metering
device does not.
"""

from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Facts, Measured, TargetFacts

HYSTERESIS_K = 0.5
"""How far back inside its limit a value must come before the refusal ends [K]."""


def contradiction(
    job: Job, facts: Facts, goal: TargetFacts, previous: Advice | None, slack_k: float
) -> Advice | None:
    """Return the refusal the witness calls for; None if it does not contradict.

    Parameters
    ----------
    job : Job
    facts : Facts
        Of a settled tick.
    goal : TargetFacts
    previous : Advice or None
    slack_k : float
        How far a stopped charge may leave the band before it counts as short [K].
    """
    if facts.judged is SUBCOOLING:
        return _by_superheat(job, facts, goal, previous, slack_k)
    return _by_subcooling(job, facts, goal, previous)


def _by_superheat(
    job: Job, facts: Facts, goal: TargetFacts, previous: Advice | None, slack_k: float
) -> Advice | None:
    superheat_k, settled = facts.settled_superheat_k, facts.settled
    margin_k = _margin_k(facts.superheat)
    if superheat_k is None or settled is None or margin_k is None:
        return None
    low_k, high_k = job.target.superheat_low_k, job.target.superheat_high_k
    said = "" if previous is None else previous.cause
    low_slack_k = HYSTERESIS_K if said == "low_superheat" else 0.0
    high_slack_k = HYSTERESIS_K if said == "not_the_charge" else 0.0
    if superheat_k + margin_k < low_k + low_slack_k:
        cause, limit_k = "low_superheat", low_k
    elif superheat_k - margin_k > high_k - high_slack_k:
        # A shortage starves the evaporator, and superheat passes its limit, only once hardly any
        # subcooling is left: on the physical plant below about 0.5 K. With more of it a high
        # superheat comes from a restriction.
        shortage_k = job.limit_or_usual(LimitKey.SHORTAGE_SUBCOOLING).value_si
        if settled.value_k < min(goal.low_k - slack_k, shortage_k):
            return None
        cause, limit_k = "not_the_charge", high_k
    else:
        return None
    return _refusal(facts, cause, {"superheat_k": superheat_k, "limit_k": limit_k})


def _by_subcooling(
    job: Job, facts: Facts, goal: TargetFacts, previous: Advice | None
) -> Advice | None:
    subcooling_k, settled = facts.settled_subcooling_k, facts.settled
    margin_k = _margin_k(facts.subcooling)
    if subcooling_k is None or settled is None or margin_k is None:
        return None
    said = "" if previous is None else previous.cause
    high_k = job.target.subcooling_high_k
    # Too much refrigerant stands in the condenser as subcooling; a low superheat without it comes
    # from what the orifice passes or from the air at the indoor coil.
    low_k = job.limit_or_usual(LimitKey.OVERFED_SUBCOOLING).value_si
    if said == "restricted":
        high_k -= HYSTERESIS_K
    elif said == "overfed":
        low_k += HYSTERESIS_K
    figures = {"superheat_k": settled.value_k, "subcooling_k": subcooling_k}
    if settled.value_k > goal.high_k and subcooling_k - margin_k > high_k:
        figures["limit_k"] = job.target.subcooling_high_k
        return _refusal(facts, "restricted", figures)
    if settled.value_k < goal.low_k and subcooling_k + margin_k < low_k:
        return _refusal(facts, "overfed", figures)
    return None


def _margin_k(value: Measured | NoValue) -> float | None:
    """Return how uncertain a witness is [K]; None once it is silent and only its mean is left."""
    return (value.expanded_k or 0.0) if isinstance(value, Measured) else None


def _refusal(facts: Facts, cause: str, figures: dict[str, float]) -> Advice:
    return Advice(t=facts.t, action=Action.FIX_FIRST, cause=cause, figures=figures)
