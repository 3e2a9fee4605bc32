"""Session time: real, and brought by a source."""

import asyncio
import sys
import time

import pytest

from chargeassist.session import clock as clock_module
from chargeassist.session.clock import LiveClock, SourceClock, other_speed


async def at_once() -> None:
    """Everything delivered is processed."""


def test_live_time_starts_where_told_and_never_goes_back(monkeypatch: pytest.MonkeyPatch) -> None:
    wall = 1000.0
    monkeypatch.setattr(clock_module, "steady_s", lambda: wall)
    clock = LiveClock(start_t=50.0)
    assert clock.now() == 50.0
    wall = 1002.5
    assert clock.now() == 52.5


@pytest.mark.skipif(sys.platform != "linux", reason="the clock of other systems stops in sleep")
def test_a_sleeping_machine_does_not_stop_session_time(monkeypatch: pytest.MonkeyPatch) -> None:
    slept = 0.0
    real = time.clock_gettime

    def with_sleep(clock: int) -> float:
        return real(clock) + (slept if clock == time.CLOCK_BOOTTIME else 0.0)

    monkeypatch.setattr(time, "clock_gettime", with_sleep)
    clock = LiveClock()
    slept = 600.0
    assert 600.0 <= clock.now() < 660.0


async def test_live_sleep_ends_at_once_for_a_time_gone_by() -> None:
    clock = LiveClock(start_t=10.0)
    await asyncio.wait_for(clock.sleep_until(5.0), 1.0)
    await asyncio.wait_for(clock.sleep_until(10.01), 1.0)
    assert clock.now() >= 10.01


async def test_source_time_stands_still_between_sleeps_and_never_goes_back() -> None:
    reached: list[float] = []
    clock = SourceClock(None, at_once, reached.append)
    for t in (0.0, 1.0, 0.5, 3.0):
        await clock.sleep_until(t)
        await asyncio.sleep(0.001)
    assert reached == [0.0, 1.0, 1.0, 3.0]
    assert clock.now() == 3.0


async def test_source_time_waits_until_all_is_processed() -> None:
    processed = asyncio.Event()

    async def wait() -> None:
        await processed.wait()

    clock = SourceClock(None, wait, lambda t: None)
    sleeping = asyncio.create_task(clock.sleep_until(7.0))
    for _ in range(3):
        await asyncio.sleep(0)
    assert clock.now() == 0.0
    processed.set()
    await sleeping
    assert clock.now() == 7.0


async def test_pacing_does_not_drift_with_the_time_that_processing_takes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    wall = 100.0
    loop = asyncio.get_running_loop()
    naps: list[float] = []

    async def sleep(seconds: float) -> None:
        nonlocal wall
        naps.append(seconds)
        wall += seconds + 1e-9  # a clock has a finest step

    async def slowly() -> None:
        nonlocal wall
        wall += 0.03

    monkeypatch.setattr(loop, "time", lambda: wall)
    monkeypatch.setattr(asyncio, "sleep", sleep)
    clock = SourceClock(20.0, slowly, lambda t: None)
    await clock.sleep_until(0.0)
    begun = wall
    for t in range(1, 41):
        await clock.sleep_until(float(t))
    assert wall - begun == pytest.approx(2.0, abs=1e-6)
    assert max(naps) <= 0.2, "a pause must take hold at once"


async def test_pause_holds_time_and_going_on_catches_up_with_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock = SourceClock(100.0, at_once, lambda t: None)
    await clock.sleep_until(0.0)
    clock.toggle_pause()
    assert clock.paused
    sleeping = asyncio.create_task(clock.sleep_until(1.0))
    await asyncio.sleep(0.02)
    assert not sleeping.done()
    assert clock.now() == 0.0
    clock.toggle_pause()
    assert not clock.paused
    await asyncio.wait_for(sleeping, 1.0)
    assert clock.now() == 1.0
    # After a pause the pace begins anew: the paused time is not made up for.
    wall = asyncio.get_running_loop().time()
    await clock.sleep_until(11.0)
    assert asyncio.get_running_loop().time() - wall >= 0.09


async def test_pause_holds_even_at_full_speed() -> None:
    clock = SourceClock(None, at_once, lambda t: None)
    clock.toggle_pause()
    sleeping = asyncio.create_task(clock.sleep_until(1.0))
    await asyncio.sleep(0.01)
    assert not sleeping.done()
    clock.toggle_pause()
    await sleeping


async def test_after_stop_time_goes_no_further_at_any_speed() -> None:
    for speed in (None, 1e6):
        clock = SourceClock(speed, at_once, lambda t: None)
        await clock.sleep_until(5.0)
        clock.stop()
        with pytest.raises(TimeoutError):
            await asyncio.wait_for(clock.sleep_until(6.0), 0.02)
        assert clock.now() == 5.0


async def test_another_pace_takes_hold_at_once_and_nothing_is_made_up_for() -> None:
    clock = SourceClock(1.0, at_once, lambda t: None)
    await clock.sleep_until(0.0)
    sleeping = asyncio.create_task(clock.sleep_until(100.0))
    await asyncio.sleep(0.01)
    assert not sleeping.done()
    clock.set_speed(10_000.0)
    await asyncio.wait_for(sleeping, 1.0)
    clock.set_speed(1.0)
    with pytest.raises(TimeoutError):
        await asyncio.wait_for(clock.sleep_until(101.0), 0.05)


async def test_rushing_runs_through_a_pause_and_stops_where_told() -> None:
    reached: list[float] = []
    clock = SourceClock(1.0, at_once, reached.append)
    await clock.sleep_until(0.0)
    clock.toggle_pause()

    async def go() -> None:
        for t in range(1, 100):
            await clock.sleep_until(float(t))

    going = asyncio.create_task(go())
    await asyncio.sleep(0.01)
    assert clock.now() == 0.0
    clock.rush_to(50.0)
    await asyncio.sleep(0.05)
    assert reached == [float(t) for t in range(51)]
    assert clock.paused
    going.cancel()


def test_paces_go_from_1_to_60_and_stay_there() -> None:
    assert [other_speed(v, 1) for v in (1.0, 3.0, 20.0, 60.0, None)] == [2.0, 5.0, 60.0, 60.0, 60.0]
    assert [other_speed(v, -1) for v in (1.0, 3.0, 60.0, None)] == [1.0, 2.0, 20.0, 60.0]
    assert other_speed(0.5, -1) == 1.0
