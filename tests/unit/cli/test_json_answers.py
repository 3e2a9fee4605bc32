"""``--json``: what scripts read."""

import json
from pathlib import Path
from typing import Any

import pytest

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
