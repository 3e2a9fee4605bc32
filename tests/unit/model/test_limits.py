"""The limits there are: each is read by something, worded, and a default says that it is one."""

import re
from pathlib import Path

import pytest

from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.job import Job
from chargeassist.model.limit_bounds import BOUNDS_SI
from chargeassist.model.limits import Kind, LimitKey
from chargeassist.model.usual_limit import OF_THE_PROGRAM
from chargeassist.model.usual_limits import USUAL
from chargeassist.session.job.profiles import limit_value_si, parse_profiles
from chargeassist.session.record.job_bounds import check_job
from tests.unit.limited import limited
from tests.unit.stream.rig import make_job

PACKAGE = Path(__file__).resolve().parents[3] / "chargeassist"
LISTS = {
    "model/limit_key.py",
    "model/limit_bounds.py",
    "model/usual_limits.py",
    "model/usual_in_order.py",
    "session/job/more_questions.py",
}
"""Where a limit is only named."""

TABLES = re.compile(r"^(CONDITIONS|TIGHTNESS_LIMITS|DRYNESS_LIMITS|_CONDITION)(: [^=]+)? = ", re.M)


def uses() -> str:
    """Return the program's text, without the lists in which every limit stands."""
    text = []
    for path in PACKAGE.rglob("*.py"):
        if path.relative_to(PACKAGE).as_posix() in LISTS:
            continue
        source = path.read_text(encoding="utf-8")
        for table in TABLES.finditer(source):
            end = re.compile(r"^[)}]", re.M).search(source, table.end())
            assert end is not None
            source = source.replace(source[table.start() : end.end()], " " * 8)
        text.append(source)
    return "\n".join(text)


def test_every_limit_is_read_by_something() -> None:
    text = uses()
    assert [key for key in LimitKey if f"LimitKey.{key.name}" not in text] == []


@pytest.mark.parametrize("key", LimitKey)
def test_every_limit_is_worded_and_a_number_of_something(key: LimitKey) -> None:
    assert isinstance(key.kind, Kind)
    assert "_" not in key.words
    assert key.words == key.words.strip()


@pytest.mark.parametrize("key", USUAL)
def test_a_default_says_that_it_is_one_and_is_what_it_is_written_as(key: LimitKey) -> None:
    limit = USUAL[key]
    assert limit.source.startswith(f"{OF_THE_PROGRAM}: ")
    assert limit.note
    assert limit_value_si(key, limit.as_written) == pytest.approx(limit.value_si, rel=2e-3)
    low, high = BOUNDS_SI.get(key, (0.0, float("inf")))
    assert low <= limit.value_si <= high


@pytest.mark.parametrize(
    ("key", "written", "said"),
    [
        ("hand_readings", "2 readings", "expected 3 to 20"),
        ("hand_readings", "four", "expected a whole number"),
        ("hand_span", "5 s", "expected 60 to 1800 s"),
        ("overshoot_chance", "60 %", "expected 0.001 to 0.5"),
        ("idle_current", "500 mW", "expected a current"),
        ("cylinder_rest", "4 psi", "expected a duration"),
    ],
)
def test_a_profile_is_refused_what_no_reckoning_can_use(key: str, written: str, said: str) -> None:
    text = (
        f'[[profile]]\nname = "house"\ntitle = "x"\n[[profile.limit]]\nkey = "{key}"\n'
        f'value = "{written}"\nsource = "house rule"\nauthority = "rule of thumb"\n'
    )
    with pytest.raises(ConfigError, match=said):
        parse_profiles(text)


def test_a_record_is_refused_a_number_no_profile_gives() -> None:
    """Two readings would leave a fit without scatter: a division by nothing."""
    job: Job = limited(make_job(), {LimitKey.HAND_READINGS: 2.0})
    with pytest.raises(RecordError, match="limit hand_readings: expected 3 to 20, got 2"):
        check_job(job, "x.session")
    more = limited(job, {LimitKey.HAND_READINGS: 6.0})
    assert check_job(more, "x.session") is more
