"""A dashboard that runs on canned snapshots, and what is typed into it."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

from textual.app import App
from textual.pilot import Pilot

from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Outcome
from chargeassist.tui.app import Dashboard
from chargeassist.tui.canned import CannedSession

Drawn = Callable[[App[Any]], list[str]]


class Clock:
    """A clock that stands until it is set."""

    now = 100.0

    def __call__(self) -> float:
        return self.now


@asynccontextmanager
async def running(
    session: CannedSession,
    *,
    size: tuple[int, int] = (80, 24),
    clock: Clock | None = None,
    system: UnitSystem = UnitSystem.SI,
) -> AsyncIterator[tuple[Dashboard, Pilot[Outcome]]]:
    """Run the dashboard over `session` and stop it at the end."""
    app = Dashboard(session, system=system, unicode=True, clock=clock or Clock())
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        app.paint()
        await pilot.pause()
        yield app, pilot


async def typed(pilot: Pilot[Outcome], *keys: str, text: str = "") -> None:
    """Press keys, then the letters of `text`, then nothing."""
    names = {" ": "space", ".": "full_stop", ",": "comma", "-": "minus", "?": "question_mark"}
    await pilot.press(*keys, *(names.get(letter, letter) for letter in text))
    await pilot.pause()
