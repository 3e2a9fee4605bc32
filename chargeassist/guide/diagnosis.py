"""Causes ranked by how well they explain the settled readings, with the evidence.

The arithmetic:

1. Each reading is compared with its expected value. The deviation d has standard uncertainty u. Its
   likelihood if the true deviation is *low*, *normal* or *high* is the normal density averaged over
   ``[-4 T, -T]``, ``[-T, T]`` or ``[T, 4 T]``, where T is the tolerance; d is first limited to ±4
   T. The three likelihoods, divided by their sum, are the *sign* of the reading: (0, 0, 1) if it is
   certainly high, (1/3, 1/3, 1/3) if it is too uncertain to say anything.
2. Each direction in the tables of signs stands for chances of the three signs (`SIGN_CHANCE`). In a
   *wide* range, one that does not come from the unit's own documents, half of all faults are
   assumed to stay inside whatever their direction: such a reading says little when it is normal,
   and nearly as much as any other when it is not. How well a cause explains a reading is the sum of
   chance times sign; the logarithm of this over 1/3 is the reading's evidence.
3. Evidence is weighted (`WEIGHT`: readings that move together count less) and added to the
   logarithm of the cause's prior. A cause with several patterns takes the mean over them.
4. Missing readings add nothing. "Nothing out of order" and "none of these" compete like causes.

The chances, weights and priors are assumptions of this project, not published figures. So the
probabilities rank the causes in proportion; they are no frequencies from the field.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Final

from chargeassist.guide.evidence import SIGN_CHANCE as SIGN_CHANCE
from chargeassist.guide.evidence import WEIGHT, Question, Said, questions
from chargeassist.guide.evidence import Evidence as Evidence
from chargeassist.guide.evidence import FeatureReading as FeatureReading
from chargeassist.guide.fault_signs import PATTERNS
from chargeassist.guide.fault_terms import NEXT_CHECK, Cause, Direction, Feature, Pattern
from chargeassist.guide.orifice_signs import ORIFICE_PATTERNS
from chargeassist.model.channels import Role
from chargeassist.model.quick_init import quick_init

TABLES: Final = {False: PATTERNS, True: ORIFICE_PATTERNS}
"""Table of signs, by whether a fixed orifice meters."""

EVEN_PRIOR: Final = dict.fromkeys(Cause, 1.0)
"""Before the readings no cause is likelier than another."""

CHARGING_PRIOR: Final = EVEN_PRIOR | {Cause.UNDERCHARGE: 3.0}
"""While charging a shortage is expected. Assumption."""

LIKELY: Final = 0.7
"""A cause of at least this probability is named alone [1]. Assumption."""

CANDIDATES: Final = 0.8
"""Least probability that causes named together have in sum [1]. Assumption."""

NOT_THE_CHARGE: Final = 0.25
"""Another fault may block adding if a shortage is no likelier than this [1]. Assumption."""

ENOUGH_INFORMATION: Final = 1.5
"""Least weighted count of readings with a certain sign for any verdict [1]. Assumption."""

SEEN_TO: Final = 0.1
"""Factor on the chance of a probe's fault once the technician has seen to the probe [1].
Assumption."""

_LOG_SEEN_TO: Final = math.log(SEEN_TO)

_FEATURES: Final = frozenset(Feature)
_NO_PROBE: Final = frozenset(
    {Feature.CHARGE, Feature.SEAL, Feature.STEP, Feature.FEED, Feature.CONTACT}
)


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class RankedCause:
    """A cause with its probability and its evidence.

    Attributes
    ----------
    cause : Cause
    pattern : str
        Name of the pattern that fits best; empty if the cause has only one.
    probability : float
        Among all causes of the table, "in order" and "none of these" [1].
    asked : tuple of Question
        What that pattern predicts for each reading, in the order of the readings.
    said : Said
        The signs of the readings.
    next_check : str
        What would confirm it; empty for none.
    """

    cause: Cause
    pattern: str
    probability: float
    asked: tuple[Question, ...]
    said: Said
    next_check: str

    @property
    def evidence(self) -> tuple[Evidence, ...]:
        """The evidence of each reading, the strongest first."""
        return tuple(sorted(self.said.of(self.asked), key=lambda item: -abs(item.log_ratio)))

    @property
    def supporting(self) -> tuple[Evidence, ...]:
        """The evidence that speaks for it."""
        return tuple(item for item in self.evidence if item.log_ratio > 0.0)


class Verdict(StrEnum):
    """How much the readings tell; the values are fit for a screen."""

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
        The fewest that together have 80 %; for `LIKELY` only the first.
    information : float
        Weighted count of readings with a certain sign [1].
    missing : frozenset of Feature
        Readings there are none of.
    orifice : bool
        Which table of signs was used.
    """

    verdict: Verdict
    causes: tuple[RankedCause, ...]
    candidates: tuple[RankedCause, ...]
    information: float
    missing: frozenset[Feature]
    orifice: bool

    @property
    def would_tell(self) -> tuple[Feature, ...]:
        """Missing readings that would help, the most telling first."""
        return _would_tell(self.causes, self.missing, orifice=self.orifice)

    def probability(self, cause: Cause) -> float:
        """Return the probability of one cause [1]."""
        return next(item.probability for item in self.causes if item.cause is cause)


