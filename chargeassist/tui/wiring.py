"""The guided probes screen: from a port or broker to the section of a job file that reads it."""

from pathlib import Path

from textual.app import App

from chargeassist.model.display import UnitSystem
from chargeassist.tui.pen import DARK, Pen, terminal_takes_unicode
from chargeassist.tui.screens.wiring_step import Desk
from chargeassist.tui.screens.wiring_where import Where
from chargeassist.tui.themes import DARK_THEME


class WiringApp(App[str]):
    """Four steps; returns what to print at the end: where it was written, or the section itself.

    Parameters
    ----------
    job : Path, optional
        Job file the section is meant for.
    start : str
        Address to begin at.
    system : UnitSystem
        How converted values are shown.
    unicode : bool, optional
        Whether the terminal shows more than ASCII; by its encoding when left out.

    Attributes
    ----------
    desk : Desk
        What is being put together.
    """

    CSS_PATH = Path(__file__).with_name("wiring.tcss")
    TITLE = "chargeassist"
    ENABLE_COMMAND_PALETTE = False
    ALLOW_SELECT = False

    def __init__(
        self,
        job: Path | None = None,
        *,
        start: str = "",
        system: UnitSystem = UnitSystem.SI,
        unicode: bool | None = None,
    ) -> None:
        super().__init__()
        self.register_theme(DARK_THEME)
        self.theme = DARK_THEME.name
        letters = terminal_takes_unicode() if unicode is None else unicode
        # Addresses in a job file start from its folder.
        base = job.resolve().parent if job is not None else Path.cwd()
        self.desk = Desk(base=base, job=job, system=system, pen=Pen(DARK, letters))
        self._start = start
        self.set_class(not letters, "-ascii")

    def on_mount(self) -> None:
        """Begin with where."""
        self.push_screen(Where(self.desk, self._start))

    async def action_quit(self) -> None:
        """Leave as `q` does: not by a slip."""
        if isinstance(self.screen, Where):
            self.screen.action_leave()

    def action_help_quit(self) -> None:
        """Leave as `q` does."""
        if isinstance(self.screen, Where):
            self.screen.action_leave()
