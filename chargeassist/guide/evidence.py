"""The evidence of one settled reading for one cause.

`chargeassist.guide.diagnosis` explains how the numbers are combined.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from chargeassist.guide.fault_terms import Direction, Feature, Pattern
from chargeassist.model.quick_init import quick_init

SIGN_CHANCE: Final = {
    Direction.LOW: (0.84, 0.12, 0.04),
    Direction.LOW_OR_NORMAL: (0.48, 0.48, 0.04),
    Direction.NORMAL: (0.06, 0.88, 0.06),
    Direction.NORMAL_OR_HIGH: (0.04, 0.48, 0.48),
    Direction.HIGH: (0.04, 0.12, 0.84),
    Direction.EITHER: (1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0),
}
"""Chance of the signs low, normal and high for each direction [1]. Assumption: one fault in six is
too small to show, or shows differently."""

WEIGHT: Final = {
    Feature.SUBCOOLING: 1.0,
    Feature.SUPERHEAT: 1.0,
    Feature.CONDENSING: 1.0,
    Feature.EVAPORATING: 1.0,
    Feature.APPROACH: 1.0,
    Feature.COMPRESSION: 2.0,
    Feature.CHARGE: 1.0,
    Feature.SEAL: 1.0,
    Feature.STEP: 1.0,
    Feature.FEED: 1.0,
    Feature.CONTACT: 1.0,
    Feature.DISCHARGE: 0.5,
    Feature.CURRENT: 0.5,
    Feature.AIR_SPLIT: 0.7,
}
"""Weight of each reading's evidence [1]. Assumption: a reading that follows others counts less, or
its cause would count twice. `COMPRESSION` counts double: only leaking valves raise it."""

HIDDEN_IN_WIDE: Final = 0.5
"""Share of faults whose reading stays inside a wide range [1]. Assumption."""

_REACH: Final = 4.0
"""Largest deviation that is considered, in tolerances [1]."""


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureReading:
    """One settled reading and its normal range.

    Attributes
    ----------
    feature : Feature
    value_si : float
        In the unit of the feature [K, A, kg or 1].
    expected_si, tolerance_si : float
        Normal is ``expected ± tolerance``, in the same unit; the tolerance is above zero.
    expanded_si : float or None
        Expanded uncertainty of the value, k = 2, in the same unit. None if not declared; the
        tolerance is then used for it.
    basis : str
        Where the expected value comes from, for the screen.
    wide : bool
        The range is a general one and does not come from the unit's own documents.

    Raises
    ------
    ValueError
        A number is not finite, or the tolerance not above zero.
    """

    feature: Feature
    value_si: float
    expected_si: float
    tolerance_si: float
    expanded_si: float | None = None
    basis: str = ""
    wide: bool = False

    def __post_init__(self) -> None:
        finite = math.isfinite(self.value_si) and math.isfinite(self.expected_si)
        if not (finite and 0.0 < self.tolerance_si < math.inf):
            raise ValueError(
                f"{self.feature.name}: expected finite numbers and a tolerance above zero, came "
                f"{self.value_si}, {self.expected_si} and {self.tolerance_si}"
            )

    def sign(self) -> tuple[float, float, float]:
        """Return the relative likelihood of low, normal and high [1]; their sum is 1."""
        tolerance = self.tolerance_si
        expanded = tolerance if self.expanded_si is None else self.expanded_si
        u = max(expanded / 2.0, 1e-3 * tolerance)
        reach = _REACH * tolerance
        d = min(max(self.value_si - self.expected_si, -reach), reach)
        low = _mean_density(-reach, -tolerance, d, u)
        normal = _mean_density(-tolerance, tolerance, d, u)
        high = _mean_density(tolerance, reach, d, u)
        total = low + normal + high
        return low / total, normal / total, high / total


def _mean_density(low: float, high: float, d: float, u: float) -> float:
    """Return the normal density N(d; x, u) averaged over true deviations x from `low` to `high`."""
    scale = u * math.sqrt(2.0)
    return 0.5 * (math.erf((high - d) / scale) - math.erf((low - d) / scale)) / (high - low)


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What one reading says about one cause.

    Attributes
    ----------
    feature : Feature
    sign : tuple of float
        Relative likelihood of low, normal and high.
    expected : Direction
        What the cause would do to the reading.
    log_ratio : float
        Weighted natural logarithm of the likelihood ratio to a cause that predicts nothing; above 0
        supports the cause [1].
    sources_disagree : bool
        The sources of the direction contradict each other.
    """

    feature: Feature
    sign: tuple[float, float, float]
    expected: Direction
    log_ratio: float
    sources_disagree: bool


