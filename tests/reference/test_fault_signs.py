"""The direction table against the published list it was made from, row by row."""

import csv
from pathlib import Path

import pytest

from chargeassist.guide.fault_signs import PATTERNS
from chargeassist.guide.fault_terms import (
    NEXT_CHECK,
    Cause,
    Direction,
    Feature,
    Pattern,
    Sign,
    Source,
)

WORDS = {
    "-": Direction.LOW,
    "-0": Direction.LOW_OR_NORMAL,
    "0": Direction.NORMAL,
    "0+": Direction.NORMAL_OR_HIGH,
    "+": Direction.HIGH,
    "?": Direction.EITHER,
}
COLUMNS = {
    "subcooling": Feature.SUBCOOLING,
    "superheat": Feature.SUPERHEAT,
    "condensing": Feature.CONDENSING,
    "evaporating": Feature.EVAPORATING,
    "current": Feature.CURRENT,
    "air_split": Feature.AIR_SPLIT,
}

with (Path(__file__).parent / "data" / "fault_signs.csv").open(encoding="utf-8") as file:
    ROWS = list(csv.DictReader(file))


def pattern_of(cause: str, name: str) -> Pattern:
    return next(p for p in PATTERNS[Cause[cause]] if p.name == name)


def claimed(sign: Sign, source: Source) -> Direction | None:
    return next((c.direction for c in sign.claims if c.source is source), None)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["source"][33:])
def test_every_row_of_the_published_list(row: dict[str, str]) -> None:
    """Head pressure is read as condensing over outdoor air, suction pressure as evaporating."""
    signs = pattern_of(row["cause"], row["pattern"]).signs
    for column, feature in COLUMNS.items():
        assert claimed(signs[feature], Source.FORUM) is WORDS[row[column]], (column, row["source"])


def test_the_list_has_no_row_that_is_not_checked() -> None:
    """Nine scenarios are in print, two of them joined in one row here."""
    named = {(row["cause"], row["pattern"]) for row in ROWS}
    claiming = {
        (cause.name, pattern.name)
        for cause, patterns in PATTERNS.items()
        for pattern in patterns
        if any(c.source is Source.FORUM for s in pattern.signs.values() for c in s.claims)
    }
    assert named == claiming
    assert len(ROWS) == 8


@pytest.mark.parametrize(
    ("cause", "feature", "direction", "source"),
    [
        # achrnews.com, troubleshooting a refrigerant undercharge.
        ("UNDERCHARGE", Feature.SUBCOOLING, Direction.LOW, Source.UNDERCHARGE_ARTICLE),
        ("UNDERCHARGE", Feature.SUPERHEAT, Direction.HIGH, Source.UNDERCHARGE_ARTICLE),
        ("UNDERCHARGE", Feature.CONDENSING, Direction.LOW, Source.UNDERCHARGE_ARTICLE),
        ("UNDERCHARGE", Feature.EVAPORATING, Direction.LOW, Source.UNDERCHARGE_ARTICLE),
        ("UNDERCHARGE", Feature.DISCHARGE, Direction.HIGH, Source.UNDERCHARGE_ARTICLE),
        # macmediamagazine.com/air-conditioning-compressor: a restricted liquid line starves the
        # evaporator, keeps the charge in the condenser and raises subcooling, without high head.
        ("RESTRICTION", Feature.SUBCOOLING, Direction.HIGH, Source.RESTRICTION_ARTICLE),
        ("RESTRICTION", Feature.EVAPORATING, Direction.LOW, Source.RESTRICTION_ARTICLE),
        ("RESTRICTION", Feature.CONDENSING, Direction.LOW_OR_NORMAL, Source.RESTRICTION_ARTICLE),
        # Equipment manual, approach method: high approach add, low approach remove.
        ("UNDERCHARGE", Feature.APPROACH, Direction.HIGH, Source.APPROACH_MANUAL),
        ("OVERCHARGE", Feature.APPROACH, Direction.LOW, Source.APPROACH_MANUAL),
        # greenyplace.com: subcooling of a dirty coil normal to high.
        ("LOW_OUTDOOR_AIRFLOW", Feature.SUBCOOLING, Direction.NORMAL_OR_HIGH, Source.COIL_PAGE),
    ],
)
def test_directions_of_the_other_sources(
    cause: str, feature: Feature, direction: Direction, source: Source
) -> None:
    assert claimed(PATTERNS[Cause[cause]][0].signs[feature], source) is direction


def test_where_sources_contradict_each_other_nothing_is_claimed_by_the_table() -> None:
    """Known contradictions: subcooling of a dirty coil, subcooling of leaking valves."""
    found = {
        (cause, feature)
        for cause, patterns in PATTERNS.items()
        for pattern in patterns
        for feature, sign in pattern.signs.items()
        if sign.disagreement
    }
    assert (Cause.LOW_OUTDOOR_AIRFLOW, Feature.SUBCOOLING) in found
    assert (Cause.VALVE_LEAKAGE, Feature.SUBCOOLING) in found
    assert (Cause.OVERCHARGE, Feature.EVAPORATING) in found
    for cause, feature in found:
        for pattern in PATTERNS[cause]:
            sign = pattern.signs.get(feature)
            if sign is not None and sign.disagreement:
                assert sign.note, (cause, feature)
                allowed = frozenset().union(*(c.direction.signs for c in sign.claims))
                assert sign.used.signs >= allowed or sign.used is Direction.EITHER


def test_every_entry_has_a_source_and_says_why_it_departs_from_one() -> None:
    for cause, patterns in PATTERNS.items():
        assert sum(pattern.share for pattern in patterns) == pytest.approx(1.0), cause
        for pattern in patterns:
            for feature, sign in pattern.signs.items():
                assert sign.claims, (cause, feature)
                published = [c for c in sign.claims if c.source not in {Source.MODEL}]
                if any(not c.direction.signs & sign.used.signs for c in published):
                    assert sign.note, (cause, feature, "departs from a source without a reason")
                # A hard direction that a source does not share needs its reason.
                if any(not c.direction.signs <= sign.used.signs for c in published):
                    assert sign.note or sign.used.signs <= set().union(
                        *(c.direction.signs for c in published)
                    ), (cause, feature)


def test_every_cause_is_in_the_table_and_says_what_to_look_at() -> None:
    assert set(PATTERNS) == set(Cause)
    assert set(NEXT_CHECK) == set(Cause) - {Cause.IN_ORDER}
