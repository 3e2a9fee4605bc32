"""Rules of an audit about what was said: cautions acknowledged, conditions gone on without."""

from chargeassist.model.events import MarkKind
from chargeassist.model.text import plain
from chargeassist.qa.audit_finding import Finding, Policy
from chargeassist.qa.rescore import Rescored


def condition_waived(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a condition of the target that was not met, or not looked at, and gone on without."""
    waived = [mark for mark in session.marks if mark.kind is MarkKind.CONDITION_WAIVED]
    return [
        Finding(rule="condition_waived", text=f"gone on without {plain(mark.text, 300)}", t=mark.t)
        for mark in waived
    ]


def cautions_unread(session: Rescored, policy: Policy) -> list[Finding]:
    """Find the caution of a hazard that arose in the job and was never acknowledged."""
    met = () if session.last is None else session.last.hazards
    return [
        Finding(
            rule="cautions_unread",
            text=f"the caution of {each.hazard.label} was never acknowledged",
            t=each.since_t,
        )
        for each in met
        if each.read_t is None
    ]
