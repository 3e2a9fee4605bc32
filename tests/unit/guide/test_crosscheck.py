"""The approach as a cross-check: agreeing, contradicting, and saying nothing. All numbers invented.

What a high and a low approach mean: equipment manual, manualshive.com/en/manual/lennox/
merit-13hpd018/1877800, page 16 (high: add, low: remove; from 65 °F of outdoor air).
"""

from dataclasses import replace

import pytest

from chargeassist.guide import wording
from chargeassist.guide.crosscheck import cross_check
from chargeassist.guide.snapshot import Caution
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.judged import SUPERHEAT
from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.model.values import NoValue
from chargeassist.physics.approach import ApproachSays
from chargeassist.stream.facts import ChannelFacts, Facts, Measured, TargetFacts
from chargeassist.stream.typed_readings import TYPED_SOURCE
from tests.unit.guide.bare_facts import bare_facts

TARGET = Target(
    subcooling_k=5.0, tolerance_k=0.8, source="invented plate", approach_k=5.0,
    approach_tolerance_k=1.0, approach_source="invented table",
)  # fmt: skip
JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=TARGET,
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11),
    site=Site(altitude_m=0.0),
)


GOOD = Accuracy(absolute_si=0.2)


def facts(
    subcooling_k: float,
    approach_k: float,
    *,
    outdoor_c: float = 30.0,
    accuracy: Accuracy | None = GOOD,
) -> Facts:
    outdoor_k = KELVIN_AT_0_C + outdoor_c
    values = {
        Role.LIQUID_TEMPERATURE: outdoor_k + approach_k,
        Role.OUTDOOR_AIR_TEMPERATURE: outdoor_k,
    }
    reading = Measured(value_k=subcooling_k, expanded_k=0.4)
    return bare_facts(
        t=500.0,
        channels=tuple(
            ChannelFacts(
                channel=Channel(name=role.value, role=role, unit="K", accuracy=accuracy),
                value_si=value,
            )
            for role, value in values.items()
        ),
        subcooling=reading,
        settled=reading,
    )


@pytest.mark.parametrize(
    ("subcooling_k", "approach_k", "says", "agrees"),
    [
        (5.0, 5.0, ApproachSays.INSIDE, True),
        (3.0, 8.0, ApproachSays.SHORT, True),
        (7.0, 2.0, ApproachSays.EXCESS, True),
        (5.0, 8.0, ApproachSays.SHORT, False),
        (7.0, 5.0, ApproachSays.INSIDE, False),
        (3.0, 2.0, ApproachSays.EXCESS, False),
        (4.3, 8.0, ApproachSays.SHORT, False),  # inside, though not certainly
        (4.1, 8.0, ApproachSays.SHORT, None),  # outside, and not certainly
        (5.0, 6.2, ApproachSays.NOT_CERTAIN, None),
    ],
)
def test_approach_beside_subcooling(
    subcooling_k: float, approach_k: float, says: ApproachSays, agrees: bool | None
) -> None:
    found = cross_check(JOB, facts(subcooling_k, approach_k))
    assert found is not None
    assert (found.says, found.agrees) == (says, agrees)
    assert (found.disagreement is not None) is (agrees is False)
    if found.disagreement is not None:
        subject, figures = found.disagreement
        item = Caution(cause="approach_disagrees", subject=subject, figures=figures)
        for system in UnitSystem:
            words = wording.caution(item, system)
            assert subject in words
            assert "before relying on either" in words


def test_what_cannot_be_told_is_told_so() -> None:
    cold = cross_check(JOB, facts(5.0, 5.0, outdoor_c=15.0))
    assert cold is not None
    assert isinstance(cold.says, NoValue)
    assert "65 °F" in cold.says.reason
    undeclared = cross_check(JOB, facts(5.0, 5.0, accuracy=None))
    assert undeclared is not None
    assert isinstance(undeclared.approach, NoValue)
    no_probe = cross_check(JOB, replace(facts(5.0, 5.0), channels=()))
    assert no_probe is not None
    assert isinstance(no_probe.says, NoValue)
    assert no_probe.agrees is None


def test_probes_too_coarse_to_show_inside_still_show_far_outside() -> None:
    coarse = Accuracy(absolute_si=1.5)
    near, far = (cross_check(JOB, facts(5.0, a, accuracy=coarse)) for a in (5.0, 12.0))
    assert near is not None
    assert far is not None
    assert (near.says, near.agrees) == (ApproachSays.NOT_CERTAIN, None)
    assert (far.says, far.agrees) == (ApproachSays.SHORT, False)


def test_a_job_without_an_approach_has_no_cross_check_nor_has_a_moving_reading() -> None:
    bare = replace(JOB, target=replace(TARGET, approach_k=None))
    assert cross_check(bare, facts(5.0, 5.0)) is None
    assert cross_check(JOB, replace(facts(5.0, 5.0), settled=None)) is None


def test_outdoor_air_that_is_typed_counts_where_its_probe_is_silent() -> None:
    """As for every other use of outdoor air: a flat battery is no reason to leave the check out."""
    told = facts(5.0, 5.0)
    air_k = told.live(Role.OUTDOOR_AIR_TEMPERATURE)
    liquid_k = told.live(Role.LIQUID_TEMPERATURE)
    assert air_k is not None
    assert liquid_k is not None
    silent = tuple(
        replace(each, value_si=None) if each.channel.role is Role.OUTDOOR_AIR_TEMPERATURE else each
        for each in told.channels
    )
    typed = {Role.OUTDOOR_AIR_TEMPERATURE: air_k, Role.LIQUID_TEMPERATURE: liquid_k}
    check = cross_check(JOB, replace(told, channels=silent, values=typed))
    assert check is not None
    assert not isinstance(check.approach, NoValue)
    assert check.approach.value_k == pytest.approx(5.0)


def test_a_liquid_line_that_is_typed_counts_where_its_clamp_is_silent() -> None:
    told = facts(5.0, 8.0)
    silent = tuple(
        replace(each, value_si=None) if each.channel.role is Role.LIQUID_TEMPERATURE else each
        for each in told.channels
    )
    liquid = told.channels[0]
    typed = replace(
        liquid, channel=replace(liquid.channel, name="typed_liquid", source=TYPED_SOURCE)
    )
    by_hand = replace(told, channels=(*silent, typed), typed=frozenset({Role.LIQUID_TEMPERATURE}))
    check = cross_check(JOB, by_hand)
    assert check is not None
    assert (check.says, check.agrees) == (ApproachSays.SHORT, False)


@pytest.mark.parametrize(
    ("target_expanded_k", "agrees"), [(0.0, False), (0.5, False), (1.0, None), (None, None)]
)
def test_a_target_that_moves_is_uncertain_too(
    target_expanded_k: float | None, agrees: bool | None
) -> None:
    """7.05 ± 0.4 K against 5 ± 1 K: beyond the band by 1.05 K, of which the target may be 1 K off.

    The distance of reading and target has the uncertainty of both (JCGM 100, 5.1.2), as it has
    where the charge is judged.
    """
    told = facts(5.0, 5.0)
    reading = Measured(value_k=7.05, expanded_k=0.4)
    goal = TargetFacts(value_k=5.0, tolerance_k=1.0, expanded_k=target_expanded_k)
    check = cross_check(
        JOB, replace(told, superheat=reading, settled=reading, judged=SUPERHEAT, target=goal)
    )
    assert check is not None
    assert (check.says, check.agrees) == (ApproachSays.INSIDE, agrees)
