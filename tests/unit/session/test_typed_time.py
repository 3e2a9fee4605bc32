"""Times that are typed behind a reading."""

import datetime as dt
import time
from zoneinfo import ZoneInfo

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.session.typed_time import Now, split_read_time

WALL = dt.datetime(2026, 5, 4, 14, 7, 30, tzinfo=dt.UTC)
NOW = Now(1000.0, WALL, dt.UTC)


@pytest.mark.parametrize(
    ("text", "number", "read_t"),
    [
        ("248 psi", "248 psi", None),
        ("248", "248", None),
        ("248 psi, 2 min ago", "248 psi", 880.0),
        ("248 psi 90 s ago", "248 psi", 910.0),
        ("248 2 min ago", "248", 880.0),
        ("248 psi at 14:05", "248 psi", 850.0),
        ("248 psi 14:05:30", "248 psi", 880.0),
        ("248 psi, at 14:07:30", "248 psi", 1000.0),
        ("248 psi at 2:05 pm", "248 psi", 850.0),
        ("248 psi 2:05:30PM", "248 psi", 880.0),
        ("248 psi at 12:07 p.m.", "248 psi", 1000.0 - 7230.0),
        ("248 psi at 11:07 am", "248 psi", 1000.0 - 10830.0),
        ("248 psi at 12:07 am", "248 psi", 1000.0 - 50430.0),
    ],
)
def test_a_time_behind_a_reading(text: str, number: str, read_t: float | None) -> None:
    assert split_read_time(text, NOW) == (number, read_t)


def test_before_midnight() -> None:
    just_after = Now(1000.0, dt.datetime(2026, 5, 5, 0, 3, tzinfo=dt.UTC), dt.UTC)
    assert split_read_time("60 Pa at 23:58", just_after) == ("60 Pa", 700.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("248 psi at 14:30", "14:30 is yet to come: it is 14:07:30"),
        ("248 psi at 25:00", "expected a time of day such as 14:05, got 25:00"),
        ("248 psi at 14:05 pm", "expected a time of day such as 14:05, got 14:05 pm"),
        ("248 psi at 0:05 am", "expected a time of day such as 14:05, got 0:05 am"),
        ("248 psi at 2:30 pm", "2:30 pm is yet to come: it is 14:07:30"),
        ("248 psi 3 furlongs ago", "furlongs"),
        ("248 psi, 1,5 min ago", "write a point, not a comma: 1.5 min ago"),
    ],
)
def test_a_time_that_cannot_be(text: str, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        split_read_time(text, NOW)


def test_where_time_runs_at_another_pace_the_clock_says_nothing() -> None:
    with pytest.raises(ConfigError, match="say how long ago it was, such as 2 min ago"):
        split_read_time("248 psi at 14:05", Now(1000.0))
    assert split_read_time("248 psi, 1 min ago", Now(1000.0)) == ("248 psi", 940.0)


# Central Europe, by the IANA time zone database: at 01:00 UTC on 2026-03-29 clocks go from 02:00
# to 03:00, at 01:00 UTC on 2026-10-25 from 03:00 back to 02:00.
BERLIN = ZoneInfo("Europe/Berlin")


@pytest.mark.parametrize(
    ("utc", "typed", "ago_s"),
    [
        ("2026-03-29T01:10", "1:50", 20 * 60.0),  # 03:10 on the wall
        ("2026-10-25T01:10", "1:50", 80 * 60.0),  # 02:10, the second one
        ("2026-10-25T01:10", "2:05", 5 * 60.0),
        ("2026-10-25T01:10", "2:50", 20 * 60.0),  # the first 02:50; the second is yet to come
        ("2026-10-25T00:10", "2:05", 5 * 60.0),
        ("2026-10-25T23:10", "23:50", 20 * 60.0),  # 00:10, of the evening before
    ],
)
def test_across_a_change_of_the_clocks(
    utc: str, typed: str, ago_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    wall = dt.datetime.fromisoformat(f"{utc}+00:00")
    assert split_read_time(f"60 Pa at {typed}", Now(9e3, wall, BERLIN)) == ("60 Pa", 9e3 - ago_s)
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    try:
        here = Now(9e3, wall)
        assert split_read_time(f"60 Pa at {typed}", here) == ("60 Pa", 9e3 - ago_s)
    finally:
        monkeypatch.undo()
        time.tzset()


def test_a_time_that_the_clocks_were_put_forward_over() -> None:
    wall = dt.datetime(2026, 3, 29, 1, 40, tzinfo=dt.UTC)
    with pytest.raises(ConfigError, match="there was no 2:30: the clocks were put forward"):
        split_read_time("60 Pa at 2:30", Now(9e3, wall, BERLIN))
