"""What stands beside the instruction about faults: found, hunting, and withdrawn a while ago."""

from chargeassist.guide.fault_gone import SHOWN_S
from chargeassist.guide.fault_watch import FaultWatch
from chargeassist.guide.snapshot import Caution


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
    if fault is not None:
        figures = {"chance": fault.chance}
        found.append(Caution(cause="suspect", subject=fault.words, figures=figures))
    if gone is not None and t - gone.t <= SHOWN_S:
        subject = f"{gone.cause}; now: {', '.join(gone.why)}" if gone.why else gone.cause
        found.append(Caution(cause="fault_gone", subject=subject, figures={"since_t_s": gone.t}))
    return found
