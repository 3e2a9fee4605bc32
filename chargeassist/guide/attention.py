"""When the guide looks at a running unit: every few seconds, or at once when something happens.

Facts come every second, but advice follows from means of half a minute and from a detector that
works in bins of four seconds. So conditions are judged and advice is made once in four seconds, and
at once on any event other than a reading, a change of state or cause of settling, a value that
appears or disappears, a step, a new finding about a probe or by the diagnosis, a hold won or lost.
While a limit of the job is passed, a step is open, liquid returns to the compressor, or the line is
read by hand, every tick is looked at. Time comes from the ticks alone, so a replay looks when the
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
        """Make the next tick due: an event other than a reading came."""
        self._due_t = -math.inf

    def is_due(
        self, facts: Facts, faults: FaultWatch, previous: Advice | None, *, close: bool
    ) -> bool:
        """Return whether to look at this tick.

        Parameters
        ----------
        facts : Facts
        faults : FaultWatch
            After its tick with these facts.
        previous : Advice or None
            The last advice.
        close : bool
            Whether something else needs a look at every tick.
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
    """Return whether every item is still the same object; what does not change is not copied."""
    return len(seen) == len(before) and all(map(is_, seen, before))
