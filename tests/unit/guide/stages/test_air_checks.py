"""Airflow, capacity and temperature split beside the charge, from probes and typed."""

from dataclasses import replace
from typing import Any

import psychrolib
import pytest

from chargeassist.guide import wording
from chargeassist.guide.conditions import ConditionState
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckResult, MarkKind, Stage
from chargeassist.model.job import Site
from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from tests.unit.guide.stages.conftest import Make
from tests.unit.guide.stages.measured import (
    AIR_PROBES,
    CFM,
    METERS,
    PROFILES,
    kelvin,
    newest,
    plate,
    said,
    type_air,
)

BTU_H = 1055.05585262 / 3600.0


@pytest.mark.parametrize(
    ("cfm", "state", "result"),
    [
        # California RA3.2.2.7 (2008): more than 300 cfm/ton; 900 cfm on 3 ton are 300.
        (900.0, ConditionState.UNMET, CheckResult.FAIL_NOT_CERTAIN),
        (905.0, ConditionState.MET, CheckResult.PASS_NOT_CERTAIN),
        (1200.0, ConditionState.MET, CheckResult.PASS),
        (700.0, ConditionState.UNMET, CheckResult.FAIL),
    ],
)
def test_a_typed_airflow_answers_check_and_condition(
    work: Make, cfm: float, state: ConditionState, result: CheckResult
) -> None:
    job = work(plate() + METERS, PROFILES)
    job.run(1)

    def condition() -> Any:
        return next(
            each for each in job.snapshot.conditions if each.limit.key.value == "airflow_low"
        )

    assert condition().state is ConditionState.UNKNOWN
    job.enter(Entry.AIRFLOW, cfm * CFM)
    job.run(1)
    assert condition().state is state
    check = newest(job, "airflow")
    assert check.result is result
    assert f"{cfm / 3.0:.0f} cfm/ton, least 300 cfm/ton" in said(check, UnitSystem.US)
    assert "RA3.2.2.7" in check.sources[0]
    # A confirmation does not outrank what was measured.
    job.mark(MarkKind.CONFIRMED, "airflow_low")
    job.run(1)
    assert condition().state is state


def test_an_airflow_that_is_not_enough_comes_before_the_charge(work: Make) -> None:
    job = work(plate() + METERS, PROFILES)
    job.readings = {"liquid_pressure": 2.1e6, "liquid_temperature": 303.0}
    job.run(30)
    job.enter(Entry.AIRFLOW, 700.0 * CFM)
    job.run(1)
    assert job.snapshot.advice.cause == "condition_airflow_low"
    text = wording.sentence(job.snapshot.advice, UnitSystem.US)
    assert "indoor airflow of 233 cfm/ton is not enough, 300 cfm/ton are required" in text
    assert "RA3.2.2.7" in text
    job.enter(Entry.AIRFLOW, 1200.0 * CFM)
    job.run(1)
    assert job.snapshot.advice.cause != "condition_airflow_low"


@pytest.mark.parametrize(
    ("cfm", "result", "cause"),
    [
        (1150.0, CheckResult.PASS, "airflow_as_designed"),
        (1030.0, CheckResult.PASS_NOT_CERTAIN, "airflow_as_designed"),
        (1020.0, CheckResult.PASS_NOT_CERTAIN, "airflow_as_designed"),  # 85 %, to the last digit
        (900.0, CheckResult.FAIL, "airflow_under_design"),
        (1500.0, CheckResult.FAIL, "airflow_over_design"),
    ],
)
def test_airflow_against_the_design(
    work: Make, cfm: float, result: CheckResult, cause: str
) -> None:
    # +-15 %: ANSI/ACCA 5 QI, from memory, as the shipped profile says.
    job = work(plate() + METERS, 'profile = "quality-installation"\n')
    job.enter(Entry.AIRFLOW, cfm * CFM)
    job.run(1)
    check = newest(job, "airflow_design")
    assert (check.result, check.cause) == (result, cause)
    assert check.sources == ("ANSI/ACCA 5 QI (standard), from memory", "duct design")


