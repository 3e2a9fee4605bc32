"""Probes in ice water and at a resting cylinder, through the assistant.

Limits: California Title 24, Reference Residential Appendix RA3.2 (2008): off by 1 °F in ice water a
thermocouple is corrected, by 2 °F replaced; a cylinder rests for 4 hours. Ice point: 0 °C.
"""

import CoolProp.CoolProp as CoolProp
import pytest

from chargeassist.guide import wording
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, CheckJudged, CheckResult, MarkKind, Stage
from chargeassist.model.limits import LimitKey
from tests.unit.guide.stages.conftest import Work, make_job
from tests.unit.limited import limited

ICE_K = 273.15
F = 5.0 / 9.0
STATION_PA = 98_827.0  # 210 m, within a few pascals
IDLE = {
    "liquid_pressure": 1.5e6,
    "suction_pressure": 1.5e6,
    "suction_temperature": 293.0,
    "outdoor_air_temperature": 293.0,
}


def judged(work: Work, check: str) -> list[CheckJudged]:
    return [e for e in work.verdicts if isinstance(e, CheckJudged) and e.check == check]


def in_ice(off_k: float, **limits: float) -> Work:
    work = Work(limited(make_job(), {LimitKey(key): value for key, value in limits.items()}))
    work.readings = {**IDLE, "liquid_temperature": ICE_K + off_k}
    work.run(70)
    offered = next(m for m in work.snapshot.tellable if m.text.startswith("ice_bath:"))
    work.mark(offered.kind, offered.text)
    work.run(30)
    return work


@pytest.mark.parametrize(
    ("off_k", "result", "cause"),
    [
        (0.2, CheckResult.PASS, "ice_bath_agrees"),
        (-0.3, CheckResult.PASS, "ice_bath_agrees"),
        (0.53, CheckResult.PASS_NOT_CERTAIN, "ice_bath_agrees"),  # 1 °F is 0.56 K
        (0.5556, CheckResult.PASS_NOT_CERTAIN, "ice_bath_agrees"),  # 33.0 °F as it is recorded
        (-0.5556, CheckResult.PASS_NOT_CERTAIN, "ice_bath_agrees"),
        (0.5611, CheckResult.FAIL_NOT_CERTAIN, "ice_bath_off"),  # 33.01 °F
        (-0.8, CheckResult.FAIL, "ice_bath_off"),
        (1.3, CheckResult.FAIL, "ice_bath_replace"),
    ],
)
def test_a_probe_in_ice_water_is_judged_by_the_jobs_limits(
    off_k: float, result: CheckResult, cause: str
) -> None:
    work = in_ice(off_k)
    (found,) = judged(work, "ice_bath_liquid_temperature")
    assert (found.result, found.cause) == (result, cause)
    assert found.figures["off_k"] == pytest.approx(off_k, abs=1e-6)
    assert any("RA3.2.2.4.1, 2008" in source for source in found.sources)
    told = [c for c in work.snapshot.cautions if c.cause == "ice_bath_off"]
    assert bool(told) is (cause != "ice_bath_agrees")
    for system in UnitSystem:
        assert "ice point" in wording.check(found, system)
    if told:
        assert "in ice water" in wording.caution(told[0], UnitSystem.US)
        work.mark(MarkKind.PROBE_SEEN_TO, "liquid_temperature")
        work.run(2)
        assert not [c for c in work.snapshot.cautions if c.cause == "ice_bath_off"]


def test_another_tolerance_and_another_end_come_from_the_profile() -> None:
    assert judged(in_ice(-0.8, ice_bath_tolerance=1.5, ice_bath_replace=2.0), ICE)[0].result is (
        CheckResult.PASS
    )
    assert judged(in_ice(-0.8, ice_bath_replace=0.7), ICE)[0].cause == "ice_bath_replace"


ICE = "ice_bath_liquid_temperature"


