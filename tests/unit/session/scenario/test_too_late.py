"""Faults of a scenario that it ends before. The scenarios are invented."""

from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.model.job import SourceSpec
from chargeassist.session.job.demo import demo_job
from chargeassist.session.scenario.scenario import find_scenario, parse_scenario, scenario_names
from chargeassist.session.scenario.too_late import too_late, too_late_for
from tests.unit.session.job.good_job import GOOD

RUNS = """
title = "Short"
about = "A test."
expect = "wait"
lasts = "{lasts}"
technician = "script"
job = "library"
[plant]
charge = "1.90 kg"
[[fault]]
kind = "liquid line restriction"
amount = "400 kPa"
at = "1 min"
until = "3 min"
[[fault]]
kind = "hunting valve"
amount = "11 s"
at = "4 min"
[[fault]]
kind = "frequency drop"
amount = "45 Hz"
at = "5 min"
until = "6 min"
[[fault]]
kind = "radio gap"
at = "6 min"
until = "7 min"
[[fault]]
kind = "oil return"
amount = "90 Hz"
at = "7 min"
until = "8 min"
[[fault]]
kind = "defrost"
at = "9 min"
until = "12 min"
[[probes.fault]]
role = "liquid_pressure"
kind = "zero"
amount = "8 psi"
at = "150 s"
"""
STAGE = """
title = "Short"
about = "A test."
stage = "tightness"
lasts = "10 min"
technician = "script"
job = "library"
[[fault]]
kind = "{kind}"
amount = "{amount}"
at = "{at}"
"""


def late(text: str) -> tuple[str, ...]:
    return too_late(parse_scenario(text, "dir/short.toml", Path()))


def test_each_fault_after_the_end_is_named_with_its_time_and_those_before_are_not() -> None:
    assert late(RUNS.format(lasts="2 min")) == tuple(
        f"short: {what} begins at {at} and never happens: the scenario lasts 2:00"
        for what, at in (
            ("liquid_pressure zero", "2:30"),
            ("hunting valve", "4:00"),
            ("frequency drop", "5:00"),
            ("radio gap", "6:00"),
            ("oil return", "7:00"),
            ("defrost", "9:00"),
        )
    ), "the end of the restriction is no fault"
    assert late(RUNS.format(lasts="20 min")) == ()
    assert len(late(RUNS.format(lasts="9 min"))) == 1, "what begins with the end is too late"


@pytest.mark.parametrize(("kind", "amount"), [("sun", "5 K"), ("leak", "0.01 Pa m3/s")])
def test_of_a_stage_before_charging_too(kind: str, amount: str) -> None:
    (said,) = late(STAGE.format(kind=kind, amount=amount, at="30 min"))
    assert said.startswith(f"short: {kind} begins at 30:00")
    assert late(STAGE.format(kind=kind, amount=amount, at="2 min")) == ()


@pytest.mark.parametrize("name", scenario_names())
def test_every_shipped_scenario_comes_to_its_faults(name: str) -> None:
    assert too_late(find_scenario(name, Path())) == ()


@pytest.mark.parametrize(
    ("url", "warned"),
    [
        ("simulator:own.toml", True),
        ("simulator:own.toml?seed=3", True),
        ("simulator:own.toml?length=20min", False),
        ("simulator:nitrogen-tight+own.toml", False),
    ],
)
def test_the_simulators_of_a_job_too(url: str, warned: bool, tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(RUNS.format(lasts="2 min"), encoding="utf-8")
    job = replace(demo_job("library", 1), sources=(SourceSpec(name="unit", url=url),))
    said = too_late_for(job, tmp_path)
    assert any("hunting valve begins at 4:00" in each for each in said) == warned


def test_a_length_among_the_options_of_the_source_counts_too(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(RUNS.format(lasts="2 min"), encoding="utf-8")
    source = SourceSpec(name="unit", url="simulator:own.toml", options={"length": "20min"})
    assert too_late_for(replace(demo_job("library", 1), sources=(source,)), tmp_path) == ()


def test_the_check_of_a_job_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "own.toml").write_text(RUNS.format(lasts="2 min"), encoding="utf-8")
    simulated = '[[source]]\nurl = "simulator:own.toml"\n'
    (tmp_path / "job.toml").write_text(
        f"{GOOD[: GOOD.index('[[source]]')]}\n{simulated}", encoding="utf-8"
    )
    main(["job", "check", str(tmp_path / "job.toml")])
    said = " ".join(capsys.readouterr().out.split())
    assert "look again own: hunting valve begins at 4:00 and never happens" in said


def test_simulate_says_so_and_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "own.toml").write_text(RUNS.format(lasts="2 min"), encoding="utf-8")
    main(["simulate", "own.toml"])
    said = capsys.readouterr()
    assert "warning: own: hunting valve begins at 4:00 and never happens" in said.err
    assert "end: " in said.out


def test_the_end_of_a_stuck_valve_after_the_end_is_no_fault_that_never_happens() -> None:
    stuck = """
[[fault]]
kind = "stuck valve"
amount = "60 %"
at = "2 min"
until = "50 min"
"""
    scenario = parse_scenario(RUNS.format(lasts="40 min") + stuck, "own.toml", Path())
    assert too_late(scenario) == ()
