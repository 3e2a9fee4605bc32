"""Airflow by heat balance: typed and by probes, through the whole assistant."""

from typing import Any

import psychrolib
import pytest

from chargeassist.guide.conditions import ConditionState
from chargeassist.guide.heat_balance import HEATER_RUNS, STANDS_S
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckResult, MarkKind
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

HEAT = 'heat_accuracy = "3 % of reading"\n'
HEATER = HEAT + 'heat = "9.6 kW"\nheat_source = "heater\'s plate, at 240 V"\n'


def type_heat(job: Any, heat_w: float, before_f: float, after_f: float) -> None:
    job.enter(Entry.HEAT, heat_w)
    job.enter(Entry.AIR_BEFORE_HEAT, kelvin(before_f))
    job.enter(Entry.AIR_AFTER_HEAT, kelvin(after_f))
    job.run(2)


def airflow_state(job: Any) -> ConditionState:
    found = [each for each in job.snapshot.conditions if each.limit.key.value == "airflow_low"]
    state: ConditionState = found[0].state
    return state


@pytest.mark.parametrize(
    ("volts", "amps", "before_f", "after_f", "printed_cfm"),
    [
        # Worked example, iheatcool.com/measuring-airflow-electric-heat-temperature-rise-method:
        # 235 V, 75 A, 74 to 110 °F, 1548 cfm. The others by the same formula.
        (235.0, 75.0, 74.0, 110.0, 1548.0),
        (230.0, 20.0, 70.0, 95.0, 581.7),
        (208.0, 60.0, 70.0, 112.0, 939.3),
    ],
)
def test_it_is_the_printed_formula_with_the_sites_air(
    work: Make, volts: float, amps: float, before_f: float, after_f: float, printed_cfm: float
) -> None:
    """cfm = V A 3.414 / (1.08 dT), easymanua.ls/heat-controller/rse1318-1a/manual, page 14.

    1.08 is 60 min/h times 0.075 lb/ft3 times 0.24 Btu/(lb F): air at sea level. At 210 m the air
    weighs less, by psychrolib's equations (ASHRAE Fundamentals 2017).
    """
    job = work(plate() + METERS + HEAT, PROFILES)
    type_heat(job, volts * amps, before_f, after_f)
    check = newest(job, "airflow_by_heat")
    psychrolib.SetUnitSystem(psychrolib.SI)
    station = psychrolib.GetStandardAtmPressure(210.0)
    dry = (kelvin(before_f) - 273.15, 0.0)
    lb_per_ft3 = 1.0 / psychrolib.GetMoistAirVolume(*dry, station) * 0.3048**3 / 0.45359237
    expected = printed_cfm * 0.075 / lb_per_ft3
    assert check.figures["flow_m3_per_s"] / CFM == pytest.approx(expected, rel=0.012)
    assert check.result is CheckResult.RECORDED
    assert "typed by the technician" in check.sources[0]
    assert "rse1318" in check.sources[1]


@pytest.mark.parametrize(("ago_s", "counts"), [(600.0, True), (1000.0, False)])
def test_air_typed_late_counts_from_when_it_was_read(
    work: Make, ago_s: float, *, counts: bool
) -> None:
    """`typed_lasts`: a quarter of an hour."""
    job = work(plate() + METERS + HEAT, PROFILES)
    job.run(1200)
    job.enter(Entry.HEAT, 9600.0)
    job.mark(
        MarkKind.ENTERED, Entry.AIR_BEFORE_HEAT.value, value_si=kelvin(70.0), read_t=job.t - ago_s
    )
    job.enter(Entry.AIR_AFTER_HEAT, kelvin(100.0))
    job.run(2)
    found = [check for check in job.checks() if check.check == "airflow_by_heat"]
    assert bool(found) is counts


def test_its_uncertainty_is_that_of_heat_and_rise(work: Make) -> None:
    """JCGM 100, 5.1.2: relative parts add in squares; typed air is taken as ± 1 °F."""
    job = work(plate() + METERS + HEAT, PROFILES)
    type_heat(job, 9600.0, 70.0, 100.0)
    figures = newest(job, "airflow_by_heat").figures
    heat = 0.03 / 3.0**0.5
    rise = 2.0**0.5 * 1.0 / 3.0**0.5 / 30.0
    expected = 2.0 * (heat**2 + rise**2) ** 0.5
    relative = figures["expanded_m3_per_s"] / figures["flow_m3_per_s"]
    assert relative == pytest.approx(expected, rel=0.02)


