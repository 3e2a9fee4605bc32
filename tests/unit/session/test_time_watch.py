"""Clocks that are set, machines that sleep, programs that starve: told, and nothing else is."""

import asyncio
import itertools
import time

import pytest

from chargeassist.model.events import ClockSet, InputEvent, ProgramHeld
from chargeassist.session import time_watch
from chargeassist.session.intake import Heartbeat, Intake
from chargeassist.session.time_watch import Clocks, TimeWatch, read_clocks, watch_time
from chargeassist.testing import JumpClock

START = Clocks(steady=1000.0, awake=900.0, wall=1.7e9)


def after(steady: float = 1.0, *, slept: float = 0.0, step: float = 0.0) -> Clocks:
    return Clocks(START.steady + steady, START.awake + steady - slept, START.wall + steady + step)


@pytest.mark.parametrize(
    ("now", "found"),
    [
        (after(), ()),
        (after(step=0.0005), ()),  # being corrected by a time server, slowly
        (after(step=3600.0), (ClockSet(t=7.0, step_s=3600.0),)),
        (after(step=-3600.0), (ClockSet(t=7.0, step_s=-3600.0),)),
        (after(3.5), ()),  # a busy machine
        (after(61.0), (ProgramHeld(t=7.0, held_s=60.0, asleep=False),)),
        (after(601.0, slept=600.0), (ProgramHeld(t=7.0, held_s=600.0, asleep=True),)),
        (
            after(601.0, slept=600.0, step=-2.5),
            (ProgramHeld(t=7.0, held_s=600.0, asleep=True), ClockSet(t=7.0, step_s=-2.5)),
        ),
    ],
)
def test_what_happened_between_two_looks(
    now: Clocks, found: tuple[ClockSet | ProgramHeld, ...]
) -> None:
    watch = TimeWatch(START)
    assert watch.look(now, 7.0) == found
    following = Clocks(now.steady + 1.0, now.awake + 1.0, now.wall + 1.0)
    assert watch.look(following, 8.0) == (), "told once"


def test_the_clocks_of_this_machine_run_alike() -> None:
    first = read_clocks()
    time.sleep(0.05)
    second = read_clocks()
    passed = second.steady - first.steady
    assert passed >= 0.05
    assert second.awake - first.awake == pytest.approx(passed, abs=0.02)


async def test_the_session_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    last = after(2.0, step=3600.0)
    looks = itertools.chain([START, after()], itertools.repeat(last))
    monkeypatch.setattr(time_watch, "read_clocks", lambda: next(looks))
    monkeypatch.setattr(time_watch, "LOOK_EVERY_S", 0.001)
    intake = Intake()
    watching = asyncio.create_task(watch_time(intake, JumpClock(5.0)))
    told: list[InputEvent | Heartbeat] = await asyncio.wait_for(intake.take(), 5.0)
    watching.cancel()
    await asyncio.wait({watching})
    assert told == [ClockSet(t=5.0, step_s=3600.0)]