@quick_init
@dataclass(frozen=True, slots=True)
class ReadSign:
    """Relative likelihood of low, normal and high [1], and whether the range is a wide one."""

    likelihood: tuple[float, float, float]
    wide: bool

    def explained_by(self, direction: Direction) -> float:
        """Return how well a direction explains the sign: the sum of chance times likelihood [1]."""
        chance = SIGN_CHANCE[direction]
        low, normal, high = self.likelihood
        explained = chance[0] * low + chance[1] * normal + chance[2] * high
        if self.wide:
            return (1.0 - HIDDEN_IN_WIDE) * explained + HIDDEN_IN_WIDE * self.likelihood[1]
        return explained

    def told(self) -> float:
        """Return how much the sign tells [1]: all is 1; a normal one in a wide range, half."""
        hidden = HIDDEN_IN_WIDE * self.likelihood[1] if self.wide else 0.0
        return _certainty(self.likelihood) * (1.0 - hidden)


Question = tuple[Feature, Direction, bool]
"""A reading, what a cause would do to it, and whether the sources of that contradict each other."""


def questions(pattern: Pattern, features: Iterable[Feature]) -> tuple[Question, ...]:
    """Return what a pattern predicts for each of these readings."""
    found = []
    for feature in features:
        sign = pattern.signs.get(feature)
        used, disagree = (
            (Direction.EITHER, False) if sign is None else (sign.used, sign.disagreement)
        )
        found.append((feature, used, disagree))
    return tuple(found)


class Said:
    """The signs of the readings; each answer is computed once, because patterns share questions.

    Parameters
    ----------
    readings : iterable of FeatureReading
        One for each feature at most.

    Attributes
    ----------
    signs : dict of Feature to ReadSign

    Raises
    ------
    ValueError
        A feature occurs twice, which is an error of the program.
    """

    def __init__(self, readings: Iterable[FeatureReading]) -> None:
        self.signs: dict[Feature, ReadSign] = {}
        for reading in readings:
            if reading.feature in self.signs:
                raise ValueError(f"{reading.feature.name} came twice")
            self.signs[reading.feature] = ReadSign(reading.sign(), wide=reading.wide)
        self._ratios: dict[tuple[Feature, Direction], float] = {}

    def __eq__(self, other: object) -> bool:
        """Return whether the same readings have the same signs."""
        return isinstance(other, Said) and self.signs == other.signs

    def __hash__(self) -> int:
        """Return a hash over the signs."""
        return hash(frozenset(self.signs.items()))

    def log_ratio(self, asked: tuple[Feature, Direction]) -> float:
        """Return the evidence of one reading for a direction [1]; see `Evidence.log_ratio`."""
        known = self._ratios.get(asked)
        if known is None:
            feature, direction = asked
            explained = self.signs[feature].explained_by(direction)
            known = self._ratios[asked] = WEIGHT[feature] * math.log(3.0 * explained)
        return known

    def of(self, asked: Iterable[Question]) -> tuple[Evidence, ...]:
        """Return the answers, in the order of the questions."""
        return tuple(
            Evidence(
                feature=feature,
                sign=self.signs[feature].likelihood,
                expected=direction,
                log_ratio=self.log_ratio((feature, direction)),
                sources_disagree=disagreement,
            )
            for feature, direction, disagreement in asked
        )


def _certainty(sign: tuple[float, float, float]) -> float:
    """Return 1 for a certain sign, 0 for an empty one: 1 - entropy / largest entropy."""
    entropy = -math.fsum(p * math.log(p) for p in sign if p > 0.0)
    return 1.0 - entropy / math.log(3.0)
