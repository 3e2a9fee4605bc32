"""Whether refrigerant is the cure for what a diagnosis found."""

from dataclasses import dataclass
from enum import StrEnum

from chargeassist.guide.diagnosis import NOT_THE_CHARGE, Diagnosis, RankedCause, Verdict
from chargeassist.guide.fault_terms import Cause
from chargeassist.guide.first_check import to_check

DECIDED_FROM = 0.6
"""Least probability at which a shortage, or all other faults together, decide [1]. Assumption."""

_NOT_AGAINST = frozenset({Cause.UNDERCHARGE, Cause.IN_ORDER, Cause.OTHER})
"""Causes that do not speak against adding."""


class Remedy(StrEnum):
    """What the readings call for; the values are shown as they are."""

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
        The likeliest cause that supports the answer; for `FIX` the first to check.
    alike : tuple of RankedCause
        For `FIX`, the likeliest cause, if a clamp that cannot be told from it is checked first.
    probability : float
        Of a shortage for `ADD`, of an excess for `RECOVER`, of all other faults together for `FIX`
        [1].
    """

    remedy: Remedy
    cause: RankedCause
    probability: float
    alike: tuple[RankedCause, ...] = ()

    @property
    def words(self) -> str:
        """What the readings look like: "pipe clamp loose or air or nitrogen in the circuit"."""
        return " or ".join(item.cause.value for item in (self.cause, *self.alike))


def refrigerant_is_cure(diagnosis: Diagnosis) -> Cure:
    """Return whether the readings call for refrigerant, for less of it, or for something else.

    Parameters
    ----------
    diagnosis : Diagnosis

    Returns
    -------
    Cure
        With `Remedy.UNKNOWN` the advisor goes by the judged value alone, as without a diagnosis.

    Notes
    -----
    Refrigerant is not the cure if a shortage is at most 25 % likely and all other faults together
    at least 60 %. Which of those faults it is need not be certain.
    """
    shortage = diagnosis.probability(Cause.UNDERCHARGE)
    excess = diagnosis.probability(Cause.OVERCHARGE)
    faults = [item for item in diagnosis.causes if item.cause not in _NOT_AGAINST]
    wrong = sum(item.probability for item in faults)
    first = diagnosis.causes[0]
    if diagnosis.verdict is Verdict.NOT_ENOUGH:
        return Cure(remedy=Remedy.UNKNOWN, cause=first, probability=first.probability)
    if shortage >= DECIDED_FROM:
        item = next(each for each in diagnosis.causes if each.cause is Cause.UNDERCHARGE)
        return Cure(remedy=Remedy.ADD, cause=item, probability=shortage)
    if shortage <= NOT_THE_CHARGE and wrong >= DECIDED_FROM:
        if faults[0].cause is Cause.OVERCHARGE and excess >= 0.5 * wrong:
            return Cure(remedy=Remedy.RECOVER, cause=faults[0], probability=excess)
        cause = to_check(faults)[0]
        told = (faults[0],) if cause is not faults[0] else ()
        return Cure(remedy=Remedy.FIX, cause=cause, probability=wrong, alike=told)
    return Cure(remedy=Remedy.UNKNOWN, cause=first, probability=first.probability)
