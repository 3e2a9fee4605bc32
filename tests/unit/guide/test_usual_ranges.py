"""The ranges a fault is ranked by, and what undeclared instruments are taken to be: limits, all.

Each case gives a limit of its own and says which reading it moves; numbers are invented house
rules. What the program takes without one is in `chargeassist.model.usual_limits`.
"""

from dataclasses import replace
from pathlib import Path
from typing import Final

import pytest

from chargeassist.guide.expectation import excess_explained, expectations_of
from chargeassist.guide.expected import Expected
from chargeassist.guide.fault_terms import Feature
from chargeassist.guide.features import feature_readings
from chargeassist.guide.usual_ranges import UsualRanges
from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.installation import Plate
from chargeassist.model.job import Hold, Job
from chargeassist.model.limit_bounds import RANGES
from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job.jobfile import load_job
from chargeassist.session.record.job_bounds import check_job
from chargeassist.stream.facts import Measured
from tests.unit.guide.test_features import FACTS, JOB, channel
from tests.unit.limited import limited
from tests.unit.session.job.test_limits import text
from tests.unit.stream.rig import Rig
from tests.unit.stream.rig import make_job as rig_job

FIXED: Final = replace(
    JOB, plate=Plate(rated_load_a=20.0), charge=replace(JOB.charge, weighed_in_kg=3.0)
)
HELD: Final = replace(FIXED, hold=Hold(required_hz=72.0))
DRY: Final = replace(
    FACTS,
    channels=tuple(
        item for item in FACTS.channels if item.channel.role is not Role.OUTDOOR_AIR_TEMPERATURE
    ),
)
"""Nobody knows the outdoor air: boiling point and split have their widest ranges."""

FULL: Final = replace(
    FACTS,
    values={
        item.channel.role: item.value_si for item in FACTS.channels if item.value_si is not None
    }
    | {Role.LIQUID_PRESSURE: 2.8e6, Role.SUCTION_PRESSURE: 0.9e6, Role.SUCTION_TEMPERATURE: 285.0},
)
"""As `FACTS`, with all that a guide reads of live values."""


BOTH_ENDS: Final = {
    LimitKey.COIL_SHARE, LimitKey.AMOUNT_WITHIN, LimitKey.SPLIT_ROOM, LimitKey.BOILING_ROOM,
}  # fmt: skip


def wanted(job: Job, facts: object, name: str) -> Expected:
    found = getattr(expectations_of(job, facts), name)  # type: ignore[arg-type]
    assert isinstance(found, Expected), name
    return found


@pytest.mark.parametrize(
    ("key", "value", "job", "facts", "name", "end"),
    [
        (LimitKey.CONDENSING_LOW, 7.0, FIXED, FACTS, "condensing_over_outdoor", 0),
        (LimitKey.CONDENSING_HIGH, 14.0, FIXED, FACTS, "condensing_over_outdoor", 1),
        (LimitKey.CONDENSING_HIGH_HELD, 13.0, HELD, FACTS, "condensing_over_outdoor", 1),
        (LimitKey.BOILING_LEAST, 15.0, FIXED, DRY, "evaporating_against_return", 1),
        (LimitKey.BOILING_MOST, 22.0, FIXED, DRY, "evaporating_against_return", 0),
        (LimitKey.SPLIT_LOW, 9.0, FIXED, DRY, "air_split", 0),
        (LimitKey.SPLIT_HIGH, 11.0, FIXED, DRY, "air_split", 1),
        (LimitKey.COIL_SHARE, 0.1, FIXED, FULL, "air_split", 1),
        (LimitKey.HUMIDITY_LOW, 0.5, FIXED, FULL, "air_split", 1),
        (LimitKey.HUMIDITY_HIGH, 0.5, FIXED, FULL, "air_split", 0),
        (LimitKey.SPLIT_ROOM, 0.1, FIXED, FULL, "air_split", 1),
        (LimitKey.BOILING_ROOM, 1.0, FIXED, FULL, "evaporating_against_return", 0),
        (LimitKey.APPROACH_LOW, 2.0, FIXED, FACTS, "approach", 0),
        (LimitKey.AMOUNT_WITHIN, 0.05, FIXED, FACTS, "charge", 0),
        (LimitKey.EFFICIENCY_LOW, 0.7, FIXED, FULL, "compression", 1),
        (LimitKey.EFFICIENCY_HIGH, 0.8, FIXED, FULL, "compression", 0),
        (LimitKey.RATED_LOAD_LOW, 0.6, FIXED, FACTS, "current", 0),
    ],
)
def test_an_end_of_a_range_is_a_limit_of_the_job(
    key: LimitKey, value: float, job: Job, facts: object, name: str, end: int
) -> None:
    """The end moves the way the limit was moved, and the other end stays where it was."""
    usual, own = wanted(job, facts, name), wanted(limited(job, {key: value}), facts, name)
    before, after = (usual.low_si, usual.high_si), (own.low_si, own.high_si)
    assert after[end] != pytest.approx(before[end], abs=0.01)
    if key not in BOTH_ENDS:
        assert after[1 - end] == pytest.approx(before[1 - end])
    assert after[1] - after[0] < before[1] - before[0]  # each of these limits is the stricter one


