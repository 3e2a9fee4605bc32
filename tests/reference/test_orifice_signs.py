"""The directions behind a fixed orifice against the published rules they were made from.

Laboratory rules of a rooftop unit: yumpu.com/en/document/view/28133799, page 213, table 1-1 (that
the unit had a fixed orifice is from memory). Columns as printed: evaporating temperature,
superheat, condensing temperature, subcooling, hot gas, indoor air difference.
"""

import pytest

from chargeassist.guide.diagnosis import CHARGING_PRIOR, diagnose
from chargeassist.guide.evidence import FeatureReading
from chargeassist.guide.fault_signs import PATTERNS
from chargeassist.guide.fault_terms import Cause, Direction, Feature, Pattern, Sign, Source
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


COMBINED = [
    (cause, patterns[0], patterns[1])
    for cause, patterns in ORIFICE_PATTERNS.items()
    if any(Source.COMBINED in {c.source for c in s.claims} for s in patterns[-1].signs.values())
]


@pytest.mark.parametrize(("cause", "fault", "charged"), COMBINED, ids=lambda item: str(item))
def test_a_unit_charged_until_its_superheat_is_right_shows_fault_and_shortage_together(
    cause: Cause, fault: Pattern, charged: Pattern
) -> None:
    """No sign that neither the published row of the fault nor that of a shortage has."""
    shortage = ORIFICE_PATTERNS[Cause.UNDERCHARGE][0].signs
    assert charged.signs[Feature.SUPERHEAT].used is Direction.NORMAL
    for feature, sign in charged.signs.items():
        if feature in fault.signs and feature in shortage:
            either = fault.signs[feature].used.signs | shortage[feature].used.signs
            assert sign.used.signs <= either | {0}, (cause, feature)


def test_the_causes_that_lower_superheat_have_a_charged_form() -> None:
    """Each would be brought to its target with less refrigerant, and read normal there."""
    assert {cause for cause, _, _ in COMBINED} == {
        Cause.NON_CONDENSABLES, Cause.LOW_OUTDOOR_AIRFLOW, Cause.LOW_INDOOR_AIRFLOW,
        Cause.VALVE_LEAKAGE, Cause.VALVE_OPEN,
    }  # fmt: skip


def _orifice(superheat: float, subcooling_k: float, feed_k: float | None) -> list[FeatureReading]:
    """Readings of a unit short of refrigerant or restricted: superheat in tolerances."""
    found = [
        FeatureReading(
            feature=feature, value_si=value, expected_si=expected, tolerance_si=tolerance,
            expanded_si=0.6, wide=wide,
        )
        for feature, value, expected, tolerance, wide in (
            (Feature.SUPERHEAT, superheat, 0.0, 1.0, False),
            (Feature.EVAPORATING, -2.0, 0.0, 1.0, True),
            (Feature.SUBCOOLING, subcooling_k, 6.0, 5.0, True),
            (Feature.SEAL, subcooling_k, 2.5, 1.5, False),
        )
    ]  # fmt: skip
    if feed_k is not None:
        found.append(
            FeatureReading(
                feature=Feature.FEED, value_si=feed_k, expected_si=0.0, tolerance_si=8.0,
                expanded_si=1.0,
            )
        )  # fmt: skip
    return found


def test_superheat_far_over_its_target_with_liquid_before_the_orifice_is_a_restriction() -> None:
    found = diagnose(_orifice(8.0, 3.5, 20.0), CHARGING_PRIOR, orifice=True)
    assert found.causes[0].cause is Cause.RESTRICTION


def test_superheat_far_over_its_target_without_liquid_is_a_shortage() -> None:
    found = diagnose(_orifice(8.0, 0.1, None), CHARGING_PRIOR, orifice=True)
    assert found.causes[0].cause is Cause.UNDERCHARGE
