"""A dashboard whose keys are pressed."""

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


@asynccontextmanager
async def running(
    session: CannedSession,
    *,
    size: tuple[int, int] = (80, 60),
    system: UnitSystem = UnitSystem.SI,
    unicode: bool = True,
) -> AsyncIterator[tuple[Dashboard, Pilot[Outcome]]]:
    """Run the dashboard over `session` and stop it at the end."""
    app = Dashboard(session, system=system, unicode=unicode, clock=lambda: 100.0)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        app.paint()
        await pilot.pause()
        yield app, pilot


async def pressed(pilot: Pilot[Outcome], *keys: str) -> None:
    await pilot.press(*keys)
    await pilot.pause()


def text(lines: list[str]) -> str:
    """Return the screen as one line without frames, so that wrapped sentences can be found."""
    return " ".join(" ".join(lines).replace("│", " ").split())
