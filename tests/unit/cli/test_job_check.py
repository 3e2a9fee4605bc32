"""``chargeassist job check`` as a shell sees it."""

import json
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.cli.paragraphs import WIDTH
from chargeassist.model.events import Stage

GOOD = (files("chargeassist") / "data" / "library.toml").read_text(encoding="utf-8")
FIXED_ORIFICE = """
name = "Lock-keeper's house"
refrigerant = "R-410A"
units = "us"
[site]
altitude = "690 ft"
place = "ground"
[target]
method = "superheat"
superheat = "8 °F"
tolerance = "5 °F"
source = "unit's chart, page 3"
[charge]
plate = "5 lb"
step_cap = "2 oz"
[line_set]
length = "40 ft"
included = "15 ft"
adder = "0.6 oz/ft"
adder_source = "installation manual, page 18"
[[source]]
url = "serial:/dev/ttyUSB0"
format = "csv"
[[source.probe]]
role = "suction_pressure"
select = "1"
unit = "psig"
accuracy = "1 psi + 0.5 % of reading"
serial = "P-7"
calibrated = "CALIBRATED"
[[source.probe]]
role = "suction_temperature"
select = "2"
unit = "°F"
accuracy = "0.9 °F"
"""


def run(tmp_path: Path, text: str, *options: str) -> int:
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return main(["job", "check", str(path), *options])


def test_target_source_profile_and_probes_are_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(tmp_path, GOOD)
    out = capsys.readouterr().out
    flat = " ".join(out.split())
    assert "subcooling 5.0 K ± 0.8 K; read at: demonstration: charging label inside" in flat
    assert "evacuation-500-20 + supply-and-cylinder" in flat
    assert "liquid_pressure in" in flat  # those of the scenario
    for stage in Stage:
        assert f"\n{stage.value}: " in out
    assert max(map(len, out.splitlines())) <= WIDTH


def test_missing_names_the_key_and_gives_exit_code_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(tmp_path, FIXED_ORIFICE) == 1
    out = capsys.readouterr().out
    dryness = out.partition("\ndryness: ")[2].partition("\nweigh-in: ")[0]
    assert "cannot be judged" in dryness
    assert "dryness.target" in dryness
    # A fixed orifice is judged on the suction line: its charge lacks no liquid probe it needs.
    assert "\ncharging: can be worked on, judged better with" in out


TABLE = FIXED_ORIFICE.replace('superheat = "8 °F"\n', "")
WET_BULB = "the return air wet bulb probe; the table needs it: it is read off and typed, and counts"
PROBE = '[[source.probe]]\nrole = "{}"\nselect = "{}"\nunit = "{}"\n'


