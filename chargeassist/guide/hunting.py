"""Whether the expansion valve hunts, and whether a shortage of refrigerant may be why.

The period comes from the settling filter, which finds it in superheat. A valve that gets vapour
instead of liquid swings as well: it opens, starves, and opens again. So the finding says whether
the circuit may be short of refrigerant.
"""

import math
from collections import deque
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from chargeassist.stream.facts import Facts, Measured

LOOK_EVERY_S: Final = 5.0
"""Time between two searches of superheat [s]."""

PERIODS: Final = 4.0
"""Superheat must swing about its trend for this many periods to be called hunting."""

QUIET_FOR_S: Final = 300.0
"""The finding is withdrawn after this long without a swing [s]."""

SWING_K: Final = 2.0
LEAST_SWING_K: Final = 1.0
"""Swing of superheat, end to end, from which hunting is found, and below which it is withdrawn [K]:
smaller swings have no consequence, and noise makes them too. Assumption."""

CROSSINGS: Final = 6
"""Four periods cross their middle eight times; two crossings may be missed at the ends."""

FADES: Final = 0.85
"""A swing whose newer half is less than this fraction of the older half dies away. A sound valve
rings like that after a start or a step: one random machine of this project loses a third with each
period, another a seventh. A valve that hunts keeps its swing. Assumption."""

LONGEST_PERIOD_S: Final = 120.0
"""Slower swings are not called hunting [s]. Assumption."""

NEW_RUN_S: Final = 60.0
"""For this long after a change the circuit may overshoot by itself [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hunting:
    """A hunting valve.

    Attributes
    ----------
    period_s : float
    swing_k : float
        Superheat, highest less lowest over the last periods [K].
    starved : bool
        Whether subcooling is below its band, so that the valve may be short of liquid.
    """

    period_s: float
    swing_k: float
    starved: bool


class HuntingWatch:
    """Finds and withdraws hunting; call it once per tick.

    Attributes
    ----------
    found : Hunting or None
        The finding that stands.
    """

    def __init__(self) -> None:
        self._superheats: deque[tuple[float, float]] = deque()
        self._next_t = 0.0
        self._last_t = -math.inf
        self.found: Hunting | None = None

    def tick(self, facts: Facts, low_k: float) -> Hunting | None:
        """Return the finding that stands after this tick.

        Parameters
        ----------
        facts : Facts
        low_k : float
            Lower end of the band of subcooling [K].
        """
        t = facts.t
        disturbed = facts.settling.since_s < NEW_RUN_S or facts.step_open is not None
        if disturbed or not facts.hold.held or not isinstance(facts.superheat, Measured):
            self._superheats.clear()
            if self.found is not None:
                self._last_t = t  # the valve cannot be seen now
            return self.found
        self._superheats.append((t, facts.superheat.value_k))
        if t < self._next_t:
            return self.found
        self._next_t = t + LOOK_EVERY_S
        while self._superheats[0][0] < t - PERIODS * LONGEST_PERIOD_S:
            self._superheats.popleft()
        period_s = facts.settling.hunting_period_s
        if period_s is None and self.found is not None:
            period_s = self.found.period_s
        if period_s is not None and period_s <= LONGEST_PERIOD_S:
            swing_k = self._swing_k(t, period_s)
            if swing_k >= (SWING_K if self.found is None else LEAST_SWING_K):
                self._last_t = t
                self.found = _hunting(facts, period_s, swing_k, low_k)
        if self.found is not None and t - self._last_t >= QUIET_FOR_S:
            self.found = None
        return self.found

    def _swing_k(self, t: float, period_s: float) -> float:
        """Return the swing of superheat about its trend, end to end [K]; 0 if it fades."""
        begin = t - PERIODS * period_s
        if not self._superheats or self._superheats[0][0] > begin + 1.0:
            return 0.0
        seen = [(at - t, value) for at, value in self._superheats if at >= begin]
        if len(seen) < 8 * PERIODS:
            return 0.0
        times, values = np.array(seen).T
        rest = values - np.polynomial.Polynomial.fit(times, values, 2)(times)
        halves = [rest[times < -0.5 * PERIODS * period_s], rest[times >= -0.5 * PERIODS * period_s]]
        older_k, newer_k = (float(np.ptp(np.quantile(half, (0.05, 0.95)))) for half in halves)
        if self.found is None and newer_k < FADES * older_k:
            return 0.0
        swing_k = min(older_k, newer_k)
        sides = [1 if value > 0.0 else -1 for value in rest if abs(value) > 0.15 * swing_k]
        crossings = sum(a != b for a, b in pairwise(sides))
        return swing_k if CROSSINGS <= crossings <= 2 * CROSSINGS else 0.0


def _hunting(facts: Facts, period_s: float, swing_k: float, low_k: float) -> Hunting:
    starved = isinstance(facts.subcooling, Measured) and facts.subcooling.value_k < low_k
    return Hunting(period_s=period_s, swing_k=swing_k, starved=starved)
