"""What is refused before the work, or told after it, in words and with exit code 2."""

from pathlib import Path

import pytest

from chargeassist.cli.main import main

ROOT = Path(__file__).resolve().parents[3]
BY_HAND = """
name = "invented"
refrigerant = "R-32"
by_hand = true
[site]
altitude = "210 m"
[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "invented"
[charge]
plate = "2.30 kg"
step_cap = "110 g"
"""


@pytest.mark.parametrize(
    "arguments",
    [
        ["audit", "recordings", "--cores", "0"],
        ["audit", "recordings", "--cores", "-2"],
        ["audit", "recordings", "--calibration-months", "nan"],
        ["audit", "recordings", "--calibration-months", "0"],
        ["fleet", "add", "recordings", "--to", "x", "--cores", "two"],
        ["demo", "--seed", "-1"],
    ],
)
def test_numbers_that_mean_nothing_are_refused(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as end:
        main(arguments)
    assert end.value.code == 2
    assert "expected" in capsys.readouterr().err


def test_an_audit_is_not_begun_that_could_not_be_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "nowhere" / "audit.csv"
    records = str(ROOT / "recordings")
    assert main(["audit", records, "--cores", "1", "--out", str(out)]) == 2
    assert "expected a name in a folder that is there" in capsys.readouterr().err


def test_scores_that_cannot_be_kept_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    results = tmp_path / "nowhere" / "scores.jsonl"
    records = str(ROOT / "recordings")
    assert main(["fleet", "recompute", records, "--cores", "1", "--to", str(results)]) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_a_job_by_hand_has_nothing_to_listen_to(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(BY_HAND, encoding="utf-8")
    assert main(["probes", str(path)]) == 2
    assert "expected a [[source]] to listen to" in capsys.readouterr().err
