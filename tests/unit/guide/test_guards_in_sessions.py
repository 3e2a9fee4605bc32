"""Every guard through the whole assistant: readings in, an instruction with what to do out.

The unit and every number are invented; readings are steady, so that it settles within minutes.
"""

from dataclasses import replace

import pytest

from chargeassist.guide import wording
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import (
    Action,
    CheckResult,
    MarkKind,
    SessionResumed,
)
from tests.unit.guide.guarded_site import LIMITS, LIQUID_PA, C, Site, job


@pytest.mark.parametrize(
    ("role", "value_si", "cause", "what_to_do"),
    [
        (Role.LIQUID_PRESSURE, 3.05e6, "liquid_pressure_high", "check coil, fan and valves"),
        (Role.SUCTION_PRESSURE, 6.3e5, "suction_pressure_low", "may freeze: check airflow"),
        (Role.DISCHARGE_TEMPERATURE, C + 112.0, "discharge_temp_high", "look for a shortage"),
        (Role.COMPRESSOR_CURRENT, 9.2, "current_high", "check voltage, coil and fan"),
    ],
)
def test_a_limit_of_the_job_file_goes_before_everything(
    role: Role, value_si: float, cause: str, what_to_do: str
) -> None:
    site = Site(job(LIMITS))
    assert site.run(400).advice.action is Action.ADD
    was = site.values[role]
    site.values[role] = value_si
    advice = site.run(5).advice
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, cause)
    for system in UnitSystem:
        words = wording.sentence(advice, system)
        assert what_to_do in words
        assert "[invented plate]" in words
    site.values[role] = was
    assert site.run(600).advice.action is Action.ADD


@pytest.mark.parametrize(
    ("role", "value_si", "begins"),
    [
        (Role.LIQUID_PRESSURE, 3.05e6, "Shut the valve: liquid line at "),
        (Role.COMPRESSOR_CURRENT, 9.2, "Shut the valve: compressor draws "),
        # More refrigerant lowers neither of these; the instruction stays to look for the cause.
        (Role.SUCTION_PRESSURE, 6.3e5, "Fix first: suction line at "),
        (Role.DISCHARGE_TEMPERATURE, C + 112.0, "Fix first: discharge line at "),
    ],
)
def test_a_limit_that_refrigerant_drives_up_has_the_open_valve_shut(
    role: Role, value_si: float, begins: str
) -> None:
    site = Site(job(LIMITS))
    site.run(400)
    site.mark(MarkKind.STEP_BEGUN)
    site.run(5)
    site.values[role] = value_si
    advice = site.run(5).advice
    assert advice.action is Action.FIX_FIRST
    assert wording.sentence(advice, UnitSystem.SI).startswith(begins)
    site.mark(MarkKind.STEP_ENDED, mass_kg=0.05)
    assert wording.sentence(site.run(5).advice, UnitSystem.SI).startswith("Fix first: ")


@pytest.mark.parametrize("pressure_pa", [-98e3, 1e3, 19.9e3])
def test_no_compressor_is_to_be_started_on_an_empty_circuit(pressure_pa: float) -> None:
    """A hold would be asked for, and a low suction pressure warned of, where nothing is in."""
    site = Site(job(LIMITS))
    site.values |= {Role.LIQUID_PRESSURE: pressure_pa, Role.SUCTION_PRESSURE: pressure_pa}
    advice = site.run(5).advice
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "circuit_empty")
    assert "do not start the compressor" in wording.sentence(advice, UnitSystem.SI)
    # One hose that is not on is no empty circuit.
    site.values[Role.SUCTION_PRESSURE] = 9e5
    assert site.run(5).advice.cause != "circuit_empty"
    del site.values[Role.SUCTION_PRESSURE]
    assert site.run(20).advice.cause == "circuit_empty"


def test_the_time_in_another_stage_is_no_time_of_low_superheat() -> None:
    """What flooded before the circuit was opened says nothing of the unit that runs again."""
    site = Site(job(), superheat_k=0.4)

    def restless(seconds: int) -> set[str]:
        before = len(site.said)
        for _ in range(seconds):
            site.values[Role.LIQUID_TEMPERATURE] -= 0.02  # never settles
            site.run(1)
        return {advice.cause for advice in site.said[before:]}

    assert "low_superheat" not in restless(60)
    site.mark(MarkKind.STAGE_BEGUN, text="dryness")
    site.run(600)
    site.mark(MarkKind.STAGE_BEGUN, text="run-up")
    assert "low_superheat" not in restless(60)
    assert "low_superheat" in restless(100)


