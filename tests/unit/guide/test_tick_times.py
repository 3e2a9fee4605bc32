"""When the assistant ticks, whatever is asked when."""

import pytest

from chargeassist.guide.tick_times import LONGEST_SILENCE_S, LONGEST_WAIT_S, TickTimes


def ticks(times: TickTimes, t: float) -> list[float]:
    return [*times.due(t), *times.due_seldom(t)]


def test_each_whole_period_ticks_once_however_often_it_is_asked_for() -> None:
    times = TickTimes(0.5)
    assert ticks(times, 0.4) == []
    assert ticks(times, 1.2) == [0.5, 1.0]
    assert ticks(times, 1.2) == []
    assert times.next_t == 1.5
    assert ticks(times, 1.5) == [1.5]


def test_in_a_long_silence_a_tick_comes_once_a_minute_and_after_days_none() -> None:
    times = TickTimes(0.5)
    hour = ticks(times, LONGEST_SILENCE_S)
    assert len(hour) == 7200
    assert ticks(times, LONGEST_SILENCE_S + 130.0) == [3660.0, 3720.0]
    rest = ticks(times, 10.0 * LONGEST_WAIT_S)
    assert rest[0] == 3780.0
    assert rest[-1] == LONGEST_WAIT_S


def test_the_same_ticks_with_and_without_heartbeats() -> None:
    often, once = TickTimes(0.5), TickTimes(0.5)
    asked = [tick for t in range(10, 8000, 10) for tick in ticks(often, float(t))]
    assert asked == ticks(once, 7990.0)


def test_a_leap_passes_over_ticks_and_goes_back_over_none() -> None:
    times = TickTimes(0.5)
    times.leap(100.2)
    assert times.next_t == 100.5
    times.leap(3.0)
    assert times.next_t == 100.5


@pytest.mark.parametrize(("t", "taken"), [(3.0, 5.0), (5.0, 5.0), (7.0, 7.0), (1e12, 1e9)])
def test_an_event_is_taken_no_earlier_than_the_last_and_no_later_than_sessions_last(
    t: float, taken: float
) -> None:
    times = TickTimes(0.5)
    times.heard_t = 5.0
    assert times.ordered(t) == taken
