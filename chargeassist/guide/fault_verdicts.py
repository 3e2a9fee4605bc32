"""Verdicts about hunting and drifts, and the names a found fault may have."""

from typing import Final

from chargeassist.guide.balance import EVIDENCE as BALANCE_EVIDENCE
from chargeassist.guide.balance import Shortfall
from chargeassist.guide.drift import EVIDENCE, Drift, DriftCause
from chargeassist.guide.drift import NEXT_CHECK as DRIFT_CHECK
from chargeassist.guide.fault_gone import KEPT_STILL, STANDS_AGAIN
from chargeassist.guide.fault_terms import Cause
from chargeassist.guide.hunting import Hunting
from chargeassist.model.events import FaultJudged

HUNTING_CAUSE: Final = "expansion valve hunts"
HUNTING_CHECK: Final = (
    "wait for the middle of the swings; check the bulb's contact, strap and insulation, the load "
    "indoors, and whether the valve is too large at this frequency"
)
STARVED_CHECK: Final = (
    "subcooling is short, and a valve that gets vapour swings as well: bring the charge up first, "
    "then see whether it still hunts"
)
"""Common practice, no published source."""

FAULT_NAMES: Final = tuple(
    dict.fromkeys(
        (
            *(cause.value for cause in Cause if cause not in {Cause.IN_ORDER, Cause.OTHER}),
            *(cause.value for cause in DriftCause),
            HUNTING_CAUSE,
        )
    )
)
"""Every name that a `FaultJudged` may have as cause or alternative."""


def hunting_verdict(before: Hunting | None, now: Hunting | None, t: float) -> FaultJudged | None:
    """Return that hunting began or ended; None if it did neither."""
    told = now or before
    if told is None or (before is None) == (now is None):
        return None
    return FaultJudged(
        t=t,
        found=now is not None,
        cause=HUNTING_CAUSE,
        evidence=() if now is not None else (KEPT_STILL,),
        next_check=STARVED_CHECK if told.starved else HUNTING_CHECK,
        figures={"period_s": told.period_s, "swing_k": told.swing_k},
    )


def drift_verdicts(before: Drift | None, now: Drift | None, t: float) -> tuple[FaultJudged, ...]:
    """Return that a drift ended, began, or both."""
    was = None if before is None else before.cause
    is_now = None if now is None else now.cause
    if was is is_now:
        return ()
    said = []
    if was is not None:
        said.append(FaultJudged(t=t, found=False, cause=was.value, evidence=(STANDS_AGAIN,)))
    if now is not None:
        said.append(
            FaultJudged(
                t=t,
                found=True,
                cause=now.cause.value,
                alternatives=tuple(each.value for each in now.alternatives),
                evidence=BALANCE_EVIDENCE if isinstance(now, Shortfall) else EVIDENCE[now.cause],
                next_check="; if it is not that: ".join(
                    DRIFT_CHECK[each] for each in (now.cause, *now.alternatives)
                ),
                figures=now.figures,
            )
        )
    return tuple(said)
