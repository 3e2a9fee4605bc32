"""The diagnosis against a physical plant that knows nothing of the sign table.

The plant conserves mass and energy; its faults are amounts of physics (a pressure drop, a share of
air), not signs. Computed, not measured.
"""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from chargeassist.guide.cure import Remedy, refrigerant_is_cure
from chargeassist.guide.diagnosis import (
    CHARGING_PRIOR,
    LIKELY,
    SIGN_CHANCE,
    FeatureReading,
    Verdict,
    diagnose,
)
from chargeassist.guide.expected import Expected
from chargeassist.guide.fault_signs import PATTERNS
from chargeassist.guide.fault_terms import Cause, Direction, Feature
from chargeassist.guide.usual_ranges import UsualRanges
from chargeassist.model.channels import Role
from chargeassist.physics.saturation import refrigerant
from chargeassist.plant.faults import MachineFaults
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.physical_settings import PhysicalSettings
from tests.unit.stream.rig import make_job

AGAINST_ADDING = frozenset({Remedy.FIX, Remedy.RECOVER})

USUAL = UsualRanges.of(make_job())

# Tolerance and expanded uncertainty of each reading with good probes and the unit's own table
# (invented): [K], [A].
GOOD = {
    Feature.SUBCOOLING: (1.0, 0.5),
    Feature.SUPERHEAT: (2.0, 0.7),
    Feature.CONDENSING: (1.0, 0.5),
    Feature.EVAPORATING: (1.5, 0.5),
    Feature.DISCHARGE: (4.0, 1.0),
    Feature.CURRENT: (0.3, 0.1),
    Feature.AIR_SPLIT: (0.6, 0.3),
    Feature.APPROACH: (1.0, 0.5),
}

FAULTS: dict[str, tuple[Cause, float, MachineFaults]] = {
    "10 % short": (Cause.UNDERCHARGE, 2.07, MachineFaults()),
    "17 % short": (Cause.UNDERCHARGE, 1.90, MachineFaults()),
    "26 % short": (Cause.UNDERCHARGE, 1.70, MachineFaults()),
    "17 % over": (Cause.OVERCHARGE, 2.70, MachineFaults()),
    "non-condensables": (Cause.NON_CONDENSABLES, 2.30, MachineFaults(non_condensable_mol=0.1)),
    "restriction": (Cause.RESTRICTION, 2.30, MachineFaults(restriction_pa=1e6)),
    "valve half shut": (Cause.RESTRICTION, 2.30, MachineFaults(valve_stuck=0.5)),
    "half the outdoor air": (
        Cause.LOW_OUTDOOR_AIRFLOW, 2.30, MachineFaults(outdoor_air_share=0.5),
    ),
    "60 % of the indoor air": (
        Cause.LOW_INDOOR_AIRFLOW, 2.30, MachineFaults(indoor_air_share=0.6),
    ),
    "valve wide open": (Cause.VALVE_OPEN, 2.30, MachineFaults(valve_stuck=1.8)),
    "leaking compressor valves": (
        Cause.VALVE_LEAKAGE, 2.30, MachineFaults(compressor_leakage=0.3),
    ),
    "in order": (Cause.IN_ORDER, 2.28, MachineFaults()),
}  # fmt: skip


