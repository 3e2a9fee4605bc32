"""Electrical and air side told through a whole assistant. The unit is invented; figures that were
printed somewhere name the place."""

from typing import Any

import pytest

from chargeassist.guide import wording
from chargeassist.guide.assistant import Assistant
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckResult, MarkKind, SessionMode, Stage
from tests.unit.guide.stages.conftest import Make
from tests.unit.guide.stages.measured import (
    AIR_PROBES,
    CFM,
    METERS,
    PROFILES,
    newest,
    plate,
    said,
    type_air,
)

HELD = '[frequency]\nrequired = "72 Hz"\n'


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
    mean_v = sum(volts) / 3.0
    worst = max(range(3), key=lambda leg: abs(volts[leg] - mean_v))
    assert check.figures["worst_pair"] == worst + 1
    pair = ("first", "second", "third")[worst]
    assert f"most by the {pair} pair: {volts[worst]:.1f} V of {mean_v:.1f} V" in said(check)
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
    unsure = "not certain" in result.value
    assert ("likely within it" in said(check)) is unsure
    # JCGM 106:2012, 7.2: half of the chance lies on either side of the limit of 11 A.
    assert (check.figures["conformance"] > 0.5) is (8.5 < amps < 11.0)
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


def over_rated(job: Any) -> bool:
    return "over_rated_load" in {each.cause for each in job.run(1).cautions}


def test_amps_of_a_while_ago_are_no_caution_of_now(work: Make) -> None:
    tables = plate() + METERS.replace('"10.0 A"', '"12.5 A"')
    job = work(tables, PROFILES)
    job.enter(Entry.CURRENT, 12.6)
    assert over_rated(job)
    job.run(16 * 60)  # `typed_lasts`
    assert not over_rated(job)
    live = work(tables, PROFILES, AIR_PROBES)
    live.readings = {"compressor_current": 12.6}
    live.begin(Stage.VERIFICATION)
    live.run(65)
    assert over_rated(live)
    live.begin(Stage.CHARGING)
    live.readings = {"compressor_current": 11.0}
    live.run(20)
    assert not over_rated(live)


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


def test_an_unbalance_is_as_certain_as_its_least_known_voltage(work: Make) -> None:
    """Two pairs by probes with a declared accuracy, the third typed from a meter without one."""
    probes = (
        ("liquid_pressure", "Pa(g)", "2 kPa"),
        ("voltage_ab", "V", "0.5 % of reading"),
        ("voltage_bc", "V", "0.5 % of reading"),
    )
    job = work(plate("230 V", 3), PROFILES, probes)
    job.readings = {"liquid_pressure": 1e6, "voltage_ab": 230.0, "voltage_bc": 230.0}
    job.run(2)
    job.enter(Entry.VOLTAGE_CA, 200.0)
    job.run(2)
    check = newest(job, "voltage_unbalance")
    assert (check.result, check.cause) == (CheckResult.FAIL_NOT_CERTAIN, "unbalance_over")
    assert "expanded" not in check.figures
