"""Readings for the diagnosis, made from facts: what is expected, what is left out."""

from dataclasses import replace

import pytest

from chargeassist.guide.diagnosis import FeatureReading
from chargeassist.guide.expectation import Expectations, expectations_of
from chargeassist.guide.expected import Expected
from chargeassist.guide.fault_terms import Feature
from chargeassist.guide.features import feature_readings
from chargeassist.guide.usual_ranges import UsualRanges
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.entries import Entry
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.judged import SUPERHEAT
from chargeassist.model.limits import Method
from chargeassist.physics.saturation import refrigerant
from chargeassist.stream.facts import ChannelFacts, Entered, Facts, Measured
from chargeassist.stream.typed_readings import TYPED_SOURCE
from tests.unit.guide.bare_facts import bare_facts

JOB = Job(
    name="invented",
    refrigerant="R-410A",
    target=Target(subcooling_k=5.0, tolerance_k=1.0, source="invented plate"),
    charge=ChargeLimits(plate_kg=3.0, step_cap_kg=0.1),
    site=Site(altitude_m=0.0),
)


def channel(role: Role, value_si: float | None, accuracy: float | None = 0.3) -> ChannelFacts:
    declared = None if accuracy is None else Accuracy(absolute_si=accuracy)
    return ChannelFacts(
        channel=Channel(name=role.value, role=role, unit="K", accuracy=declared),
        value_si=value_si,
    )


FACTS = bare_facts(
    t=900.0,
    channels=(
        channel(Role.LIQUID_TEMPERATURE, 306.0),
        channel(Role.OUTDOOR_AIR_TEMPERATURE, 300.0),
        channel(Role.RETURN_AIR_TEMPERATURE, 298.0),
        channel(Role.SUPPLY_AIR_TEMPERATURE, 287.5),
        channel(Role.DISCHARGE_TEMPERATURE, 345.0),
        channel(Role.COMPRESSOR_CURRENT, 9.0, 0.1),
    ),
    subcooling=Measured(value_k=5.1, expanded_k=0.8),
    superheat=Measured(value_k=6.1, expanded_k=1.2),
    liquid_saturation_k=311.0,
    suction_saturation_k=280.0,
    settled=Measured(value_k=5.0, expanded_k=0.8),
    settled_superheat_k=6.0,
    total_kg=3.0,
)


def by_feature(
    facts: Facts = FACTS, expectations: Expectations | None = None
) -> dict[Feature, FeatureReading]:
    return {item.feature: item for item in feature_readings(JOB, facts, expectations)}


def test_only_what_has_an_expectation_is_used() -> None:
    found = by_feature()
    assert set(found) == {
        Feature.SUBCOOLING, Feature.SUPERHEAT, Feature.CONDENSING, Feature.EVAPORATING,
        Feature.AIR_SPLIT, Feature.APPROACH, Feature.SEAL,
    }  # fmt: skip
    assert all(item.basis for item in found.values())
    plate = Expected(low_si=8.0, high_si=10.0, basis="maker's table at 72 Hz", assumption=False)
    more = by_feature(
        expectations=replace(
            expectations_of(JOB, FACTS),
            current=plate,
            approach=Expected(low_si=4.0, high_si=6.0, basis="maker's approach table"),
            discharge_temp=Expected(low_si=330.0, high_si=350.0, basis="maker's table"),
        )
    )
    left_out = {
        Feature.COMPRESSION, Feature.CHARGE, Feature.STEP, Feature.FEED,
        Feature.CONTACT,  # of minutes, which `ContactWatch` follows, never of one tick's facts
    }  # fmt: skip
    assert set(more) == set(Feature) - left_out
    assert more[Feature.CURRENT].basis == plate.basis
    assert more[Feature.APPROACH].value_si == pytest.approx(6.0)


def test_values_and_uncertainties_by_hand() -> None:
    """Two declared limits of 0.3 K: U = 2 sqrt(2) 0.3 / sqrt 3 = 0.49 K."""
    found = by_feature()
    assert found[Feature.SUBCOOLING].value_si == 5.0
    assert found[Feature.SUBCOOLING].expected_si == 5.0
    assert found[Feature.SUBCOOLING].tolerance_si == 1.0
    assert found[Feature.SUPERHEAT].expected_si == pytest.approx((4 + 25) / 2 / 1.8)
    assert found[Feature.SUPERHEAT].tolerance_si == pytest.approx((25 - 4) / 2 / 1.8)
    assert found[Feature.CONDENSING].value_si == pytest.approx(11.0)
    assert found[Feature.EVAPORATING].value_si == pytest.approx(-18.0)
    assert found[Feature.AIR_SPLIT].value_si == pytest.approx(10.5)
    assert found[Feature.AIR_SPLIT].expanded_si == pytest.approx(0.49, abs=0.001)
    assert found[Feature.CONDENSING].expanded_si == pytest.approx((0.8**2 + 0.12) ** 0.5)


