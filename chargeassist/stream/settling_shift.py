"""Whether the witness has lately shifted: what nobody announced shows there too, and often first.

Refrigerant that is added floods the evaporator within half a minute; while the condenser fills, the
liquid line may show nothing for two. So a shift of superheat, beyond what it wanders by itself, is
evidence of a change beside that of the judged value.
"""

import math
from typing import Final

RECENT_BINS: Final = (4, 9)
BEFORE_BINS: Final = (10, 18)
"""The last bins and so many before them are compared, for quick changes and for slow ones [-]."""

SHIFT_VAR: Final = 1.0
"""Usual size of a shift, as a variance [K^2]. Assumption."""

FIRST_VAR: Final = 0.03
LEAST_VAR: Final = 4.0e-3
"""First guess of how far the witness shifts by itself, and the least that is believed [K^2]."""

WORTH: Final = 6.0
"""The first guess is worth so many looks [-]."""

MEMORY: Final = 0.03
"""How quickly it is learnt, per bin [-]."""

CAP: Final = 6.0
"""No look counts for more variances than that, so that a change does not pass for wander [-]."""

SILENT_S: Final = 20.0
"""A witness silent for longer says nothing [s]."""

_PAIRS: Final = tuple(
    (-1 - recent, -1 - recent - before, 1.0 / recent, 1.0 / before)
    for recent, before in zip(RECENT_BINS, BEFORE_BINS, strict=True)
)
_KEPT: Final = max(-far for _, far, _, _ in _PAIRS)


class WitnessShift:
    """Learns how far a witness shifts by itself, and says whether it has gone further."""

    __slots__ = ("_looks", "_odds", "_sums", "_t", "_vars")

    def __init__(self) -> None:
        self._sums = [0.0]
        self._vars = [FIRST_VAR] * len(_PAIRS)
        self._looks = WORTH
        self._t = -math.inf
        self._odds = 0.0

    def push(self, t: float, value_k: float, *, calm: bool) -> None:
        """Take one bin mean at time t [s]; while ``calm`` what it does is taken for wander."""
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
        """Return the evidence of its last minute for a change by t [s]: log odds, never below 0.

        A change may leave the witness where it is, so standing still is no evidence against one.
        """
        return self._odds if t - self._t <= SILENT_S else 0.0
