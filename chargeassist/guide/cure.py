"""Whether adding refrigerant can be the cure for what a diagnosis found."""

from dataclasses import dataclass
from enum import StrEnum

from chargeassist.guide.diagnosis import NOT_THE_CHARGE, Diagnosis, RankedCause, Verdict
from chargeassist.guide.fault_terms import Cause

CURED_ABOVE = 0.6
"""From this probability of a shortage on, adding is the cure. Assumption."""

_NO_FAULT = frozenset({Cause.UNDERCHARGE, Cause.IN_ORDER, Cause.OTHER})


class Remedy(StrEnum):
    """What the readings call for; the values are fit for a screen."""

    ADD = "refrigerant is missing"
    RECOVER = "there is too much refrigerant"
    FIX = "refrigerant is not the cure"
    UNKNOWN = "not enough to tell whether refrigerant is the cure"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """The answer with its reason.

    Attributes
    ----------
    remedy : Remedy
    cause : RankedCause
        What it rests on: the likeliest cause that speaks for the answer.
    probability : float
        Of a shortage for `ADD`, of too much for `RECOVER`, of all other faults together for `FIX`.
    """

    remedy: Remedy
    cause: RankedCause
    probability: float

    @property
    def blocks_add(self) -> bool:
        """Whether adding must not be proposed before something else is settled."""
        return self.remedy in {Remedy.FIX, Remedy.RECOVER}

    def __bool__(self) -> bool:
        """Return whether refrigerant is the cure by these readings."""
        return self.remedy is Remedy.ADD


def refrigerant_is_cure(diagnosis: Diagnosis) -> Cure:
    """Return whether the readings call for refrigerant, for less of it, or for something else.

    Parameters
    ----------
    diagnosis : Diagnosis

    Returns
    -------
    Cure
        True in a condition when refrigerant is the cure; `blocks_add` where the readings speak
        against it. With too little information neither: the advisor goes by subcooling then, as it
        would without a diagnosis.

    Notes
    -----
    A shortage below 25 % and other faults above 60 % together block. The likeliest single fault
    need not be certain for that: which of several faults it is does not matter to the question.
    """
    shortage = diagnosis.probability(Cause.UNDERCHARGE)
    excess = diagnosis.probability(Cause.OVERCHARGE)
    faults = [item for item in diagnosis.causes if item.cause not in _NO_FAULT]
    wrong = sum(item.probability for item in faults)
    first = diagnosis.causes[0]
    if diagnosis.verdict is Verdict.NOT_ENOUGH:
        return Cure(remedy=Remedy.UNKNOWN, cause=first, probability=first.probability)
    if shortage >= CURED_ABOVE:
        item = next(each for each in diagnosis.causes if each.cause is Cause.UNDERCHARGE)
        return Cure(remedy=Remedy.ADD, cause=item, probability=shortage)
    if shortage <= NOT_THE_CHARGE and wrong >= CURED_ABOVE:
        if faults[0].cause is Cause.OVERCHARGE and excess >= 0.5 * wrong:
            return Cure(remedy=Remedy.RECOVER, cause=faults[0], probability=excess)
        return Cure(remedy=Remedy.FIX, cause=faults[0], probability=wrong)
    return Cure(remedy=Remedy.UNKNOWN, cause=first, probability=first.probability)
