"""The directions behind a fixed orifice against the published rules they were made from.

Laboratory rules of a rooftop unit: yumpu.com/en/document/view/28133799, page 213, table 1-1 (that
the unit had a fixed orifice is from memory). Columns as printed: evaporating temperature,
superheat, condensing temperature, subcooling, hot gas, indoor air difference.
"""

import pytest

from chargeassist.guide.diagnosis import CHARGING_PRIOR, diagnose
from chargeassist.guide.evidence import FeatureReading
from chargeassist.guide.fault_signs import PATTERNS
from chargeassist.guide.fault_terms import Cause, Direction, Feature, Sign, Source
from chargeassist.guide.orifice_signs import ORIFICE_PATTERNS

COLUMNS = (
    Feature.EVAPORATING,
    Feature.SUPERHEAT,
    Feature.CONDENSING,
    Feature.SUBCOOLING,
    Feature.DISCHARGE,
    Feature.AIR_SPLIT,
)
PRINTED = {
    Cause.UNDERCHARGE: "-+--+-",
    Cause.VALVE_LEAKAGE: "+-----",
    Cause.RESTRICTION: "-+-++-",
    Cause.LOW_OUTDOOR_AIRFLOW: "+-+-+-",
    Cause.LOW_INDOOR_AIRFLOW: "-----+",
}
WORDS = {"-": Direction.LOW, "+": Direction.HIGH}


def claimed(sign: Sign, source: Source) -> Direction | None:
    return next((c.direction for c in sign.claims if c.source is source), None)


@pytest.mark.parametrize("cause", PRINTED)
def test_every_row_of_the_laboratory_rules(cause: Cause) -> None:
    signs = ORIFICE_PATTERNS[cause][0].signs
    for feature, printed in zip(COLUMNS, PRINTED[cause], strict=True):
        assert claimed(signs[feature], Source.LABORATORY) is WORDS[printed], feature


def test_what_is_used_is_what_the_sources_say_or_says_why_not() -> None:
    assert set(ORIFICE_PATTERNS) == set(PATTERNS)
    for cause, patterns in ORIFICE_PATTERNS.items():
        assert sum(pattern.share for pattern in patterns) == pytest.approx(1.0), cause
        for pattern in patterns:
            for feature, sign in pattern.signs.items():
                assert sign.claims, (cause, feature)
                published = [c for c in sign.claims if c.source is not Source.MODEL]
                if any(not c.direction.signs <= sign.used.signs for c in published):
                    assert sign.note or not sign.disagreement, (cause, feature)
                if any(not c.direction.signs & sign.used.signs for c in published):
                    assert sign.note, (cause, feature)
                if sign.disagreement:
                    assert sign.note, (cause, feature)


def test_the_known_contradictions_are_marked() -> None:
    """Subcooling of a dirty coil, short indoor air, leaking valves, and air in the circuit."""
    for cause in (
        Cause.LOW_OUTDOOR_AIRFLOW,
        Cause.LOW_INDOOR_AIRFLOW,
        Cause.VALVE_LEAKAGE,
        Cause.NON_CONDENSABLES,
    ):
        sign = ORIFICE_PATTERNS[cause][0].signs[Feature.SUBCOOLING]
        assert sign.disagreement, cause
        assert sign.used is Direction.EITHER, cause


@pytest.mark.parametrize("cause", PRINTED)
def test_the_printed_pattern_is_ranked_first_for_an_orifice(cause: Cause) -> None:
    """Without the compression's own reading, leaking valves and an overfed coil are alike."""
    readings = [
        FeatureReading(
            feature=feature,
            value_si=2.0 if printed == "+" else -2.0,
            expected_si=0.0,
            tolerance_si=1.0,
            expanded_si=0.2,
        )
        for feature, printed in zip(COLUMNS, PRINTED[cause], strict=True)
    ]
    found = diagnose(readings, CHARGING_PRIOR, orifice=True)
    alike = {cause, Cause.VALVE_OPEN} if cause is Cause.VALVE_LEAKAGE else {cause}
    assert {item.cause for item in found.causes[: len(alike)]} == alike


def test_superheat_alone_tells_the_two_tables_apart() -> None:
    """A dirty coil hardly moves the superheat a valve keeps, and lowers that of an orifice."""
    for patterns, direction in (
        (PATTERNS, Direction.LOW_OR_NORMAL),
        (ORIFICE_PATTERNS, Direction.LOW),
    ):
        assert patterns[Cause.LOW_OUTDOOR_AIRFLOW][0].signs[Feature.SUPERHEAT].used is direction
