"""A session that only shows snapshots it was given: for pictures and tests of the screen."""

import asyncio
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Unpack

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import MarkKind, Outcome
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.mark_event import MarkDetails
from chargeassist.session.clock import other_speed
from chargeassist.stream.facts import Measured


def history(last: Snapshot) -> list[Snapshot]:
    """Return invented snapshots of the quarter of an hour before `last`, one each 5 s."""
    shots = []
    levels = [(-math.inf, 0.9)] + [
        (step.ended_t, step.after_k or 3.73) for step in last.facts.ledger
    ]
    for index in range(180, 0, -1):
        t = last.t - 5.0 * index
        value_k = levels[0][1]
        for (since, level), (_, before) in zip(levels[1:], levels, strict=False):
            if t >= since:
                value_k = level - (level - before) * math.exp(-(t - since) / 60.0)
        value_k += 0.05 * math.sin(t / 7.0) + 0.03 * math.sin(t / 2.3)
        reading = Measured(value_k=value_k, expanded_k=0.42)
        if last.facts.judged is SUBCOOLING:
            facts = replace(last.facts, t=t, subcooling=reading)
        else:
            falling = replace(reading, value_k=15.1 - value_k)
            facts = replace(last.facts, t=t, superheat=falling)
        shots.append(replace(last, t=t, facts=facts))
    return shots


class CannedSession:
    """A session that shows given snapshots and then waits to be stopped; records its marks."""

    def __init__(
        self,
        snapshots: Sequence[Snapshot],
        *,
        can_pause: bool = False,
        record_path: str | None = "demo/millrace-lane.session",
    ) -> None:
        self.snapshots = list(snapshots)
        last = self.snapshots[-1]
        self.job = last.job
        self.mode = last.mode
        self.replayed = last.replayed
        self.record_path = record_path
        self.can_pause = can_pause
        self.paused = False
        self.speed: float | None = 1.0
        self.marks: list[tuple[MarkKind, float | None, float | None, str]] = []
        self.outcome: Outcome | None = None
        self.feed: Callable[[Snapshot], None] = lambda _snapshot: None
        self._stopped = asyncio.Event()

    async def run(self, on_snapshot: Callable[[Snapshot], None]) -> None:
        """Hand over the snapshots at once, then wait for `stop`."""
        self.feed = on_snapshot
        for snapshot in self.snapshots:
            on_snapshot(snapshot)
        await self._stopped.wait()

    def mark(self, kind: MarkKind, **told: Unpack[MarkDetails]) -> None:
        """Keep the mark."""
        self.marks.append(
            (kind, told.get("mass_kg"), told.get("frequency_hz"), told.get("text", ""))
        )

    def toggle_pause(self) -> None:
        """Turn `paused` over."""
        self.paused = not self.paused

    def change_speed(self, change: int) -> None:
        """Take the next pace."""
        self.speed = other_speed(self.speed, change)

    def wait_for_disk(self, tell: Callable[[str], None]) -> None:
        """Do nothing: no disk here refuses."""

    def give_up(self) -> None:
        """Do nothing: no disk here refuses."""

    def break_off(self) -> None:
        """End the session without an outcome."""
        self._stopped.set()

    async def stop(self, outcome: Outcome) -> None:
        """End the session."""
        self.outcome = outcome
        self._stopped.set()
