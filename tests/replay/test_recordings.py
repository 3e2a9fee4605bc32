"""Each recording still says what its golden file says, and is what the program makes today."""

import filecmp
import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from chargeassist.cli.main import main
from chargeassist.session.record.package import PackageReader

HERE = Path(__file__).resolve().parent
RECORDINGS = HERE.parents[1] / "recordings"
NAMES = ("millrace-lane-library", "quarry-road-bakery")


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_recordings", HERE / "make_recordings.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_recording_has_a_golden_file(maker: ModuleType) -> None:
    folders = {path.name for path in RECORDINGS.iterdir() if path.is_dir()}
    assert folders == set(NAMES) == set(maker.MADE)
    assert {path.stem for path in (HERE / "golden").glob("*.txt")} == folders


@pytest.mark.parametrize("name", NAMES)
def test_a_replay_says_what_the_golden_file_says(maker: ModuleType, name: str) -> None:
    expected = (HERE / "golden" / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    assert maker.golden_lines(RECORDINGS / name) == expected


@pytest.mark.parametrize("name", NAMES)
def test_a_recording_is_whole_and_says_it_is_simulated(name: str) -> None:
    with PackageReader(RECORDINGS / name) as record:
        report = record.verify()
        assert report.ok, report.problems
        assert report.finished
        assert record.started.mode == "simulated"


@pytest.mark.parametrize("name", NAMES)
def test_the_program_of_today_makes_the_same_bytes(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["simulate", name, "--out", str(tmp_path / name)]) == 0
    assert "SIMULATED" in capsys.readouterr().out
    made = sorted(path.name for path in (tmp_path / name).iterdir())
    same, different, missing = filecmp.cmpfiles(
        tmp_path / name, RECORDINGS / name, made, shallow=False
    )
    assert (sorted(same), different, missing) == (made, [], [])
