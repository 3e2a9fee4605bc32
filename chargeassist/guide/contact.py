"""Whether the liquid line's clamp has contact: the pipe follows the condenser, a loose clamp lags.

Gusts move the condensing temperature by a tenth of a kelvin or a few, and the liquid line goes with
it within seconds. A clamp that hangs beside its pipe does not: it is slow, and feels the pipe in
part only. So what the line moves by in half a minute is compared with what the condensing
temperature moved by, whatever the two are. Nothing else out of order does this to the line but for
a flow so small that superheat tells of it.

The slope is found by an instrument: the same movement of the condensing temperature one bin
earlier, whose noise is another one. An ordinary fit would come out too flat, as if every noisy
pressure probe had a loose clamp beside it.

On this project's physical plant, over eight minutes each: 1.0 in the middle and 0.45 to 1.5 in nine
of ten with sound clamps (24 sessions), 0.23 and 0.10 to 0.35 with loose ones (24), 0.75 and 0.38 to
1.2 behind a restriction (24).
"""

import math
from collections import deque
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from chargeassist.guide.evidence import FeatureReading
from chargeassist.guide.fault_terms import Feature
from chargeassist.model.channels import Role
from chargeassist.stream.facts import Facts

BIN_S: Final = 5.0
SPAN: Final = 6
"""Movements are taken over half a minute: six bins."""

MOST_BINS: Final = 96
FEWEST_MOVEMENTS: Final = 24
"""Of eight minutes, and not of less than two."""

AFTER_START_S: Final = 240.0
AFTER_CHANGE_S: Final = 120.0
"""A start and a charge step move pressure and line each its own way [s]."""

FRESH: Final = 1.5
"""New pressures in a bin, on average: a probe that sends more slowly has one noise in several bins,
and its slope would come out too flat."""

FOLLOWS: Final = (0.5, 1.9)
"""A line that moves by this share of what the condensing temperature moves by has a clamp with
contact [1]. Set on the sessions above."""

Values = NDArray[np.float64]


class ContactWatch:
    """Follows a session; one call per tick, which mostly adds two numbers."""

    def __init__(self) -> None:
        self._bins: deque[tuple[int, float, float, int]] = deque(maxlen=MOST_BINS)
        self._index = -1
        self._condenser_sum = self._line_sum = 0.0
        self._count = self._fresh = 0
        self._newest_k = math.nan

    def forget(self) -> None:
        """Begin anew: a probe was seen to, or it is another filling."""
        self._bins.clear()
        self._count = 0

    def tick(self, facts: Facts) -> None:
        """Take one tick."""
        since_t = facts.running_since_t
        if (
            since_t is None
            or facts.step_open is not None
            or not facts.hold.held
            or facts.settling.since_s < AFTER_CHANGE_S
            or facts.t - since_t < AFTER_START_S
        ):
            self._count = 0
            return
        condenser_k, line_k = facts.liquid_saturation_k, facts.live(Role.LIQUID_TEMPERATURE)
        if condenser_k is None or line_k is None:
            self._count = 0
            return
        index = int(facts.t // BIN_S)
        if index != self._index:
            self._close()
            self._index = index
        self._condenser_sum += condenser_k
        self._line_sum += line_k
        self._count += 1
        if condenser_k != self._newest_k:
            self._newest_k = condenser_k
            self._fresh += 1

    def _close(self) -> None:
        n = self._count
        if n:
            self._bins.append(
                (self._index, self._condenser_sum / n, self._line_sum / n, self._fresh)
            )
        self._condenser_sum = self._line_sum = 0.0
        self._count = self._fresh = 0

    def reading(self) -> FeatureReading | None:
        """Return how far the line follows the condenser; None for too little to go by."""
        bins = self._bins
        if sum(each[3] for each in bins) < FRESH * len(bins):
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
    """Return what hangs together, as condensing and line temperatures [K]."""
    if not bins:
        return []
    table = np.array([each[1:3] for each in bins])
    breaks = [k for k, (one, two) in enumerate(pairwise(bins), 1) if two[0] != one[0] + 1]
    return [(part[:, 0], part[:, 1]) for part in np.split(table, breaks)]


def follows(stretches: list[tuple[Values, Values]]) -> tuple[float, float] | None:
    """Return by which share the line goes with the condenser, and the standard error of that [1].

    Parameters
    ----------
    stretches : list of two arrays of shape (n,) each
        Condensing and line temperature in steps of `BIN_S` [K], each stretch without a gap.

    Returns
    -------
    (float, float) or None
        None for too few movements, or for none at all of the condenser.
    """
    moved: list[tuple[Values, Values, Values]] = []
    for condenser, line in stretches:
        if len(condenser) < 2 * SPAN + 2:
            continue
        by, followed = (_level(each[SPAN:] - each[:-SPAN]) for each in (condenser, line))
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
    # Movements overlap: of `SPAN` of them one is a new one.
    spread = float(rest @ rest) * float(earlier @ earlier) * SPAN / count
    return slope, math.sqrt(spread) / along


def _level(values: Values) -> Values:
    """Return values less the line through them: a tail of the last change dies away slowly."""
    t = np.arange(len(values)) - 0.5 * (len(values) - 1)
    rest: Values = values - values.mean()
    return rest - (float(t @ rest) / float(t @ t)) * t
