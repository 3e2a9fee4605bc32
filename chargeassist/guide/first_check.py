"""Which of the faults that look alike is checked first.

The likeliest, but for a clamp: pressing it on takes a minute and opens nothing, and while it hangs
loose every other check goes by a wrong reading.
"""

from collections.abc import Sequence
from typing import Final

from chargeassist.guide.diagnosis import RankedCause
from chargeassist.guide.fault_terms import Cause

ALTERNATIVE: Final = 0.2
"""A cause with this share of the likeliest one's chance cannot be told from it [1]. Assumption."""


def to_check(faults: Sequence[RankedCause]) -> tuple[RankedCause, ...]:
    """Return the likeliest fault and those it cannot be told from, in the order to check them.

    Parameters
    ----------
    faults : sequence of RankedCause
        The likeliest first; one at least.
    """
    least = ALTERNATIVE * faults[0].probability
    alike = [item for item in faults if item.probability >= least]
    return tuple(sorted(alike, key=lambda item: item.cause is not Cause.PROBE_LOOSE))
