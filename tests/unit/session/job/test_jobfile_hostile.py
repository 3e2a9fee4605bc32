"""What is no job file, however it was made, ends in an error that names the file."""

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import Job
from chargeassist.session.job.jobfile import load_job, parse_job
from chargeassist.session.job.toml_table import LARGEST_FILE_BYTES
from tests.unit.session.job.good_job import GOOD, changed

LONG_NUMBER = "0x" + "f" * 7000
"""Inside the longest line, and beyond the digits Python writes in decimals."""


HOSTILE = {
    "a number nobody can print, for phases": f"{GOOD}\n[plate]\nphases = {LONG_NUMBER}\n",
    "the same for steps": f"{GOOD}\n[tightness]\nsteps = [{LONG_NUMBER}]\n",
    "deep array": "a = " + "[" * 5000 + "]" * 5000,
    "deep table": "a = " + "{b = " * 3000 + "1" + "}" * 3000,
    "deep key": ".".join("a" * 5000) + " = 1",
    "endless decimal": "name = " + "9" * 5000,
    "endless hexadecimal": "name = 0x" + "f" * 9000,
    "endless hexadecimal for a number": GOOD + "scale = 0x" + "f" * 9000,
    "endless number in a list": "name = [0x" + "f" * 9000 + "]",
    "date": "name = 9999-99-99",
    "surrogate": 'name = "\\ud800"',
    "control": 'name = "\x1b[2J"',
    "unknown escape": 'name = "\\x1b"',
    "key of escapes": '"\\u001b[2J\\u202e" = 1\n' + GOOD,
    "empty": "",
    "huge": "a" * 200_000,
    "table twice": GOOD + "[site]\n",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_text_is_refused_plainly(name: str) -> None:
    with pytest.raises(ConfigError) as got:
        parse_job(HOSTILE[name], "bad.toml")
    text = str(got.value)
    assert text.startswith("bad.toml")
    assert len(text) < 700
    assert not re.search(r"[\x00-\x1f\x7f\u202e]", text)


def test_text_of_the_job_is_made_plain() -> None:
    text = changed('make = "invented"', 'make = "a\\u001b[31mb\\u202ec"')
    assert parse_job(text, "x").equipment.make == "a·[31mb·c"


def write(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


def test_files_that_are_no_job_are_refused(tmp_path: Path) -> None:
    cases = {
        "missing.toml": (None, "cannot be read"),
        "binary.toml": (bytes(range(256)), "expected UTF-8"),
        "utf16.toml": (GOOD.encode("utf-16"), "expected UTF-8"),
        "large.toml": (b"#" * (LARGEST_FILE_BYTES + 1), "at most 256 KiB"),
        "nul.toml": (b"name = \0", "expected TOML"),
    }
    for name, (data, expected) in cases.items():
        path = tmp_path / name
        if data is not None:
            write(path, data)
        with pytest.raises(ConfigError, match=expected) as got:
            load_job(path)
        assert name in str(got.value)
    for place in (tmp_path, Path("/dev/zero")):
        if place.exists():
            with pytest.raises(ConfigError, match="a folder, a device or a pipe"):
                load_job(place)


def test_a_byte_order_mark_and_line_ends_of_another_system_do_no_harm(tmp_path: Path) -> None:
    data = b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode()
    assert load_job(write(tmp_path / "a.toml", data)) == parse_job(GOOD, "x")


LINES = [line for line in GOOD.splitlines() if line]
FRAGMENTS = st.one_of(
    st.sampled_from(LINES),
    st.sampled_from(
        ["[site]", "[[source]]", "[[source.probe]]", "[charge]", '"""', "[", "]]", "="]
    ),
    st.builds(
        "{} = {}".format,
        st.sampled_from(
            [line.partition(" =")[0] for line in LINES if "=" in line] + ["reference", "scale"]
        ),
        st.one_of(
            st.text(max_size=12).map(lambda text: f'"{text}"'),
            st.builds('"{} {}"'.format, st.floats(), st.sampled_from(["K", "psig", "kg", "Hz"])),
            st.integers().map(str),
            st.sampled_from(["true", "[]", "{}", "[[]]", "nan", "1e999", "07:32:00"]),
        ),
    ),
    st.text(max_size=30),
)


def judge(text: str) -> None:
    """Assert that `text` is a job or an error that names the file; nothing else may come."""
    refusal = ""
    try:
        assert isinstance(parse_job(text, "any.toml"), Job)
    except ConfigError as error:
        refusal = str(error)
    assert refusal == "" or refusal.startswith("any.toml")


@settings(max_examples=300)
@given(st.data())
def test_any_text_is_a_job_or_a_config_error(data: st.DataObject) -> None:
    lines = list(LINES)
    for _ in range(data.draw(st.integers(0, 4))):
        place = data.draw(st.integers(0, len(lines) - 1))
        fragment = data.draw(FRAGMENTS)
        if data.draw(st.booleans()):
            lines[place] = fragment
        else:
            lines.insert(place, fragment)
    judge("\n".join(lines))


@given(st.lists(FRAGMENTS, max_size=12).map("\n".join))
def test_any_fragments_are_a_job_or_a_config_error(text: str) -> None:
    judge(text)