@pytest.mark.parametrize(
    ("change", "asked"),
    [
        ("", WET_BULB + " for 30 min -> probe: return_air_wet_bulb, or target.return_wet_bulb"),
        ('[overrides]\nsource = "house"\ntyped_air_lasts = "20 min"\n', WET_BULB + " for 20 min"),
        (PROBE.format("return_air_wet_bulb", "3", "°F"), None),
        (PROBE.format("return_air_humidity", "3", "%"), "the return air probe; humidity alone"),
        (
            PROBE.format("return_air_humidity", "3", "%")
            + PROBE.format("return_air_temperature", "4", "°F"),
            None,
        ),
    ],
)
def test_a_target_of_the_table_says_what_air_will_be_asked_for(
    change: str, asked: str | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(tmp_path, TABLE + change)
    flat = " ".join(capsys.readouterr().out.split())
    charging = flat.partition("charging: can be")[2].partition("verification:")[0]
    assert "the outdoor air probe; the table needs it: it is read off and typed" in charging
    if asked is None:
        assert "wet bulb" not in charging
    else:
        assert asked in charging


def test_a_wet_bulb_in_the_file_and_a_fixed_target_ask_for_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written = 'return_wet_bulb = "63 °F"\nreturn_wet_bulb_source = "psychrometer"\n[charge]'
    for text in (FIXED_ORIFICE, TABLE.replace("[charge]", written, 1)):
        run(tmp_path, text)
        flat = " ".join(capsys.readouterr().out.split())
        assert "return air wet bulb probe" not in flat


def test_the_weigh_in_sum_is_the_hand_computed_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # 5 lb + 0.6 oz/ft x (40 - 15) ft = 80 oz + 15 oz = 95 oz = 5 lb 15 oz; 1 oz = 28.349523125 g
    # exactly (NIST SP 811, appendix B.8: avoirdupois ounce).
    run(tmp_path, FIXED_ORIFICE)
    assert "with the line set 5 lb 15.0 oz" in capsys.readouterr().out
    run(tmp_path, FIXED_ORIFICE, "--json")
    told = json.loads(capsys.readouterr().out)
    assert told["weigh_in"]["total_kg"] == pytest.approx(95 * 0.028349523125, abs=1e-9)
    assert told["stages"][4] == {**told["stages"][4], "stage": "charging", "state": "less"}
    assert told["workable"] is False
    assert told["target"]["value_k"] == pytest.approx(8 / 1.8)


def test_accuracy_is_told_in_the_unit_of_the_probe(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(tmp_path, FIXED_ORIFICE)
    flat = " ".join(capsys.readouterr().out.split())
    assert "± 1 psi + 0.5 % of reading, serial P-7" in flat
    assert "± 0.90 °F, no serial number, no calibration date" in flat


@pytest.mark.parametrize(
    ("days", "told"),
    [
        (367, "calibrated 367 days ago, more than 366 d [default of this program"),
        (300, ""),
        (-3, "still to come"),
    ],
)
def test_an_old_calibration_is_told(
    days: int, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    day = datetime.now(tz=UTC).astimezone().date() - timedelta(days=days)
    run(tmp_path, FIXED_ORIFICE.replace("CALIBRATED", str(day)))
    flat = " ".join(capsys.readouterr().out.split())
    assert (told in flat) if told else ("look again" not in flat)


def test_the_age_of_a_calibration_is_that_of_the_profile(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "house.toml").write_text(
        '[[profile]]\nname = "house"\ntitle = "ours"\n[[profile.limit]]\n'
        'key = "calibration_age"\nvalue = "180 d"\nsource = "quality manual"\n'
        'authority = "rule of thumb"\n',
        encoding="utf-8",
    )
    day = datetime.now(tz=UTC).astimezone().date() - timedelta(days=200)
    text = FIXED_ORIFICE.replace("CALIBRATED", str(day))
    run(tmp_path, 'profile = "house.toml"\n' + text)
    flat = " ".join(capsys.readouterr().out.split())
    assert "calibrated 200 days ago, more than 180 d [quality manual (rule of thumb)]" in flat


@pytest.mark.parametrize(
    ("head", "target", "told"),
    [
        ("", "", ""),
        ("", 'approach_tolerance = "2 °F"', "a tolerance of the approach, 2 °F [job file"),
        ("", 'approach_source = "page 8"', "a source of the approach, 'page 8', but no target."),
        ('profile = "maker-approach"', "", "a tolerance of the approach, 1 °F [equipment manual"),
        ('profile = "maker-approach"', 'approach = "9 °F"', ""),
    ],
)
def test_an_approach_that_checks_nothing_is_told(
    head: str, target: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = FIXED_ORIFICE.replace("CALIBRATED", "").replace("[charge]", f"{target}\n[charge]")
    run(tmp_path, f"{head}\n{text}")
    flat = " ".join(capsys.readouterr().out.split())
    assert told in flat
    assert ("nothing is cross-checked by it" in flat) is bool(told)


def test_what_nothing_limits_is_told_as_not_judged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(tmp_path, FIXED_ORIFICE.replace("CALIBRATED", ""))
    flat = " ".join(capsys.readouterr().out.split())
    assert (
        "not judged, for nothing limits it: outdoor air, return air, run before a reading, "
        "indoor airflow" in flat
    )
    run(tmp_path, 'profile = "california-installer"\n' + FIXED_ORIFICE, "--json")
    told = json.loads(capsys.readouterr().out)
    assert told["not_judged"] == ["return air"]


def test_a_calibration_that_is_no_date_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(tmp_path, FIXED_ORIFICE.replace("CALIBRATED", "last spring"))
    assert "cannot be counted from 'last spring'" in " ".join(capsys.readouterr().out.split())


def test_a_safety_group_that_differs_from_the_table_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(tmp_path, GOOD.replace('safety_group = "A2L"', 'safety_group = "A1"'))
    flat = " ".join(capsys.readouterr().out.split())
    assert "given as A1; R-32 is A2L in the shipped table" in flat
    run(tmp_path, GOOD)
    assert "shipped table" not in capsys.readouterr().out


def test_a_file_that_cannot_be_used_tells_every_error_and_gives_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = GOOD.replace('"210 m"', '"210"').replace("phases = 1", "phases = 2")
    assert run(tmp_path, bad) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "site.altitude" in err
    assert "plate.phases" in err
    assert run(tmp_path, bad, "--json") == 2
    assert len(json.loads(capsys.readouterr().out)["errors"]) == 2


@pytest.mark.parametrize("text", ["name = ", "\x00"])
def test_what_is_no_toml_gives_2(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(tmp_path, text) == 2
    assert "expected TOML" in capsys.readouterr().err


def test_a_place_that_is_not_told_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(tmp_path, FIXED_ORIFICE)
    assert "where the unit stands" not in " ".join(capsys.readouterr().out.split())
    run(tmp_path, FIXED_ORIFICE.replace('place = "ground"\n', ""))
    flat = " ".join(capsys.readouterr().out.split())
    assert "site.place does not say where the unit stands" in flat


def test_the_probes_of_a_scenario_are_counted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shipped = files("chargeassist") / "data" / "library.toml"
    job = tmp_path / "job.toml"
    job.write_text(shipped.read_text(encoding="utf-8"), encoding="utf-8")
    assert main(["job", "check", str(job)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Every stage can be worked on" in said
    assert "liquid_pressure in" in said
    assert "the liquid line pressure probe" not in said
    assert "named when it is opened" not in said
    job.write_text(
        job.read_text(encoding="utf-8").replace("millrace-lane-library?", "no-such-unit?"),
        encoding="utf-8",
    )
    assert main(["job", "check", str(job)]) == 1
    assert "no-such-unit" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('select = "2"', 'select = "second"', "needs select = a column counted from 1"),
        ("ttyUSB0", "ttyUSB0?baud=fast", "option 'baud': expected a whole number"),
        ("serial:", "seriel:", "no adapter for 'seriel:'"),
        ("serial:/dev/ttyUSB0", "mqtt://van@box?password_env=CHARGEASSIST_NO", "is not set"),
    ],
)
def test_what_a_session_would_refuse_of_a_source_is_told_before(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, says: str
) -> None:
    assert FIXED_ORIFICE.count(old) == 1
    code = run(tmp_path, FIXED_ORIFICE.replace(old, new))
    shown = " ".join(capsys.readouterr().out.split())
    assert says in shown
    assert "Every stage can be worked on" not in shown
    assert code == 1


def test_a_job_by_hand_says_that_everything_is_typed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (files("chargeassist") / "data" / "library.toml").read_text(encoding="utf-8")
    job = tmp_path / "job.toml"
    job.write_text("by_hand = true\n" + text[: text.index("[[source]]")], encoding="utf-8")
    main(["job", "check", str(job)])
    said = " ".join(capsys.readouterr().out.split())
    assert "none: every reading is typed" in said
    assert "tightness: can be worked on, judged better with" in said
    assert "dryness: can be worked on, judged better with" in said


@pytest.mark.parametrize("columns", [45, 60])
def test_no_word_is_cut_on_a_narrow_terminal(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    columns: int,
) -> None:
    run(tmp_path, FIXED_ORIFICE)
    wide = capsys.readouterr().out
    monkeypatch.setenv("COLUMNS", str(columns))
    run(tmp_path, FIXED_ORIFICE)
    narrow = capsys.readouterr().out
    # A name longer than the line stands alone on it.
    assert [line for line in narrow.splitlines() if len(line) >= columns] == []
    assert narrow.split() == wide.split()


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        ('step_cap = "110 g"', 'step_cap = "11 kg"', "charge.step_cap, 11.00 kg, is more than"),
        ('weighed_in = "1.90 kg"', 'weighed_in = "190 kg"', "charge.weighed_in, 190"),
        (
            'step_cap = "110 g"',
            'step_cap = "110 g"\nlimit = "0.29 kg"\nlimit_source = "plate"',
            "charge.limit, 290 g, is less than charge.plate",
        ),
    ],
)
def test_amounts_that_cannot_all_be_so_are_to_be_looked_at_again(
    was: str, now: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    for text, expected in ((GOOD, False), (GOOD.replace(was, now), True)):
        path.write_text(text, encoding="utf-8")
        assert main(["job", "check", str(path)]) in (0, 1)
        assert (told in " ".join(capsys.readouterr().out.split())) is expected
