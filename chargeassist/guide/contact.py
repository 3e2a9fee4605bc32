"""Whether the liquid line's clamp has contact: a pipe follows its condenser, a loose clamp lags.

Gusts move the condensing temperature by a tenth of a kelvin or more, and the liquid line follows
within seconds. A loose clamp is slow and feels only part of its pipe. So the movements of the line
over half a minute are regressed on those of the condensing temperature; the levels do not matter.
No other fault flattens this slope, except a flow so small that superheat shows it.

The slope is estimated with an instrumental variable: the movement of the condensing temperature one
bin earlier, whose noise is independent. Ordinary least squares would be biased towards zero by the
pressure probe's noise, and make every clamp look loose.

Slopes on this project's physical plant over eight minutes, median and the range of nine in ten
looks: 1.0, 0.45 to 1.5 with sound clamps (24 sessions); 0.23, 0.10 to 0.35 with loose ones (24);
0.75, 0.38 to 1.2 behind a restriction (24).
"""

import math
from collections import deque
from functools import lru_cache
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from chargeassist.guide.drift import SUBCOOLING_LINE
from chargeassist.guide.evidence import FeatureReading
from chargeassist.guide.fault_terms import Feature
from chargeassist.model.channels import Role
from chargeassist.stream.facts import Facts

BIN_S: Final = 5.0
"""Length of a mean [s]."""

SPAN: Final = 6
"""A movement is the change over this many bins: half a minute."""

MOST_BINS: Final = 96
FEWEST_MOVEMENTS: Final = 24
"""At most eight minutes are looked at, and at least 24 movements (two minutes)."""

AFTER_START_S: Final = 240.0
AFTER_CHANGE_S: Final = 120.0
"""Time left out after a start and after a charge step, which move pressure and line in different
ways [s]."""

FRESH: Final = 1.5
"""Least number of new pressures per bin, on average: a slower probe repeats its noise in the next
bin, and the slope would be biased towards zero."""

FOLLOWS: Final[tuple[float, float]] = (0.5, 1.9)
"""Slopes of a clamp that has contact [1]. Set on the sessions above."""

Values = NDArray[np.float64]


class ContactWatch:
    """Collects means of condensing and line temperature; call it once per tick."""

    def __init__(self) -> None:
        self._bins: deque[tuple[int, float, float, int]] = deque(maxlen=MOST_BINS)
        self._index = -1
        self._condenser_sum = self._line_sum = 0.0
        self._count = self._fresh = 0
        self._newest_k = math.nan

    def forget(self) -> None:
        """Begin anew: a probe was seen to, or it is another filling."""
        self._bins.clear()
        self._drop_bin()

    def tick(self, facts: Facts) -> None:
        """Take one tick."""
        since_t = facts.running_since_t
        if (
            since_t is None
            or facts.step_open is not None
            or not facts.hold.held
            or facts.settling.since_s < AFTER_CHANGE_S
            or facts.t - since_t < AFTER_START_S
            or facts.typed & SUBCOOLING_LINE  # what was typed stands until it is read again
        ):
            self._drop_bin()
            return
        condenser_k, line_k = facts.liquid_saturation_k, facts.live(Role.LIQUID_TEMPERATURE)
        if condenser_k is None or line_k is None:
            self._drop_bin()
            return
        index = int(facts.t // BIN_S)
        if index != self._index:
            self._close_bin()
            self._index = index
        self._condenser_sum += condenser_k
        self._line_sum += line_k
        self._count += 1
        if condenser_k != self._newest_k:
            self._newest_k = condenser_k
            self._fresh += 1

    def _close_bin(self) -> None:
        n = self._count
        if n:
            self._bins.append(
                (self._index, self._condenser_sum / n, self._line_sum / n, self._fresh)
            )
        self._drop_bin()

    def _drop_bin(self) -> None:
        """Forget the open bin."""
        self._condenser_sum = self._line_sum = 0.0
        self._count = self._fresh = 0

    def reading(self) -> FeatureReading | None:
        """Return how far the line follows the condenser; None if there is too little data."""
        bins = self._bins
        if sum([each[3] for each in bins]) < FRESH * len(bins):
            return None
        found = follows(_stretches(bins))
        if found is None:
            return None
        slope, error = found
        least, most = FOLLOWS
        return FeatureReading(
            feature=Feature.CONTACT,
            value_si=slope,
            expected_si=0.5 * (least + most),
            tolerance_si=0.5 * (most - least),
            expanded_si=2.0 * error,
            basis="a pipe follows its condenser within seconds",
        )


def _stretches(bins: deque[tuple[int, float, float, int]]) -> list[tuple[Values, Values]]:
    """Return condensing and line temperatures [K] of each run of bins without a gap."""
    if not bins:
        return []
    index, condenser, line, _ = zip(*bins, strict=True)
    one, other = np.array(condenser), np.array(line)
    if index[-1] - index[0] == len(index) - 1:
        return [(one, other)]
    breaks = [k for k, (before, after) in enumerate(pairwise(index), 1) if after != before + 1]
    return list(zip(np.split(one, breaks), np.split(other, breaks), strict=True))


def follows(stretches: list[tuple[Values, Values]]) -> tuple[float, float] | None:
    """Return the slope of the line on the condenser, and its standard error [1].

    Parameters
    ----------
    stretches : list of (ndarray, ndarray), both of shape (n,)
        Condensing and line temperature [K] every `BIN_S`; no stretch has a gap.

    Returns
    -------
    (float, float) or None
        None for too few movements, or if the condenser did not move.
    """
    moved: list[tuple[Values, Values, Values]] = []
    for condenser, line in stretches:
        if len(condenser) < 2 * SPAN + 2:
            continue
        by, followed = (_without_trend(each[SPAN:] - each[:-SPAN]) for each in (condenser, line))
        moved.append((by[1:], followed[1:], by[:-1]))
    if not moved:
        return None
    by, followed, earlier = (np.concatenate(each) for each in zip(*moved, strict=True))
    count = len(by)
    along = float(earlier @ by)
    if count < FEWEST_MOVEMENTS or along <= 0.0:
        return None
    slope = float(earlier @ followed) / along
    rest = followed - slope * by
    # Movements overlap: only one in `SPAN` is independent.
    spread = float(rest @ rest) * float(earlier @ earlier) * SPAN / count
    return slope, math.sqrt(spread) / along


def _without_trend(values: Values) -> Values:
    """Return values less the straight line through them, which removes a slow tail."""
    t, square = _line(len(values))
    rest: Values = values - values.mean()
    return rest - (float(t @ rest) / square) * t


@lru_cache(maxsize=4)
def _line(count: int) -> tuple[Values, float]:
    """Return times about their middle [bins], and the sum of their squares."""
    t = np.arange(count, dtype=np.float64) - 0.5 * (count - 1)
    t.flags.writeable = False  # the same array is given to every caller
    return t, float(t @ t)
