"""The dashboard at a moment of the demonstration, as a picture: how the README's is made.

    python -m chargeassist.tui.picture --at 14:50 --out .github/dashboard.svg

The session is the real one: simulator, settling, advice and scripted technician run up to that
moment as in ``chargeassist demo``. Nothing in it was measured.
"""

import argparse
import asyncio
import contextlib
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Event, Outcome
from chargeassist.session.job.demo import DEMO_JOBS, demo_job
from chargeassist.session.opening import open_new
from chargeassist.session.pilot import Pilot
from chargeassist.tui.app import Dashboard
from chargeassist.tui.widgets.trend_plot import TrendPlot

MOMENT: Final = "14:50"
"""Of the README's picture: the second step has settled, the third is advised."""


async def picture(
    name: str, at_s: float, size: tuple[int, int], *, system: UnitSystem = UnitSystem.SI
) -> str:
    """Return the dashboard as SVG; the session file is made in the working folder.

    Parameters
    ----------
    name : str
        One of `DEMO_JOBS`.
    at_s : float
        The moment [s since the session's start].
    size : (int, int)
        Columns and rows.
    system : UnitSystem
    """
    reached = asyncio.Event()

    def listen(event: Event) -> None:
        if event.t >= at_s:
            reached.set()

    opened = open_new(
        demo_job(name),
        Path.cwd(),
        record=Path(f"{name}.session"),
        listeners=[listen],
        attendant=Pilot(),
    )
    app = Dashboard(opened.session, system=system, unicode=True)
    async with app.run_test(size=size) as pilot:
        opened.session.rush_to(at_s)
        await reached.wait()
        await pilot.pause()
        app.paint()
        app.query_one(TrendPlot).catch_up()  # it lags by a second, in which a rush goes minutes
        await pilot.pause()
        svg = app.export_screenshot()
        await opened.session.stop(Outcome.COMPLETE)
    return svg


def moment(text: str) -> float:
    """Read minutes and seconds, such as 14:50, as seconds."""
    minutes, _, seconds = text.partition(":")
    if not (minutes.isdecimal() and seconds.isdecimal()):
        raise argparse.ArgumentTypeError(f"expected minutes:seconds, got {text!r}")
    return 60.0 * int(minutes) + int(seconds)


def main(argv: Sequence[str] | None = None) -> int:
    """Write one picture."""
    parser = argparse.ArgumentParser(description="the dashboard at a moment of the demonstration")
    parser.add_argument("job", nargs="?", choices=DEMO_JOBS, default=DEMO_JOBS[0])
    parser.add_argument("--at", type=moment, default=MOMENT, help="minutes:seconds of the session")
    parser.add_argument("--size", default="120x40", help="columns x rows")
    parser.add_argument("--units", choices=["si", "us"], default="si")
    parser.add_argument("--out", type=Path, required=True, help="SVG file to write")
    given = parser.parse_args(argv)
    columns, _, rows = given.size.partition("x")
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        size = int(columns), int(rows)
        svg = asyncio.run(picture(given.job, given.at, size, system=UnitSystem(given.units)))
    given.out.write_text(svg, encoding="utf-8")
    sys.stdout.write(f"{given.out}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
