"""A class gathered: every result once, what cannot be read said and left out. All invented."""

import csv
import json
from pathlib import Path

import msgspec
import pytest

from chargeassist.cli.main import main
from chargeassist.pictures.of_class import FILLS, ClassRow, class_picture
from chargeassist.trainer.result import JudgedCall, LeftOut, Part, Result, write_result
from chargeassist.trainer.score import RULES


def result(trainee: str, points: float, *parts: Part) -> Result:
    calls = (JudgedCall(t=300.0, kind="settled", reading_k=2.0, late_s=-20.0, value_error_k=-0.4),)
    return Result(
        exercise="clean-charge", title="Clean charge", truth="plant", seed=7, trainee=trainee,
        points=points, parts=parts, calls=calls,
    )  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    early = Part(rule="early", points=2.0, t=300.0, why="20 s too early")
    end = Part(rule="end", points=20.0, t=400.0, why="no stop")
    write_result(result("bench 2", 78.0, early, end), tmp_path / "res" / "b.drill.json")
    write_result(result("=bench()", 98.0, early), tmp_path / "res" / "sub" / "a.drill.json")
    return tmp_path / "res"


def test_table_csv_and_json_hold_every_result(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = ["--csv", str(tmp_path / "c.csv"), "--json", str(tmp_path / "c.json")]
    assert main(["debrief", str(folder), *out]) == 0
    assert "2 drills, median 88, from 78 to 98" in capsys.readouterr().out
    rows = list(csv.DictReader((tmp_path / "c.csv").read_text("utf-8").splitlines()))
    assert [row["points"] for row in rows] == ["98.0", "78.0"]
    assert rows[0]["trainee"] == "'=bench()", "no formula for a spreadsheet"
    table = json.loads((tmp_path / "c.json").read_text("utf-8"))
    assert table[1]["lost_end"] == 20.0
    assert table[1]["mean_late_s"] == -20.0
    assert table[1]["calls_not_counted"] == 0


def test_the_table_of_a_class_says_who_did_what_and_what_cost_most(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    early = Part(rule="early", points=2.0, t=300.0, why="20 s too early")
    waits = [Part(rule="waiting", points=6.5, t=t, why="no call") for t in (400.0, 900.0)]
    end = Part(rule="end", points=20.0, t=400.0, why="no stop")
    late = (LeftOut(t=500.0, kind="settled"), LeftOut(t=510.0, kind="stop"))
    change = msgspec.structs.replace
    results = [
        result("bench 2", 78.0, early, end),
        result("bench 1", 85.0, early, *waits),
        result("a name that is far too long for its column", 100.0),
        change(result("bench 3", 80.0, end), exercise="van-12.session", truth="tool", seed=None),
        change(result("bench 4", 70.0, end, waits[0]), left_out=late),
    ]
    for number, each in enumerate(results):
        write_result(each, tmp_path / f"{number}.drill.json")
    assert main(["debrief", str(tmp_path)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "trainee              exercise                    seed points  lost most",
        "a name that is far t clean-charge                   7  100.0  nothing",
        "bench 1              clean-charge                   7   85.0  waiting −13",
        "bench 2              clean-charge                   7   78.0  end −20",
        "bench 4              clean-charge                   7   70.0  end −20  "
        "(2 calls after its end not counted)",
        "bench 3              van-12.session                     80.0  end −20  "
        "(by the tool's verdicts)",
        "5 drills, median 80, from 70 to 100",
    ]


@pytest.mark.parametrize("form", ["--json", "--csv"])
def test_a_script_finds_one_table_on_standard_output_and_nothing_else(
    folder: Path,
    tmp_path: Path,
    form: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    other = {"--json": "--csv", "--csv": "--json"}[form]
    assert main(["debrief", str(folder), form, "-", other, "other"]) == 0
    told = capsys.readouterr()
    rows = json.loads(told.out) if form == "--json" else list(csv.DictReader(told.out.splitlines()))
    assert [float(row["points"]) for row in rows] == [98.0, 78.0]
    assert told.err == "written: other\n"
    assert not (tmp_path / "-").exists()
    assert main(["debrief", str(folder), form, "-", other, "-"]) == 2
    assert "takes one of" in capsys.readouterr().err


@pytest.mark.parametrize("form", ["--csv", "--json", "--picture"])
def test_what_stands_there_is_not_written_over(
    folder: Path, tmp_path: Path, form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "class.svg"
    there.write_text("kept", encoding="utf-8")
    assert main(["debrief", str(folder), form, str(there)]) == 2
    assert "already exists; choose another name" in capsys.readouterr().err
    assert there.read_text("utf-8") == "kept"


def test_a_class_is_told_how_many_calls_came_after_the_end(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    late = msgspec.structs.replace(
        result("bench 3", 70.0), left_out=(LeftOut(t=500.0, kind="settled"),)
    )
    write_result(late, tmp_path / "c.drill.json")
    assert main(["debrief", str(tmp_path), "--csv", str(tmp_path / "c.csv")]) == 0
    assert "(1 call after its end not counted)" in capsys.readouterr().out
    (row,) = csv.DictReader((tmp_path / "c.csv").read_text("utf-8").splitlines())
    assert row["calls_not_counted"] == "1"


def test_a_result_that_cannot_be_read_is_said_and_left_out(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "x.drill.json").write_text("no", encoding="utf-8")
    assert main(["debrief", str(folder)]) == 1
    told = capsys.readouterr()
    assert "2 drills" in told.out
    assert "left out" in told.err
    assert main(["debrief", str(tmp_path / "nowhere")]) == 2
    (tmp_path / "empty").mkdir()
    assert main(["debrief", str(tmp_path / "empty")]) == 2


@pytest.mark.parametrize("name", ["mine.json", "mine.JSON", "mine.drill.json", "class 3", "v1.2"])
def test_whatever_a_drill_was_told_to_write_a_debrief_reads(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    calls = tmp_path / "calls.txt"
    calls.write_text("0:30 stop\n", encoding="utf-8")
    out = tmp_path / "results" / name
    out.parent.mkdir()
    argv = ["drill", "clean-charge", "--calls", str(calls), "--out", str(out)]
    assert main([*argv, "--record", str(tmp_path / "s.session")]) == 0
    (written,) = [p for p in out.parent.rglob("*") if p.is_file()]
    (out.parent / "other.json").write_text('{"format": "something else"}', encoding="utf-8")
    for places in ([out.parent], [out], [written], [out, out.parent, written]):
        capsys.readouterr()
        assert main(["debrief", *map(str, places)]) == 0, places
        assert "1 drill, " in capsys.readouterr().out, "once, by whichever names"


def test_a_result_is_not_looked_for_in_vain(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "notes.txt"
    there.write_text("mine", encoding="utf-8")
    argv = ["drill", "clean-charge", "--calls", str(there), "--out"]
    assert main([*argv, str(there)]) == 2
    assert "expected a folder for the result, or a new file that ends in .json" in (
        capsys.readouterr().err
    )
    assert main(["debrief", str(there)]) == 2
    assert "expected the result of a drill" in capsys.readouterr().err
    assert there.read_text("utf-8") == "mine"


def test_the_picture_is_drawn_and_is_the_same_each_time(folder: Path, tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    for name in ("one", "two"):
        assert main(["debrief", str(folder), "--picture", str(tmp_path / f"{name}.svg")]) == 0
    one = (tmp_path / "one.svg").read_text("utf-8")
    assert one == (tmp_path / "two.svg").read_text("utf-8")
    assert "bench 2" in one
    for name in ("one.SVG", "two.SVG", "one.pdf", "two.pdf"):
        assert main(["debrief", str(folder), "--picture", str(tmp_path / name)]) == 0
    assert (tmp_path / "one.SVG").read_bytes() == (tmp_path / "two.SVG").read_bytes()
    assert b"<dc:date>" not in (tmp_path / "one.SVG").read_bytes()
    assert b"CreationDate" not in (tmp_path / "one.pdf").read_bytes()
    assert main(["debrief", str(folder), "--picture", str(tmp_path / "one.txt")]) == 2


def test_the_picture_of_a_class_has_a_bar_for_every_rule(tmp_path: Path) -> None:
    lost = dict.fromkeys(RULES, 5.0)
    path = tmp_path / "class.svg"
    # A trainee's name is somebody's own: what stands between dollars in it is no formula.
    row = ClassRow(label="bench $1, \\frac{x$", points=60.0, lost=lost, late_s=(5.0,))
    class_picture([row], RULES, path)
    fills = {colour.lower() for colour, _ in FILLS[: len(RULES)]}
    assert len(fills) == len(RULES)
    drawn = path.read_text("utf-8").lower()
    assert all(colour in drawn for colour in fills)


def test_a_copy_of_a_drill_is_said_and_counted_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change = msgspec.structs.replace
    one = change(result("bench 1", 80.0), session_id="a1" * 16)
    again = change(result("bench 1", 90.0), session_id="b2" * 16)
    for name, each in (("a", one), ("b", again), ("copy", one)):
        write_result(each, tmp_path / f"{name}.drill.json")
    assert main(["debrief", str(tmp_path)]) == 1
    said = capsys.readouterr()
    assert "2 drills, median 85" in said.out, "who drills twice is there twice"
    assert "copy.drill.json: the same drill as a.drill.json, which is counted" in said.err


def test_drills_on_one_recording_are_as_many_as_there_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    each = msgspec.structs.replace(result("", 80.0), session_id="a1" * 16, truth="tool")
    for name in "ab":
        write_result(each, tmp_path / f"{name}.drill.json")
    assert main(["debrief", str(tmp_path)]) == 0
    assert "2 drills" in capsys.readouterr().out


def test_a_name_may_hold_anything_and_breaks_no_table_and_no_picture(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_result(result("Ann $_{$\nBob \x1b[1m", 80.0), tmp_path / "a.drill.json")
    picture = tmp_path / "class.svg"
    assert main(["debrief", str(tmp_path), "--picture", str(picture)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].startswith("Ann $_{$·Bob ·[1m ")
    assert "Ann $_{$·Bob" in picture.read_text("utf-8")


def test_a_call_on_a_machine_that_never_settles_is_a_call(tmp_path: Path) -> None:
    never = JudgedCall(t=300.0, kind="settled", reading_k=2.0)
    one = msgspec.structs.replace(result("bench 1", 80.0), calls=(never,))
    write_result(one, tmp_path / "a.drill.json")
    assert main(["debrief", str(tmp_path), "--json", str(tmp_path / "c.json")]) == 0
    [row] = json.loads((tmp_path / "c.json").read_text("utf-8"))
    assert (row["settled_calls"], row["mean_late_s"]) == (1, None)
