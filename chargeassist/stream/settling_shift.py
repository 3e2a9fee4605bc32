"""Whether the witness has shifted: a change nobody announced shows there too, often first.

Added refrigerant reaches the evaporator within half a minute; while the condenser fills, the liquid
line may show nothing for two minutes. So a shift of superheat, beyond its usual wander, is evidence
of a change in addition to that of the judged value.
"""

import math
from typing import Final

RECENT_BINS: Final = (4, 9)
BEFORE_BINS: Final = (10, 18)
"""Numbers of newest bins and of bins before them that are compared: for fast and for slow
changes."""

SHIFT_VAR: Final = 1.0
"""Usual size of a shift, as a variance [K^2]. Assumption."""

FIRST_VAR: Final = 0.03
LEAST_VAR: Final = 4.0e-3
"""First guess and least value of the variance of the witness's own shifts [K^2]."""

WORTH: Final = 6.0
"""Weight of the first guess, in bins [-]."""

MEMORY: Final = 0.03
"""Rate at which it is learnt, per bin [-]."""

CAP: Final = 6.0
"""A bin counts for at most this multiple of the variance [-], so that a change does not pass for
wander."""

SILENT_S: Final = 20.0
"""A witness silent for longer than this is not used [s]."""

_PAIRS: Final = tuple(
    (-1 - recent, -1 - recent - before, 1.0 / recent, 1.0 / before)
    for recent, before in zip(RECENT_BINS, BEFORE_BINS, strict=True)
)
_KEPT: Final = max(-far for _, far, _, _ in _PAIRS)


class WitnessShift:
    """Learns how far a witness shifts by itself, and weighs a shift that goes further."""

    __slots__ = ("_looks", "_odds", "_sums", "_t", "_vars")

    def __init__(self) -> None:
        self._sums = [0.0]
        self._vars = [FIRST_VAR] * len(_PAIRS)
        self._looks = WORTH
        self._t = -math.inf
        self._odds = 0.0

    def push(self, t: float, value_k: float, *, calm: bool) -> None:
        """Take one bin mean at t [s]; while ``calm``, its shifts are learnt as wander."""
        sums = self._sums
        if t - self._t > SILENT_S:
            sums[:] = [0.0]
        self._t = t
        sums.append(sums[-1] + value_k)
        if len(sums) > _KEPT:
            del sums[0]
        now, n, best = sums[-1], len(sums), 0.0
        gain = max(1.0 / self._looks, MEMORY)
        for k, (turn, far, per_recent, per_before) in enumerate(_PAIRS):
            if n < -far:
                break
            middle = sums[turn]
            shift = (now - middle) * per_recent - (middle - sums[far]) * per_before
            var = self._vars[k]
            ratio = shift * shift / var
            if ratio > 1.0:  # less is no evidence for a change
                odds = ratio * SHIFT_VAR / (SHIFT_VAR + var) - math.log1p(SHIFT_VAR / var)
                if odds > 2.0 * best:
                    best = 0.5 * odds
            if calm:
                counted = ratio if ratio < CAP else CAP
                var += gain * var * (counted - 1.0)
                self._vars[k] = var if var > LEAST_VAR else LEAST_VAR
        if calm:
            self._looks += 1.0
        self._odds = best

    def odds(self, t: float) -> float:
        """Return the log odds of a change at t [s], from the last two minutes; never below 0 [-].

        A change may leave the witness unmoved, so standing still is no evidence against one.
        """
        return self._odds if t - self._t <= SILENT_S else 0.0
