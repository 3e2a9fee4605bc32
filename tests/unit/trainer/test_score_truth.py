"""What a drill is held against, where the truth is not what shows. All invented."""

from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.model.channels import Role
from chargeassist.model.events import Mark, MarkKind
from chargeassist.physics.saturation import refrigerant
from chargeassist.plant.probe_set import ProbeFault, ProbeFaultKind
from chargeassist.plant.run_on import settled_truth, without_swings
from chargeassist.session.scenario.scenario import find_scenario, parse_scenario
from chargeassist.trainer.result import JudgedCall
from chargeassist.trainer.score import Reference, score
from chargeassist.trainer.truth import FaultWatch, Stretch, true_stretches
from tests.scenarios.ran import ran
from tests.unit.trainer.playing import by_rule, calls_of_the_tool, played

CLEAN = find_scenario("clean-charge", Path())
JOB = CLEAN.job

GROWING = """
title = "One of our own"
about = "Invented."
expect = "stop"
seed = 7
technician = "script"
job = "library"
[plant]
charge = "2.10 kg"
[[fault]]
kind = "liquid line restriction"
amount = "400 kPa"
at = "{at}"
over = "10 min"
"""


def test_a_fault_that_grows_counts_when_half_of_it_is_there() -> None:
    unit = parse_scenario(GROWING.format(at="15 min"), "dir/own.toml", Path()).unit
    assert unit is not None
    watch = FaultWatch(unit, (), (), 72.0)
    there = frozenset({"restriction"})
    assert watch.at(899.0) == watch.grown_at(899.0) == frozenset()
    assert watch.at(901.0) == there, "it may be called from its begin"
    assert watch.grown_at(1199.0) == frozenset()
    assert watch.grown_at(1201.0) == there
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 3.0)],
        faults_at=watch.at,
        grown_at=watch.grown_at,
        end_t=1300.0,
    )
    fixed = JudgedCall(t=1300.0, kind="fix", fix="restriction")
    for t, points in ((920.0, 0.0), (1205.0, 0.0), (1215.0, 30.0)):
        calls = (JudgedCall(t=t, kind="add", mass_kg=0.05), fixed)
        assert by_rule(score(JOB, calls, reference)[1]).get("wrong cure", 0.0) == points, t
    early = JudgedCall(t=920.0, kind="fix", fix="restriction")
    assert "wrong cure" not in by_rule(score(JOB, (early,), reference)[1])


def test_a_fault_that_grows_begins_no_stretch_before_it_can_be_seen() -> None:
    scenario = parse_scenario(GROWING.format(at="5 min"), "dir/own.toml", Path())
    assert scenario.unit is not None
    stretches = true_stretches(scenario.unit, (), 400.0, scenario.job)
    assert [(each.begin_t, each.unseen_s) for each in stretches[-2:]] == [
        (30.0, 10.0),  # the charge test begins
        (300.0, 310.0),
    ]


@pytest.mark.parametrize("trouble", ProbeFaultKind)
@pytest.mark.parametrize(
    ("role", "word"),
    [
        (Role.LIQUID_PRESSURE, "zero"),
        (Role.SUCTION_PRESSURE, "zero"),
        (Role.LIQUID_TEMPERATURE, "clamp"),
        (Role.SUCTION_TEMPERATURE, "clamp"),
    ],
)
def test_the_call_for_a_probe_is_the_one_that_puts_it_right(
    role: Role, word: str, trouble: ProbeFaultKind
) -> None:
    assert CLEAN.unit is not None
    loose = trouble is ProbeFaultKind.LOOSE
    if loose and word == "zero":
        pytest.skip("only a clamp can be loose")
    amount = 0.35 if loose else 2.0
    fault = ProbeFault(role=role, trouble=trouble, amount=amount, start_s=60.0, full_s=60.0)
    unit = replace(CLEAN.unit, probes=replace(CLEAN.unit.probes, faults=(fault,)))
    assert FaultWatch(unit, (), (), None).at(100.0) == {word}
    seen_to = Mark(t=90.0, kind=MarkKind.PROBE_SEEN_TO, text=role.value)
    assert FaultWatch(unit, (seen_to,), (), None).at(100.0) == frozenset()


