"""Cautions about faults: found, hunting, drifting, withdrawn lately, or worth a look."""

from typing import Final

from chargeassist.guide.diagnosis import RankedCause
from chargeassist.guide.fault_found import NOT_A_FAULT, seen
from chargeassist.guide.fault_gone import SHOWN_S
from chargeassist.guide.fault_terms import NEXT_CHECK, Cause
from chargeassist.guide.fault_watch import FaultWatch
from chargeassist.guide.snapshot import Caution

ACCOUNTS_FROM: Final = 0.5
"""From this fraction of a fault's chance on, a wrong charge accounts for the readings it can
explain [1]. Chosen among three values on 260 seeded sessions."""

_CHARGES: Final = frozenset({Cause.UNDERCHARGE, Cause.OVERCHARGE})

WORTH_A_LOOK: Final = 0.15
"""From this chance on a fault that is not found, but that a reading out of order supports, is worth
its check [1]. Assumption: a check costs minutes."""


def fault_cautions(faults: FaultWatch, t: float) -> list[Caution]:
    """Return the cautions about faults at `t` [s]."""
    found = []
    hunting, fault, gone = faults.hunting, faults.fault, faults.gone
    if hunting is not None:
        cause = "hunting_starved" if hunting.starved else "hunting"
        figures = {"period_s": hunting.period_s, "swing_k": hunting.swing_k}
        found.append(Caution(cause=cause, figures=figures))
    drift = faults.drift
    if drift is not None:
        found.append(Caution(cause="drifts", subject=drift.words, figures=drift.figures))
    apart = faults.amps_apart
    if apart is not None and drift is None and (fault is None or fault.by_amount):
        figures = {
            "since_t_s": apart.since_t,
            "by_pressure_k": apart.by_pressure_k,
            "by_amps_k": apart.by_amps_k,
        }
        subject = f"{Cause.ZERO_SHIFTED.value}; to tell: {NEXT_CHECK[Cause.ZERO_SHIFTED]}"
        found.append(Caution(cause="amps_apart", subject=subject, figures=figures))
    if fault is not None:
        figures = {"chance": fault.chance}
        found.append(Caution(cause="suspect", subject=fault.words, figures=figures))
    if fault is None:
        found += _worth_a_look(faults)
    if gone is not None and t - gone.t <= SHOWN_S:
        subject = f"{gone.cause}; now: {', '.join(gone.why)}" if gone.why else gone.cause
        found.append(Caution(cause="fault_gone", subject=subject, figures={"since_t_s": gone.t}))
    return found


def _worth_a_look(faults: FaultWatch) -> list[Caution]:
    """Return the likeliest fault that is not found, with the check that would tell.

    A reading that a shortage or an excess explains as well is no reason to look: a warm liquid line
    goes with a short charge as much as with a dirty coil.
    """
    if faults.diagnosis is None:
        return []
    causes = faults.diagnosis.causes
    for item in causes:
        if item.probability < WORTH_A_LOOK:
            break
        if item.cause in NOT_A_FAULT or not item.next_check:
            continue
        least = ACCOUNTS_FROM * item.probability
        by_charge = [each for each in causes if each.cause in _CHARGES and each.probability > least]
        if _left(item, by_charge):
            subject = f"{item.cause.value}; to tell: {item.next_check}"
            figures = {"chance": item.probability}
            return [Caution(cause="worth_a_look", subject=subject, figures=figures)]
    return []


def _left(item: RankedCause, by_charge: list[RankedCause]) -> bool:
    """Return whether a reading out of order supports `item` and the charge does not explain it."""
    accounted = {
        (feature, sign)
        for each in by_charge
        for feature, direction, _ in each.asked
        for sign in direction.signs
    }
    return any(
        (one.feature, one.sign.index(max(one.sign)) - 1) not in accounted for one in seen(item)
    )
