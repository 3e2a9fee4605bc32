"""``--json``: what scripts read."""

import json
from pathlib import Path
from typing import Any

import pytest

from chargeassist.cli.as_json import print_json
from chargeassist.cli.main import main

ROOT = Path(__file__).parents[3]
RECORDING = str(ROOT / "recordings" / "millrace-lane-library")


def answer(capsys: pytest.CaptureFixture[str], *typed: str, code: int = 0) -> Any:
    assert main([*typed, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_saturation_answers_in_si_what_it_prints(capsys: pytest.CaptureFixture[str]) -> None:
    said = answer(capsys, "saturation", "R-32", "1.8 MPa(a)", "--line", "20 °C")
    assert said["pressure_pa_abs"] == pytest.approx(1.8e6)
    assert said["subcooling_k"] == pytest.approx(said["bubble_temp_k"] - 293.15)
    assert "R-32" in answer(capsys, "saturation", "list")


def test_standing_tells_verdict_and_offset(capsys: pytest.CaptureFixture[str]) -> None:
    said = answer(capsys, "standing", "R-32", "300psig", "68°F", "--rested", "5 h", code=1)
    assert said["verdict"] == "shifted"
    assert said["offset_pa"] > 5e5


def test_profiles_list_and_limits(capsys: pytest.CaptureFixture[str]) -> None:
    assert "house-default" in answer(capsys, "profiles")
    limits = answer(capsys, "profiles", "house-default")["limits"]
    assert limits["subcooling_tolerance"]["value_si"] == pytest.approx(3 / 1.8)


def test_verify_and_recompute(capsys: pytest.CaptureFixture[str]) -> None:
    (verified,) = answer(capsys, "verify", RECORDING)
    assert verified["ok"] is True
    assert verified["started"]["mode"] == "simulated"
    (again,) = answer(capsys, "recompute", RECORDING)
    assert again["differences"] == []
    assert again["compared"] > 10


def test_verify_says_no_in_json_too(capsys: pytest.CaptureFixture[str]) -> None:
    (verified,) = answer(capsys, "verify", RECORDING, "--signed-by", "desk", code=1)
    assert verified["ok"] is False


def test_scenarios(capsys: pytest.CaptureFixture[str]) -> None:
    said = answer(capsys, "simulate", "--list")
    assert {"name", "title", "about", "ends_in", "finds", "note"} == set(said[0])


def test_probes_list_and_one_object_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert "simulator" in answer(capsys, "probes")
    assert main(["probes", f"recording:{RECORDING}?speed=1000", "--seconds", "1", "--json"]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    first = next(line for line in lines if line["role"] == "liquid_pressure")
    assert first["unit_sent"] == "psig"
    assert first["value_sent"] * 6894.757 == pytest.approx(first["value_si"], rel=1e-4)


def test_keys(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert answer(capsys, "keys") == []
    made = answer(capsys, "keys", "new", "desk")
    assert set(made) == {"name", "fingerprint", "own"}
    assert answer(capsys, "keys") == [made]
    (public,) = tmp_path.rglob("desk.pub")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "other"))
    trusted = answer(capsys, "keys", "trust", str(public), "--name", "van-12")
    assert trusted == {"name": "van-12", "fingerprint": made["fingerprint"], "own": False}


@pytest.mark.parametrize(
    ("typed", "code", "says"),
    [
        (("saturation", "R-32", "90 MPa(a)"), 1, "no value"),
        (("saturation", "R-999", "1.8 MPa(a)"), 2, "R-999"),
        (("saturation", "R-32", "1.8 MPa"), 2, "gauge or absolute"),
        (("standing", "R-32", "300psig", "900°F"), 1, "no value"),
        (("airflow", "10kW", "70°F", "70°F"), 1, "no airflow"),
        (("profiles", "hose-default"), 2, "house-default"),
        (("verify", "nowhere.zip"), 2, "nowhere.zip"),
        (("recompute", "nowhere.zip"), 2, "nowhere.zip"),
        (("probes", "nowhere.toml"), 2, "nowhere.toml"),
        (("probes", "canbus:1"), 2, "canbus"),
        (("job", "check", "nowhere.toml"), 2, "nowhere.toml"),
        (("keys", "new"), 2, "expected a name"),
        (("simulate", "clean-charge"), 2, "--list"),
        (("watch", "http://localhost"), 2, "http"),
        (("verify", "x" * 300), 2, "xxx"),
    ],
)
def test_what_fails_is_told_in_json_and_in_words(
    typed: tuple[str, ...],
    code: int,
    says: str,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([*typed, "--json"]) == code
    told = capsys.readouterr()
    assert says in json.loads(told.out)["error"]
    assert says in told.err


def test_a_job_file_with_errors_names_the_first_and_all(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "job.toml").write_text("colour = 1\n[site]\nheight = 2\n", encoding="utf-8")
    said = answer(capsys, "job", "check", str(tmp_path / "job.toml"), code=2)
    assert said["error"] == said["errors"][0]


@pytest.mark.parametrize("command", ["verify", "recompute"])
def test_of_several_records_the_one_that_cannot_be_read_has_its_error(
    command: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    good, bad = answer(capsys, command, RECORDING, str(tmp_path / "no.zip"), code=1)
    assert "error" not in good
    assert bad["record"].endswith("no.zip")
    assert "no.zip" in bad["error"]


def test_a_silent_probe_is_told_in_json(capsys: pytest.CaptureFixture[str]) -> None:
    nobody = ["probes", "mqtt://localhost:1", "--topic", "van/p", "--seconds", "0.2", "--json"]
    assert main(nobody) == 1
    told = capsys.readouterr()
    silent = json.loads(told.out.splitlines()[-1])
    assert (silent["kind"], silent["role"]) == ("silent", "liquid_pressure")
    assert "nothing heard from" in told.err


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (["verify", "--json"], "RECORD"),
        (["airflow", "10kW", "70F", "--json"], "after"),
        (["verify", RECORDING, "--signed-by", "--json"], "--signed-by"),
        (["debrief", "nowhere", "--json", "-"], "or a folder of results"),
        (["audit", "nowhere", "--format", "json"], "expected a record"),
        (["audit", "--format", "json"], "expected a folder or a record"),
        (["audit", "--format", "json", "--cores", "0"], "--cores"),
        (["fleet", "query", "nowhere", "gain-by-model", "--format", "json"], "a fleet's dataset"),
        (["fleet", "query", "--format=json"], "ADDRESS"),
    ],
)
def test_a_command_line_that_cannot_be_used_is_told_in_json_too(
    typed: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit, match="2"):
        raise SystemExit(main(typed))
    out, err = capsys.readouterr()
    assert told in json.loads(out)["error"]
    assert told in err


def test_where_json_is_a_file_s_name_nothing_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["debrief", "--json", "x"])
    assert capsys.readouterr().out == ""


def test_where_the_answer_goes_to_a_file_or_is_a_table_no_error_stands_on_the_screen(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert main(["audit", "nowhere", "--format", "json", "--out", str(tmp_path / "a.json")]) == 2
    assert main(["audit", "nowhere"]) == 2
    # Of probes --format is how the probe writes.
    assert main(["probes", "serial:/dev/none", "--format", "json", "--unit", "psig"]) != 0
    assert capsys.readouterr().out == ""


def test_what_is_no_number_is_null(capsys: pytest.CaptureFixture[str]) -> None:
    print_json({"a": float("nan"), "b": [float("inf"), 1.5], "c": "nan"})
    assert json.loads(capsys.readouterr().out) == {"a": None, "b": [None, 1.5], "c": "nan"}
