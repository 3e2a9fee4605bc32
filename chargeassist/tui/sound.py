"""When the bell rings: once for "it has settled" or "there is something to do", twice for trouble.

A technician at the unit does not look at the screen; the bell says when to.
"""

from typing import Final

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import Action
from chargeassist.stream.facts import SettleState

ONCE: Final = 1
TWICE: Final = 2

_TROUBLE: Final = frozenset({Action.FIX_FIRST, Action.RECOVER})
_TROUBLE_CAUSES: Final = frozenset({"record_failing", "source_lost", "over_plate", "hold_expiring"})


class Bell:
    """Compares each snapshot with the one before it."""

    def __init__(self) -> None:
        self._action: Action | None = None
        self._settled = False
        self._troubles: frozenset[tuple[str, str]] = frozenset()

    def rings(self, snapshot: Snapshot) -> int:
        """Return how often to ring for what is new in `snapshot`: 0, `ONCE` or `TWICE`."""
        action = snapshot.advice.action
        settled = (
            snapshot.stage_step is None and snapshot.facts.settling.state is SettleState.SETTLED
        )
        troubles = frozenset(
            (caution.cause, caution.subject)
            for caution in snapshot.cautions
            if caution.cause in _TROUBLE_CAUSES
        )
        new_action = self._action is not None and action is not self._action
        new_trouble = bool(troubles - self._troubles) or (new_action and action in _TROUBLE)
        something = (new_action and action is not Action.WAIT) or (settled and not self._settled)
        self._action, self._settled, self._troubles = action, settled, troubles
        if new_trouble:
            return TWICE
        return ONCE if something else 0
