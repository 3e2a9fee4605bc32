"""What can be told in the dryness stage, besides readings."""

from typing import Final

from chargeassist.guide.stages.stage import NextMark
from chargeassist.model.events import MarkKind

_LABELS = {
    MarkKind.PUMP_ON: "pump on",
    MarkKind.PUMP_OFF: "pump off",
    MarkKind.OIL_CHANGED: "pump oil changed",
    MarkKind.VALVE_SHUT: "valve to the pump shut",
    MarkKind.VALVE_OPENED: "valve to the pump open",
    MarkKind.NITROGEN_ON: "nitrogen on",
    MarkKind.NITROGEN_OFF: "nitrogen off",
    MarkKind.LEAK_MENDED: "leak closed",
}


def mark_of(kind: MarkKind) -> NextMark:
    """Return the mark of what was done."""
    return NextMark(kind=kind, label=_LABELS[kind])


OTHERS: Final = tuple(mark_of(kind) for kind in _LABELS)
"""Marks that can be made at any time of the stage."""
