"""Watch over time itself: a wall clock that is set, a machine that sleeps, a program that starves.

Session time is by a clock nobody sets, so none of it moves an event. But a person who compares the
record with a watch, and a session that is resumed, need to know.
"""

import asyncio
import time
from dataclasses import dataclass

from chargeassist.model.events import ClockSet, ProgramHeld
from chargeassist.session.clock import steady_s
from chargeassist.session.intake import Intake
from chargeassist.session.source import Clock

LOOK_EVERY_S = 1.0
SET_S = 1.0
"""A wall clock that moves by more than this [s] against ours between two looks was set; one that is
only being corrected moves by half a millisecond in a second."""
HELD_S = 3.0
"""A look that is late by more than this [s] is no longer a busy machine."""


@dataclass(frozen=True, slots=True)
class Clocks:
    """The three clocks of the machine at one moment [s].

    Attributes
    ----------
    steady : float
        Never set; runs on while the machine sleeps, where the system can tell.
    awake : float
        Never set; stands still while the machine sleeps.
    wall : float
        The one people set.
    """

    steady: float
    awake: float
    wall: float


def read_clocks() -> Clocks:
    """Return what the clocks say now: of three looks the one least interrupted."""
    looks = []
    for _ in range(3):
        before = steady_s()
        clocks = Clocks(before, time.monotonic(), time.time())
        looks.append((steady_s() - before, clocks))
    return min(looks, key=lambda look: look[0])[1]


class TimeWatch:
    """Compares one look at the clocks with the one before.

    Parameters
    ----------
    first : Clocks
    """

    def __init__(self, first: Clocks) -> None:
        self._last = first

    def look(self, now: Clocks, t: float) -> tuple[ClockSet | ProgramHeld, ...]:
        """Return what has happened since the last look, as events at `t` [s].

        Parameters
        ----------
        now : Clocks
            Due `LOOK_EVERY_S` after the last.
        t : float
        """
        last, self._last = self._last, now
        steady = now.steady - last.steady
        step_s = now.wall - last.wall - steady
        slept_s = steady - (now.awake - last.awake)
        held_s = steady - LOOK_EVERY_S
        found: list[ClockSet | ProgramHeld] = []
        if held_s > HELD_S:
            asleep = slept_s > 0.5 * held_s
            found.append(ProgramHeld(t=t, held_s=round(held_s, 3), asleep=asleep))
        if abs(step_s) > SET_S:
            found.append(ClockSet(t=t, step_s=round(step_s, 3)))
        return tuple(found)


async def watch_time(intake: Intake, clock: Clock) -> None:
    """Look at the clocks again and again until cancelled; tell `intake` what is unusual."""
    watch = TimeWatch(read_clocks())
    while True:
        await asyncio.sleep(LOOK_EVERY_S)
        for event in watch.look(read_clocks(), clock.now()):
            intake.put(event)