def test_general_ranges_are_marked_as_wide() -> None:
    """4 to 25 °F is a general range, a maker's 8 to 12 °F is not."""
    assert {f for f, item in by_feature().items() if item.wide} == {
        Feature.SUPERHEAT, Feature.CONDENSING, Feature.EVAPORATING, Feature.AIR_SPLIT,
        Feature.APPROACH,
    }  # fmt: skip
    target = replace(JOB.target, superheat_low_k=8 / 1.8, superheat_high_k=12 / 1.8)
    found = feature_readings(replace(JOB, target=target), FACTS)
    assert not next(item for item in found if item.feature is Feature.SUPERHEAT).wide


def test_nothing_unless_settled() -> None:
    assert feature_readings(JOB, replace(FACTS, settled=None)) == ()


@pytest.mark.parametrize(
    ("role", "lost"),
    [
        (Role.OUTDOOR_AIR_TEMPERATURE, {Feature.CONDENSING, Feature.APPROACH}),
        (Role.RETURN_AIR_TEMPERATURE, {Feature.EVAPORATING, Feature.AIR_SPLIT}),
        (Role.SUPPLY_AIR_TEMPERATURE, {Feature.AIR_SPLIT}),
    ],
)
def test_a_silent_probe_takes_away_what_hangs_on_it(role: Role, lost: set[Feature]) -> None:
    channels = tuple(
        replace(item, value_si=None) if item.channel.role is role else item
        for item in FACTS.channels
    )
    assert set(by_feature()) - set(by_feature(replace(FACTS, channels=channels))) == lost


@pytest.mark.parametrize(
    ("role", "feature"),
    [(Role.LIQUID_TEMPERATURE, Feature.APPROACH), (Role.DISCHARGE_TEMPERATURE, Feature.DISCHARGE)],
)
def test_a_place_that_is_typed_counts_where_its_probe_is_silent(
    role: Role, feature: Feature
) -> None:
    expected = Expectations(
        approach=Expected(low_si=3.0, high_si=8.0, basis="invented"),
        discharge_temp=Expected(low_si=330.0, high_si=350.0, basis="invented"),
    )
    probe = next(item for item in FACTS.channels if item.channel.role is role)
    typed = replace(probe, channel=replace(probe.channel, name="typed", source=TYPED_SOURCE))
    silent = tuple(replace(i, value_si=None) if i is probe else i for i in FACTS.channels)
    by_hand = replace(FACTS, channels=(*silent, typed), typed=frozenset({role}))
    assert by_feature(by_hand, expected)[feature] == by_feature(FACTS, expected)[feature]


def test_an_undeclared_accuracy_is_passed_on_as_unknown() -> None:
    channels = tuple(channel(item.channel.role, item.value_si, None) for item in FACTS.channels)
    found = by_feature(replace(FACTS, channels=channels))
    assert found[Feature.AIR_SPLIT].expanded_si is None
    assert found[Feature.CONDENSING].expanded_si is None


@pytest.mark.parametrize(("subcooling_k", "feed_k"), [(0.3, None), (1.2, None), (2.5, 9.0)])
def test_superheat_over_its_target_counts_where_liquid_surely_reaches_the_orifice(
    subcooling_k: float, feed_k: float | None
) -> None:
    """A line that may bring vapour says nothing of a restriction, however high the superheat."""
    job = replace(
        JOB,
        target=replace(
            JOB.target, method=Method.SUPERHEAT, subcooling_k=None, superheat_k=6.0, tolerance_k=2.0
        ),
    )
    facts = replace(
        FACTS,
        judged=SUPERHEAT,
        target=None,
        settled=Measured(value_k=15.0, expanded_k=1.2),
        settled_subcooling_k=subcooling_k,
    )
    found = {item.feature: item for item in feature_readings(job, facts)}
    assert found[Feature.SEAL].value_si == subcooling_k
    if feed_k is None:
        assert Feature.FEED not in found
    else:
        assert found[Feature.FEED].value_si == pytest.approx(feed_k)
        assert found[Feature.FEED].sign()[2] > found[Feature.FEED].sign()[1]