def test_a_torn_line_raises_no_alarm_and_the_final_reading_stands() -> None:
    site = Site(job(LIMITS), subcooling_k=5.0)
    site.run(400)
    for _ in range(6):
        said = len(site.said)
        site.values[Role.LIQUID_PRESSURE] = LIQUID_PA * 10.0
        site.run(1)
        site.values[Role.LIQUID_PRESSURE] = LIQUID_PA
        site.run(53)
        assert {advice.action for advice in site.said[said:]} <= {Action.STOP}
    snapshot = site.run(1)
    assert snapshot.advice.action is Action.STOP
    checks = {check.check: check.result for check in snapshot.checks}
    assert checks["final_reading"] is CheckResult.PASS


def test_without_limits_nothing_is_guarded() -> None:
    site = Site(job())
    site.values[Role.LIQUID_PRESSURE] = 3.05e6
    site.run(5)
    assert "liquid_pressure_high" not in {advice.cause for advice in site.said}


def test_floodback_is_said_before_the_reading_settles_but_not_for_what_a_step_does() -> None:
    site = Site(job(), superheat_k=0.4)
    moving = {"k": 0.0}

    def restless(seconds: int) -> Snapshot:
        shot = None
        for _ in range(seconds):
            moving["k"] += 0.02
            site.values[Role.LIQUID_TEMPERATURE] -= 0.02  # never settles
            shot = site.run(1)
        assert shot is not None
        return shot

    assert restless(100).advice.cause == "settling"
    advice = restless(60).advice
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "low_superheat")
    site.mark(MarkKind.STEP_BEGUN)
    assert restless(3).advice.cause == "step_open"
    site.mark(MarkKind.STEP_ENDED, mass_kg=0.05)
    assert restless(60).advice.cause == "settling"


@pytest.mark.parametrize(("frequency_hz", "flooded"), [(0.0, False), (72.0, True)])
def test_a_compressor_that_stands_is_not_flooded(frequency_hz: float, flooded: bool) -> None:
    """The suction line of a unit at rest is saturated for good reason."""
    site = Site(job(), superheat_k=0.4)
    site.values[Role.COMPRESSOR_FREQUENCY] = frequency_hz
    for _ in range(160):
        site.values[Role.LIQUID_TEMPERATURE] -= 0.02  # never settles
        site.run(1)
    assert ("low_superheat" in {advice.cause for advice in site.said}) is flooded


@pytest.mark.parametrize("superheat_k", [0.0, 6.0])
def test_nothing_is_judged_by_a_unit_that_stands(superheat_k: float) -> None:
    """At rest the liquid line comes to saturation: that is no shortage, and nothing floods."""
    site = Site(job())
    assert site.run(400).advice.action is Action.ADD
    bubble = site.values[Role.LIQUID_TEMPERATURE] + 3.0
    site.values |= {
        Role.COMPRESSOR_CURRENT: 0.0,
        Role.SUCTION_PRESSURE: LIQUID_PA,
        Role.SUCTION_TEMPERATURE: bubble + superheat_k,
    }
    causes = set()
    for _ in range(600):
        site.values[Role.LIQUID_TEMPERATURE] += 0.01 * (
            bubble - site.values[Role.LIQUID_TEMPERATURE]
        )
        causes.add(site.run(1).advice.cause)
        if site.t <= 415.0:  # ten seconds, and one look
            causes.clear()
    advice = site.snapshot.advice
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "compressor_stands")
    assert not causes & {"low_superheat", "below_target", "not_the_charge", "inside"}
    words = wording.sentence(advice, UnitSystem.SI)
    assert "the compressor stands (0.0 A" in words
    assert "clamp" in words
    site.mark(MarkKind.STEP_BEGUN)
    assert site.run(2).advice.cause == "step_open"  # a hand at the valve comes first


def test_a_torn_reading_of_the_amps_stops_no_compressor() -> None:
    site = Site(job(), subcooling_k=5.0)
    assert site.run(400).advice.action is Action.STOP
    said = len(site.said)
    site.values[Role.COMPRESSOR_CURRENT] = 0.0
    site.run(2)
    site.values[Role.COMPRESSOR_CURRENT] = 7.0
    assert site.run(60).facts.running_since_t == pytest.approx(2.0, abs=1.0)
    assert {advice.action for advice in site.said[said:]} <= {Action.STOP}


