"""What may be behind the readings: causes ranked by how well they explain them, with the evidence.

The arithmetic, in full:

1. A reading is compared with what is expected. Its deviation d has standard uncertainty u. How
   likely d is if the true deviation is *low*, *normal* or *high* is the normal law averaged over
   that range: ``[-4 T, -T]``, ``[-T, T]``, ``[T, 4 T]`` with T the tolerance; d is first limited
   to 4 T either way. The three, divided by their sum, are the *sign* of the reading: (0, 0, 1) for
   a reading high beyond doubt, (1/3, 1/3, 1/3) for one too uncertain to say anything.
2. Each direction in `fault_signs` stands for probabilities of the three signs (`SIGN_CHANCE`). In
   a *wide* range, one that does not come from the unit's own documents, half of all faults are
   taken to stay inside, whatever their direction: such a reading says little when it is normal and
   nearly as much as any other when it is not. A cause explains a reading by the sum of chance times
   sign; divided by 1/3, and as a logarithm, it is the reading's evidence.
3. Evidence is weighted (`WEIGHT`: readings that move together count less) and added to the
   logarithm of the cause's prior. A cause that can look several ways takes the mean over them.
4. Missing readings add nothing. "Nothing out of order" and "none of these" compete like causes.

The chances, weights and priors are assumptions of this project, not published figures; the
probabilities are therefore ranks with a sense of proportion, no frequencies of the field.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chargeassist.guide.fault_signs import (
    NEXT_CHECK,
    PATTERNS,
    Cause,
    Direction,
    Feature,
    Pattern,
)

SIGN_CHANCE: Final = {
    Direction.LOW: (0.84, 0.12, 0.04),
    Direction.LOW_OR_NORMAL: (0.48, 0.48, 0.04),
    Direction.NORMAL: (0.06, 0.88, 0.06),
    Direction.NORMAL_OR_HIGH: (0.04, 0.48, 0.48),
    Direction.HIGH: (0.04, 0.12, 0.84),
    Direction.EITHER: (1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0),
}
"""Chance of the signs low, normal, high for each direction. Assumption: one in six faults is too
small to show or shows otherwise."""

WEIGHT: Final = {
    Feature.SUBCOOLING: 1.0,
    Feature.SUPERHEAT: 1.0,
    Feature.CONDENSING: 1.0,
    Feature.EVAPORATING: 1.0,
    Feature.APPROACH: 1.0,
    Feature.COMPRESSION: 1.5,
    Feature.CHARGE: 0.4,
    Feature.STEP: 1.0,
    Feature.DISCHARGE: 0.5,
    Feature.CURRENT: 0.5,
    Feature.AIR_SPLIT: 0.7,
}
"""Weight of each reading's evidence. Assumption: what follows other readings counts less, or it
would count twice; amounts are typed; leaking valves alone raise what pressures do not call for."""

EVEN_PRIOR: Final = dict.fromkeys(Cause, 1.0)
"""No cause is thought likelier than another before the readings."""

CHARGING_PRIOR: Final = EVEN_PRIOR | {
    Cause.UNDERCHARGE: 3.0, Cause.PROBE_LOOSE: 0.5, Cause.ZERO_SHIFTED: 0.5,
}  # fmt: skip
"""While charging a shortage is expected; probes are watched beside the ranking, too. Assumption."""

LIKELY: Final = 0.7
CANDIDATES: Final = 0.8
NOT_THE_CHARGE: Final = 0.25
ENOUGH_INFORMATION: Final = 1.5
"""Fewer than this many full-weight readings with a certain sign are not enough to tell."""

HIDDEN_IN_WIDE: Final = 0.5
"""Share of faults that do not leave a wide range. Assumption."""

_REACH: Final = 4.0
_NO_PROBE: Final = frozenset({Feature.CHARGE, Feature.STEP})


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureReading:
    """One settled reading against what is expected.

    Attributes
    ----------
    feature : Feature
    value_si : float
        [K or A].
    expected_si, tolerance_si : float
        Normal is ``expected ± tolerance``; the tolerance is more than zero.
    expanded_si : float or None
        Expanded uncertainty of the value, k = 2. None: not declared, and then the reading counts
        as no better than its tolerance.
    basis : str
        Where the expected value comes from, for the screen.
    wide : bool
        The range is a general one and does not come from the unit's own documents.
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
        """Return the relative likelihood of low, normal and high; their sum is 1."""
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
    """Return the normal law N(d; x, u), averaged over true deviations x from `low` to `high`."""
    scale = u * math.sqrt(2.0)
    return 0.5 * (math.erf((high - d) / scale) - math.erf((low - d) / scale)) / (high - low)


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
        Weighted natural logarithm against a cause that expects nothing; above 0 speaks for it.
    sources_disagree : bool
        The table's sources contradict each other here.
    """

    feature: Feature
    sign: tuple[float, float, float]
    expected: Direction
    log_ratio: float
    sources_disagree: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedCause:
    """A cause with its probability and evidence, the strongest first.

    Attributes
    ----------
    cause : Cause
    pattern : str
        The way of looking that fits best; empty when there is one only.
    probability : float
        Among all causes of the table, "in order" and "none of these".
    evidence : tuple of Evidence
    next_check : str
    """

    cause: Cause
    pattern: str
    probability: float
    evidence: tuple[Evidence, ...]
    next_check: str

    @property
    def supporting(self) -> tuple[Evidence, ...]:
        """The evidence that speaks for it."""
        return tuple(item for item in self.evidence if item.log_ratio > 0.0)

    @property
    def contradicting(self) -> tuple[Evidence, ...]:
        """The evidence that speaks against it."""
        return tuple(item for item in self.evidence if item.log_ratio < 0.0)


class Verdict(StrEnum):
    """How far the readings go; the values are fit for a screen."""

    LIKELY = "one cause is likely"
    SEVERAL = "these causes cannot be told apart yet"
    UNEXPLAINED = "no single cause explains these readings"
    NOT_ENOUGH = "not enough to tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """Ranked causes and how far to trust them.

    Attributes
    ----------
    verdict : Verdict
    causes : tuple of RankedCause
        Every cause, the likeliest first.
    candidates : tuple of RankedCause
        The fewest that together hold 80 %; for `LIKELY` the one.
    information : float
        Weighted count of readings with a certain sign.
    would_tell : tuple of Feature
        Missing readings, the most telling first.
    """

    verdict: Verdict
    causes: tuple[RankedCause, ...]
    candidates: tuple[RankedCause, ...]
    information: float
    would_tell: tuple[Feature, ...]

    def probability(self, cause: Cause) -> float:
        """Return the probability of one cause."""
        return next(item.probability for item in self.causes if item.cause is cause)


def diagnose(
    readings: Iterable[FeatureReading], prior: Mapping[Cause, float] = EVEN_PRIOR
) -> Diagnosis:
    """Rank the causes that may be behind settled readings.

    Parameters
    ----------
    readings : iterable of FeatureReading
        One for each feature at most, all of one settled state; missing ones are left out.
    prior : mapping of Cause to float
        Relative weights before the readings, not negative; a missing cause has weight 1.

    Returns
    -------
    Diagnosis

    Raises
    ------
    ValueError
        A feature comes twice: an error of the program.

    """
    signs: dict[Feature, _Sign] = {}
    for reading in readings:
        if reading.feature in signs:
            raise ValueError(f"{reading.feature.name} came twice")
        signs[reading.feature] = _Sign(reading.sign(), wide=reading.wide)
    scores: dict[Cause, float] = {}
    best: dict[Cause, tuple[Pattern, tuple[Evidence, ...]]] = {}
    for cause, patterns in PATTERNS.items():
        found = [(pattern, _evidence(pattern, signs)) for pattern in patterns]
        sums = [
            math.log(pattern.share) + math.fsum(item.log_ratio for item in evidence)
            for pattern, evidence in found
        ]
        top = max(sums)
        best[cause] = found[sums.index(top)]
        likelihood = top + math.log(math.fsum(math.exp(value - top) for value in sums))
        weight = prior.get(cause, 1.0)
        scores[cause] = likelihood + math.log(weight) if weight > 0.0 else -math.inf
    causes = _ranked(scores, best)
    information = math.fsum(WEIGHT[feature] * sign.told() for feature, sign in signs.items())
    verdict, candidates = _verdict(causes, information)
    return Diagnosis(
        verdict=verdict,
        causes=causes,
        candidates=candidates,
        information=information,
        would_tell=_would_tell(causes, frozenset(Feature) - signs.keys()),
    )


@dataclass(frozen=True, slots=True)
class _Sign:
    """Relative likelihood of low, normal and high, and whether the range is a wide one."""

    likelihood: tuple[float, float, float]
    wide: bool

    def explained_by(self, direction: Direction) -> float:
        """Return the sum of chance times sign."""
        chance = SIGN_CHANCE[direction]
        explained = math.fsum(a * b for a, b in zip(chance, self.likelihood, strict=True))
        if self.wide:
            return (1.0 - HIDDEN_IN_WIDE) * explained + HIDDEN_IN_WIDE * self.likelihood[1]
        return explained

    def told(self) -> float:
        """Return 1 for a certain sign, 0 for one that says nothing; normal in a wide range half."""
        hidden = HIDDEN_IN_WIDE * self.likelihood[1] if self.wide else 0.0
        return _certainty(self.likelihood) * (1.0 - hidden)


def _evidence(pattern: Pattern, signs: Mapping[Feature, _Sign]) -> tuple[Evidence, ...]:
    found = []
    for feature, sign in signs.items():
        known = pattern.signs.get(feature)
        direction = Direction.EITHER if known is None else known.used
        found.append(
            Evidence(
                feature=feature,
                sign=sign.likelihood,
                expected=direction,
                log_ratio=WEIGHT[feature] * math.log(3.0 * sign.explained_by(direction)),
                sources_disagree=known is not None and known.disagreement,
            )
        )
    return tuple(sorted(found, key=lambda item: -abs(item.log_ratio)))


def _ranked(
    scores: Mapping[Cause, float],
    best: Mapping[Cause, tuple[Pattern, tuple[Evidence, ...]]],
) -> tuple[RankedCause, ...]:
    top = max(scores.values())
    odds = {cause: math.exp(score - top) for cause, score in scores.items()}
    total = math.fsum(odds.values())
    ranked = [
        RankedCause(
            cause=cause,
            pattern=best[cause][0].name,
            probability=odds[cause] / total,
            evidence=best[cause][1],
            next_check=NEXT_CHECK.get(cause, ""),
        )
        for cause in odds
    ]
    return tuple(sorted(ranked, key=lambda item: -item.probability))


def _certainty(sign: tuple[float, float, float]) -> float:
    """Return 1 for a certain sign, 0 for one that says nothing: 1 less entropy over its most."""
    entropy = -math.fsum(p * math.log(p) for p in sign if p > 0.0)
    return 1.0 - entropy / math.log(3.0)


def _verdict(
    causes: tuple[RankedCause, ...], information: float
) -> tuple[Verdict, tuple[RankedCause, ...]]:
    candidates: list[RankedCause] = []
    held = 0.0
    for item in causes:
        candidates.append(item)
        held += item.probability
        if held >= CANDIDATES:
            break
    if information < ENOUGH_INFORMATION:
        return Verdict.NOT_ENOUGH, tuple(candidates)
    if causes[0].cause is Cause.OTHER:
        return Verdict.UNEXPLAINED, tuple(candidates)
    if causes[0].probability >= LIKELY:
        return Verdict.LIKELY, causes[:1]
    return Verdict.SEVERAL, tuple(candidates)


def _would_tell(
    causes: tuple[RankedCause, ...], missing: frozenset[Feature]
) -> tuple[Feature, ...]:
    """Return missing readings by weighted mutual information of cause and sign [nat]."""
    told: list[tuple[float, Feature]] = []
    for feature in Feature:
        if feature not in missing or feature in _NO_PROBE:
            continue
        mixed = [0.0, 0.0, 0.0]
        within = 0.0
        for item in causes:
            chance = _cause_chance(item.cause, feature)
            within += item.probability * _entropy(chance)
            mixed = [m + item.probability * c for m, c in zip(mixed, chance, strict=True)]
        gain = WEIGHT[feature] * (_entropy(mixed) - within)
        if gain > 0.02:
            told.append((-gain, feature))
    return tuple(feature for _, feature in sorted(told, key=lambda pair: pair[0]))


def _cause_chance(cause: Cause, feature: Feature) -> list[float]:
    mixed = [0.0, 0.0, 0.0]
    for pattern in PATTERNS[cause]:
        known = pattern.signs.get(feature)
        chance = SIGN_CHANCE[Direction.EITHER if known is None else known.used]
        mixed = [m + pattern.share * c for m, c in zip(mixed, chance, strict=True)]
    return mixed


def _entropy(chance: Iterable[float]) -> float:
    return -math.fsum(p * math.log(p) for p in chance if p > 0.0)