def test_a_range_says_whose_its_ends_are() -> None:
    both = UsualRanges.of(limited(JOB, {LimitKey.CONDENSING_HIGH: 14.0})).condensing.basis
    assert "house rule" in both
    assert "default of this program" in both
    assert UsualRanges.of(JOB).condensing.basis.count("default of this program") == 1


def test_a_long_line_set_leaves_more_of_the_amount_open() -> None:
    """Its adder is no better known than the plate; a short one takes nothing from the range."""
    halves = []
    for allowance_kg in (0.0, 2.0, -0.2):
        charge = replace(FIXED.charge, allowance_kg=allowance_kg)
        wanted = expectations_of(replace(FIXED, charge=charge), FACTS).charge
        assert wanted is not None
        halves.append(0.5 * (wanted.high_si - wanted.low_si))
    plate_kg = FIXED.charge.plate_kg
    assert halves == pytest.approx([0.1 * plate_kg, 0.1 * (plate_kg + 2.0), 0.1 * plate_kg])


def test_undeclared_discharge_clamps_contact_and_barometer_are_as_the_job_says() -> None:
    job = limited(FIXED, {LimitKey.DISCHARGE_CLAMP: 8.0})
    clamp = channel(Role.DISCHARGE_TEMPERATURE, 345.0, None)
    others = tuple(i for i in FULL.channels if i.channel.role is not Role.DISCHARGE_TEMPERATURE)
    facts = replace(FULL, channels=(*others, clamp))
    for each, expanded_k in ((FIXED, 4.0), (job, 8.0)):
        found = {item.feature: item for item in feature_readings(each, facts)}
        assert found[Feature.COMPRESSION].expanded_si == expanded_k
    wide = limited(FIXED, {LimitKey.PIPE_CONTACT: 2.0})
    approach = [
        next(i for i in feature_readings(each, FACTS) if i.feature is Feature.APPROACH)
        for each in (FIXED, wide)
    ]
    assert approach[0].expanded_si is not None
    # JCGM 100, 4.3.7: two clamps of 0.3 K and a contact of 2 K, rectangular, k = 2.
    assert approach[1].expanded_si == pytest.approx(2 * ((2 * 0.3**2 + 2.0**2) / 3) ** 0.5)


@pytest.mark.parametrize(
    ("key", "value"), [(LimitKey.PIPE_CONTACT, 1.0), (LimitKey.BAROMETER_ACCURACY, 19_000.0)]
)
def test_contact_and_atmosphere_are_in_the_uncertainty_of_subcooling(
    key: LimitKey, value: float
) -> None:
    expanded = []
    for job in (rig_job(), limited(rig_job(), {key: value})):
        subcooling = Rig(job).run(5)[-1].subcooling
        assert isinstance(subcooling, Measured)
        assert subcooling.expanded_k is not None
        expanded.append(subcooling.expanded_k)
    assert expanded[1] > 1.1 * expanded[0]


def test_with_how_much_too_much_a_high_reading_is_explained() -> None:
    facts = replace(FACTS, total_kg=1.05 * FIXED.charge.full_kg)
    assert excess_explained(FIXED, facts)
    assert not excess_explained(limited(FIXED, {LimitKey.AMOUNT_OVER: 0.08}), facts)


@pytest.mark.parametrize(("low", "high"), RANGES)
def test_a_range_whose_ends_are_swapped_is_refused(low: LimitKey, high: LimitKey) -> None:
    """By a house profile, beside a default of the program, and in a record of somebody's."""
    top = 1.01 * USUAL[high].value_si
    job = limited(FIXED, {low: top})
    with pytest.raises(RecordError, match=f"limit {low.value}: expected less than {high.value}"):
        check_job(job, "x.session")
    most = min(USUAL[other].value_si for one, other in RANGES if one is low)
    assert check_job(limited(FIXED, {low: 0.99 * most}), "x") is not None


def test_a_house_profile_that_leaves_no_range_beside_a_default_is_refused(
    tmp_path: Path,
) -> None:
    folder = tmp_path
    house = (
        '[[profile]]\nname = "house"\ntitle = "house"\n[[profile.limit]]\n'
        'key = "condensing_low"\nvalue = "20 K"\nsource = "house rule"\n'
        'authority = "rule of thumb"\n'
    )
    (folder / "house.toml").write_text(house)
    (folder / "job.toml").write_text(text('profile = "house.toml"'))
    with pytest.raises(ConfigError, match="condensing_low to be less than condensing_high, 30 °F"):
        load_job(folder / "job.toml")
