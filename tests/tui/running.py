"""A dashboard that runs, what is typed into it, and waiting for what it shows."""

import asyncio
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

TALL = (80, 60)
"""A screen on which whole lists stand."""

HANGS_S, RUSH_WITHIN_S = 120.0, 600.0
"""What has not come after so long [s], on however busy a machine, does not come."""


class Clock:
    """A clock that stands until it is set: no notice goes away because the machine is busy."""

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
    unicode: bool = True,
) -> AsyncIterator[tuple[Dashboard, Pilot[Outcome]]]:
    """Run the dashboard over `session` and stop it at the end."""
    app = Dashboard(session, system=system, unicode=unicode, clock=clock or Clock())
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


def text(lines: list[str]) -> str:
    """Return the screen as one line without frames, so that wrapped sentences can be found."""
    return " ".join(" ".join(lines).replace("│", " ").split())


async def until(
    holds: Callable[[], object],
    why: Callable[[], str],
    within_s: float = HANGS_S,
    every_s: float = 0.02,
) -> None:
    """Return once `holds`; fail with `why` where that never comes."""
    try:
        async with asyncio.timeout(within_s):
            while not holds():  # noqa: ASYNC110  what is waited for has no event of its own
                await asyncio.sleep(every_s)
    except TimeoutError:
        raise AssertionError(why()) from None


async def shows(app: Dashboard, drawn: Drawn, words: str) -> list[str]:
    """Return the lines of the screen once `words` stand on it, wrapped or not."""
    lines: list[str] = []

    def there() -> bool:
        app.paint()
        lines[:] = drawn(app)
        return words in text(lines)

    await until(there, lambda: f"{words!r} did not come:\n" + "\n".join(lines))
    return lines


async def past(app: Dashboard, t: float) -> None:
    """Return once the newest moment on the screen is at `t` [s] of the session or later."""

    def there() -> bool:
        return app._latest is not None and app._latest.t >= t

    # A session that is rushed through an hour shows nothing before its end.
    await until(there, lambda: f"{t} s did not come", RUSH_WITHIN_S, 0.001)


async def closed(app: Dashboard) -> None:
    """Return once the dashboard has ended."""
    await until(lambda: not app.is_running, lambda: "the dashboard did not end")