@pytest.mark.parametrize(("settles_s", "silent_s"), [(90.0, 148), (30.0, 88)])
def test_a_probe_that_does_not_come_to_rest_is_not_judged(settles_s: float, silent_s: int) -> None:
    """90 s to its reading: RA3.2.2.2.2 (2013); and the minute a slope looks back."""
    work = Work(limited(make_job(), {LimitKey.PROBE_SETTLING: settles_s}))
    work.readings = {**IDLE, "liquid_temperature": 293.0}
    work.run(70)
    work.mark(MarkKind.CONFIRMED, "ice_bath:liquid_temperature")
    for second in range(silent_s):
        work.readings["liquid_temperature"] = 293.0 - 0.05 * second
        work.run(1)
        assert judged(work, ICE) == []
    for second in range(silent_s, silent_s + 5):
        work.readings["liquid_temperature"] = 293.0 - 0.05 * second
        work.run(1)
    (found,) = judged(work, ICE)
    assert (found.result, found.cause) == (CheckResult.NOT_JUDGED, "ice_bath_moves")
    assert "stir the ice" in wording.check(found, UnitSystem.SI)


def test_a_probe_just_put_into_the_ice_is_not_judged_by_the_air_it_came_from() -> None:
    work = Work(make_job())
    work.readings = {**IDLE, "liquid_temperature": 293.0}
    work.run(70)
    work.mark(MarkKind.CONFIRMED, "ice_bath:liquid_temperature")
    for second in range(130):
        work.readings["liquid_temperature"] = ICE_K + 19.85 * 0.88**second  # a lag of 8 s
        work.run(1)
    (found,) = judged(work, ICE)
    assert found.result is CheckResult.PASS


def test_a_thermometer_read_by_eye_is_typed_and_any_stage_takes_it() -> None:
    work = Work(make_job(head="", probes=(("cylinder_mass", "kg", "5 g"),)))
    work.run(2)
    assert Entry.ICE_BATH in {mark.entry for mark in work.snapshot.tellable}
    work.begin(Stage.WEIGH_IN)
    work.enter(Entry.ICE_BATH, ICE_K + 0.9 * F)
    work.run(2)
    (found,) = judged(work, "ice_bath_thermometer")
    assert (found.result, found.stage) == (CheckResult.PASS_NOT_CERTAIN, Stage.WEIGH_IN)


def at_cylinder(shift_pa: float, rested_h: float, **limits: float) -> Work:
    """Return a session told of a cylinder of R-32 at 20 °C; its pressure by CoolProp."""
    work = Work(limited(make_job(), {LimitKey(key): value for key, value in limits.items()}))
    work.readings = {
        "liquid_pressure": CoolProp.PropsSI("P", "T", 293.15, "Q", 0, "R32") - STATION_PA + shift_pa
    }
    work.run(3)
    work.enter(Entry.CYLINDER_TEMPERATURE, 293.15)
    work.run(2)
    assert judged(work, "cylinder_at_rest") == []
    work.enter(Entry.CYLINDER_RESTED, rested_h * 3600.0)
    work.run(2)
    return work


@pytest.mark.parametrize(
    ("shift_pa", "rested_h", "limits", "result"),
    [
        (0.0, 5.0, {}, CheckResult.PASS),
        (0.0, 3.0, {}, CheckResult.NOT_JUDGED),
        (90e3, 3.0, {}, CheckResult.NOT_JUDGED),
        (90e3, 5.0, {}, CheckResult.FAIL),  # 1 K of R-32 at 20 °C is 40 kPa
        (0.0, 3.0, {"cylinder_rest": 2.0 * 3600.0}, CheckResult.PASS),
        (90e3, 5.0, {"standing_allowed": 4.0}, CheckResult.PASS),
        (60e3, 5.0, {}, CheckResult.FAIL_NOT_CERTAIN),
        (60e3, 5.0, {"standing_place": 0.2}, CheckResult.FAIL),
    ],
)
def test_a_cylinder_has_to_rest_before_a_probe_is_compared_with_it(
    shift_pa: float, rested_h: float, limits: dict[str, float], result: CheckResult
) -> None:
    (found,) = judged(at_cylinder(shift_pa, rested_h, **limits), "cylinder_at_rest")
    assert found.result is result
    for system in UnitSystem:
        assert wording.check(found, system)
    if result is CheckResult.NOT_JUDGED:
        assert "3 h" in wording.check(found, UnitSystem.SI) or "180 min" in wording.check(
            found, UnitSystem.SI
        )
        assert "offset_pa" in found.figures


