"""Which way each fault moves each reading: one table, every entry with its sources.

The sources are trade texts, not laboratory tables, and they do not always agree; where they do not,
the entry says so and the direction used is the one all of them allow, or none at all. A laboratory
study of combined faults warns that faults which occur together can hide each other (Hu and Yuill,
Energy and Buildings 2021, 111355): this table is about one fault at a time.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final


class Feature(StrEnum):
    """A reading of the settled unit; the values are fit for a screen."""

    SUBCOOLING = "subcooling"
    SUPERHEAT = "superheat"
    CONDENSING = "condensing temperature over outdoor air"
    EVAPORATING = "evaporating temperature against return air"
    DISCHARGE = "discharge temperature"
    CURRENT = "compressor amps"
    AIR_SPLIT = "air split"
    APPROACH = "liquid line over outdoor air"
    COMPRESSION = "discharge temperature against what the pressures call for"
    CHARGE = "refrigerant weighed in against the plate"
    STEP = "what the last step did against its amount"


class Direction(StrEnum):
    """Where a reading goes, as the set of signs it may have."""

    LOW = "low"
    LOW_OR_NORMAL = "low or normal"
    NORMAL = "normal"
    NORMAL_OR_HIGH = "normal or high"
    HIGH = "high"
    EITHER = "not known"

    @property
    def signs(self) -> frozenset[int]:
        """The signs allowed: -1, 0 and 1."""
        return _SIGNS[self]


SIGN_WORDS: Final = ("low", "normal", "high")
"""Signs -1, 0 and 1 in words."""

_SIGNS: Final = {
    Direction.LOW: frozenset({-1}),
    Direction.LOW_OR_NORMAL: frozenset({-1, 0}),
    Direction.NORMAL: frozenset({0}),
    Direction.NORMAL_OR_HIGH: frozenset({0, 1}),
    Direction.HIGH: frozenset({1}),
    Direction.EITHER: frozenset({-1, 0, 1}),
}


class Cause(StrEnum):
    """What may be behind the readings; the values are fit for a screen."""

    UNDERCHARGE = "short of refrigerant"
    OVERCHARGE = "too much refrigerant"
    RESTRICTION = "liquid line restricted or expansion valve stuck nearly shut"
    NON_CONDENSABLES = "air or nitrogen in the circuit"
    LOW_OUTDOOR_AIRFLOW = "outdoor coil dirty or short of air"
    LOW_INDOOR_AIRFLOW = "indoor coil short of air"
    VALVE_LEAKAGE = "compressor valves leak"
    VALVE_OPEN = "expansion valve stuck open"
    PROBE_LOOSE = "pipe clamp loose"
    ZERO_SHIFTED = "pressure probe's zero shifted"
    IN_ORDER = "nothing out of order"
    OTHER = "none of these, or several at once"


class Source(StrEnum):
    """Where a direction was read."""

    FORUM = (
        "refrigeration-engineer.com/forums/entry.php?355-9-superheat-amp-subcooling-scenarios "
        "(trade text)"
    )
    UNDERCHARGE_ARTICLE = "achrnews.com, troubleshooting a refrigerant undercharge (trade text)"
    RESTRICTION_ARTICLE = "macmediamagazine.com/air-conditioning-compressor (trade text)"
    COIL_PAGE = "greenyplace.com, page on dirty coils (trade text)"
    APPROACH_MANUAL = "manualshive.com/en/manual/lennox/merit-13hpd018/1877800, page 16"
    MODEL = "computed with a mechanistic model of an R-410A unit with expansion valve; not measured"
    PRACTICE = "common practice, no published source"
    DEFINITION = "follows from how the reading is computed"


@dataclass(frozen=True, slots=True)
class Claim:
    """What one source says."""

    direction: Direction
    source: Source


@dataclass(frozen=True, slots=True)
class Sign:
    """What a fault does to one reading.

    Attributes
    ----------
    used : Direction
        What the diagnosis goes by.
    claims : tuple of Claim
        Every source with what it says; at least one.
    note : str
        Why `used` is not simply what a source says, or empty.
    disagreement : bool
        Whether no sign is allowed by all sources.
    """

    used: Direction
    claims: tuple[Claim, ...]
    note: str = ""
    disagreement: bool = field(init=False)

    def __post_init__(self) -> None:
        common = frozenset({-1, 0, 1})
        for claim in self.claims:
            common &= claim.direction.signs
        object.__setattr__(self, "disagreement", not common)


@dataclass(frozen=True, slots=True)
class Pattern:
    """One way a cause can look.

    Attributes
    ----------
    name : str
        Empty when the cause looks one way only.
    signs : dict of Feature to Sign
        A reading that is not in it is not known to move either way.
    share : float
        How much of the cause's probability it has before the readings; an assumption.
    """

    name: str
    signs: dict[Feature, Sign]
    share: float = 1.0


_D = Direction
_F = Feature
_WORDS: Final = {
    "-": _D.LOW,
    "-0": _D.LOW_OR_NORMAL,
    "0": _D.NORMAL,
    "0+": _D.NORMAL_OR_HIGH,
    "+": _D.HIGH,
    "?": _D.EITHER,
}
_LETTERS: Final = {
    "F": Source.FORUM,
    "U": Source.UNDERCHARGE_ARTICLE,
    "R": Source.RESTRICTION_ARTICLE,
    "C": Source.COIL_PAGE,
    "A": Source.APPROACH_MANUAL,
    "m": Source.MODEL,
    "p": Source.PRACTICE,
    "d": Source.DEFINITION,
}


def _sign(text: str, note: str = "") -> Sign:
    """Read "- F:- U:- m:-0": the direction used, then each source with what it says."""
    used, *claims = text.split()
    return Sign(
        used=_WORDS[used],
        claims=tuple(
            Claim(_WORDS[direction], _LETTERS[letter])
            for letter, _, direction in (claim.partition(":") for claim in claims)
        ),
        note=note,
    )


_VALVE_MASKS = "an expansion valve keeps superheat until liquid no longer reaches it"

_UNDERCHARGE = {
    _F.SUBCOOLING: _sign("- F:- U:- m:-"),
    _F.SUPERHEAT: _sign("0+ F:+ U:+ m:0+", _VALVE_MASKS),
    _F.CONDENSING: _sign("-0 F:- U:- m:-", "a small shortage moves it less than weather does"),
    _F.EVAPORATING: _sign("-0 F:- U:- m:-0", _VALVE_MASKS),
    _F.DISCHARGE: _sign("0+ U:+ m:0+", _VALVE_MASKS),
    _F.CURRENT: _sign("-0 F:- U:- m:-", "a small shortage moves it little"),
    _F.AIR_SPLIT: _sign("-0 F:- U:- m:-0", "a small shortage moves it little"),
    _F.APPROACH: _sign("0+ A:+", "what subcooling lacks, and subcooling says so already"),
    _F.COMPRESSION: _sign("0 m:0"),
    _F.CHARGE: _sign("-0 d:-0"),
    _F.STEP: _sign("-0 p:-0", "what leaks out does not show"),
}
_OVERCHARGE = {
    _F.SUBCOOLING: _sign("+ F:+ m:+"),
    _F.SUPERHEAT: _sign("-0 F:- m:-0", _VALVE_MASKS),
    _F.CONDENSING: _sign("+ F:+ m:+"),
    _F.EVAPORATING: _sign("0+ F:+ m:0", "with an expansion valve the suction side hardly moves"),
    _F.DISCHARGE: _sign("0+ m:+"),
    _F.CURRENT: _sign("+ F:+ m:+"),
    _F.AIR_SPLIT: _sign("0 F:0 m:0"),
    _F.APPROACH: _sign("- A:-"),
    _F.COMPRESSION: _sign("0 m:0"),
    _F.CHARGE: _sign("+ d:+"),
    _F.STEP: _sign("0 d:0"),
}
_RESTRICTION = {
    _F.SUBCOOLING: _sign("0+ F:0+ R:+ m:+"),
    _F.SUPERHEAT: _sign("+ F:+ m:+"),
    _F.CONDENSING: _sign("-0 F:-0 R:-0 m:-"),
    _F.EVAPORATING: _sign("- F:- R:- m:-"),
    _F.DISCHARGE: _sign("+ m:+"),
    _F.CURRENT: _sign("- F:- m:-"),
    _F.AIR_SPLIT: _sign("- F:- m:-"),
    _F.APPROACH: _sign("-0 p:-0"),
    _F.COMPRESSION: _sign("0 m:0"),
    _F.CHARGE: _sign("? p:?"),
    _F.STEP: _sign("0 d:0"),
}
_RESTRICTION_OVERFILLED = {
    _F.SUBCOOLING: _sign("+ F:+"),
    _F.SUPERHEAT: _sign("0+ F:0+", "the list has it normal when mild, high when severe"),
    _F.CONDENSING: _sign("+ F:+"),
    _F.EVAPORATING: _sign("-0 F:-0", "normal when mild, low when severe"),
    _F.CURRENT: _sign("? F:?", "the list has it low when mild, high when severe"),
    _F.AIR_SPLIT: _sign("-0 F:-0", "normal when mild, low when severe"),
    _F.APPROACH: _sign("-0 p:-0"),
    _F.COMPRESSION: _sign("0 m:0"),
    _F.CHARGE: _sign("+ d:+"),
    _F.STEP: _sign("0 d:0"),
}
_NON_CONDENSABLES = {
    _F.SUBCOOLING: _sign("+ p:+ m:+", "apparent: the gas adds its own pressure"),
    _F.SUPERHEAT: _sign("0 m:0"),
    _F.CONDENSING: _sign("+ p:+ m:+", "apparent: the gas adds its own pressure"),
    _F.EVAPORATING: _sign("0 m:0"),
    _F.DISCHARGE: _sign("+ p:+ m:+"),
    _F.CURRENT: _sign("+ p:+ m:+"),
    _F.AIR_SPLIT: _sign("0 m:0"),
    _F.APPROACH: _sign("0 p:0"),
    _F.COMPRESSION: _sign("0 m:0"),
    _F.CHARGE: _sign("? p:?"),
    _F.STEP: _sign("0 d:0"),
}
_OUTDOOR_AIR_MILD = {
    _F.SUBCOOLING: _sign("? F:- C:0+ m:0+", "the sources contradict each other"),
    _F.SUPERHEAT: _sign("-0 F:- m:-0", _VALVE_MASKS),
    _F.CONDENSING: _sign("+ F:+ C:+ m:+"),
    _F.EVAPORATING: _sign("0+ F:+ m:0+", _VALVE_MASKS),
    _F.DISCHARGE: _sign("+ m:+"),
    _F.CURRENT: _sign("0+ F:0+ m:+"),
    _F.AIR_SPLIT: _sign("0 F:0 m:-0"),
    _F.APPROACH: _sign("+ p:+"),
    _F.COMPRESSION: _sign("0 m:0"),
    _F.CHARGE: _sign("? p:?"),
    _F.STEP: _sign("0 d:0"),
}
_OUTDOOR_AIR_SEVERE = {
    _F.SUBCOOLING: _sign("? F:- C:0+", "the sources contradict each other"),
    _F.SUPERHEAT: _sign("? F:+ m:-0", "a fixed orifice and an expansion valve differ"),
    _F.CONDENSING: _sign("+ F:+ C:+ m:+"),
    _F.EVAPORATING: _sign("+ F:+ m:0+"),
    _F.DISCHARGE: _sign("+ m:+"),
    _F.CURRENT: _sign("+ F:+ m:+"),
    _F.AIR_SPLIT: _sign("-0 F:- m:-0"),
    _F.APPROACH: _sign("+ p:+"),
    _F.COMPRESSION: _sign("0 m:0"),
    _F.CHARGE: _sign("? p:?"),
    _F.STEP: _sign("0 d:0"),
}
_INDOOR_AIR = {
    _F.SUBCOOLING: _sign("0+ F:0+ m:0+"),
    _F.SUPERHEAT: _sign("-0 F:- m:-0", _VALVE_MASKS),
    _F.CONDENSING: _sign("-0 F:-0 m:-0"),
    _F.EVAPORATING: _sign("- F:- m:-"),
    _F.DISCHARGE: _sign("0 m:0"),
    _F.CURRENT: _sign("0 F:0 m:0"),
    _F.AIR_SPLIT: _sign("+ F:+ m:+"),
    _F.APPROACH: _sign("0 p:0"),
    _F.COMPRESSION: _sign("0 m:0"),
    _F.CHARGE: _sign("? p:?"),
    _F.STEP: _sign("0 d:0"),
}
_VALVE_LEAKAGE = {
    _F.SUBCOOLING: _sign("? F:+ m:-", "source and model contradict each other"),
    _F.SUPERHEAT: _sign("-0 F:- m:-0", _VALVE_MASKS),
    _F.CONDENSING: _sign("- F:- m:-"),
    _F.EVAPORATING: _sign("+ F:+ m:+"),
    _F.DISCHARGE: _sign("0+ m:0+"),
    _F.CURRENT: _sign("- F:- m:-"),
    _F.AIR_SPLIT: _sign("- F:- m:-"),
    _F.APPROACH: _sign("-0 p:-0"),
    _F.COMPRESSION: _sign("+ m:+ p:+", "gas is compressed twice; the pressures call for less"),
    _F.CHARGE: _sign("? p:?"),
    _F.STEP: _sign("0 d:0"),
}
_VALVE_OPEN = {
    _F.SUBCOOLING: _sign("- p:- m:-"),
    _F.SUPERHEAT: _sign("- p:- m:-"),
    _F.CONDENSING: _sign("-0 m:-", "a model alone says so"),
    _F.EVAPORATING: _sign("+ p:+ m:+"),
    _F.DISCHARGE: _sign("- m:-"),
    _F.CURRENT: _sign("-0 m:-", "a model alone says so"),
    _F.AIR_SPLIT: _sign("-0 m:-0"),
    _F.APPROACH: _sign("0+ p:0+"),
    _F.COMPRESSION: _sign("-0 m:-0", "liquid in the suction gas cools the compressor"),
    _F.CHARGE: _sign("? p:?"),
    _F.STEP: _sign("0 d:0"),
}


def _only(**moved: str) -> dict[Feature, Sign]:
    """Return the signs of a probe at fault: what it enters moves, all else stays.

    How much refrigerant is in has nothing to do with it.
    """
    moved = {"charge": "?", **moved}
    return {
        feature: _sign(f"{word} d:{word}")
        for feature, word in ((f, moved.get(f.name.lower(), "0")) for f in Feature)
    }


PATTERNS: Final[dict[Cause, tuple[Pattern, ...]]] = {
    Cause.UNDERCHARGE: (Pattern("", _UNDERCHARGE),),
    Cause.OVERCHARGE: (Pattern("", _OVERCHARGE),),
    Cause.RESTRICTION: (
        Pattern("charge as on the plate", _RESTRICTION, 0.7),
        Pattern("more than the plate charge", _RESTRICTION_OVERFILLED, 0.3),
    ),
    Cause.NON_CONDENSABLES: (Pattern("", _NON_CONDENSABLES),),
    Cause.LOW_OUTDOOR_AIRFLOW: (
        Pattern("mild", _OUTDOOR_AIR_MILD, 0.7),
        Pattern("severe", _OUTDOOR_AIR_SEVERE, 0.3),
    ),
    Cause.LOW_INDOOR_AIRFLOW: (Pattern("", _INDOOR_AIR),),
    Cause.VALVE_LEAKAGE: (Pattern("", _VALVE_LEAKAGE),),
    Cause.VALVE_OPEN: (Pattern("", _VALVE_OPEN),),
    Cause.PROBE_LOOSE: (
        Pattern("liquid line clamp", _only(subcooling="+", approach="-", step="0+"), 0.5),
        Pattern("suction line clamp", _only(superheat="+", compression="-0"), 0.5),
    ),
    Cause.ZERO_SHIFTED: (
        Pattern("liquid pressure reads high", _only(subcooling="+", condensing="+"), 0.25),
        Pattern("liquid pressure reads low", _only(subcooling="-", condensing="-"), 0.25),
        Pattern("suction pressure reads high", _only(superheat="-", evaporating="+"), 0.25),
        Pattern("suction pressure reads low", _only(superheat="+", evaporating="-"), 0.25),
    ),
    Cause.IN_ORDER: (Pattern("", _only(charge="0")),),
    Cause.OTHER: (Pattern("", {}),),
}
"""The table: each cause with the ways it can look."""

NEXT_CHECK: Final = {
    Cause.UNDERCHARGE: "look for the leak before adding; then add in steps",
    Cause.OVERCHARGE: "recover in steps, and compare with the weighed-in amount",
    Cause.RESTRICTION: (
        "measure the liquid line before and after the filter-drier and at the valve: a drop of "
        "more than about 2 °F (1 K) is a restriction there; none points to the valve"
    ),
    Cause.NON_CONDENSABLES: (
        "let the circuit rest and compare its pressure with saturation at outdoor temperature"
    ),
    Cause.LOW_OUTDOOR_AIRFLOW: "look at the outdoor coil, its fan, and what stands around it",
    Cause.LOW_INDOOR_AIRFLOW: "look at filter, coil, blower speed and registers",
    Cause.VALVE_LEAKAGE: (
        "compare amps and pressures with the maker's performance table at this frequency"
    ),
    Cause.VALVE_OPEN: "check the valve's bulb, its strap and insulation, or the valve's position",
    Cause.PROBE_LOOSE: "press the clamp on its pipe and see whether the reading comes back",
    Cause.ZERO_SHIFTED: "open the probe to the air and read its zero",
    Cause.OTHER: "measure more before doing anything",
}
"""What would tell, or comes next. Common practice, no published source."""