@cache
def settled(charge_kg: float, faults: MachineFaults) -> dict[Feature, float]:
    """Readings after a quarter of an hour at the required frequency in still air."""
    plant = PhysicalPlant(
        PhysicalSettings(
            charge_kg=charge_kg, start_hz=72.0, settle_s=900.0, gust_k=0.0, faults=faults
        )
    )
    assert plant.trip is None
    truth = plant.truth()
    fluid = refrigerant("R-32")
    bubble = fluid.bubble_temp_k(truth[Role.LIQUID_PRESSURE])
    dew = fluid.dew_temp_k(truth[Role.SUCTION_PRESSURE])
    assert isinstance(bubble, float)
    assert isinstance(dew, float)
    return {
        Feature.SUBCOOLING: bubble - truth[Role.LIQUID_TEMPERATURE],
        Feature.SUPERHEAT: truth[Role.SUCTION_TEMPERATURE] - dew,
        Feature.CONDENSING: bubble - truth[Role.OUTDOOR_AIR_TEMPERATURE],
        Feature.EVAPORATING: dew - truth[Role.RETURN_AIR_TEMPERATURE],
        Feature.DISCHARGE: truth[Role.DISCHARGE_TEMPERATURE],
        Feature.CURRENT: truth[Role.COMPRESSOR_CURRENT],
        Feature.AIR_SPLIT: truth[Role.RETURN_AIR_TEMPERATURE] - truth[Role.SUPPLY_AIR_TEMPERATURE],
        Feature.APPROACH: truth[Role.LIQUID_TEMPERATURE] - truth[Role.OUTDOOR_AIR_TEMPERATURE],
    }


def own_table(name: str) -> list[FeatureReading]:
    """Readings against the same unit in order, as a maker's performance table would give it."""
    _, charge_kg, faults = FAULTS[name]
    healthy = settled(2.30, MachineFaults())
    found = settled(charge_kg, faults)
    return [
        FeatureReading(
            feature=feature,
            value_si=found[feature],
            expected_si=healthy[feature],
            tolerance_si=tolerance,
            expanded_si=expanded,
        )
        for feature, (tolerance, expanded) in GOOD.items()
    ]


def general_ranges(name: str) -> list[FeatureReading]:
    """Readings against the job's target and the assumed ranges: what is known of any unit."""
    _, charge_kg, faults = FAULTS[name]
    found = settled(charge_kg, faults)
    healthy_k = settled(2.30, MachineFaults())[Feature.SUBCOOLING]
    ranges = {
        Feature.SUBCOOLING: Expected(
            low_si=healthy_k - 1.0, high_si=healthy_k + 1.0, basis="plate", assumption=False
        ),
        Feature.SUPERHEAT: Expected(low_si=4.0 / 1.8, high_si=25.0 / 1.8, basis="RA3.2"),
        Feature.CONDENSING: USUAL.condensing,
        Feature.EVAPORATING: USUAL.boiling,
        Feature.AIR_SPLIT: USUAL.air_split,
    }
    return [
        FeatureReading(
            feature=feature,
            value_si=found[feature],
            expected_si=0.5 * (expected.low_si + expected.high_si),
            tolerance_si=0.5 * (expected.high_si - expected.low_si),
            expanded_si=GOOD[feature][1],
            wide=expected.assumption,
        )
        for feature, expected in ranges.items()
    ]


@pytest.mark.parametrize("name", FAULTS)
def test_with_the_units_own_table_the_fault_is_ranked_first(name: str) -> None:
    found = diagnose(own_table(name))
    shown = [(item.cause.name, round(item.probability, 3)) for item in found.causes[:4]]
    assert found.causes[0].cause is FAULTS[name][0], shown
    assert found.verdict in {Verdict.LIKELY, Verdict.SEVERAL}


@pytest.mark.parametrize("name", FAULTS)
def test_with_general_ranges_alone_the_fault_is_not_ruled_out(name: str) -> None:
    """General ranges tell little; what they must not do is to name something else as likely."""
    found = diagnose(general_ranges(name))
    if found.verdict is Verdict.LIKELY:
        shown = [(item.cause.name, round(item.probability, 3)) for item in found.causes[:4]]
        assert found.causes[0].cause is FAULTS[name][0], shown
    assert found.probability(FAULTS[name][0]) > 0.03


@pytest.mark.parametrize("ranges", [own_table, general_ranges])
@pytest.mark.parametrize("name", ["10 % short", "17 % short", "26 % short"])
def test_a_real_shortage_is_never_kept_from_being_cured(name: str, ranges: object) -> None:
    readings = own_table(name) if ranges is own_table else general_ranges(name)
    cure = refrigerant_is_cure(diagnose(readings, CHARGING_PRIOR))
    assert cure.remedy not in AGAINST_ADDING
    if ranges is own_table:
        assert cure.remedy is Remedy.ADD
        assert cure.cause.cause is Cause.UNDERCHARGE
        assert cure.probability == cure.cause.probability