@pytest.mark.parametrize(
    ("outdoor_f", "liquid_psig", "suction_psig"),
    [(65, 256, 130), (75, 296, 133), (85, 340, 136), (95, 386, 141), (105, 438, 146),
     (115, 503, 152)],
)  # fmt: skip
def test_the_assumed_ranges_hold_a_published_pressure_table(
    outdoor_f: int, liquid_psig: int, suction_psig: int
) -> None:
    """5-ton R-410A unit, 80 °F dry bulb and 67 °F wet bulb: manualshive.com LRP14AC, p. 23."""
    psi = 0.45359237 * 9.80665 / 0.0254**2
    fluid = refrigerant("R-410A")
    bubble = fluid.bubble_temp_k(liquid_psig * psi + 101_325.0)
    dew = fluid.dew_temp_k(suction_psig * psi + 101_325.0)
    assert isinstance(bubble, float)
    assert isinstance(dew, float)
    over = bubble - (outdoor_f + 459.67) / 1.8
    under = dew - (80.0 + 459.67) / 1.8
    usual = UsualRanges.of(JOB)
    assert usual.condensing.low_si < over < usual.condensing.high_si
    assert usual.boiling.low_si < under < usual.boiling.high_si


def test_a_range_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="low < high"):
        Expected(low_si=2.0, high_si=2.0, basis="x")


@pytest.mark.parametrize(
    ("typed_t", "said"),
    [(None, "nobody measures"), (-1700.0, "this wet bulb"), (-1900.0, "nobody")],
)
def test_a_typed_wet_bulb_counts_for_half_an_hour(typed_t: float | None, said: str) -> None:
    """`typed_air_lasts`, as for the target superheat."""
    entered = {}
    if typed_t is not None:
        entered[Entry.RETURN_WET_BULB] = Entered(value_si=290.0, t=FACTS.t + typed_t)
    found = by_feature(replace(FACTS, entered=entered))
    assert said in found[Feature.AIR_SPLIT].basis


def test_a_share_of_the_reading_is_one_of_what_the_clamp_shows() -> None:
    """1 % of 71.85 °C, not of 345 K."""
    clamp = ChannelFacts(
        channel=Channel(
            name="discharge",
            role=Role.DISCHARGE_TEMPERATURE,
            unit="°C",
            accuracy=Accuracy(relative=0.01),
        ),
        value_si=345.0,
    )
    wanted = Expectations(discharge_temp=Expected(low_si=335.0, high_si=355.0, basis="table"))
    found = by_feature(replace(FACTS, channels=(clamp,)), wanted)[Feature.DISCHARGE]
    assert found.expanded_si == pytest.approx(2.0 * 0.7185 / 3.0**0.5)


def split_of(facts: Facts, wet_bulb_k: float | None = None) -> Expected:
    target = replace(JOB.target, return_wet_bulb_k=wet_bulb_k)
    wanted = expectations_of(replace(JOB, target=target), facts)
    assert wanted.air_split is not None
    return wanted.air_split


def test_a_humidity_probe_that_reads_a_little_past_all_still_tells_the_wet_bulb() -> None:
    """As for the target superheat: 100.4 % is saturated air, not air of unknown humidity."""
    air = channel(Role.RETURN_AIR_TEMPERATURE, 298.0), channel(Role.OUTDOOR_AIR_TEMPERATURE, 300.0)
    damp = channel(Role.RETURN_AIR_HUMIDITY, 1.0), channel(Role.RETURN_AIR_HUMIDITY, 1.004)
    full, past = (split_of(replace(FACTS, channels=(*air, each))) for each in damp)
    assert "with this wet bulb" in full.basis
    assert past == full


def test_a_wet_bulb_typed_too_long_ago_is_still_newer_than_that_of_the_job() -> None:
    """As for the target superheat, which then has no value: the job's was read before it."""
    typed = {Entry.RETURN_WET_BULB: Entered(value_si=292.0, t=0.0)}
    new, old = (replace(FACTS, t=t, entered=typed) for t in (900.0, 7200.0))
    assert "with this wet bulb" in split_of(FACTS, 290.0).basis
    assert "with this wet bulb" in split_of(new, 290.0).basis
    assert "nobody measures" in split_of(old, 290.0).basis
