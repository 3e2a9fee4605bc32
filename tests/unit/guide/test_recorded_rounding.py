"""A reading that equals its limit in °F meets it, although it is recorded to a tenth of a mK.

A probe that shows whole or tenths of °F stands on such limits for minutes: 70.0 °F is recorded as
294.2611 K, 70 °F are 294.26111... K.
"""

from collections.abc import Callable

import pytest

from chargeassist.guide import guards
from chargeassist.guide.conditions import ConditionState, conditions
from chargeassist.model.channels import RECORDED_DECIMALS, Channel, Role
from chargeassist.model.job import ChargeLimits, Guards, Job, Site, Target
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.units import Quantity, Reference, find_unit, parse
from chargeassist.model.values import NoValue
from chargeassist.physics.approach import ApproachSays, TempDifference, judge_approach
from chargeassist.physics.target_superheat import OUTDOOR_F, TABLE_F, WET_BULB_F, target_superheat
from chargeassist.stream.facts import ChannelFacts
from tests.unit.guide.bare_facts import bare_facts

FAHRENHEIT = find_unit("°F", Quantity.TEMPERATURE)


def recorded_k(temp_f: float) -> float:
    """Return what the record keeps of a probe's reading in °F [K]."""
    return round(FAHRENHEIT.to_si(temp_f), RECORDED_DECIMALS[Quantity.TEMPERATURE])


def made(limits: tuple[Limit, ...] = (), guarded: Guards = Guards()) -> Job:  # noqa: B008
    return Job(
        name="invented",
        refrigerant="R-32",
        target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
        charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11),
        site=Site(altitude_m=0.0),
        limits=limits,
        guards=guarded,
    )


@pytest.mark.parametrize(
    ("role", "unit", "limited", "beyond"),
    [
        (Role.LIQUID_PRESSURE, "psig",
         lambda si: Guards(liquid_pressure_high_pa_gauge=si), 0.1),
        (Role.SUCTION_PRESSURE, "psig",
         lambda si: Guards(suction_pressure_low_pa_gauge=si), -0.1),
        (Role.DISCHARGE_TEMPERATURE, "°F", lambda si: Guards(discharge_temp_high_k=si), 0.1),
    ],
)  # fmt: skip
@pytest.mark.parametrize("limit", [95, 100, 115, 225, 226, 227, 450, 600])
def test_a_value_at_the_limit_of_the_plate_has_not_passed_it(
    role: Role, unit: str, limited: Callable[[float], Guards], beyond: float, limit: int
) -> None:
    sent = find_unit(unit, role.quantity)
    gauge = Reference.GAUGE if role.quantity is Quantity.PRESSURE else None
    channel = Channel(name=role.value, role=role, unit=unit, reference=gauge)
    job = made(guarded=limited(sent.to_si(limit)))

    def passed(shown: float) -> bool:
        value_si = round(sent.to_si(shown), RECORDED_DECIMALS[role.quantity])
        seen = ChannelFacts(channel=channel, value_si=value_si)
        return guards.guard(job, bare_facts(t=1000.0, channels=(seen,)), None) is not None

    assert not passed(limit)
    assert passed(limit + beyond)


@pytest.mark.parametrize(
    ("key", "role", "sign"),
    [
        (LimitKey.OUTDOOR_LOW, Role.OUTDOOR_AIR_TEMPERATURE, -1.0),
        (LimitKey.OUTDOOR_HIGH, Role.OUTDOOR_AIR_TEMPERATURE, 1.0),
        (LimitKey.INDOOR_LOW, Role.RETURN_AIR_TEMPERATURE, -1.0),
        (LimitKey.INDOOR_HIGH, Role.RETURN_AIR_TEMPERATURE, 1.0),
    ],
)
@pytest.mark.parametrize("limit_f", [55, 60, 65, 70, 75, 80, 95, 100, 105, 115])
def test_air_at_its_limit_meets_it(key: LimitKey, role: Role, sign: float, limit_f: int) -> None:
    one = Limit(
        key=key,
        value_si=parse(f"{limit_f} °F", Quantity.TEMPERATURE),
        as_written=f"{limit_f} °F",
        source="invented manual",
        edition="",
        authority=Authority.EQUIPMENT,
    )
    job = made(limits=(one,))

    def state(temp_f: float) -> ConditionState:
        channel = Channel(name=role.value, role=role, unit="°F")
        seen = ChannelFacts(channel=channel, value_si=recorded_k(temp_f))
        (found,) = conditions(job, bare_facts(t=1000.0, channels=(seen,)))
        return found.state

    assert state(limit_f) is ConditionState.MET
    assert state(limit_f + 0.1 * sign) is ConditionState.UNMET


def test_every_printed_cell_is_found_where_both_probes_read_its_heading() -> None:
    found, wanted = {}, {}
    for row, outdoor_f in enumerate(OUTDOOR_F):
        for column, wet_bulb_f in enumerate(WET_BULB_F):
            place = outdoor_f, wet_bulb_f
            target = target_superheat(recorded_k(outdoor_f), recorded_k(wet_bulb_f))
            found[place] = None if isinstance(target, NoValue) else 1.8 * target.value_k
            wanted[place] = TABLE_F[row][column]
    assert found == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize(("outdoor_f", "wet_bulb_f"), [(39.9, 60.0), (115.1, 74.0), (95.0, 76.1)])
def test_a_tenth_beyond_the_table_is_outside(outdoor_f: float, wet_bulb_f: float) -> None:
    assert isinstance(target_superheat(recorded_k(outdoor_f), recorded_k(wet_bulb_f)), NoValue)


def test_no_caution_where_outdoor_air_is_just_warm_enough_for_the_table() -> None:
    at, below = (target_superheat(recorded_k(each), recorded_k(60.0)) for each in (65.0, 64.9))
    assert not isinstance(at, NoValue)
    assert not isinstance(below, NoValue)
    assert at.caution == ""
    assert "weak" in below.caution


def test_the_approach_counts_from_its_outdoor_air_on() -> None:
    approach = TempDifference(5.0, 0.2)
    assert judge_approach(approach, 5.0, recorded_k(65.0)) is ApproachSays.INSIDE
    assert isinstance(judge_approach(approach, 5.0, recorded_k(64.9)), NoValue)