def test_the_middle_of_swings_settles_when_it_has_come_to_rest() -> None:
    # A ramp of 3 K in 100 s under a swing of 40 s: what is left is the ramp, half a swing later.
    swing = [1.5 if (t // 20) % 2 else -1.5 for t in range(1200)]
    course = [(float(t), min(t, 100) * 0.03 + swing[t]) for t in range(1200)]
    middle = without_swings(course)
    truth = settled_truth(middle, 0.3)
    assert truth.value_k == pytest.approx(3.0, abs=0.05)
    assert truth.swing_k < 0.2
    assert 100.0 <= truth.settled_t <= 130.0
    assert without_swings([(float(t), 3.0) for t in range(1200)]) == []


def test_who_does_as_the_tool_does_loses_nothing_by_a_valve_that_hunts(tmp_path: Path) -> None:
    result = played("hunting-valve", calls_of_the_tool(ran("hunting-valve")[0]), tmp_path)
    assert result.ended_by == "stop"
    assert result.parts == ()


def test_a_value_read_in_a_swing_is_not_a_wrong_one() -> None:
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 5.0, swing_k=3.0)],
        faults_at=lambda t: frozenset(),
        end_t=300.0,
    )
    for reading_k, points in ((6.4, 0.0), (9.0, 5.0)):
        calls = (JudgedCall(t=250.0, kind="settled", reading_k=reading_k),)
        assert by_rule(score(JOB, calls, reference)[1]).get("value", 0.0) == points


def test_a_zero_that_was_off_before_the_drill_is_on_nobody_s_account(tmp_path: Path) -> None:
    shifted = find_scenario("head-zero-shift", Path())
    assert shifted.unit is not None
    stretch = true_stretches(shifted.unit, (), 60.0, shifted.job)[-1]
    # 8 psi more at the pressure of the probe, by the shipped table's own slope.
    slope = refrigerant("R-32").bubble_slope_k_per_pa(2.0e6 + 101_325.0)
    assert isinstance(slope, float)
    assert stretch.shown_k == pytest.approx(8.0 * 6894.757 * slope, rel=0.15)
    seen_to = Mark(t=30.0, kind=MarkKind.PROBE_SEEN_TO, text=Role.LIQUID_PRESSURE.value)
    assert true_stretches(shifted.unit, (seen_to,), 60.0, shifted.job)[-1].shown_k == 0.0
    result = played("head-zero-shift", calls_of_the_tool(ran("head-zero-shift")[0]), tmp_path)
    assert result.ended_by == "stop"
    assert not {"end", "value", "overshoot", "wrong cure"} & set(by_rule(result.parts))


def test_nobody_is_asked_to_see_what_the_tool_with_the_same_readings_does_not() -> None:
    there = frozenset({"indoor coil"})
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 2.0)], faults_at=lambda t: there, end_t=500.0
    )
    fixed = JudgedCall(t=500.0, kind="fix", fix="indoor coil")
    for said, points in (("add", 0.0), ("fix first", 30.0), ("wait", 30.0)):
        added = JudgedCall(t=300.0, kind="add", mass_kg=0.05, tool_said=said)
        assert by_rule(score(JOB, (added, fixed), reference)[1]).get("wrong cure", 0.0) == points
    for said, points in (("stop", 0.0), ("fix first", 30.0)):
        stop = JudgedCall(t=500.0, kind="stop", tool_said=said)
        assert by_rule(score(JOB, (stop,), reference)[1]).get("wrong cure", 0.0) == points


def test_low_indoor_airflow_costs_who_adds_against_the_evidence_only(tmp_path: Path) -> None:
    text = "7:55 settled\n8:00 add 110 g\n12:30 fix: indoor coil"
    result = played("low-indoor-airflow", text, tmp_path)
    assert "wrong cure" not in by_rule(result.parts)
    (tmp_path / "b").mkdir()
    again = "7:55 settled\n8:00 add 110 g\n12:30 settled\n12:40 add 110 g\n+3 min stop"
    assert by_rule(played("low-indoor-airflow", again, tmp_path / "b").parts)["wrong cure"] == 30.0


def test_nobody_is_asked_to_be_more_careful_than_the_tool() -> None:
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 2.0)], faults_at=lambda t: frozenset(), end_t=300.0
    )
    for late_s, lost in ((None, {"early": 3.0, "too soon": 10.0}), (1.0, {})):
        calls = (
            JudgedCall(t=170.0, kind="settled", reading_k=2.4, tool_late_s=late_s),
            JudgedCall(t=175.0, kind="add", mass_kg=0.05, tool_late_s=late_s),
        )
        found = by_rule(score(JOB, calls, reference)[1])
        assert {rule: found[rule] for rule in ("early", "too soon") if rule in found} == lost


def test_who_does_as_the_tool_does_keeps_the_points_where_it_is_a_little_early(
    tmp_path: Path,
) -> None:
    result = played("bakery-overcharged", calls_of_the_tool(ran("bakery-overcharged")[0]), tmp_path)
    assert (result.points, result.ended_by) == (100.0, "stop")
