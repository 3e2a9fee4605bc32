"""Pictures of simulated sessions: what is drawn, and that the same session gives the same file."""

import math
import sys
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError
from chargeassist.pictures.frame import check_place
from chargeassist.pictures.told import Told, tell
from chargeassist.session.scenario.scenario import find_scenario

SHORT = """
title = "Short of refrigerant"
about = "A test."
expect = "wait"
lasts = "4 min"
technician = "script"
job = "library"
[plant]
charge = "2.1 kg"
[[fault]]
kind = "radio gap"
at = "60 s"
until = "90 s"
[[script]]
at = "100 s"
do = "open the valve"
mass = "50 g"
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    path = tmp_path_factory.mktemp("scenario") / "short.toml"
    path.write_text(SHORT, encoding="utf-8")
    return tell(find_scenario(str(path), Path()))


def test_what_was_so_read_shown_and_done_is_kept(told: Told) -> None:
    minutes, so = told.true("subcooling_k")
    assert (minutes[0], minutes[-1], len(so)) == (0.0, 4.0, 241)
    assert told.true("nothing of the kind") == ([], [])
    minutes, read = told.read(Role.LIQUID_PRESSURE)
    assert math.isnan(read[minutes.index(1.5)])  # no line over the gap
    shown = told.shown(lambda snapshot: snapshot.facts.subcooling)
    assert math.isnan(shown[1][shown[0].index(80.0 / 60.0)])
    assert not math.isnan(shown[1][shown[0].index(2.0)])
    assert [mark.t for mark in told.marks] == [100.0]


@pytest.mark.parametrize("system", UnitSystem)
def test_a_charge_is_drawn_with_its_marks_and_advice(
    told: Told, tmp_path: Path, system: UnitSystem
) -> None:
    pytest.importorskip("matplotlib")
    from chargeassist.pictures.draw import draw

    for name in ("one.svg", "two.svg"):
        draw(told, tmp_path / name, system)
    text = (tmp_path / "one.svg").read_text(encoding="utf-8")
    assert text == (tmp_path / "two.svg").read_text(encoding="utf-8")
    words = ["Short of refrigerant", "add 50 g", "subcooling", "superheat", "true", "minutes"]
    words.append("psi gauge" if system is UnitSystem.US else "kPa gauge")
    for word in words:
        assert word in text, word


@pytest.mark.parametrize(
    ("stage", "words"),
    [
        ("tightness", ["true, at one temperature", "nitrogen on", "leaked, %"]),
        ("dryness", ["water freezes below", "pump on", "saturated over the far water or ice"]),
    ],
)
def test_a_stage_before_charging_has_its_own_picture(
    tmp_path: Path, stage: str, words: list[str]
) -> None:
    pytest.importorskip("matplotlib")
    deed, other = (
        ("nitrogen on", "nitrogen off") if stage == "tightness" else ("pump on", "pump off")
    )
    text = (
        f'title = "T"\nabout = "A."\nstage = "{stage}"\njob = "library"\nlasts = "15 min"\n'
        f'technician = "script"\n[[script]]\nat = "10 s"\ndo = "{deed}"\n'
        f'[[script]]\nat = "2 min"\ndo = "{other}"\n'
    )
    (tmp_path / "stage.toml").write_text(text, encoding="utf-8")
    picture = tmp_path / "stage.svg"
    place = str(tmp_path / "stage.toml")
    assert main(["simulate", place, "--picture", str(picture)]) == 0
    drawn = picture.read_text(encoding="utf-8")
    for word in words:
        assert word in drawn, word


@pytest.mark.parametrize("name", ["picture.jpeg", "nowhere/picture.svg"])
def test_a_picture_that_cannot_be_made_is_refused_first(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["simulate", "clean-charge", "--picture", str(tmp_path / name)]) == 2
    out, err = capsys.readouterr()
    assert "expected a picture that ends in .svg" in err or "in a folder that is there" in err
    assert out == ""


def test_without_matplotlib_the_error_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(ConfigError, match=r"pip install 'chargeassist\[qa\]'"):
        check_place(tmp_path / "picture.svg")


def test_all_pictures_or_one() -> None:
    assert main(["simulate", "clean-charge", "--pictures", "."]) == 2


def test_money_in_a_title_is_no_formula(tmp_path: Path) -> None:
    scenario = tmp_path / "mine.toml"
    words = "from $5 to $6, then \\\\frac{x$"
    scenario.write_text(SHORT.replace("Short of refrigerant", words), encoding="utf-8")
    assert main(["simulate", str(scenario), "--picture", str(tmp_path / "a.svg")]) == 0
    assert "from $5 to $6, then \\frac{x$" in (tmp_path / "a.svg").read_text(encoding="utf-8")
