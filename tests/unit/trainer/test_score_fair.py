"""Drills in which a right call must cost nothing and a wrong one what the rule says. Invented."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Action, Advice, FaultJudged
from chargeassist.plant.probe_set import ProbeFault, ProbeFaultKind
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.trainer.calls import FIXES, Call, CallKind, read_calls
from chargeassist.trainer.result import JudgedCall, read_result
from chargeassist.trainer.score import Reference, score
from chargeassist.trainer.told_faults import ToldFaults
from chargeassist.trainer.truth import FaultWatch, Stretch, probes_of
from tests.unit.trainer.playing import by_rule, played

RECORDING = Path(__file__).resolve().parents[3] / "recordings" / "millrace-lane-library"
JOB = find_scenario("clean-charge", Path()).job
NOTHING: Callable[[float], frozenset[str]] = lambda t: frozenset()  # noqa: E731
THERE = frozenset({"restriction"})


def test_what_the_tool_says_after_a_call_makes_no_early_call_right(tmp_path: Path) -> None:
    """Both calls come a minute before the machine has settled; the tool says so later still."""
    text = "0:10 settled\n8:00 add 100 g\n10:00 settled\n10:10 add 50 g\n30:00 settled"
    result = played("clean-charge", text, tmp_path)
    early = [part for part in result.parts if part.rule == "early"]
    assert [round(part.t) for part in early] == [10, 600]
    assert by_rule(result.parts)["too soon"] == 10.0
    assert [call.tool_late_s for call in result.calls[:4]] == [None, pytest.approx(181, abs=9)] + [
        None
    ] * 2


def test_a_call_before_the_tool_s_own_verdict_is_early_in_a_recording(tmp_path: Path) -> None:
    result = played(str(RECORDING), "1:30 settled\n20:00 stop", tmp_path)
    assert "early" in by_rule(result.parts)


def test_what_comes_in_a_recording_after_the_end_of_a_drill_is_no_waiting() -> None:
    stretches = [
        Stretch(0.0, 200.0, 3.0),
        Stretch(600.0, 700.0, 5.0),
        Stretch(1500.0, 1600.0, 5.0),
        Stretch(2500.0, 2600.0, 5.0),
    ]
    calls = (JudgedCall(t=250.0, kind="settled", reading_k=3.0), JudgedCall(t=260.0, kind="stop"))
    reference = Reference(stretches=stretches, faults_at=NOTHING, end_t=261.0, known=False)
    assert "waiting" not in by_rule(score(JOB, calls, reference)[1])


def test_a_fix_after_which_the_drill_goes_on_is_no_end_of_it() -> None:
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 2.0)], faults_at=lambda t: frozenset({"clamp"}), end_t=300.0
    )
    calls = (JudgedCall(t=250.0, kind="fix", fix="clamp"),)
    assert by_rule(score(JOB, calls, reference)[1])["end"] == 20.0


@pytest.mark.parametrize(
    "after",
    [
        JudgedCall(t=350.0, kind="add", mass_kg=0.05),
        JudgedCall(t=350.0, kind="stop"),
        JudgedCall(t=350.0, kind="settled", reading_k=2.0),
    ],
)
def test_a_cheap_wrong_call_pays_for_no_dear_one(after: JudgedCall) -> None:
    reference = Reference(
        stretches=[Stretch(0.0, 200.0, 2.0)], faults_at=lambda t: THERE, end_t=400.0
    )
    calls = (JudgedCall(t=300.0, kind="fix", fix="clamp"), after)
    _, parts = score(JOB, calls, reference)
    assert [part.points for part in parts if part.rule == "wrong cure"] == [30.0]


def test_settled_is_not_early_where_the_tool_had_said_so_too() -> None:
    reference = Reference(stretches=[Stretch(0.0, None, None)], faults_at=NOTHING, end_t=400.0)
    for late_s, points in ((None, 10.0), (5.0, 0.0)):
        calls = (JudgedCall(t=300.0, kind="settled", reading_k=2.0, tool_late_s=late_s),)
        assert by_rule(score(JOB, calls, reference)[1]).get("early", 0.0) == points


def advice(t: float, cause: str, subject: str = "") -> Advice:
    return Advice(t=t, action=Action.FIX_FIRST, cause=cause, subject=subject)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (advice(100.0, "probe_trouble", "liquid line temperature: loose"), {"clamp"}),
        (advice(100.0, "probe_trouble", f"{Role.SUCTION_PRESSURE.label}: stuck"), {"zero"}),
        (advice(100.0, "hold_missing"), {"frequency"}),
        (advice(100.0, "inside_but_fault", "indoor coil short of air"), {"indoor coil"}),
        (
            advice(100.0, "not_the_cure", "pipe clamp loose or air or nitrogen in the circuit"),
            {"clamp", "gas"},
        ),
        (FaultJudged(t=100.0, found=True, cause="expansion valve hunts"), {"valve hunts"}),
        (FaultJudged(t=100.0, found=True, cause="refrigerant is leaking out"), {"leak"}),
        (advice(100.0, "low_superheat"), set()),
    ],
)
def test_a_fault_the_tool_names_in_a_recording_may_be_called(
    said: Advice | FaultJudged, words: set[str]
) -> None:
    told = ToldFaults([advice(0.0, "first_readings"), said])
    assert told.named_by(110.0) == words
    assert told.named_by(90.0) == words, "who sees it first is not wrong"
    assert told.standing_at(90.0) == frozenset()
    reference = Reference(
        stretches=[Stretch(0.0, 50.0, 5.0)],
        faults_at=told.named_by,
        grown_at=told.standing_at,
        end_t=200.0,
        known=False,
    )
    for word in words:
        calls = (JudgedCall(t=120.0, kind="fix", fix=word), JudgedCall(t=199.0, kind="stop"))
        parts = score(JOB, calls, reference)[1]
        assert not any("fix: " in part.why for part in parts), parts


def test_a_fault_withdrawn_in_a_recording_is_no_longer_to_be_called() -> None:
    hunts = "expansion valve hunts"
    told = ToldFaults(
        [
            FaultJudged(t=100.0, found=True, cause=hunts),
            FaultJudged(t=200.0, found=False, cause=hunts),
        ]
    )
    assert told.named_by(150.0) == {"valve hunts"}
    assert told.named_by(250.0) == frozenset()


@pytest.mark.parametrize(
    ("line", "kind", "fix"),
    [
        ("6:40 Settled", CallKind.SETTLED, ""),
        ("6:40 STOP", CallKind.STOP, ""),
        ("6:40 fix:clamp", CallKind.FIX, "clamp"),
        ("6:40 Fix: Outdoor coil", CallKind.FIX, "outdoor coil"),
    ],
)
def test_a_call_is_known_however_it_is_written(line: str, kind: CallKind, fix: str) -> None:
    assert read_calls([line], "calls") == (Call(400.0, kind, fix=fix),)


@pytest.mark.parametrize("line", ["6:75 settled", "1:60:00 stop", "1:00:61 stop"])
def test_a_time_no_clock_shows_is_refused(line: str) -> None:
    with pytest.raises(ConfigError, match="line 1: expected minutes and seconds below 60"):
        read_calls([line], "calls")


def test_what_a_result_could_not_be_written_for_is_refused_before_the_drill(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = tmp_path / "one.session"
    for out in ("no/such/results", "no/such/bench.json"):
        argv = ["drill", "clean-charge", "--record", str(record), "--calls", "calls.txt"]
        assert main([*argv, "--out", str(tmp_path / out)]) == 2
        assert "there is no folder" in capsys.readouterr().err
        assert not record.exists()


def test_a_trainee_of_any_name_gets_a_result(tmp_path: Path) -> None:
    calls = tmp_path / "calls.txt"
    calls.write_text("1:30 stop\n", encoding="utf-8")
    argv = ["drill", "clean-charge", "--calls", str(calls), "--out", str(tmp_path / "results")]
    argv += ["--record", str(tmp_path / "one.session")]
    assert main([*argv, "--trainee", "\x1b[31mA\n" + "名" * 300]) == 0
    [file] = (tmp_path / "results").iterdir()
    assert read_result(file).trainee == "·[31mA·" + "名" * 72 + "…"


@pytest.mark.parametrize(
    ("role", "word"),
    [
        (Role.DISCHARGE_TEMPERATURE, "clamp"),
        (Role.CYLINDER_MASS, Role.CYLINDER_MASS.label),
        (Role.OUTDOOR_AIR_TEMPERATURE, Role.OUTDOOR_AIR_TEMPERATURE.label),
        (Role.COMPRESSOR_CURRENT, Role.COMPRESSOR_CURRENT.label),
    ],
)
def test_a_wrong_scale_is_no_loose_clamp(role: Role, word: str) -> None:
    unit = find_scenario("clean-charge", Path()).unit
    assert unit is not None
    fault = ProbeFault(role=role, trouble=ProbeFaultKind.STUCK, start_s=60.0)
    wrong = replace(unit, probes=replace(unit.probes, faults=(fault,)))
    assert FaultWatch(wrong, (), (), None).at(100.0) == {word}
    # What a call says is put right is put right.
    assert (role.value in probes_of(FIXES["clamp"], list(Role))) == (word == "clamp")