def inch_pound(dry_f: float, wet_f: float, psia: float) -> tuple[float, float]:
    """Enthalpy [Btu/lb] and volume [ft3/lb] by the library's inch-pound side."""
    psychrolib.SetUnitSystem(psychrolib.IP)
    try:
        ratio = psychrolib.GetHumRatioFromTWetBulb(dry_f, wet_f, psia)
        return (
            psychrolib.GetMoistAirEnthalpy(dry_f, ratio),
            psychrolib.GetMoistAirVolume(dry_f, ratio, psia),
        )
    finally:
        psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("altitude_m", [0.0, 1524.0])
def test_capacity_from_typed_air_alone(work: Make, altitude_m: float) -> None:
    """Q = 60 cfm / v (h1 - h2): ASHRAE Handbook - Fundamentals (2017), chapter 1, equations 26 and
    30, by the inch-pound code lines of psychrolib; station pressure of the standard atmosphere."""
    job = work(plate() + METERS, PROFILES)
    job = type(job)(replace(job.job, site=Site(altitude_m=altitude_m)))
    type_air(job)
    check = newest(job, "capacity")
    psia = job.snapshot.facts.station_pa_abs / 6894.757293168361
    assert psia == pytest.approx({0.0: 14.696, 1524.0: 12.228}[altitude_m], abs=0.005)
    before, volume = inch_pound(80.0, 67.0, psia)
    after, _ = inch_pound(58.0, 56.5, psia)
    expected = 60.0 * 1200.0 / volume * (before - after)
    assert check.figures["total_w"] / BTU_H == pytest.approx(expected, rel=2e-3)
    assert check.figures["share"] == pytest.approx(expected / 36_000.0, rel=2e-3)
    assert check.result is CheckResult.RECORDED
    assert check.figures["total_expanded_w"] > 0.05 * check.figures["total_w"]
    assert "typed air temperatures taken as ± 0.6 K" in said(check)
    assert "typed air temperatures taken as ± 1.0 °F" in said(check, UnitSystem.US)
    rest_w = check.figures["total_w"] - check.figures["sensible_w"]
    assert check.figures["latent_w"] == pytest.approx(rest_w)
    assert check.figures["latent_expanded_w"] > 0.0
    assert " sensible, " in said(check)
    assert " latent (" in said(check)
    assert check.sources == ("unit plate",)
    split = newest(job, "temperature_split")
    assert split.figures["split_k"] * 1.8 == pytest.approx(22.0)


def test_capacity_says_what_it_lacks_and_does_not_mix_old_and_new(work: Make) -> None:
    job = work(plate() + METERS, PROFILES)
    job.enter(Entry.SUPPLY_WET_BULB, kelvin(56.5))
    job.run(1)
    lacks = said(newest(job, "capacity"))
    assert "return air, dry bulb, return air, wet bulb, supply air, dry bulb, indoor airflow" in (
        lacks
    )
    type_air(job)
    assert newest(job, "capacity").result is CheckResult.RECORDED
    job.run(int(USUAL[LimitKey.TYPED_LASTS].value_si) + 1)
    job.enter(Entry.SUPPLY_WET_BULB, kelvin(57.0))
    job.run(1)
    check = newest(job, "capacity")
    assert check.result is CheckResult.NOT_JUDGED
    assert "return air, wet bulb" in said(check)
    assert "airflow" not in check.subject  # nobody but the technician changes it


def test_capacity_tells_how_long_a_typed_number_counts_in_this_job(work: Make) -> None:
    own = '[conditions]\nsource = "house rule"\ntyped_lasts = "5 min"\n'
    job = work(plate() + METERS + own, PROFILES)
    type_air(job)
    job.run(301)
    job.enter(Entry.SUPPLY_WET_BULB, kelvin(57.0))
    job.run(1)
    assert "or typed more than 5 min ago" in said(newest(job, "capacity"))


def test_air_that_cannot_be_is_refused_with_its_reason(work: Make) -> None:
    job = work(plate() + METERS, PROFILES)
    type_air(job)
    job.enter(Entry.SUPPLY_WET_BULB, kelvin(65.0))
    job.run(1)
    check = newest(job, "capacity")
    assert check.result is CheckResult.NOT_JUDGED
    assert "check the wick and the probes" in said(check)


