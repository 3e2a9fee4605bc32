"""Ranking of causes: faults computed elsewhere, missing readings, coarse probes, arithmetic."""

import math

import pytest

from chargeassist.guide.cure import Remedy, refrigerant_is_cure
from chargeassist.guide.diagnosis import (
    CHARGING_PRIOR,
    SIGN_CHANCE,
    FeatureReading,
    Verdict,
    diagnose,
)
from chargeassist.guide.fault_signs import PATTERNS
from chargeassist.guide.fault_terms import Cause, Feature

AGAINST_ADDING = frozenset({Remedy.FIX, Remedy.RECOVER})

PSI_TO_F_CONDENSING = 0.20  # R-410A about 105 °F, °F per psi (CoolProp)
PSI_TO_F_EVAPORATING = 0.41  # R-410A about 46 °F

# Settled readings of a good R-410A unit and what a good set of probes gives: expected value,
# tolerance and expanded uncertainty, °F and A. Invented tolerances; base of the fault table below.
BASE = {
    Feature.SUBCOOLING: (9.5, 3.0, 0.9),
    Feature.SUPERHEAT: (12.2, 5.0, 1.2),
    Feature.CONDENSING: (24.0, 3.0, 1.0),
    Feature.EVAPORATING: (-35.0, 3.0, 1.0),
    Feature.DISCHARGE: (154.0, 8.0, 2.0),
    Feature.CURRENT: (19.3, 0.6, 0.2),
    Feature.AIR_SPLIT: (20.9, 1.0, 0.5),
}

