"""When the guide looks at a running unit: once in a bin of the settling detector, or at once.

Facts come every second; what is to be said of them follows from means of half a minute and from a
detector that works in bins of four seconds. So conditions are judged and the advice is made that
often, and at once where something happens: an event that is no reading, another state or cause of
settling, a value that comes or goes, a step, another finding of a probe or of the diagnosis, a hold
won or lost. While a limit of the job is passed, a step is open, liquid comes back, or a reading is
taken by hand, every tick is looked at. Time comes from the ticks alone: a replay looks when the
live run did.
"""

import math
from operator import is_
from typing import Final

from chargeassist.guide import guards
from chargeassist.guide.fault_watch import FaultWatch
from chargeassist.model.events import Advice
from chargeassist.model.job import Job
from chargeassist.stream.facts import Facts

LOOK_EVERY_S: Final = 4.0
"""A bin of the settling detector [s]."""


class Attention:
    """Follows a session, one call per tick of the running unit.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._due_t = -math.inf
        self._seen: tuple[object, ...] = ()
        self._close = False

    def call(self) -> None:
        """Have the next tick looked at: something was told."""
        self._due_t = -math.inf

    def is_due(
        self, facts: Facts, faults: FaultWatch, previous: Advice | None, *, close: bool
    ) -> bool:
        """Return whether this tick is to be looked at.

        Parameters
        ----------
        facts : Facts
        faults : FaultWatch
            After it has looked at these facts.
        previous : Advice or None
            What was said last.
        close : bool
            Something else goes on that every tick counts for.
        """
        settling = facts.settling
        seen = (
            settling.state,
            settling.cause,
            facts.hold.held,
            type(facts.subcooling),
            type(facts.superheat),
            facts.ledger,
            facts.findings,
            faults.diagnosis,
            faults.fault,
            faults.drift,
            faults.hunting,
        )
        before, self._seen = self._seen, seen
        was_close = self._close
        self._close = (
            close
            or facts.step_open is not None
            or facts.by_hand is not None
            or guards.guard(self._job, facts, previous) is not None
        )
        # A tick after a close look has ended is the one that says so.
        if facts.t < self._due_t and not self._close and not was_close and _same(seen, before):
            return False
        self._due_t = facts.t + LOOK_EVERY_S
        return True


def _same(seen: tuple[object, ...], before: tuple[object, ...]) -> bool:
    """Return whether nothing has been made anew; what stays is kept, not copied."""
    return len(seen) == len(before) and all(map(is_, seen, before))
