"""A fault that stands: its name, its alternatives, and the readings that support it."""

from dataclasses import dataclass
from typing import Final

from chargeassist.guide.diagnosis import Evidence, RankedCause
from chargeassist.guide.drift import DriftCause
from chargeassist.guide.fault_gone import CLEAR
from chargeassist.guide.fault_terms import SIGN_WORDS, Cause, Feature, checks
from chargeassist.model.events import FaultJudged

NOT_A_FAULT: Final = frozenset({Cause.UNDERCHARGE, Cause.OVERCHARGE, Cause.IN_ORDER, Cause.OTHER})
"""Causes that are no fault of unit or probes: a wrong charge, nothing, or nothing known."""

AMOUNT_CHECK: Final = "and look whether the amount weighed in before is right"
"""Common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault that stands.

    Attributes
    ----------
    cause : Cause
    alternatives : tuple of Cause or DriftCause
    chance : float
        Of all faults together [1].
    since_t : float
    by_amount : bool
        What was weighed in is all that speaks for it.
    signs : tuple of Feature
        The readings that were out of order for certain when it was found.
    """

    cause: Cause
    alternatives: tuple[Cause | DriftCause, ...]
    chance: float
    since_t: float
    by_amount: bool = False
    signs: tuple[Feature, ...] = ()

    @property
    def words(self) -> str:
        """Cause and alternatives: "indoor coil short of air", "... or ..."."""
        return " or ".join(each.value for each in (self.cause, *self.alternatives))


def fault_of(
    likeliest: RankedCause, causes: tuple[Cause, ...], chance: float, since_t: float
) -> Fault:
    """Return the fault a ranking speaks for.

    Parameters
    ----------
    likeliest : RankedCause
        Its readings out of order are what the fault was found by.
    causes : tuple of Cause
        It and what it cannot be told from, in the order to check them.
    chance : float
    since_t : float
    """
    signs = tuple(item.feature for item in seen(likeliest))
    return Fault(
        cause=causes[0],
        alternatives=causes[1:],
        chance=chance,
        since_t=since_t,
        by_amount=set(signs) == {Feature.CHARGE},
        signs=signs,
    )


def seen(ranked: RankedCause) -> tuple[Evidence, ...]:
    """Return the readings that are certainly out of order and support the cause."""
    return tuple(
        item
        for item in ranked.supporting
        if item.feature is not Feature.SEAL and max(item.sign) >= CLEAR and item.sign[1] < CLEAR
    )


def found_verdict(t: float, fault: Fault, ranked: RankedCause) -> FaultJudged:
    """Return the verdict that a fault is found, with the readings that support it."""
    return FaultJudged(
        t=t,
        found=True,
        cause=fault.cause.value,
        alternatives=tuple(each.value for each in fault.alternatives),
        chance=fault.chance,
        evidence=tuple(
            f"{item.feature.value} {SIGN_WORDS[item.sign.index(max(item.sign))]}"
            for item in ranked.supporting
            if item.sign.index(max(item.sign)) != 1 and item.feature is not Feature.SEAL
        ),
        next_check=checks(fault.cause, *(c for c in fault.alternatives if isinstance(c, Cause)))
        + f"; {AMOUNT_CHECK}" * fault.by_amount,
    )