def diagnose(
    readings: Iterable[FeatureReading],
    prior: Mapping[Cause, float] = EVEN_PRIOR,
    *,
    orifice: bool = False,
) -> Diagnosis:
    """Rank the causes that may be behind settled readings.

    Parameters
    ----------
    readings : iterable of FeatureReading
        At most one for each feature, all of the same settled state; missing ones are left out.
    prior : mapping of Cause to float
        Relative weights before the readings, not negative; a cause that is missing has 1.
    orifice : bool
        Whether the unit meters by a fixed orifice, which has its own table.

    Returns
    -------
    Diagnosis

    Raises
    ------
    ValueError
        A feature occurs twice, which is an error of the program.
    """
    return rank(Said(readings), prior, orifice=orifice)


def rank(
    said: Said,
    prior: Mapping[Cause, float] = EVEN_PRIOR,
    *,
    orifice: bool = False,
    without: frozenset[Feature] = frozenset(),
    seen_to: frozenset[Role] = frozenset(),
) -> Diagnosis:
    """Rank the causes by the signs of readings; see `diagnose`.

    Parameters
    ----------
    said : Said
    prior, orifice
        As for `diagnose`.
    without : frozenset of Feature
        Readings to leave out.
    seen_to : frozenset of Role
        Probes the technician has seen to; their faults count `SEEN_TO` times as much.
    """
    signs = {feature: sign for feature, sign in said.signs.items() if feature not in without}
    scores: dict[Cause, float] = {}
    best: dict[Cause, _PatternAsked] = {}
    asked = _asked(orifice=orifice, features=tuple(signs))
    ratios = list(map(said.log_ratio, asked.asks))
    for cause, patterns in asked.causes:
        sums = [
            each.log_share
            + (_LOG_SEEN_TO if each.probe in seen_to else 0.0)
            + math.fsum([ratios[number] for number in each.numbers])
            for each in patterns
        ]
        likelihood = top = max(sums)
        best[cause] = patterns[sums.index(top)]
        if len(sums) > 1:
            likelihood += math.log(math.fsum([math.exp(value - top) for value in sums]))
        weight = prior.get(cause, 1.0)
        scores[cause] = likelihood + math.log(weight) if weight > 0.0 else -math.inf
    causes = _ranked(scores, best, said)
    information = math.fsum(WEIGHT[feature] * sign.told() for feature, sign in signs.items())
    verdict, candidates = _verdict(causes, information)
    return Diagnosis(
        verdict=verdict,
        causes=causes,
        candidates=candidates,
        information=information,
        missing=_FEATURES.difference(signs),
        orifice=orifice,
    )


@dataclass(frozen=True, slots=True)
class _PatternAsked:
    """What a pattern predicts for some readings; `numbers` are its places in `_Asked.asks`."""

    name: str
    probe: Role | None
    log_share: float
    questions: tuple[Question, ...]
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What all patterns predict for some readings: each question once, because they share many."""

    asks: tuple[tuple[Feature, Direction], ...]
    causes: tuple[tuple[Cause, tuple[_PatternAsked, ...]], ...]


@cache
def _asked(*, orifice: bool, features: tuple[Feature, ...]) -> _Asked:
    """Return what all patterns predict for readings of these features."""
    numbers: dict[tuple[Feature, Direction], int] = {}

    def of(pattern: Pattern) -> _PatternAsked:
        asked = questions(pattern, features)
        return _PatternAsked(
            pattern.name,
            pattern.probe,
            math.log(pattern.share),
            asked,
            tuple(numbers.setdefault(each[:2], len(numbers)) for each in asked),
        )

    causes = tuple((cause, tuple(map(of, patterns))) for cause, patterns in TABLES[orifice].items())
    return _Asked(tuple(numbers), causes)


def _ranked(
    scores: Mapping[Cause, float], best: Mapping[Cause, _PatternAsked], said: Said
) -> tuple[RankedCause, ...]:
    top = max(scores.values())
    odds = {cause: math.exp(score - top) for cause, score in scores.items()}
    total = math.fsum(odds.values())
    ranked = [
        RankedCause(
            cause=cause,
            pattern=best[cause].name,
            probability=odds[cause] / total,
            asked=best[cause].questions,
            said=said,
            next_check=NEXT_CHECK.get(cause, ""),
        )
        for cause in odds
    ]
    return tuple(sorted(ranked, key=lambda item: -item.probability))


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
    causes: tuple[RankedCause, ...], missing: frozenset[Feature], *, orifice: bool
) -> tuple[Feature, ...]:
    """Return missing readings, sorted by weighted mutual information of cause and sign [nat]."""
    told: list[tuple[float, Feature]] = []
    for feature in Feature:
        if feature not in missing or feature in _NO_PROBE:
            continue
        mixed = [0.0, 0.0, 0.0]
        within = 0.0
        for item in causes:
            chance, entropy = _cause_chance(item.cause, feature, orifice=orifice)
            within += item.probability * entropy
            mixed = [m + item.probability * c for m, c in zip(mixed, chance, strict=True)]
        gain = WEIGHT[feature] * (_entropy(mixed) - within)
        if gain > 0.02:
            told.append((-gain, feature))
    return tuple(feature for _, feature in sorted(told, key=lambda pair: pair[0]))


@cache
def _cause_chance(
    cause: Cause, feature: Feature, *, orifice: bool
) -> tuple[tuple[float, ...], float]:
    """Return the chances of the three signs under a cause, by the table, and their entropy."""
    mixed = [0.0, 0.0, 0.0]
    for pattern in TABLES[orifice][cause]:
        known = pattern.signs.get(feature)
        chance = SIGN_CHANCE[Direction.EITHER if known is None else known.used]
        mixed = [m + pattern.share * c for m, c in zip(mixed, chance, strict=True)]
    return tuple(mixed), _entropy(mixed)


def _entropy(chance: Iterable[float]) -> float:
    return -math.fsum(p * math.log(p) for p in chance if p > 0.0)