# Changes computed by a mechanistic model of a 5-ton R-410A unit with expansion valve at 82 °F
# outdoors (regression of another implementation; not measured): subcooling, superheat [°F], head
# and suction [psi], amps, discharge [°F], split [°F].
MODEL = {
    "under 20": (Cause.UNDERCHARGE, -9.5, 8.9, -17.0, -4.5, -0.8, 5.0, -1.8),
    "under 30": (Cause.UNDERCHARGE, -9.5, 23.0, -30.0, -20.0, -1.2, 19.0, -4.7),
    "over 20": (Cause.OVERCHARGE, 12.3, -0.8, 26.0, -0.7, 1.3, 7.0, 0.4),
    "non-condensable": (Cause.NON_CONDENSABLES, 5.1, -0.6, 28.0, 0.7, 1.4, 4.0, 0.0),
    "restriction": (Cause.RESTRICTION, 6.6, 34.0, -18.0, -36.0, -0.4, 41.0, -6.1),
    "outdoor air 50": (Cause.LOW_OUTDOOR_AIRFLOW, 1.2, -1.1, 66.0, 3.5, 3.4, 18.0, -0.7),
    "indoor air 75": (Cause.LOW_INDOOR_AIRFLOW, 0.6, -0.5, -4.0, -7.5, -0.2, 0.0, 4.0),
    "indoor air, twice that": (Cause.LOW_INDOOR_AIRFLOW, 1.2, -1.0, -8.0, -15.0, -0.4, 0.0, 8.0),
    "valve stuck 0.60": (Cause.RESTRICTION, 6.3, 41.0, -25.0, -47.0, -0.6, 52.0, -7.8),
    "valve stuck 1.5": (Cause.VALVE_OPEN, -9.4, -12.0, -11.0, 11.0, -0.8, -51.0, -0.8),
    "valve leak 30": (Cause.VALVE_LEAKAGE, -2.2, -1.7, -24.0, 14.0, -2.1, 2.0, -2.4),
    "loose liquid clamp": (Cause.PROBE_LOOSE, 7.9, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    "liquid zero +20 psi": (Cause.ZERO_SHIFTED, 4.4, 0.0, 20.0, 0.0, 0.0, 0.0, 0.0),
    "in order": (Cause.IN_ORDER, 0.4, 0.8, 3.0, 0.5, 0.1, 1.0, 0.2),
}


def reading(feature: Feature, change: float, expanded: float | None = -1.0) -> FeatureReading:
    expected, tolerance, usual = BASE[feature]
    return FeatureReading(
        feature=feature,
        value_si=expected + change,
        expected_si=expected,
        tolerance_si=tolerance,
        expanded_si=usual if expanded == -1.0 else expanded,
    )


def of_model(name: str) -> list[FeatureReading]:
    _, sc, sh, head, suction, amps, discharge, split = MODEL[name]
    return [
        reading(Feature.SUBCOOLING, sc),
        reading(Feature.SUPERHEAT, sh),
        reading(Feature.CONDENSING, head * PSI_TO_F_CONDENSING),
        reading(Feature.EVAPORATING, suction * PSI_TO_F_EVAPORATING),
        reading(Feature.CURRENT, amps),
        reading(Feature.DISCHARGE, discharge),
        reading(Feature.AIR_SPLIT, split),
    ]


def only(name: str, *features: Feature) -> list[FeatureReading]:
    return [item for item in of_model(name) if item.feature in features]


HIGH_HEAD = ("over 20", "non-condensable", "outdoor air 50")
TOO_SMALL = ("indoor air 75",)


def approach_of(name: str) -> FeatureReading:
    """Liquid line over outdoor air: condensing over outdoor air less subcooling, by definition."""
    change = MODEL[name][3] * PSI_TO_F_CONDENSING - MODEL[name][1]
    return FeatureReading(
        feature=Feature.APPROACH,
        value_si=14.5 + change,
        expected_si=14.5,
        tolerance_si=3.0,
        expanded_si=1.0,
    )


@pytest.mark.parametrize("name", [n for n in MODEL if n not in {*HIGH_HEAD, *TOO_SMALL}])
def test_a_computed_fault_is_ranked_first(name: str) -> None:
    found = diagnose(of_model(name))
    shown = [(item.cause.name, round(item.probability, 3)) for item in found.causes[:4]]
    assert found.causes[0].cause is MODEL[name][0], shown
    assert found.verdict is not Verdict.NOT_ENOUGH


@pytest.mark.parametrize("name", HIGH_HEAD)
def test_causes_of_high_head_are_not_told_apart_without_the_approach(name: str) -> None:
    """All three raise head and amps and leave the suction side nearly alone."""
    trio = {Cause.OVERCHARGE, Cause.NON_CONDENSABLES, Cause.LOW_OUTDOOR_AIRFLOW}
    without = diagnose(of_model(name))
    assert without.verdict is Verdict.SEVERAL
    assert {item.cause for item in without.causes[:2]} < trio
    assert MODEL[name][0] in {item.cause for item in without.candidates}
    assert without.would_tell[0] is Feature.APPROACH
    assert "rest" in " ".join(item.next_check for item in without.candidates)
    assert refrigerant_is_cure(without).remedy in AGAINST_ADDING
    found = diagnose([*of_model(name), approach_of(name)])
    assert found.causes[0].cause is MODEL[name][0]


def test_a_fault_too_small_to_show_is_not_named_with_confidence() -> None:
    """A quarter less indoor air moves little but the split: as likely in order."""
    found = diagnose(of_model("indoor air 75"))
    assert found.verdict is Verdict.SEVERAL
    assert {item.cause for item in found.candidates} >= {Cause.IN_ORDER, Cause.LOW_INDOOR_AIRFLOW}


def test_a_restriction_and_a_stuck_valve_are_one_class_with_a_way_to_tell_them_apart() -> None:
    for name in ("restriction", "valve stuck 0.60"):
        found = diagnose(of_model(name)).causes[0]
        assert found.cause is Cause.RESTRICTION
        assert "filter-drier" in found.next_check
        assert "valve" in found.next_check


def test_the_approach_tells_a_loose_clamp_from_other_high_subcooling() -> None:
    clamp = [
        reading(Feature.SUBCOOLING, 7.9),
        reading(Feature.SUPERHEAT, 0.0),
        reading(Feature.CONDENSING, 0.0),
    ]
    without = diagnose(clamp)
    liquid = FeatureReading(
        feature=Feature.APPROACH,
        value_si=1.0,
        expected_si=10.0,
        tolerance_si=3.0,
        expanded_si=1.0,
    )
    assert Feature.APPROACH in without.would_tell
    assert diagnose([*clamp, liquid]).probability(Cause.PROBE_LOOSE) > without.probability(
        Cause.PROBE_LOOSE
    )


def test_nothing_measured_is_not_enough_and_leaves_the_priors() -> None:
    found = diagnose([])
    assert found.verdict is Verdict.NOT_ENOUGH
    assert found.information == 0.0
    assert {round(item.probability, 12) for item in found.causes} == {round(1 / len(Cause), 12)}
    assert found.would_tell
    assert refrigerant_is_cure(found).remedy is Remedy.UNKNOWN


def test_subcooling_alone_is_not_enough() -> None:
    found = diagnose([reading(Feature.SUBCOOLING, -6.0)])
    assert found.verdict is Verdict.NOT_ENOUGH
    assert refrigerant_is_cure(found).remedy not in AGAINST_ADDING


def test_instruments_too_coarse_say_nothing() -> None:
    """A thousandfold uncertainty makes every sign equally likely, and the priors stay."""
    coarse = [
        reading(item.feature, item.value_si - item.expected_si, 1e3 * item.tolerance_si)
        for item in of_model("restriction")
    ]
    for item in coarse:
        assert item.sign() == pytest.approx((1 / 3, 1 / 3, 1 / 3), abs=1e-3)
    found = diagnose(coarse)
    assert found.verdict is Verdict.NOT_ENOUGH
    for ranked in found.causes:
        assert ranked.probability == pytest.approx(1.0 / len(Cause), abs=1e-3)


def test_readings_nothing_explains_are_called_unexplained() -> None:
    """High subcooling and low head, low superheat and low suction, high amps, low discharge."""
    odd = [
        reading(Feature.SUBCOOLING, 10.0),
        reading(Feature.CONDENSING, -10.0),
        reading(Feature.SUPERHEAT, -12.0),
        reading(Feature.EVAPORATING, 12.0),
        reading(Feature.CURRENT, 3.0),
        reading(Feature.AIR_SPLIT, 6.0),
    ]
    found = diagnose(odd)
    assert found.causes[0].cause is Cause.OTHER
    assert found.verdict is Verdict.UNEXPLAINED
    assert refrigerant_is_cure(found).remedy is not Remedy.ADD


@pytest.mark.parametrize(
    ("name", "remedy"),
    [
        ("under 20", Remedy.ADD),
        ("under 30", Remedy.ADD),
        ("restriction", Remedy.FIX),
        ("valve stuck 0.60", Remedy.FIX),
        ("valve stuck 1.5", Remedy.FIX),
        ("outdoor air 50", Remedy.FIX),
        ("indoor air 75", Remedy.UNKNOWN),
        ("indoor air, twice that", Remedy.FIX),
        ("valve leak 30", Remedy.FIX),
        ("loose liquid clamp", Remedy.FIX),
        ("in order", Remedy.UNKNOWN),
    ],
)
def test_refrigerant_cures_a_shortage_and_nothing_else(name: str, remedy: Remedy) -> None:
    cure = refrigerant_is_cure(diagnose(of_model(name), CHARGING_PRIOR))
    assert cure.remedy is remedy


def test_a_clear_overcharge_calls_for_recovery() -> None:
    found = diagnose([*of_model("over 20"), approach_of("over 20")])
    assert refrigerant_is_cure(found).remedy is Remedy.RECOVER


def test_charging_with_subcooling_and_superheat_only_is_not_blocked() -> None:
    """The usual case: short, the valve still holds superheat; few probes."""
    for change in (-6.0, -4.0):
        readings = [reading(Feature.SUBCOOLING, change), reading(Feature.SUPERHEAT, 0.5)]
        found = diagnose(readings, CHARGING_PRIOR)
        assert refrigerant_is_cure(found).remedy not in AGAINST_ADDING
        assert found.causes[0].cause is Cause.UNDERCHARGE


def test_low_subcooling_with_flooding_suction_is_not_called_a_shortage() -> None:
    """A valve stuck open: adding would feed liquid to the compressor."""
    readings = only("valve stuck 1.5", Feature.SUBCOOLING, Feature.SUPERHEAT, Feature.EVAPORATING)
    found = diagnose(readings, CHARGING_PRIOR)
    assert found.causes[0].cause is Cause.VALVE_OPEN
    assert refrigerant_is_cure(found).remedy in AGAINST_ADDING


def test_the_sign_of_a_reading_by_hand() -> None:
    """d = 2, T = 1, u = 1: [Phi(2)-Phi(-1)... over each range divided by its width, by erf."""

    def phi(z: float) -> float:
        return 0.5 * (1.0 + math.erf(z / math.sqrt(2.0)))

    found = FeatureReading(
        feature=Feature.SUBCOOLING, value_si=2.0, expected_si=0.0, tolerance_si=1.0, expanded_si=2.0
    ).sign()
    low = (phi(-1 - 2) - phi(-4 - 2)) / 3
    normal = (phi(1 - 2) - phi(-1 - 2)) / 2
    high = (phi(4 - 2) - phi(1 - 2)) / 3
    total = low + normal + high
    assert found == pytest.approx((low / total, normal / total, high / total), abs=1e-12)
    assert sum(found) == pytest.approx(1.0)


@pytest.mark.parametrize("value", [-1e9, 1e9])
def test_a_wild_reading_has_a_certain_sign_and_no_overflow(value: float) -> None:
    found = FeatureReading(
        feature=Feature.CURRENT,
        value_si=value,
        expected_si=0.0,
        tolerance_si=1.0,
        expanded_si=0.0,
    ).sign()
    assert found == pytest.approx((1.0, 0.0, 0.0) if value < 0 else (0.0, 0.0, 1.0), abs=1e-9)


def test_an_undeclared_accuracy_counts_as_the_tolerance() -> None:
    declared = reading(Feature.SUBCOOLING, 4.0, BASE[Feature.SUBCOOLING][1])
    assert reading(Feature.SUBCOOLING, 4.0, None).sign() == declared.sign()


def test_the_score_is_the_sum_that_is_written_down() -> None:
    """Two readings, one pattern each: odds of undercharge to 'none of these' by hand."""
    readings = [reading(Feature.SUBCOOLING, -9.0), reading(Feature.CURRENT, -2.0)]
    found = diagnose(readings)
    odds = 1.0
    for item, weight in zip(readings, (1.0, 0.5), strict=True):
        direction = PATTERNS[Cause.UNDERCHARGE][0].signs[item.feature].used
        explained = sum(a * b for a, b in zip(SIGN_CHANCE[direction], item.sign(), strict=True))
        odds *= (3.0 * explained) ** weight
    ratio = found.probability(Cause.UNDERCHARGE) / found.probability(Cause.OTHER)
    assert ratio == pytest.approx(odds, rel=1e-9)
    top = next(item for item in found.causes if item.cause is Cause.UNDERCHARGE)
    assert math.exp(sum(e.log_ratio for e in top.evidence)) == pytest.approx(odds, rel=1e-9)
    assert [e.feature for e in top.supporting] == [Feature.SUBCOOLING, Feature.CURRENT]


def test_probabilities_sum_to_one_and_order_does_not_matter() -> None:
    for name in MODEL:
        forward, backward = diagnose(of_model(name)), diagnose(of_model(name)[::-1])
        assert sum(item.probability for item in forward.causes) == pytest.approx(1.0)
        for cause in Cause:
            assert forward.probability(cause) == pytest.approx(backward.probability(cause))


def test_a_cause_ruled_out_before_stays_out() -> None:
    found = diagnose(of_model("under 20"), {Cause.UNDERCHARGE: 0.0})
    assert found.probability(Cause.UNDERCHARGE) == 0.0
    assert found.causes[0].cause is not Cause.UNDERCHARGE


def test_misuse_is_an_error_of_the_program() -> None:
    with pytest.raises(ValueError, match="twice"):
        diagnose([reading(Feature.SUBCOOLING, 0.0), reading(Feature.SUBCOOLING, 1.0)])
    with pytest.raises(ValueError, match="tolerance above zero"):
        FeatureReading(feature=Feature.CURRENT, value_si=1.0, expected_si=1.0, tolerance_si=0.0)
    with pytest.raises(ValueError, match="finite"):
        FeatureReading(
            feature=Feature.CURRENT, value_si=math.nan, expected_si=1.0, tolerance_si=1.0
        )
