"""Objections to what the settled reading alone would call for: recover, or stop.

High head with high subcooling and normal superheat is too much refrigerant, gas that does not
condense, a pressure probe that reads high, or a clamp that has let go. Recovering cures only the
first; the standing pressure tells it from the next two.
"""

from typing import Final

from chargeassist.guide.cure import Cure, Remedy
from chargeassist.guide.diagnosis import Diagnosis
from chargeassist.guide.drift import Drift, DriftCause
from chargeassist.guide.expectation import excess_explained
from chargeassist.guide.fault_found import Fault
from chargeassist.guide.fault_terms import Cause
from chargeassist.guide.first_check import ALTERNATIVE
from chargeassist.guide.standing import Standing
from chargeassist.model.channels import Role
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.physics.standing_check import StandingVerdict
from chargeassist.stream.facts import Facts

PLAUSIBLE: Final = 0.15
"""Probability of gas or a shifted zero from which recovering waits for a standing check [1].
Assumption: a quarter of an hour at rest costs less than refrigerant recovered for nothing."""


def standing_shifted(
    facts: Facts, standing: Standing | None, cylinder: Standing | None = None
) -> Advice | None:
    """Refuse to judge subcooling by a pressure that differed from saturation at rest.

    Parameters
    ----------
    facts : Facts
    standing : Standing or None
        Of the circuit.
    cylinder : Standing or None
        Of the liquid pressure probe, where it was found shifted at a cylinder.
    """
    if facts.judged is not SUBCOOLING:
        return None
    if cylinder is not None:
        found = cylinder.check
        return Advice(
            t=facts.t,
            action=Action.FIX_FIRST,
            cause="cylinder_off",
            subject=cylinder.told_by,
            figures={"offset_pa": found.offset_pa, "shift_k": found.subcooling_shift_k},
        )
    if standing is None:
        return None
    check, moved = standing.check, standing.moved
    if moved is not None:
        return Advice(
            t=facts.t,
            action=Action.FIX_FIRST,
            cause="zero_moved",
            subject=standing.told_by,
            figures={"offset_pa": moved.offset_pa, "shift_k": moved.shift_k},
        )
    if check.verdict is not StandingVerdict.SHIFTED:
        return None
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause="standing_high" if check.offset_pa > 0.0 else "standing_low",
        subject=standing.told_by,
        figures={"offset_pa": check.offset_pa, "shift_k": check.subcooling_shift_k},
    )


def drifting(facts: Facts, drift: Drift | None) -> Advice | None:
    """Refuse to charge by a reading that drifts with a leak or a creeping zero.

    A zero on the liquid line does nothing to superheat, and leaves a charge by it alone.
    """
    zero = drift is not None and drift.cause is DriftCause.ZERO
    if drift is None or (zero and facts.judged is not SUBCOOLING):
        return None
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause="leaking" if drift.cause is DriftCause.LEAK else "zero_creeps",
        subject=drift.words,
        figures=drift.figures,
    )


def before_recovering(
    job: Job,
    facts: Facts,
    diagnosis: Diagnosis | None,
    cure: Cure | None,
    standing: Standing | None,
) -> Advice | None:
    """Return what has to be done before recovering; None if nothing.

    Parameters
    ----------
    job : Job
    facts : Facts
        Settled above its target.
    diagnosis, cure : Diagnosis, Cure or None
    standing : Standing or None
        A standing check that says something.
    """
    settled = facts.settled
    if diagnosis is None or cure is None or settled is None or facts.judged is not SUBCOOLING:
        return None
    if excess_explained(job, facts):
        return None
    gas = diagnosis.probability(Cause.NON_CONDENSABLES) + diagnosis.probability(Cause.ZERO_SHIFTED)
    excess = diagnosis.probability(Cause.OVERCHARGE)
    likeliest = cure.alike[0] if cure.alike else cure.cause
    other = likeliest.cause is not Cause.OVERCHARGE
    at_rest = likeliest.cause in {Cause.NON_CONDENSABLES, Cause.ZERO_SHIFTED}
    if other and cure.remedy is Remedy.FIX and (standing is not None or not at_rest):
        return not_the_cure(facts, cure)
    if standing is not None or gas < PLAUSIBLE:
        return None
    if facts.live(Role.OUTDOOR_AIR_TEMPERATURE) is None:
        # Without outdoor air nobody can tell whether the head is high; gas has its prior chance.
        return None
    figures = {"gas_chance": gas, "excess_chance": excess, "subcooling_k": settled.value_k}
    clamp = diagnosis.probability(Cause.PROBE_LOOSE)
    if clamp >= ALTERNATIVE * max(gas, excess):
        figures["clamp_chance"] = clamp
    return Advice(t=facts.t, action=Action.FIX_FIRST, cause="check_standing", figures=figures)


def instead_of_stopping(facts: Facts, fault: Fault | None, inside: Advice) -> Advice:
    """Return `inside`, or the fault to put right although the reading is in its band.

    A fault that only the weighed amount supports stays a caution: the amount may be wrong.
    """
    if fault is None or fault.by_amount:
        return inside
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause="inside_but_fault",
        subject=fault.words,
        figures={**inside.figures, "chance": fault.chance},
    )


def not_the_cure(facts: Facts, cure: Cure | None) -> Advice | None:
    """Refuse refrigerant if the pattern of the readings says that it is not the cure."""
    if cure is None or cure.remedy is not Remedy.FIX:
        return None
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause="not_the_cure",
        subject=cure.words,
        figures={"chance": cure.probability},
    )
