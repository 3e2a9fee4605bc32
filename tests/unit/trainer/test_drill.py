"""Drills from a file of calls: what they do to the plant, and how they are scored. All invented."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.physical_settings import PhysicalSettings
from chargeassist.plant.run_on import run_on, settled_truth
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.trainer.calls import Call, CallKind, read_calls
from chargeassist.trainer.drill import find_exercise
from chargeassist.trainer.report import report_lines
from chargeassist.trainer.result import (
    JudgedCall,
    LeftOut,
    Result,
    read_result,
    write_result,
)
from chargeassist.trainer.score import Reference, score
from chargeassist.trainer.truth import Stretch, true_stretches
from tests.unit.trainer.playing import by_rule, played

RECORDING = Path(__file__).resolve().parents[3] / "recordings" / "millrace-lane-library"
JOB = find_scenario("clean-charge", Path()).job
NOTHING: Callable[[float], frozenset[str]] = lambda t: frozenset()  # noqa: E731


def test_calls_are_read_with_their_times() -> None:
    text = "# remark\n6:40 settled\n+15 s add 4 oz  # so much\n1:00:00 fix: clamp\n+1 min stop"
    assert read_calls(text.splitlines(), "calls") == (
        Call(400.0, CallKind.SETTLED),
        Call(415.0, CallKind.ADD, 4 * 0.028349523125),  # NIST SP 811 B.8: ounce
        Call(3600.0, CallKind.FIX, fix="clamp"),
        Call(3660.0, CallKind.STOP),
    )


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("settled", "expected a time and a call"),
        ("6:40 done", "expected settled, add AMOUNT"),
        ("6:40 add much", "line 1"),
        ("6:40 add 0 g", "more than 0"),
        ("6:40 fix: fan", "expected one of restriction, gas"),
        ("6:40 settled\n6:00 stop", "line 2: expected a time after 400 s"),
    ],
)
def test_a_call_that_cannot_be_read_is_refused_with_its_line(line: str, words: str) -> None:
    with pytest.raises(ConfigError, match=words):
        read_calls(line.splitlines(), "calls")


def test_the_settled_truth_of_a_twin_run_on_is_that_of_a_plant_made_with_its_charge() -> None:
    base = PhysicalSettings(charge_kg=2.0, start_hz=72.0, gust_k=0.0)
    dosed = PhysicalPlant(base)
    dosed.begin_step(0.2)
    course = run_on(dosed)
    truth = settled_truth([(t, value) for t, value, _ in course], 0.3)
    at_rest = PhysicalPlant(replace(base, charge_kg=2.2, settle_s=1500.0)).subcooling_k
    assert truth.value_k == pytest.approx(at_rest, abs=0.05)
    assert 60.0 < truth.settled_t < 600.0
    after = [value for t, value, _ in course if t > truth.settled_t]
    assert all(abs(value - truth.value_k) <= 0.3 for value in after)
    assert truth.swing_k < 0.05


def test_the_rule_takes_what_it_says() -> None:
    stretches = [Stretch(0.0, 200.0, 2.0), Stretch(300.0, 500.0, 6.2)]
    calls = (
        JudgedCall(t=150.0, kind="settled", reading_k=1.8),  # 50 s early, the value is near
        JudgedCall(t=180.0, kind="add", mass_kg=0.3),  # 20 s too soon; 110 g are allowed
        # 80 s over the wait; 2.2 K wrong
        JudgedCall(t=700.0, kind="settled", reading_k=4.0, tool_late_s=200.0),
        JudgedCall(t=710.0, kind="stop"),  # 1.2 K over the target of 5.0 ± 0.8 K
    )
    points, parts = score(
        JOB, calls, Reference(stretches=stretches, faults_at=NOTHING, end_t=711.0)
    )
    assert by_rule(parts) == {
        "early": 5.0,
        "too soon": 10.0,
        "too much": 10.0,
        "waiting": 2.7,
        "value": 5.0,
        "overshoot": 24.0,
        "end": 20.0,
    }
    assert points == pytest.approx(100.0 - 76.7)


@pytest.mark.parametrize(
    ("mass_kg", "points"), [(0.11, 0.0), (0.114, 0.0), (0.12, 10.0), (0.3, 10.0)]
)
def test_more_at_once_than_the_job_allows_costs_though_it_ended_well(
    mass_kg: float, points: float
) -> None:
    stretches = [Stretch(0.0, 200.0, 2.0), Stretch(300.0, 400.0, 5.0)]
    calls = (
        JudgedCall(t=250.0, kind="add", mass_kg=mass_kg),
        JudgedCall(t=450.0, kind="settled", reading_k=5.0),
        JudgedCall(t=460.0, kind="stop"),
    )
    reference = Reference(stretches=stretches, faults_at=NOTHING, end_t=460.0)
    assert by_rule(score(JOB, calls, reference)[1]).get("too much", 0.0) == points


@pytest.mark.parametrize(("tool_late_s", "points"), [(None, 0.0), (20.0, 0.0), (290.0, 5.7)])
def test_nobody_is_asked_to_be_quicker_than_the_tool(
    tool_late_s: float | None, points: float
) -> None:
    stretches = [Stretch(0.0, 90.0, 5.0)]
    calls = (
        JudgedCall(t=380.0, kind="settled", reading_k=5.0, tool_late_s=tool_late_s),
        JudgedCall(t=390.0, kind="stop"),
    )
    reference = Reference(stretches=stretches, faults_at=NOTHING, end_t=390.0)
    assert by_rule(score(JOB, calls, reference)[1]).get("waiting", 0.0) == points


def test_a_drill_without_fault_keeps_its_points() -> None:
    stretches = [Stretch(0.0, 200.0, 2.0), Stretch(300.0, 500.0, 5.1)]
    calls = (
        JudgedCall(t=280.0, kind="settled", reading_k=2.0),
        JudgedCall(t=290.0, kind="add", mass_kg=0.1),
        JudgedCall(t=580.0, kind="settled", reading_k=5.0),
        JudgedCall(t=590.0, kind="stop"),
    )
    reference = Reference(stretches=stretches, faults_at=NOTHING, end_t=590.0)
    assert score(JOB, calls, reference) == (100.0, ())


@pytest.mark.parametrize(
    ("call", "there", "points"),
    [
        (JudgedCall(t=300.0, kind="add", mass_kg=0.1), "outdoor coil", 30.0),
        (JudgedCall(t=300.0, kind="fix", fix="outdoor coil"), "outdoor coil", 0.0),
        (JudgedCall(t=300.0, kind="fix", fix="indoor coil"), "outdoor coil", 15.0),
        (JudgedCall(t=300.0, kind="fix", fix="indoor coil"), "", 30.0),
        (JudgedCall(t=300.0, kind="stop"), "outdoor coil", 30.0),
    ],
)
def test_a_wrong_cure_costs_once(call: JudgedCall, there: str, points: float) -> None:
    faults = frozenset({there}) if there else frozenset()
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 5.0)], faults_at=lambda t: faults, end_t=310.0
    )
    _, parts = score(JOB, (call,), reference)
    assert by_rule(parts).get("wrong cure", 0.0) == points


def test_one_fault_seen_to_does_not_pay_for_another_that_nobody_called() -> None:
    there = frozenset({"outdoor coil"})
    calls = (
        JudgedCall(t=300.0, kind="fix", fix="clamp"),
        JudgedCall(t=400.0, kind="stop"),
    )
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 5.0)],
        faults_at=lambda t: there | {"clamp"} if t < 350.0 else there,
        end_t=410.0,
    )
    _, parts = score(JOB, calls, reference)
    assert by_rule(parts).get("wrong cure") == 30.0


def test_who_named_one_of_two_faults_could_not_go_on_to_the_other() -> None:
    there = frozenset({"outdoor coil", "restriction"})
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 5.0)], faults_at=lambda t: there, end_t=310.0
    )
    _, parts = score(JOB, (JudgedCall(t=300.0, kind="fix", fix="restriction"),), reference)
    assert "wrong cure" not in by_rule(parts)


def test_a_defrost_is_a_disturbance_and_none_before_it_has_come() -> None:
    scenario = find_scenario("defrost", Path())
    assert scenario.unit is not None
    at_s = scenario.unit.settings.defrost_at_s
    back_s = at_s + scenario.unit.settings.defrost_for_s
    found = true_stretches(scenario.unit, (), back_s, scenario.job)
    assert [each.begin_t for each in found][-2:] == [at_s, back_s]
    before = [each for each in found if each.begin_t < at_s]
    assert all(each.settled_t is not None and each.settled_t < at_s for each in before)


def test_calls_in_a_scenario_act_on_the_plant_and_repeat_bit_for_bit(tmp_path: Path) -> None:
    text = "3:00 settled\n+10 s add 110 g\n+5 min settled\n+5 s stop"
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    one = played("clean-charge", text, tmp_path / "a")
    two = played("clean-charge", text, tmp_path / "b")
    assert one.calls == two.calls
    assert one.parts == two.parts
    first, _, second, _ = one.calls
    assert first.reading_k is not None
    assert second.reading_k is not None
    assert second.reading_k > first.reading_k + 0.5
    assert abs(second.value_error_k or 9.0) < 0.5
    assert by_rule(one.parts)["end"] == 20.0  # stopped far short of the target


def test_a_fault_is_known_to_the_truth_and_a_probe_seen_to_is_in_order(tmp_path: Path) -> None:
    coil = played("dirty-condenser", "3:00 fix: outdoor coil", tmp_path)
    assert (coil.faults, coil.ended_by) == (("outdoor coil",), "fix: outdoor coil")
    assert "wrong cure" not in by_rule(coil.parts)
    (tmp_path / "b").mkdir()
    clamp = played("loose-clamp", "9:00 fix: clamp\n15:00 stop", tmp_path / "b")
    assert clamp.ended_by == "stop"
    assert "wrong cure" not in by_rule(clamp.parts)


def test_calls_after_the_end_cost_nothing_and_the_trainee_is_told_of_each(tmp_path: Path) -> None:
    text = "2:00 stop\n+20 s settled\n+10 s add 110 g\n+1 min fix: clamp"
    ended = played("clean-charge", text, tmp_path)
    assert [(call.t, call.kind, call.mass_kg, call.fix) for call in ended.left_out] == [
        (140.0, "settled", None, ""),
        (150.0, "add", pytest.approx(0.11), ""),
        (210.0, "fix", None, "clamp"),
    ]
    assert [call.kind for call in ended.calls] == ["stop"]
    lines = report_lines(ended, UnitSystem.SI)
    heading = "not counted, because the drill had ended at 2:00 (it ended by stop):"
    at = lines.index(heading)
    assert [line.strip() for line in lines[at + 1 :]] == [
        "2:20  settled",
        "2:30  add 110 g",
        "3:30  fix: clamp",
    ]
    path = tmp_path / "x.drill.json"
    write_result(ended, path)
    assert read_result(path) == ended


def test_a_call_for_a_time_the_drill_never_reached_is_told_too() -> None:
    late = Result(
        exercise="x", title="x", truth="tool", lasted_s=900.0,
        left_out=(LeftOut(t=1000.0, kind="stop"),),
    )  # fmt: skip
    assert report_lines(late, UnitSystem.SI)[-2:] == [
        "not counted, because the drill had ended at 15:00 (its time was over):",
        "   16:40  stop",
    ]


def test_a_recording_is_scored_by_the_tool_and_says_so(tmp_path: Path) -> None:
    result = played(str(RECORDING), "5:00 settled\n+5 s add 100 g\n8:00 stop", tmp_path)
    assert (result.truth, result.faults) == ("tool", ())
    assert result.calls[1].done_kg == pytest.approx(0.11, abs=0.02)
    with pytest.raises(ConfigError, match="--seed is for scenarios"):
        find_exercise(str(RECORDING), 3)


def test_the_command_writes_a_result_that_can_be_read_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    calls = tmp_path / "calls.txt"
    calls.write_text("3:00 stop\n", encoding="utf-8")
    argv = ["drill", "clean-charge", "--calls", str(calls), "--seed", "3", "--trainee", "Bench 1"]
    argv += ["--record", str(tmp_path / "one.session"), "--out", str(tmp_path / "results")]
    assert main(argv) == 0
    printed = capsys.readouterr().out
    assert "the simulated machine's own truth" in printed
    [file] = (tmp_path / "results").iterdir()
    result = read_result(file)
    assert (result.seed, result.trainee, result.exercise) == (3, "Bench 1", "clean-charge")
    file.write_text("{}", encoding="utf-8")
    with pytest.raises(RecordError, match="expected the result of a drill"):
        read_result(file)


def test_a_circuit_before_charging_is_no_drill(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["drill", "vacuum-dry", "--calls", "calls.txt"]) == 2
    told = capsys.readouterr().err
    assert "expected a unit that runs, got a circuit before charging" in told
    assert "chargeassist live simulator:vacuum-dry" in told


def test_a_result_that_would_take_another_s_place_is_refused_before_the_drill(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "bench-1.json"
    there.write_text("{}", encoding="utf-8")
    record = tmp_path / "one.session"
    argv = ["drill", "clean-charge", "--record", str(record), "--out", str(there)]
    assert main(argv) == 2
    assert f"{there}: is there already" in capsys.readouterr().err
    assert not record.exists(), "an hour's work would be lost with it"


def test_a_file_of_calls_may_begin_with_a_mark_and_what_was_not_made_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    calls = tmp_path / "calls.txt"
    calls.write_bytes(b"\xef\xbb\xbf1:00 stop\r\n50:00 settled\r\n")
    argv = ["drill", "clean-charge", "--calls", str(calls), "--out", str(tmp_path)]
    assert main([*argv, "--record", str(tmp_path / "one.session")]) == 0
    told = capsys.readouterr().err
    assert "the drill was over at 1:0" in told
    assert "not made: 1 of the calls, from 50:00 settled on" in told