@pytest.mark.parametrize("name", [n for n in FAULTS if "short" not in n and n != "in order"])
def test_any_other_fault_blocks_adding_where_the_units_own_table_is_known(name: str) -> None:
    cure = refrigerant_is_cure(diagnose(own_table(name), CHARGING_PRIOR))
    assert cure.remedy is (Remedy.RECOVER if FAULTS[name][0] is Cause.OVERCHARGE else Remedy.FIX)
    assert cure.cause.cause is FAULTS[name][0]


def test_overcharge_first_among_many_is_not_yet_a_reason_to_recover() -> None:
    """Recovering is called for when too much refrigerant holds half of all that may be wrong."""
    readings = [
        item
        for item in general_ranges("17 % over")
        if item.feature in {Feature.SUBCOOLING, Feature.SUPERHEAT, Feature.CONDENSING}
    ]
    found = diagnose(readings, {Cause.OVERCHARGE: 2.0, Cause.IN_ORDER: 0.0})
    cure = refrigerant_is_cure(found)
    assert found.causes[0].cause is Cause.OVERCHARGE
    assert found.causes[0].probability < 0.5
    assert cure.remedy is Remedy.FIX


@pytest.mark.parametrize("name", ["restriction", "valve half shut", "valve wide open"])
def test_a_starved_or_flooded_evaporator_blocks_adding_by_general_ranges_too(name: str) -> None:
    assert (
        refrigerant_is_cure(diagnose(general_ranges(name), CHARGING_PRIOR)).remedy in AGAINST_ADDING
    )


def test_a_loose_clamp_and_a_shifted_zero_on_a_good_unit() -> None:
    """The suspect probe alone is changed; what is computed from it follows by arithmetic."""
    good = {item.feature: item for item in own_table("in order")}

    def changed(**by: float) -> list[FeatureReading]:
        return [
            replace(item, value_si=item.value_si + by.get(item.feature.name.lower(), 0.0))
            for item in good.values()
        ]

    loose = diagnose(changed(subcooling=3.2, approach=-3.2))
    assert loose.causes[0].cause is Cause.PROBE_LOOSE
    assert loose.causes[0].pattern == "liquid line clamp"
    zero = diagnose(changed(subcooling=2.5, condensing=2.5))
    assert zero.causes[0].cause is Cause.ZERO_SHIFTED
    assert zero.causes[0].pattern == "liquid pressure reads high"
    for found in (loose, zero):
        assert refrigerant_is_cure(found).remedy in AGAINST_ADDING


def test_the_probabilities_are_not_bolder_than_their_own_assumptions() -> None:
    """Causes and signs drawn from the table itself: of those called likely, enough are right.

    2 000 draws of all eight readings; the weights below one make the method shyer than that.
    """
    random = np.random.default_rng(11)
    causes = list(Cause)
    claimed, right, told = [], 0, 0
    for _ in range(2000):
        cause = causes[int(random.integers(len(causes)))]
        patterns = PATTERNS[cause]
        shares = [pattern.share for pattern in patterns]
        pattern = patterns[int(random.choice(len(patterns), p=shares))]
        readings = []
        for feature in Feature:
            known = pattern.signs.get(feature)
            chance = SIGN_CHANCE[Direction.EITHER if known is None else known.used]
            sign = int(random.choice(3, p=np.array(chance) / math.fsum(chance))) - 1
            readings.append(
                FeatureReading(
                    feature=feature,
                    value_si=2.5 * sign,
                    expected_si=0.0,
                    tolerance_si=1.0,
                    expanded_si=0.1,
                )
            )
        found = diagnose(readings)
        if found.verdict is Verdict.LIKELY:
            told += 1
            claimed.append(found.causes[0].probability)
            right += found.causes[0].cause is cause
    assert told > 300
    assert right / told >= max(LIKELY, math.fsum(claimed) / told - 0.04)