def test_capacity_without_a_declared_airflow_has_no_uncertainty(work: Make) -> None:
    job = work(plate(), PROFILES)
    type_air(job)
    check = newest(job, "capacity")
    assert "total_expanded_w" not in check.figures
    assert "uncertainty not declared" in said(check)


def test_the_split_of_two_probes_is_recorded_with_its_uncertainty(work: Make) -> None:
    job = work("", "", AIR_PROBES)
    job.readings = {"return_air_temperature": 297.0, "supply_air_temperature": 285.0}
    job.run(3)
    job.begin(Stage.VERIFICATION)
    check = newest(job, "temperature_split")
    assert check.figures["split_k"] == pytest.approx(12.0)
    # Two probes of plus or minus 0.5 K: 2 x 0.5 / sqrt(3) each (JCGM 100, 4.3.7).
    assert check.figures["expanded_k"] == pytest.approx(2.0 * 0.5 / 3**0.5 * 2**0.5)
    assert "no table" in said(check)


def test_a_share_of_the_reading_is_one_of_what_the_thermometer_shows(work: Make) -> None:
    """2 % of 75.2 °F are 0.84 K, not 2 % of 297 K; so in the budget of subcooling."""
    air = tuple(
        (role, "°F", "2 % of reading") if role.endswith("air_temperature") else (role, unit, limits)
        for role, unit, limits in AIR_PROBES
    )
    job = work(plate() + METERS, PROFILES, air)
    job.readings = {"return_air_temperature": kelvin(75.2), "supply_air_temperature": kelvin(56.0)}
    job.run(3)
    job.begin(Stage.VERIFICATION)
    figures = newest(job, "temperature_split").figures
    half_f = (0.02 * 75.2, 0.02 * 56.0)
    expected_f = 2.0 * (half_f[0] ** 2 + half_f[1] ** 2) ** 0.5 / 3.0**0.5
    assert figures["expanded_k"] * 1.8 == pytest.approx(expected_f, rel=1e-3)


@pytest.mark.parametrize(
    ("return_f", "supply_f", "cause"),
    [(75.0, 54.0, "split_as_printed"), (76.0, 61.0, "split_as_printed"),
     (75.0, 53.9, "split_high"), (76.0, 61.1, "split_low")],
)  # fmt: skip
def test_a_split_at_its_tolerance_is_as_printed(
    work: Make, return_f: float, supply_f: float, cause: str
) -> None:
    """18 °F by the table, 3 °F either way (RA3.2, 2008), as recorded to a tenth of a mK."""
    table = (
        '[performance]\nsource = "data, page 23"\noutdoor = "85 °F"\nreturn_air = "75 °F"\n'
        'air_split = "18 °F"\nair_split_tolerance = "3 °F"\n'
    )
    job = work(plate() + METERS + table, PROFILES, AIR_PROBES)
    job.readings = {
        "return_air_temperature": round(kelvin(return_f), 4),
        "supply_air_temperature": round(kelvin(supply_f), 4),
    }
    job.run(3)
    job.begin(Stage.VERIFICATION)
    assert newest(job, "temperature_split").cause == cause


def test_what_a_probe_delivers_is_not_asked_for(work: Make) -> None:
    job = work(plate("400 V", 3), PROFILES, AIR_PROBES)
    asked = {mark.entry for mark in job.run(1).tellable}
    assert {Entry.CURRENT, Entry.RETURN_DRY_BULB, Entry.VOLTAGE_CA, Entry.AIRFLOW} <= asked
    # Outdoor air, the standing check, a heat, filter and panels, and the circuit itself.
    assert len(job.snapshot.tellable) == 10 + 5 + 5 + 1  # and a cylinder
    assert len(job.snapshot.tellable) <= 24  # as many as there are keys
    job.readings = {"compressor_current": 10.0, "return_air_temperature": 297.0}
    asked = {mark.entry for mark in job.run(5).tellable}
    assert not {Entry.CURRENT, Entry.RETURN_DRY_BULB} & asked
    job.begin(Stage.WEIGH_IN)
    assert job.snapshot.tellable == ()
