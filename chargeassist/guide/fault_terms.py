"""The words of the direction tables: readings, directions, causes, sources.

The tables themselves are `fault_signs` (expansion valve) and `orifice_signs` (fixed orifice).
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final

from chargeassist.model.channels import Role


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
    CHARGE = "refrigerant weighed in against what the reading asks for"
    SEAL = "liquid left before the metering device"
    STEP = "what the last step did against its amount"
    FEED = "superheat against what liquid before the orifice allows"
    CONTACT = "liquid line following the condensing temperature"


class Direction(StrEnum):
    """Where a fault moves a reading, as the set of signs it may have."""

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
    """The source of a direction."""

    FORUM = (
        "refrigeration-engineer.com/forums/entry.php?355-9-superheat-amp-subcooling-scenarios "
        "(trade text)"
    )
    UNDERCHARGE_ARTICLE = "achrnews.com, troubleshooting a refrigerant undercharge (trade text)"
    RESTRICTION_ARTICLE = "macmediamagazine.com/air-conditioning-compressor (trade text)"
    COIL_PAGE = "greenyplace.com, page on dirty coils (trade text)"
    AIR_ARTICLE = "achrnews.com/articles/129746, symptoms of air in a system (trade text)"
    AIR_PAGE = "iheatcool.com/how-to-diognose-non-condensables (trade text)"
    LABORATORY = (
        "yumpu.com/en/document/view/28133799, page 213, table 1-1: rules of a laboratory study of "
        "rooftop units"
    )
    APPROACH_MANUAL = "manualshive.com/en/manual/lennox/merit-13hpd018/1877800, page 16"
    MODEL = "computed with a mechanistic model of an R-410A unit with expansion valve; not measured"
    PRACTICE = "common practice, no published source"
    DEFINITION = "follows from how the reading is computed"
    COMBINED = "the fault's row, with that of the charge that brings its superheat to the target"


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
        The direction the diagnosis uses.
    claims : tuple of Claim
        What each source says; at least one.
    note : str
        Why `used` is not simply what a source says, or empty.
    disagreement : bool
        Whether the sources have no sign in common.
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
        A reading that is missing may move either way.
    share : float
        Its share of the cause's prior probability [1]. Assumption.
    probe : Role or None
        The probe at fault; None if the unit is. The pattern counts less once the technician has
        seen to the probe.
    """

    name: str
    signs: dict[Feature, Sign]
    share: float = 1.0
    probe: Role | None = None


_WORDS: Final = {
    "-": Direction.LOW,
    "-0": Direction.LOW_OR_NORMAL,
    "0": Direction.NORMAL,
    "0+": Direction.NORMAL_OR_HIGH,
    "+": Direction.HIGH,
    "?": Direction.EITHER,
}
_LETTERS: Final = {
    "F": Source.FORUM,
    "U": Source.UNDERCHARGE_ARTICLE,
    "R": Source.RESTRICTION_ARTICLE,
    "C": Source.COIL_PAGE,
    "N": Source.AIR_ARTICLE,
    "I": Source.AIR_PAGE,
    "L": Source.LABORATORY,
    "A": Source.APPROACH_MANUAL,
    "m": Source.MODEL,
    "p": Source.PRACTICE,
    "d": Source.DEFINITION,
    "c": Source.COMBINED,
}


def sign_of(text: str, note: str = "") -> Sign:
    """Parse a sign such as "- F:- U:- m:-0": the direction used, then what each source says.

    The letters are those of `_LETTERS`; `note` says why the direction used differs from them.
    """
    used, *claims = text.split()
    return Sign(
        used=_WORDS[used],
        claims=tuple(
            Claim(_WORDS[direction], _LETTERS[letter])
            for letter, _, direction in (claim.partition(":") for claim in claims)
        ),
        note=note,
    )


def in_contact(table: dict[Cause, tuple[Pattern, ...]]) -> dict[Cause, tuple[Pattern, ...]]:
    """Return the table with a liquid line that follows its condenser, unless a pattern differs."""
    follows = {Feature.CONTACT: sign_of("0 m:0")}
    return {
        cause: tuple(
            replace(each, signs=follows | each.signs) if each.signs else each for each in patterns
        )
        for cause, patterns in table.items()
    }


def only(**moved: str) -> dict[Feature, Sign]:
    """Return the signs of a probe at fault: `moved` by reading, normal for every other one.

    The liquid that is left (`SEAL`) says nothing about probes.
    """
    moved = {"seal": "?", **moved}
    return {
        feature: sign_of(f"{word} d:{word}")
        for feature, word in ((f, moved.get(f.name.lower(), "0")) for f in Feature)
    }


NEXT_CHECK: Final = {
    Cause.UNDERCHARGE: "add in steps; if refrigerant was lost, find the leak first",
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
"""The check that would confirm each cause, or the next thing to do. Common practice, no published
source."""


def checks(*causes: Cause) -> str:
    """Return the checks that tell similar causes apart, in the given order, each once."""
    return "; if it is not that: ".join(
        dict.fromkeys(NEXT_CHECK[cause] for cause in causes if cause in NEXT_CHECK)
    )
