"""Witnesses of settling: superheat (or subcooling, where superheat is judged) and amps.

The judged value proves the verdict. A witness that still moves, beyond its noise and by more than
the settled band is worth, holds the verdict back: refrigerant is still moving between the coils, or
the head pressure changes. It does so for a limited time, because a drifting load moves witnesses
without end, and it never withdraws a verdict.

A reading near zero, on a line with liquid and vapour, proves nothing by standing still. There the
witnesses are the proof: their limits are tighter, and they may hold for longer.
"""

import math
from collections import deque
from itertools import pairwise
from typing import Final

from chargeassist.stream.settling import SettlingDetector

BIN_S: Final = 5.0
BINS: Final = 12
FEWEST_BINS: Final = 8
"""A witness's slope is fitted to the means over `BIN_S` [s] of the last minute."""

AHEAD_S: Final = 60.0
"""A change is assumed to continue for this long, about the time constant of a charge step [s].
Assumption."""

SHARE_OF_JUDGED: Final = 0.4
"""Kelvin of subcooling that a kelvin of superheat is worth [1]: the virtual refrigerant charge
sensor gives superheat 1/2.5 of the weight of subcooling (Li and Braun; from memory)."""

AMPS_PER_K: Final = 0.02
"""Relative change of the amps per kelvin of condensing temperature [1/K]; until the liquid line
follows, subcooling changes by the same kelvin. Computed with this project's physical plant,
rounded."""

TWO_PHASE_TIGHTER: Final = 0.4
"""Factor on the limits at saturation, where the reading itself says nothing [1]. Assumption."""

LEAST_Z: Final = 2.0
LEAST_PHI: Final = 0.3
"""Standard errors by which a slope must differ from zero, and least autocorrelation assumed for its
points [1]."""

HOLDS_S: Final = 60.0
HOLDS_TWO_PHASE_S: Final = 150.0
"""Longest time witnesses hold a verdict, also at saturation [s]."""

SATURATED_K: Final[tuple[float, ...]] = (0.5, 1.0)
"""Bounds of the subcooling below which a liquid line also holds vapour [K]; between them it is half
the reading's uncertainty. On this project's physical plant a line full of liquid has 0.5 K or more.
"""
LEAVES_K: Final = 0.3
"""A line counts as two-phase until its subcooling exceeds that limit by this much [K]."""


def saturated_below_k(expanded_k: float | None) -> float:
    """Return the subcooling under which a liquid line holds two phases [K].

    Parameters
    ----------
    expanded_k : float or None
        Expanded uncertainty of the reading (k = 2) [K]; None if not declared.
    """
    low_k, high_k = SATURATED_K
    return min(max(low_k, 0.5 * (expanded_k or 0.0)), high_k)


class WitnessSlope:
    """How fast one witness certainly moves; computed on demand."""

    def __init__(self) -> None:
        self._bins: deque[float] = deque(maxlen=BINS)
        self._sum, self._count = 0.0, 0
        self._ends_t = math.inf
        self._per_s = 0.0
        self._fitted = True

    def clear(self) -> None:
        """Start over."""
        self._bins.clear()
        self._sum, self._count, self._ends_t = 0.0, 0, math.inf
        self._per_s, self._fitted = 0.0, True

    def take(self, t: float, value: float) -> None:
        """Take a value at `t` [s]."""
        if t >= self._ends_t:
            if t - self._ends_t > BIN_S or not self._count:
                self.clear()  # silent for a while
            else:
                self._bins.append(self._sum / self._count)
                self._sum, self._count = 0.0, 0
                self._ends_t += BIN_S
                self._fitted = False
        if self._ends_t == math.inf:
            self._ends_t = t + BIN_S
        self._sum += value
        self._count += 1

    @property
    def least_per_s(self) -> float:
        """Least rate at which it moves, either way [its unit per s]; 0 if it may stand still."""
        self._fit()
        return self._per_s

    def _fit(self) -> None:
        """Fit a line if there are new points; its error allows for their autocorrelation."""
        if self._fitted:
            return
        self._fitted = True
        values = list(self._bins)
        n = len(values)
        if n < FEWEST_BINS:
            return
        mean, middle = math.fsum(values) / n, 0.5 * (n - 1)
        spread = n * (n * n - 1) / 12.0
        slope = sum([(k - middle) * value for k, value in enumerate(values)]) / spread
        rest = [value - mean - slope * (k - middle) for k, value in enumerate(values)]
        squares = sum([each * each for each in rest])
        phi = LEAST_PHI
        if squares > 0.0:
            along = sum([a * b for a, b in pairwise(rest)]) / squares
            phi = min(max(phi, along), 0.9)
        error = math.sqrt(squares / (n - 2) / spread * (1.0 + phi) / (1.0 - phi))
        self._per_s = max(0.0, abs(slope) - LEAST_Z * error) / BIN_S