def test_the_time_a_compressor_stands_is_no_time_of_its_run() -> None:
    of = job(top='profile = "california-installer"')
    site = Site(of)
    site.values[Role.RETURN_AIR_TEMPERATURE] = C + 25.0
    assert site.run(400).facts.running_since_t is not None
    site.values[Role.COMPRESSOR_CURRENT] = 0.0
    assert site.run(60).facts.running_since_t is None
    site.values[Role.COMPRESSOR_CURRENT] = 7.0
    since_t = site.run(60).facts.running_since_t
    assert since_t == pytest.approx(461.0, abs=1.0)


def test_low_superheat_of_a_settled_unit_is_fixed_first() -> None:
    advice = Site(job(), superheat_k=0.5).run(400).advice
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "low_superheat")


def test_a_low_superheat_behind_an_orifice_calls_for_less_refrigerant() -> None:
    target = 'method = "superheat"\nsuperheat = "6 K"\ntolerance = "5 °F"\nsource = "invented"'
    site = Site(job(target=target), superheat_k=0.7)
    advice = site.run(400).advice
    assert (advice.action, advice.cause) == (Action.RECOVER, "superheat_under_target")
    assert "liquid may reach the compressor" in wording.sentence(advice, UnitSystem.US)


def test_no_step_is_proposed_over_plate_and_line_set() -> None:
    of = job(charge='line_set_allowance = "20 g"')
    of = replace(of, charge=replace(of.charge, weighed_in_kg=2.3))
    site = Site(of)
    first = site.run(400).advice
    assert (first.action, first.cause) == (Action.ADD, "below_target")
    assert first.mass_kg is not None
    assert first.mass_kg <= 0.02 + 1e-9
    site.mark(MarkKind.STEP_ENDED, mass_kg=0.05)
    shot = site.run(600)
    assert (shot.advice.action, shot.advice.cause) == (Action.FIX_FIRST, "over_full")
    assert "over_plate" in {item.cause for item in shot.cautions}


def test_the_limit_of_a_refrigerant_that_burns_is_below_the_plate_and_goes_first() -> None:
    of = job(charge='limit = "1.84 kg"\nlimit_source = "A2L: room of 12 m2, plate"')
    site = Site(of)
    first = site.run(400).advice
    assert first.action is Action.ADD
    assert first.mass_kg is not None
    assert first.mass_kg <= 0.04 + 1e-9
    site.mark(MarkKind.STEP_ENDED, mass_kg=0.04)
    at_limit = site.run(600).advice
    assert (at_limit.action, at_limit.cause) == (Action.FIX_FIRST, "up_to_limit")
    site.mark(MarkKind.STEP_ENDED, mass_kg=0.03)
    over = site.run(3).advice
    assert (over.action, over.cause) == (Action.FIX_FIRST, "charge_limit")
    words = wording.sentence(over, UnitSystem.SI)
    assert "1.87 kg is in, over the limit of 1.84 kg [A2L: room of 12 m2, plate]" in words
    assert "recover" in words


def test_the_scale_stops_a_step_at_the_limit_while_the_valve_is_open() -> None:
    of = job(charge='limit = "1.84 kg"\nlimit_source = "A2L: plate"')
    site = Site(of)
    site.values[Role.CYLINDER_MASS] = 5.0
    site.run(400)
    site.mark(MarkKind.STEP_BEGUN)
    site.values[Role.CYLINDER_MASS] = 4.95
    assert site.run(5).advice.cause == "charge_limit"


def test_the_time_a_session_was_away_is_no_time_of_low_superheat() -> None:
    site = Site(job(), superheat_k=0.4)
    for _ in range(60):
        site.values[Role.LIQUID_TEMPERATURE] -= 0.02  # never settles
        site.run(1)
    site.t += 600.0
    site.assistant.step(SessionResumed(t=site.t, away_s=600.0))
    site.t -= 0.5  # readings arrive inside the first period
    site.run(30)
    assert "low_superheat" not in {advice.cause for advice in site.said}


@pytest.mark.parametrize(("current_a", "flooded"), [(0.1, False), (7.0, True)])
def test_amps_show_that_a_compressor_stands_where_no_frequency_does(
    current_a: float, *, flooded: bool
) -> None:
    site = Site(job(), superheat_k=0.4)
    site.values[Role.COMPRESSOR_CURRENT] = current_a
    for _ in range(160):
        site.values[Role.LIQUID_TEMPERATURE] -= 0.02  # never settles
        site.run(1)
    assert ("low_superheat" in {advice.cause for advice in site.said}) is flooded
