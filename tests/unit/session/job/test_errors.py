"""All errors of a job file at once, each as its own reader says it."""

from importlib.resources import files

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.limits import Method
from chargeassist.session.job.errors import REQUIRED, errors_of, stand_in
from chargeassist.session.job.jobfile import parse_job, read_job
from chargeassist.session.job.toml_table import TomlTable, toml_of

GOOD = (files("chargeassist") / "data" / "library.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("method", [Method.SUBCOOLING, Method.SUPERHEAT])
def test_the_stand_in_can_be_read(method: Method) -> None:
    assert read_job(TomlTable("x", "", stand_in(method))).target.method is method


def test_a_good_file_has_none() -> None:
    assert errors_of(toml_of(GOOD, "job.toml")) == ()


def test_every_table_tells_its_own_error() -> None:
    text = (
        GOOD.replace('altitude = "210 m"', 'altitude = "210"')
        .replace('subcooling = "5.0 K"', "")
        .replace('current_high = "16 A"', 'current_high = "16 m"')
        .replace("phases = 1", "phases = 2")
    )
    found = errors_of(toml_of(text, "job.toml"))
    for path in ("site.altitude", "target.subcooling", "limits.current_high", "plate.phases"):
        assert any(f"job.toml: {path}: " in error for error in found), path
    assert len(found) == 4


def test_the_words_are_those_of_the_reader() -> None:
    text = GOOD.replace('plate = "2.30 kg"', 'plate = "2.30"')
    with pytest.raises(ConfigError) as caught:
        parse_job(text, "job.toml")
    assert errors_of(toml_of(text, "job.toml")) == (str(caught.value),)


def test_an_empty_file_lacks_all_that_is_required_and_nothing_of_the_stand_in_is_kept() -> None:
    found = errors_of(toml_of("", "job.toml"))
    assert len(found) == len(REQUIRED)
    for key in REQUIRED:
        assert any(error.startswith(f"job.toml: {key}: ") for error in found), key


def test_what_depends_on_another_table_is_judged_by_what_that_table_says() -> None:
    text = GOOD.replace('low_side = "4.2 MPa(g)"', 'low_side = "3.0 MPa(g)"').replace(
        'high_side = "4.2 MPa(g)"', 'high_side = "3.1 MPa(g)"'
    )
    (error,) = errors_of(toml_of(text, "job.toml"))
    assert "tightness.steps" in error
    assert "weaker side, 3.00 MPa(g)" in error


@pytest.mark.parametrize("text", ["target = 3", "source = []", "profile = 7", "[target]\nmethod=1"])
def test_tables_that_are_none_are_told(text: str) -> None:
    key = text.strip("[").partition(" ")[0].partition("]")[0]
    assert any(f"job.toml: {key}" in error for error in errors_of(toml_of(text, "job.toml")))


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("'nope'", "'nope' (text)"),
        ("7", "7 (number)"),
        ("7.5", "7.5 (number)"),
        ("[1, true, 'a']", "[1, true, 'a'] (list)"),
        ("{a = 1, b = false}", "{a = 1, b = false} (table)"),
        ("2026-05-04", "2026-05-04 (date)"),
        ("2026-05-04T08:00:00", "2026-05-04T08:00:00 (date with time)"),
        ("08:00:00", "08:00:00 (time of day)"),
        ("nan", "nan (number)"),
    ],
)
def test_what_came_is_told_in_the_words_of_the_file_not_of_the_program(
    written: str, told: str
) -> None:
    with pytest.raises(ConfigError) as refused:
        toml_of(f"key = {written}\n", "job.toml").flag("key")
    assert str(refused.value) == f"job.toml: key: expected true or false, got {told}"


def test_a_truth_in_the_place_of_a_text_needs_no_kind() -> None:
    with pytest.raises(ConfigError, match=r"expected a text in quotes, got true$"):
        toml_of("key = true\n", "job.toml").text("key")