class WitnessWatch:
    """Decides whether a witness holds the verdict.

    Parameters
    ----------
    band_k : float
        Change still to come that counts as settled [K].
    by_subcooling : bool
        Whether subcooling is judged and superheat is its witness; otherwise the reverse.
    """

    def __init__(self, band_k: float, *, by_subcooling: bool = True) -> None:
        share = SHARE_OF_JUDGED if by_subcooling else 1.0 / SHARE_OF_JUDGED
        self._witness_limit = band_k / share / AHEAD_S
        self._amps_share_limit = band_k * AMPS_PER_K / AHEAD_S
        self._name = "superheat" if by_subcooling else "subcooling"
        self._witness, self._amps = WitnessSlope(), WitnessSlope()
        self._now_a = math.inf
        self._since_t: float | None = None
        self._given = False
        self.left_s = 0.0

    def disturbed(self) -> None:
        """Take note of a change: earlier movements no longer count."""
        self._witness.clear()
        self._amps.clear()
        self._since_t, self._given = None, False

    def take(self, t: float, witness_k: float | None, amps_a: float | None) -> None:
        """Take what the witnesses read at `t` [s]."""
        if witness_k is not None:
            self._witness.take(t, witness_k)
        if amps_a is not None:
            self._amps.take(t, amps_a)
            self._now_a = amps_a

    def holds(self, t: float, *, proved: bool, two_phase: bool, hunting: bool) -> str:
        """Return the name of the witness that holds the verdict at `t` [s]; empty for none.

        Parameters
        ----------
        t : float
        proved : bool
            Whether the judged value alone has settled.
        two_phase : bool
            Whether it is at saturation and says nothing.
        hunting : bool
            Whether a valve hunts: superheat then swings and is no witness.
        """
        if not proved:
            self._since_t, self._given = None, False
            return ""
        if self._given:
            return ""
        if self._since_t is None:
            self._since_t = t
        self.left_s = self._since_t + (HOLDS_TWO_PHASE_S if two_phase else HOLDS_S) - t
        moving = self._moving(TWO_PHASE_TIGHTER if two_phase else 1.0, hunting=hunting)
        if not moving or self.left_s <= 0.0:
            self._given = True
            return ""
        return moving

    def _moving(self, part: float, *, hunting: bool) -> str:
        if not hunting and self._witness.least_per_s > part * self._witness_limit:
            return self._name
        if self._amps.least_per_s > part * self._amps_share_limit * abs(self._now_a):
            return "amps"
        return ""


class WitnessedDetector:
    """The settling detector with its witnesses, as a session uses them; the benchmark scores it.

    Parameters
    ----------
    detector : SettlingDetector, optional
    """

    def __init__(self, detector: SettlingDetector | None = None) -> None:
        self._detector = detector or SettlingDetector()
        self._watch = WitnessWatch(self._detector.band_k)
        self._value = math.inf

    def update(self, t: float, values: dict[str, float]) -> bool:
        """Take the readings of one instant; see `SettlingDetector.update`."""
        proved = self._detector.update(t, values)
        superheat, amps, value = (
            None if each is None or math.isnan(each) else each
            for each in map(values.get, ("superheat", "amps", "subcooling"))
        )
        self._watch.take(t, superheat, amps)
        if value is not None:
            self._value = value
        return proved and not self._watch.holds(
            t,
            proved=proved,
            two_phase=self._value < saturated_below_k(None),
            hunting=self._detector.hunting_period_s is not None,
        )

    def disturbed(self, t: float) -> None:
        """Take note of a change; see `SettlingDetector.disturbed`."""
        self._detector.disturbed(t)
        self._watch.disturbed()
