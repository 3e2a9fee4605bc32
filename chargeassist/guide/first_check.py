"""Which of several similar faults to check first.

The likeliest, unless a clamp is among them: pressing it on takes a minute and opens nothing, and
while it is loose every other check relies on a wrong reading.
"""

from collections.abc import Sequence
from typing import Final

from chargeassist.guide.diagnosis import RankedCause
from chargeassist.guide.fault_terms import Cause

ALTERNATIVE: Final = 0.2
"""A cause with at least this share of the likeliest one's probability cannot be told from it [1].
Assumption."""


def to_check(faults: Sequence[RankedCause]) -> tuple[RankedCause, ...]:
    """Return the likeliest fault and those it cannot be told from, in the order to check them.

    Parameters
    ----------
    faults : sequence of RankedCause
        The likeliest first; at least one.
    """
    least = ALTERNATIVE * faults[0].probability
    alike = [item for item in faults if item.probability >= least]
    return tuple(sorted(alike, key=lambda item: item.cause is not Cause.PROBE_LOOSE))