def test_a_probe_off_at_the_cylinder_keeps_subcooling_from_being_judged() -> None:
    session = at_cylinder(90e3, 5.0)
    session.mark(MarkKind.CONFIRMED, "filters_panels")
    session.readings = {
        "liquid_pressure": 2.3e6,
        "liquid_temperature": 306.0,
        "suction_pressure": 0.85e6,
        "suction_temperature": 287.0,
    }
    for second in range(400):
        session.readings["liquid_temperature"] = 306.0 + 0.01 * (second % 3)
        session.run(1)
    assert (session.snapshot.advice.action, session.snapshot.advice.cause) == (
        Action.FIX_FIRST, "cylinder_off",
    )  # fmt: skip
    assert "cylinder holds nothing but refrigerant" in session.says
    session.mark(MarkKind.PROBE_SEEN_TO, "liquid_pressure")
    session.run(3)
    assert session.snapshot.advice.cause != "cylinder_off"


def test_a_gauge_in_place_of_a_probe_that_was_off_at_the_cylinder_is_not_off() -> None:
    """The probe was taken away, the gauge is read by hand; the probe's return brings it back."""
    session = at_cylinder(90e3, 5.0)
    session.mark(MarkKind.CONFIRMED, "filters_panels")
    session.readings = {
        "liquid_temperature": 306.0, "suction_pressure": 0.85e6, "suction_temperature": 287.0,
    }  # fmt: skip
    for second in range(420):
        session.readings["liquid_temperature"] = 306.0 + 0.01 * (second % 3)
        if second % 60 == 30:
            session.enter(Entry.LIQUID_PRESSURE, 2.3e6)
        session.run(1)
    assert session.snapshot.facts.settled is not None
    assert session.snapshot.advice.cause != "cylinder_off"
    session.readings["liquid_pressure"] = 2.3e6
    for second in range(400):
        session.readings["liquid_temperature"] = 306.0 + 0.01 * (second % 3)
        session.run(1)
    assert session.snapshot.advice.cause == "cylinder_off"


def test_a_circuit_pressure_that_was_typed_is_no_probe_at_a_cylinder() -> None:
    session = Work(make_job(probes=(("liquid_temperature", "K", "0.3 K"),)))
    session.run(2)
    session.enter(Entry.LIQUID_PRESSURE, 2.3e6)
    session.enter(Entry.CYLINDER_TEMPERATURE, 293.15)
    session.enter(Entry.CYLINDER_RESTED, 5.0 * 3600.0)
    session.run(3)
    assert judged(session, "cylinder_at_rest") == []
    session.enter(Entry.CYLINDER_PRESSURE, 1.37e6)
    session.run(2)
    assert [check.result for check in judged(session, "cylinder_at_rest")] == [CheckResult.PASS]


def test_a_cylinder_of_this_morning_is_not_compared_with_the_circuit_of_now() -> None:
    session = Work(make_job())
    session.readings = {"liquid_pressure": 2.3e6}
    session.run(2)
    session.enter(Entry.CYLINDER_TEMPERATURE, 293.15)
    session.run(16 * 60)
    session.enter(Entry.CYLINDER_RESTED, 5.0 * 3600.0)
    session.run(3)
    assert judged(session, "cylinder_at_rest") == []
    assert session.assistant.snapshot().advice.cause != "cylinder_off"  # type: ignore[union-attr]
