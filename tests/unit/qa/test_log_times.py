"""When a log was made: zones, the hour that stands twice, times of the day alone."""

from pathlib import Path

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.events import (
    BadInput,
)
from tests.unit.qa.logs import PROBES, imported, readings


def test_a_time_without_an_offset_is_asked_for_and_never_guessed(tmp_path: Path) -> None:
    log = "Date,Time,P liquid (psi),T liquid (°C)\n04.05.2026,10:10:00,250,31.5\n"
    rest = PROBES.replace(
        'column = "Time"', 'columns = ["Date", "Time"]\nform = "%d.%m.%Y %H:%M:%S"'
    )
    with pytest.raises(ConfigError, match="has no offset from UTC"):
        imported(tmp_path, log, rest=rest)
    for zone in ("+02:00", "Europe/Paris"):
        events = imported(tmp_path, log, f'zone = "{zone}"', rest)
        assert events[0].started_utc == "2026-05-04T08:10:00.000+00:00"  # type: ignore[union-attr]
    with pytest.raises(ConfigError, match="zone: expected"):
        imported(tmp_path, log, 'zone = "Mars/Base"', rest)


def test_the_hour_that_stands_twice_is_read_twice(tmp_path: Path) -> None:
    # On 2026-10-25 at 03:00 clocks in Paris are put back to 02:00 (IANA time zone database).
    times = ["01:30", "02:00", "02:30", "02:30", "02:59", "02:00", "02:30", "02:59", "03:00"]
    rows = "".join(f"2026-10-25 {time}:00,250,31.5\n" for time in times)
    log = f"Time,P liquid (psi),T liquid (°C)\n{rows}"
    events = imported(tmp_path, log, 'zone = "Europe/Paris"')
    minutes = [t / 60.0 for t, channel, _ in readings(events) if channel == "liquid_pressure"]
    assert minutes == [0.0, 30.0, 60.0, 60.0, 89.0, 90.0, 120.0, 149.0, 150.0]
    assert not [e for e in events if isinstance(e, BadInput)]


def of_day(*times: str) -> str:
    return "Time,P liquid (psi),T liquid (°C)\n" + "".join(f"{t},250,31.5\n" for t in times)


@pytest.mark.parametrize("times", [("08:15:03", "08:15:04"), ("8:15:03.5",)])
def test_times_of_the_day_are_not_taken_for_elapsed_time(
    tmp_path: Path, times: tuple[str, ...]
) -> None:
    begun = 'started = "2026-05-04T08:10:00Z"'
    with pytest.raises(ConfigError, match="if these are times of the day"):
        imported(tmp_path, of_day(*times), begun)
    # A log cut out of a longer one may begin late; then it is said.
    rest = PROBES.replace('column = "Time"', 'column = "Time"\nform = "elapsed"')
    assert readings(imported(tmp_path, of_day(*times), begun, rest))
    # One that counts from its first interval begins with that.
    assert readings(imported(tmp_path, of_day("0:00:30", "0:01:00"), begun))


@pytest.mark.parametrize(
    ("form", "times"),
    [
        ("", ("23:59:58.5", "23:59:59", "0:00:01", "23:59:59", "0:00:02.5", "12:00:00")),
        (
            '\nform = "%I:%M:%S.%f %p"',
            (
                *("11:59:58.5 PM", "11:59:59.0 PM", "12:00:01.0 AM", "11:59:59.0 PM"),
                *("12:00:02.5 AM", "12:00:00.0 PM"),
            ),
        ),
    ],
)
def test_times_of_the_day_go_on_after_midnight(
    tmp_path: Path, form: str, times: tuple[str, ...]
) -> None:
    rest = PROBES.replace('column = "Time"', f'column = "Time"\ndate = "2026-05-04"{form}')
    log = of_day(*times)
    with pytest.raises(ConfigError, match="zone: expected where the log was made"):
        imported(tmp_path, log, rest=rest)
    events = imported(tmp_path, log, 'zone = "+02:00"', rest)
    assert events[0].started_utc == "2026-05-04T21:59:58.500+00:00"  # type: ignore[union-attr]
    seconds = [t for t, channel, _ in readings(events) if channel == "liquid_pressure"]
    # The one that is out of order is told, and takes no day.
    assert seconds == [0.0, 0.5, 2.5, 2.5, 4.0, 43_201.5]
    assert len([e for e in events if isinstance(e, BadInput)]) == 1
    with pytest.raises(ConfigError, match="expected the day of the first row"):
        imported(tmp_path, log, rest=rest.replace("2026-05-04", "4 May"))


def test_a_form_says_of_which_day_a_time_is_or_the_map_does(tmp_path: Path) -> None:
    day = 'column = "Time"\ndate = "2026-05-04"\n'
    for had, expected in (
        ('column = "Time"\nform = "%H:%M:%S"', "the day of the first row, which the form does not"),
        (f'{day}form = "%d.%m.%Y %H:%M:%S"', "it is for times of the day alone"),
        (f'{day}form = "elapsed"', "it is for times of the day alone"),
    ):
        rest = PROBES.replace('column = "Time"', had)
        with pytest.raises(ConfigError, match=expected):
            imported(tmp_path, of_day("08:15:03"), 'zone = "Z"', rest)


def test_one_wrong_time_does_not_take_the_others_along(tmp_path: Path) -> None:
    """As a logger writes whose battery is low: one row in another century."""
    rows = [f"2026-05-04T08:00:{second:02d}Z,248.{second},31.2" for second in range(10)]
    rows[4:5] = ["2099-05-04T08:00:04Z,248.4,31.2", "no time,1,1"]
    events = imported(tmp_path, "Time,P liquid (psig),T liquid (°C)\n" + "\n".join(rows))
    times = [t for t, channel, _ in readings(events) if channel == "liquid_pressure"]
    assert times == [0.0, 1.0, 2.0, 3.0, 5.0, 6.0, 7.0, 8.0, 9.0]
    reasons = [event.reason for event in events if isinstance(event, BadInput)]
    assert len(reasons) == 2
    assert reasons[0].startswith("line 6: time leaps by 2.3")
    assert reasons[0].endswith(" s and comes back")
    # A log that was stopped for a month and goes on is believed.
    later = [*rows[:4], "2026-06-04T08:00:00Z,248.5,31.2", "2026-06-04T08:00:01Z,248.6,31.2"]
    events = imported(tmp_path, "Time,P liquid (psig),T liquid (°C)\n" + "\n".join(later))
    assert [event for event in events if isinstance(event, BadInput)] == []
    assert readings(events)[-1][0] == 31 * 86_400.0 + 1.0
