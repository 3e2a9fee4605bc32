"""Electrical and air side told through a whole assistant. The unit is invented; figures that were
printed somewhere name the place."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import psychrolib
import pytest

from chargeassist.guide import wording
from chargeassist.guide.assistant import Assistant
from chargeassist.guide.conditions import ConditionState
from chargeassist.guide.stages.judging import TYPED_TOGETHER_S
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckJudged, CheckResult, MarkKind, SessionMode, Stage
from chargeassist.model.job import Site

Make = Callable[..., Any]

PROFILES = 'profile = ["california-installer", "supply-and-cylinder"]\n'
PLATE = """
[plate]
rated_load = "12.0 A"
voltage = "{volts}"
phases = {phases}
capacity = "3 ton"
source = "unit plate"
"""
METERS = """
[electrical]
amps = "10.0 A"
tolerance = "10 %"
source = "service manual, table 4"
amps_accuracy = "2 % of reading"
voltage_accuracy = "0.5 % of reading"
[air]
design = "1200 cfm"
source = "duct design"
airflow_accuracy = "5 % of reading"
"""
HELD = '[frequency]\nrequired = "72 Hz"\n'
AIR_PROBES = (
    ("liquid_pressure", "Pa(g)", "2 kPa"),
    ("liquid_temperature", "K", "0.3 K"),
    ("compressor_current", "A", "1 % of reading"),
    ("return_air_temperature", "K", "0.5 K"),
    ("supply_air_temperature", "K", "0.5 K"),
)
CFM = 0.3048**3 / 60.0
BTU_H = 1055.05585262 / 3600.0


def kelvin(temp_f: float) -> float:
    return (temp_f + 459.67) / 1.8


def plate(volts: str = "230 V", phases: int = 1) -> str:
    return PLATE.format(volts=volts, phases=phases)


def newest(session: Any, name: str) -> CheckJudged:
    found = [check for check in session.checks() if check.check == name]
    assert found, f"{name} was not judged"
    check: CheckJudged = found[-1]
    return check


def said(check: CheckJudged, system: UnitSystem = UnitSystem.SI) -> str:
    return wording.check(check, system)


def type_volts(session: Any, *volts: float) -> None:
    entries = (Entry.VOLTAGE_AB, Entry.VOLTAGE_BC, Entry.VOLTAGE_CA)
    for entry, value in zip(entries, volts, strict=False):
        session.enter(entry, value)
    session.run(1)


@pytest.mark.parametrize(
    ("rated", "volts", "percent", "derating"),
    [
        # hemmotor.com, asynchronous motor voltage unbalance, prints 1.45 by taking the wrong leg;
        # recomputed (TC081). The derating between two points of the printed curve: 0.97 and 0.95.
        ("400 V", (400.0, 395.0, 388.0), 1.606, 0.966),
        # A web page prints about 2.3; recomputed (TC082). Between 0.93 and 0.89.
        ("208 V", (208.0, 206.0, 199.0), 2.610, 0.921),
        # Relay maker's manual, NEMA MG 1 example, prints 2.5 (TC079):
        # manualshelf.com/manual/motor-saver/201-575-au/specifications-english/page-5.html
        ("208 V", (203.0, 210.0, 212.0), 2.560, 0.925),
    ],
)
def test_three_typed_voltages_give_the_printed_unbalance(
    work: Make, rated: str, volts: tuple[float, ...], percent: float, derating: float
) -> None:
    job = work(plate(rated, 3) + METERS, PROFILES)
    type_volts(job, *volts[:2])
    assert not [check for check in job.checks() if check.check == "voltage_unbalance"]
    type_volts(job, *volts)
    check = newest(job, "voltage_unbalance")
    assert check.figures["unbalance"] * 100.0 == pytest.approx(percent, abs=0.005)
    assert check.figures["derating"] == pytest.approx(derating, abs=0.001)
    assert check.cause == "unbalance_over_aim"
    assert check.result is CheckResult.PASS  # of the limit of 5 %, and the sentence says the rest
    assert "above the aim" in said(check)
    assert f"load the motor to {check.figures['derating'] * 100:.0f} %" in said(check)
    assert any("NEMA MG 1" in source for source in check.sources)
    assert check.stage is Stage.VERIFICATION


def test_a_supply_that_no_motor_may_run_on(work: Make) -> None:
    job = work(plate("230 V", 3) + METERS, PROFILES)
    type_volts(job, 230.0, 230.0, 200.0)  # 9.1 %
    check = newest(job, "voltage_unbalance")
    assert (check.result, check.cause) == (CheckResult.FAIL, "unbalance_over")
    assert "derating" not in check.figures


@pytest.mark.parametrize(
    ("volts", "result", "cause"),
    [
        (231.0, CheckResult.PASS, "voltage_inside"),
        (208.0, CheckResult.PASS_NOT_CERTAIN, "voltage_inside"),  # 207 V is 10 % under
        (206.5, CheckResult.FAIL_NOT_CERTAIN, "voltage_low"),
        (195.0, CheckResult.FAIL, "voltage_low"),
        (257.0, CheckResult.FAIL, "voltage_high"),
    ],
)
def test_voltage_within_ten_percent_of_the_plate(
    work: Make, volts: float, result: CheckResult, cause: str
) -> None:
    # +-10 %: engineering table after NEMA MG 1, the profile's limit. U = 0.5 % of 2 / sqrt(3).
    job = work(plate() + METERS, PROFILES)
    type_volts(job, volts)
    check = newest(job, "supply_voltage")
    assert (check.result, check.cause) == (result, cause)
    assert check.sources[0].startswith("motor voltage table, after NEMA MG 1")
    assert check.sources[1] == "unit plate"


def test_what_is_not_declared_never_passes_with_certainty(work: Make) -> None:
    bare = "\n".join(line for line in METERS.splitlines() if "accuracy" not in line)
    job = work(plate("400 V", 3) + bare, PROFILES)
    type_volts(job, 400.0, 400.0, 400.0)
    job.enter(Entry.CURRENT, 10.0)
    job.enter(Entry.AIRFLOW, 1200.0 * CFM)
    job.run(1)
    for name in ("supply_voltage", "voltage_unbalance", "running_amps", "airflow"):
        check = newest(job, name)
        assert check.result is CheckResult.PASS_NOT_CERTAIN, name
        assert "uncertainty not declared" in said(check)
    type_volts(job, 500.0, 400.0, 400.0)
    assert newest(job, "supply_voltage").result is CheckResult.FAIL_NOT_CERTAIN
    # The profiles have no tolerance about the design.
    assert newest(job, "airflow_design").result is CheckResult.NOT_JUDGED


def test_without_limits_nothing_is_judged_and_it_says_so(work: Make) -> None:
    job = work(plate("230 V", 3))
    type_volts(job, 230.0, 229.0, 231.0)
    job.enter(Entry.CURRENT, 10.0)
    job.enter(Entry.AIRFLOW, 0.5)
    job.run(1)
    for name, words in (
        ("supply_voltage", "no tolerance"),
        ("voltage_unbalance", "no limit"),
        ("running_amps", "no figure of the maker"),
        ("airflow", "no least airflow"),
    ):
        check = newest(job, name)
        assert check.result is CheckResult.NOT_JUDGED, name
        assert words in said(check)
    empty = work()
    type_volts(empty, 230.0)
    empty.enter(Entry.AIRFLOW, 0.5)
    empty.run(1)
    assert "no rated voltage" in said(newest(empty, "supply_voltage"))
    assert "no nominal capacity" in said(newest(empty, "airflow"))


@pytest.mark.parametrize(
    ("amps", "result", "cause"),
    [
        (10.2, CheckResult.PASS, "amps_as_expected"),
        (10.9, CheckResult.PASS_NOT_CERTAIN, "amps_as_expected"),
        (11.1, CheckResult.FAIL_NOT_CERTAIN, "amps_not_certain"),
        (11.8, CheckResult.FAIL, "amps_high"),
        (8.0, CheckResult.FAIL, "amps_low"),
    ],
)
def test_amps_against_the_makers_figure_at_the_held_frequency(
    work: Make, amps: float, result: CheckResult, cause: str
) -> None:
    job = work(HELD + plate() + METERS, PROFILES)
    job.enter(Entry.CURRENT, amps)
    job.run(1)
    assert newest(job, "running_amps").cause == "amps_not_held"
    assert newest(job, "running_amps").result is CheckResult.NOT_JUDGED
    job.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    job.enter(Entry.CURRENT, amps)
    job.run(1)
    check = newest(job, "running_amps")
    assert (check.result, check.cause) == (result, cause)
    assert check.figures["frequency_hz"] == 72.0
    assert check.sources == ("service manual, table 4", "unit plate")
    assert "at 72.0 Hz" in said(check)


def test_more_than_the_rated_load_is_a_caution_not_a_fault(work: Make) -> None:
    tables = plate() + METERS.replace('"10.0 A"', '"12.5 A"')
    job = work(tables, PROFILES)
    job.enter(Entry.CURRENT, 12.6)
    snapshot = job.run(1)
    check = newest(job, "running_amps")
    assert check.result is CheckResult.PASS
    assert "above the rated-load amps" in said(check)
    caution = next(each for each in snapshot.cautions if each.cause == "over_rated_load")
    assert "12.60 A, more than the rated-load amps of 12.00 A" in wording.caution(
        caution, UnitSystem.SI
    )
    job.enter(Entry.CURRENT, 11.5)
    assert "over_rated_load" not in {each.cause for each in job.run(1).cautions}


def test_a_clamp_is_looked_at_in_the_verification_only(work: Make) -> None:
    job = work(plate() + METERS, PROFILES, AIR_PROBES)
    job.readings = {"compressor_current": 10.2}
    job.run(130)
    assert not job.checks()
    job.begin(Stage.VERIFICATION)
    assert newest(job, "running_amps").result is CheckResult.PASS
    count = len(job.checks())
    job.run(300)
    assert len(job.checks()) == count  # the same statement is not made twice
    job.readings = {"compressor_current": 13.0}
    job.run(70)
    assert newest(job, "running_amps").result is CheckResult.FAIL
    assert len(job.checks()) == count + 1
    assert job.snapshot.advice.action.value != "stop"
    # The entry of the stages screen shows it.
    assert "running_amps" in {each.check for each in job.snapshot.checks}


def test_a_clamp_says_nothing_while_the_frequency_is_not_held(work: Make) -> None:
    job = work(HELD + plate() + METERS, PROFILES, AIR_PROBES)
    job.readings = {"compressor_current": 10.2}
    job.begin(Stage.VERIFICATION)
    job.run(120)
    assert not [check for check in job.checks() if check.check == "running_amps"]
    job.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    job.run(61)
    assert newest(job, "running_amps").result is CheckResult.PASS


def test_phase_order_is_asked_and_never_computed(work: Make) -> None:
    job = work(plate("400 V", 3), PROFILES)
    job.begin(Stage.VERIFICATION)
    check = newest(job, "phase_order")
    assert check.result is CheckResult.NOT_JUDGED
    assert "is loud, makes no pressure difference and draws little" in said(check)
    assert check.sources == ("symptoms of a reversed compressor: common practice, no published "
                             "source",)  # fmt: skip
    question = next(mark for mark in job.snapshot.tellable if mark.text == "phase_order")
    job.mark(question.kind, question.text)
    job.run(1)
    assert newest(job, "phase_order").result is CheckResult.RECORDED
    assert "phase_order" not in {mark.text for mark in job.snapshot.tellable}
    single = work(plate(), PROFILES)
    single.begin(Stage.VERIFICATION)
    assert "phase_order" not in {check.check for check in single.checks()}


def test_filter_and_panels_are_a_question_until_somebody_has_looked(work: Make) -> None:
    job = work(plate(), PROFILES)
    job.run(1)
    assert not job.checks()
    job.begin(Stage.VERIFICATION)
    assert newest(job, "filters_panels").result is CheckResult.NOT_JUDGED
    question = next(mark for mark in job.snapshot.tellable if mark.text == "filters_panels")
    job.mark(question.kind, question.text)
    job.run(1)
    check = newest(job, "filters_panels")
    assert check.result is CheckResult.RECORDED
    assert "RA3.2.2.5" in check.sources[0]
    assert "filters_panels" not in {mark.text for mark in job.snapshot.tellable}


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
    assert "indoor airflow of 233 cfm/ton is not enough, 300 cfm/ton are asked for" in text
    assert "RA3.2.2.7" in text
    job.enter(Entry.AIRFLOW, 1200.0 * CFM)
    job.run(1)
    assert job.snapshot.advice.cause != "condition_airflow_low"


@pytest.mark.parametrize(
    ("cfm", "result", "cause"),
    [
        (1150.0, CheckResult.PASS, "airflow_as_designed"),
        (1030.0, CheckResult.PASS_NOT_CERTAIN, "airflow_as_designed"),
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


def type_air(session: Any, *, flow_cfm: float | None = 1200.0) -> None:
    """80/67 °F before and 58/56.5 °F after the coil: the air of trade example TC097."""
    session.enter(Entry.RETURN_DRY_BULB, kelvin(80.0))
    session.enter(Entry.RETURN_WET_BULB, kelvin(67.0))
    session.enter(Entry.SUPPLY_DRY_BULB, kelvin(58.0))
    session.enter(Entry.SUPPLY_WET_BULB, kelvin(56.5))
    if flow_cfm is not None:
        session.enter(Entry.AIRFLOW, flow_cfm * CFM)
    session.run(1)


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
    assert "typed air temperatures taken as ± 1 °F" in said(check)
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
    job.run(int(TYPED_TOGETHER_S) + 1)
    job.enter(Entry.SUPPLY_WET_BULB, kelvin(57.0))
    job.run(1)
    check = newest(job, "capacity")
    assert check.result is CheckResult.NOT_JUDGED
    assert "return air, wet bulb" in said(check)
    assert "airflow" not in check.subject  # nobody but the technician changes it


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


def test_what_a_probe_delivers_is_not_asked_for(work: Make) -> None:
    job = work(plate("400 V", 3), PROFILES, AIR_PROBES)
    asked = {mark.entry for mark in job.run(1).tellable}
    assert {Entry.CURRENT, Entry.RETURN_DRY_BULB, Entry.VOLTAGE_CA, Entry.AIRFLOW} <= asked
    # Outdoor air, the standing check, and filter and panels beside them.
    assert len(job.snapshot.tellable) == 10 + 4
    assert len(job.snapshot.tellable) <= 16  # as many as there are keys
    job.readings = {"compressor_current": 10.0, "return_air_temperature": 297.0}
    asked = {mark.entry for mark in job.run(2).tellable}
    assert not {Entry.CURRENT, Entry.RETURN_DRY_BULB} & asked
    job.begin(Stage.WEIGH_IN)
    assert job.snapshot.tellable == ()


VOLT_PROBES = (
    ("liquid_pressure", "Pa(g)", "2 kPa"),
    ("liquid_temperature", "K", "0.3 K"),
    ("voltage_ab", "V", "0.5 % of reading"),
    ("voltage_bc", "V", "0.5 % of reading"),
    ("voltage_ca", "V", "0.5 % of reading"),
)


def test_volts_of_probes_are_judged_in_the_verification_and_not_asked_for(work: Make) -> None:
    # A web page prints about 2.3 % for these; recomputed (TC082), as typed further up.
    job = work(plate("208 V", 3), PROFILES, VOLT_PROBES)
    job.readings = {"voltage_ab": 208.0, "voltage_bc": 206.0, "voltage_ca": 199.0}
    job.run(3)
    assert not job.checks()
    job.begin(Stage.VERIFICATION)
    snapshot = job.run(3)
    unbalance = newest(job, "voltage_unbalance")
    assert unbalance.figures["unbalance"] * 100.0 == pytest.approx(2.610, abs=0.005)
    assert unbalance.result is CheckResult.PASS
    volts = newest(job, "supply_voltage")
    assert volts.figures["volts_v"] == 199.0
    assert volts.figures["expanded_v"] > 0.0
    assert volts.result is CheckResult.PASS
    asked = {mark.entry for mark in snapshot.tellable}
    assert not {Entry.VOLTAGE_AB, Entry.VOLTAGE_BC, Entry.VOLTAGE_CA} & asked
    said_before = len(job.checks())
    job.run(200)
    assert len(job.checks()) == said_before, "the same statement is said once"
    job.readings |= {"voltage_ca": 180.0}
    job.run(130)
    assert newest(job, "supply_voltage").cause == "voltage_low"
    assert newest(job, "supply_voltage").result is CheckResult.FAIL


def test_one_probe_and_two_typed_volts_make_an_unbalance(work: Make) -> None:
    job = work(plate("400 V", 3) + METERS, PROFILES, VOLT_PROBES[:3])
    job.readings = {"voltage_ab": 400.0}
    job.run(2)
    job.enter(Entry.VOLTAGE_BC, 395.0)
    job.enter(Entry.VOLTAGE_CA, 388.0)
    job.run(1)
    # TC081, as typed further up.
    figures = newest(job, "voltage_unbalance").figures
    assert figures["unbalance"] * 100.0 == pytest.approx(1.606, abs=0.005)


def test_numbers_beyond_belief_change_nothing(work: Make) -> None:
    job = work(plate() + METERS, PROFILES)
    for value in (float("nan"), 1e9, -5.0):
        job.enter(Entry.AIRFLOW, value)
    job.mark(MarkKind.ENTERED, "something of a later program", value_si=1.0)
    job.mark(MarkKind.ENTERED, Entry.AIRFLOW.value)
    job.run(1)
    assert not job.checks()
    assert not job.snapshot.facts.entered


def test_a_new_measurement_is_recorded_even_if_it_says_the_same(work: Make) -> None:
    job = work(plate() + METERS, PROFILES)
    type_volts(job, 231.0)
    type_volts(job, 229.0)
    volts = [each.figures["volts_v"] for each in job.checks() if each.check == "supply_voltage"]
    assert volts == [231.0, 229.0]


def test_the_same_events_give_the_same_checks_again(work: Make) -> None:
    job = work(plate("400 V", 3) + METERS, PROFILES, AIR_PROBES)
    job.readings = {"compressor_current": 10.2, "return_air_temperature": 297.0,
                    "supply_air_temperature": 285.0}  # fmt: skip
    job.run(5)
    type_volts(job, 400.0, 395.0, 388.0)
    job.begin(Stage.VERIFICATION)
    type_air(job)
    job.run(200)
    again = Assistant(job.job, SessionMode.SIMULATED, replayed=True)
    verdicts = [verdict for event in job.events for verdict in again.step(event)]
    assert verdicts == job.verdicts
    assert len({check.check for check in job.checks()}) >= 7


def test_the_hint_of_every_check_can_be_read_in_both_systems(work: Make) -> None:
    job = work(plate("400 V", 3) + METERS, PROFILES, AIR_PROBES)
    job.readings = {"compressor_current": 13.2}
    type_volts(job, 400.0, 395.0, 388.0)
    type_air(job)
    job.begin(Stage.VERIFICATION)
    for check in job.snapshot.checks:
        for system in UnitSystem:
            text = wording.check(check, system)
            assert "nan" not in text
            assert "safe" not in text
