"""``simulate`` and ``live simulator:SCENARIO`` from the command line."""

from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.session.scenario.scenario import find_scenario, scenario_names

SCENARIO = """
title = "Short and quick"
about = "A test."
expect = "{expect}"
lasts = "2 min"
technician = "script"
job = "library"
[plant]
charge = "1.90 kg"
[[script]]
at = "5 s"
do = "check"
text = "filters_panels"
[[script]]
at = "40 s"
do = "note"
text = "the coil is clean"
"""


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.toml").write_text(SCENARIO.format(expect="wait"), encoding="utf-8")
    (tmp_path / "wrong.toml").write_text(SCENARIO.format(expect="stop"), encoding="utf-8")
    return tmp_path


def test_the_list_names_every_shipped_scenario(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["simulate", "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    for name in scenario_names():
        assert any(line.startswith(f"{name}: ") for line in lines)
    assert "does not find" in " ".join(" ".join(lines).split())
    assert all(len(line) < 80 for line in lines)


def test_a_scenario_is_told_in_lines_and_kept(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["simulate", "mine.toml", "--out", "made"]) == 0
    out = capsys.readouterr().out
    assert "Short and quick: A test." in out
    assert "SIMULATED: nothing here was measured" in out
    assert "0:40  > note: the coil is clean" in out
    assert "recording: made" in out
    assert out.splitlines()[-1] == "as expected: wait"
    assert main(["replay", str(place / "made"), "--check"]) == 0
    assert "all the same" in capsys.readouterr().out


def test_the_same_scenario_from_another_folder_gives_the_same_bytes(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["simulate", "mine.toml", "--out", "here"]) == 0
    monkeypatch.chdir(place.parent)
    assert main(["simulate", f"{place.name}/mine.toml", "--out", str(place / "there")]) == 0
    for path in (place / "here").iterdir():
        assert path.read_bytes() == (place / "there" / path.name).read_bytes()


def test_another_seed_is_another_recording(place: Path) -> None:
    assert main(["simulate", "mine.toml", "--out", "one"]) == 0
    assert main(["simulate", "mine.toml", "--out", "two", "--seed", "2"]) == 0
    one, two = ((place / name / "readings.csv").read_bytes() for name in ("one", "two"))
    assert one != two


def test_a_scenario_that_ends_otherwise_says_so_and_is_kept(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["simulate", "wrong.toml", "--out", "made"]) == 1
    assert "expected it to end in 'stop', it ended in 'wait" in capsys.readouterr().err
    assert (place / "made" / "datapackage.json").exists()


def test_a_fault_that_was_to_be_found_and_is_not_counts_as_otherwise(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = SCENARIO.format(expect="wait").replace(
        "lasts", 'finds = ["expansion valve hunts"]\nlasts'
    )
    (place / "hunts.toml").write_text(text, encoding="utf-8")
    assert main(["simulate", "hunts.toml"]) == 1
    told = capsys.readouterr()
    assert "expected 'expansion valve hunts' to be found, there stands nothing" in told.err
    assert "as expected" not in told.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["simulate"], "expected a scenario: a file, or one of"),
        (["simulate", "x", "--list"], "expected either SCENARIO or --list"),
        (["simulate", "nowhere"], "'nowhere' is no shipped scenario"),
        (["simulate", "nowhere.toml"], "nowhere.toml: cannot be read"),
        (["simulate", "mine.toml", "--out", "."], "expected a new or an empty folder"),
        (["live", "simulator:nowhere"], "'nowhere' is no shipped scenario"),
        (["live", "simulator:mine.toml?sed=1"], "expected ?seed=N"),
    ],
)
@pytest.mark.usefixtures("place")
def test_what_cannot_be_used_is_refused_with_2(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    assert said in capsys.readouterr().err


def test_a_scenario_can_be_charged_by_hand(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["live", "simulator:mine.toml?seed=3", "--lines", "--speed", "max", "--record"]
    assert main([*words, str(place / "by-hand.session")]) == 0
    out = capsys.readouterr().out
    assert "SIMULATED" in out
    assert "the coil is clean" not in out  # the script is not played: you are the technician
    assert (place / "by-hand.session").exists()


def test_a_shipped_scenario_is_printed_to_be_changed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in scenario_names():
        assert main(["simulate", name, "--print"]) == 0
        printed = capsys.readouterr().out
        (tmp_path / f"{name}.toml").write_text(printed, encoding="utf-8")
        mine, shipped = find_scenario(f"{name}.toml", tmp_path), find_scenario(name, tmp_path)
        assert (mine.title, mine.expected, mine.finds, mine.lasts_s, mine.seed) == (
            shipped.title,
            shipped.expected,
            shipped.finds,
            shipped.lasts_s,
            shipped.seed,
        )
    assert main(["simulate", "mine.toml", "--print"]) == 2
    assert "expected the name of a shipped scenario" in capsys.readouterr().err
    assert main(["simulate", "clean-charge", "--print", "--out", "x"]) == 2