def test_its_probes_are_known_to_a_share_of_what_each_reads(work: Make) -> None:
    """3 % of 120 °F after the heat are more than 3 % of the 70 °F before it."""
    air = tuple(
        (role, "°F", "3 % of reading") if role.endswith("air_temperature") else (role, unit, limits)
        for role, unit, limits in AIR_PROBES
    )
    job = work(plate() + METERS + HEATER, PROFILES, air)
    job.readings = {
        "return_air_temperature": kelvin(70.0), "supply_air_temperature": kelvin(120.0),
    }  # fmt: skip
    job.run(2)
    job.mark(MarkKind.CONFIRMED, HEATER_RUNS)
    job.run(int(STANDS_S) + 5)
    figures = newest(job, "airflow_by_heat").figures
    heat = 0.03 / 3.0**0.5
    rise = 2.0**0.5 * 0.03 * 120.0 / 3.0**0.5 / 50.0  # the coarser of both counts for both
    relative = figures["expanded_m3_per_s"] / figures["flow_m3_per_s"]
    assert relative == pytest.approx(2.0 * (heat**2 + rise**2) ** 0.5, rel=0.02)


def test_it_answers_the_airflow_condition_its_check_and_the_capacity(work: Make) -> None:
    job = work(plate() + METERS + HEAT, PROFILES)
    job.run(1)
    assert airflow_state(job) is ConditionState.UNKNOWN
    type_heat(job, 9600.0, 70.0, 94.0)  # about 1300 cfm on 3 tons
    assert airflow_state(job) is ConditionState.MET
    check = newest(job, "airflow")
    assert check.result is CheckResult.PASS
    assert any("heat balance" in source for source in check.sources)
    type_air(job, flow_cfm=None)
    capacity = newest(job, "capacity")
    flow = newest(job, "airflow_by_heat").figures["flow_m3_per_s"]
    assert capacity.figures["flow_m3_per_s"] == flow
    assert any("heat balance" in source for source in capacity.sources)
    # A flow that is measured later counts instead.
    job.enter(Entry.AIRFLOW, 700.0 * CFM)
    job.run(1)
    assert airflow_state(job) is ConditionState.UNMET
    assert not any("heat balance" in source for source in newest(job, "airflow").sources)


def test_by_probes_it_waits_until_the_rise_stands_still(work: Make) -> None:
    job = work(plate() + METERS + HEATER, PROFILES, AIR_PROBES)
    job.readings = {
        "return_air_temperature": kelvin(70.0), "supply_air_temperature": kelvin(58.0),
    }  # fmt: skip
    job.run(2)
    labels = [mark.text for mark in job.snapshot.tellable]
    assert HEATER_RUNS in labels
    job.mark(MarkKind.CONFIRMED, HEATER_RUNS)
    job.run(int(STANDS_S) + 20)  # cooled air, steady: no heat yet
    assert not [check for check in job.checks() if check.check == "airflow_by_heat"]
    for second in range(90):
        rise = 30.0 * min(1.0, second / 80.0)
        job.readings["supply_air_temperature"] = kelvin(70.0 + rise)
        job.run(1)
    assert not [check for check in job.checks() if check.check == "airflow_by_heat"]
    job.run(int(STANDS_S) + 5)
    check = newest(job, "airflow_by_heat")
    assert check.figures["by_probes"] == 1.0
    assert check.figures["after_k"] == pytest.approx(kelvin(100.0), abs=0.2)
    assert check.sources[0] == "heat: heater's plate, at 240 V"
    assert "expanded_m3_per_s" in check.figures
    assert "by probes" in said(check, UnitSystem.US)


@pytest.mark.parametrize(
    ("after_f", "told"), [(70.5, "too little to tell the flow"), (69.0, "no warmer")]
)
def test_a_rise_that_tells_nothing_is_said_to(work: Make, after_f: float, told: str) -> None:
    job = work(plate() + METERS + HEAT, PROFILES)
    type_heat(job, 9600.0, 70.0, after_f)
    check = newest(job, "airflow_by_heat")
    assert check.result is CheckResult.NOT_JUDGED
    assert told in said(check)
    assert airflow_state(job) is ConditionState.UNKNOWN


def test_without_a_declared_accuracy_it_is_not_certain(work: Make) -> None:
    job = work(plate() + METERS, PROFILES)
    type_heat(job, 9600.0, 70.0, 94.0)
    assert "expanded_m3_per_s" not in newest(job, "airflow_by_heat").figures
    assert newest(job, "airflow").result is CheckResult.PASS_NOT_CERTAIN


@pytest.mark.parametrize("period_s", [7.0, 8.0, 10.0])
def test_a_steady_rise_is_found_at_any_period(work: Make, period_s: float) -> None:
    head = f'[processing]\nperiod = "{period_s:g} s"\n'
    job = work(plate() + METERS + HEATER + head, PROFILES, AIR_PROBES)
    job.readings = {
        "return_air_temperature": kelvin(70.0), "supply_air_temperature": kelvin(100.0),
    }  # fmt: skip
    job.run(20)
    job.mark(MarkKind.CONFIRMED, HEATER_RUNS)
    job.run(int(STANDS_S + 3.0 * period_s))
    assert newest(job, "airflow_by_heat").figures["by_probes"] == 1.0
