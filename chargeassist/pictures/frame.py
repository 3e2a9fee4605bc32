"""The frame of every picture: panels over one axis of time, with what was done across them."""

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.text import plain
from chargeassist.session.whole_file import expect_folder

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FORMATS: Final = (".svg", ".png", ".pdf")

# Okabe and Ito's colours, told apart by nearly all eyes; every line has its own style as well.
READ: Final = "#0072B2"
TRUE: Final = "#000000"
OTHER: Final = "#D55E00"
THIRD: Final = "#009E73"
FOURTH: Final = "#CC79A7"
FAINT: Final = "#999999"

LANES: Final = 4
"""Rows of words above the first panel."""

LETTER: Final = 0.0062
"""Width of a letter of them, as a share of the panel's."""

SHORT: Final = {
    MarkKind.STEP_BEGUN: "valve open",
    MarkKind.STEP_ENDED: "valve shut",
    MarkKind.FREQUENCY_HELD: "charge mode",
    MarkKind.FREQUENCY_LEFT: "mode left",
    MarkKind.PROBE_SEEN_TO: "probe seen to",
    MarkKind.CONFIRMED: "checked",
    MarkKind.NITROGEN_ON: "nitrogen on",
    MarkKind.NITROGEN_OFF: "nitrogen off",
    MarkKind.VENTED: "vented",
    MarkKind.PUMP_ON: "pump on",
    MarkKind.PUMP_OFF: "pump off",
    MarkKind.OIL_CHANGED: "oil changed",
    MarkKind.VALVE_SHUT: "pump valve shut",
    MarkKind.VALVE_OPENED: "pump valve open",
    MarkKind.LEAK_MENDED: "leak mended",
    MarkKind.WITHDRAWN: "reading withdrawn",
}
"""Marks in the fewest words."""

# No random ids in the file; with `write_figure`, no dates: the same session, the same picture.
STYLE: Final[Any] = {
    "svg.hashsalt": "chargeassist",
    "svg.fonttype": "none",
    "font.size": 8.0,
}


def check_place(path: Path) -> None:
    """Refuse a picture that cannot be drawn, before time is spent on it.

    Raises
    ------
    ConfigError
        The ending is none of `FORMATS`, there is no such folder, or matplotlib is not installed.
    """
    if path.suffix.lower() not in FORMATS:
        raise ConfigError(
            f"{plain(str(path), 200)}: expected a picture that ends in {', '.join(FORMATS)}"
        )
    expect_folder(path)
    try:
        import matplotlib as mpl  # noqa: F401
    except ImportError as error:
        raise ConfigError(
            "pictures need matplotlib, which is not installed; install it with: "
            "pip install 'chargeassist[qa]' ('.[qa]' from a clone)"
        ) from error


def write_figure(figure: "Figure", path: Path, dpi: float | None = None) -> None:
    """Write a figure, in the format its ending says, without a date.

    Raises
    ------
    ConfigError
        It cannot be written there.
    """
    import matplotlib as mpl

    dates = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}}
    metadata: dict[str, Any] = dates.get(path.suffix.lower(), {})
    try:
        with mpl.rc_context(STYLE):
            figure.savefig(path, dpi=dpi or "figure", metadata=metadata)
    except OSError as error:
        raise ConfigError(f"{plain(str(path), 200)}: cannot be written: {error}") from error


class Frame:
    """Panels over each other with one axis of time.

    Parameters
    ----------
    title, about : str
    heights : sequence of float
        Of each panel, relative.
    """

    def __init__(self, title: str, about: str, heights: Sequence[float]) -> None:
        import matplotlib as mpl
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        with mpl.rc_context(STYLE):
            self.figure = Figure(figsize=(10.0, 1.7 + 1.7 * sum(heights)))
            FigureCanvasAgg(self.figure)
            grid = self.figure.add_gridspec(len(heights), 1, height_ratios=list(heights))
            self.panels: list[Axes] = []
            for row in range(len(heights)):
                first = self.panels[0] if self.panels else None
                self.panels.append(self.figure.add_subplot(grid[row, 0], sharex=first))
        lines = textwrap.wrap(f"{about} Simulated; nothing here was measured.", 165)
        self._put(0.20, title, fontsize=11.0, weight="bold")
        self._put(0.42, "\n".join(lines), fontsize=7.5, color="#444444")
        self._top_inch = 1.05 + 0.14 * len(lines)
        for panel in self.panels:
            panel.spines[["top", "right"]].set_visible(False)
            panel.tick_params(labelsize=7.5)
            panel.grid(visible=True, color="#E4E4E4", linewidth=0.6)
        for panel in self.panels[:-1]:
            panel.tick_params(labelbottom=False)
        self.panels[-1].set_xlabel("minutes", fontsize=8.0)

    def _put(self, down_inch: float, text: str, **style: Any) -> None:  # noqa: ANN401 (matplotlib's)
        height = self.figure.get_figheight()
        # Title and words of a scenario are somebody's: "$5 to $6" is no formula.
        self.figure.text(0.02, 1.0 - down_inch / height, text, va="top", parse_math=False, **style)

    def legend(self, panel: "Axes", where: str, columns: int) -> None:
        """Name the lines of a panel."""
        panel.legend(loc=where, ncols=columns, frameon=False, fontsize=7.0)

    def mark(self, marks: Sequence[Mark]) -> None:
        """Draw what was done as lines across all panels, named above the first."""
        span = self.panels[0].get_xlim()[1]
        free_from = [0.0] * LANES  # up to where each lane of words is taken [min]
        for mark in marks:
            word = SHORT.get(mark.kind)
            if word is None:
                continue
            if mark.mass_kg is not None and mark.mass_kg < 0.0:
                word = f"recovered {-1000.0 * mark.mass_kg:.0f} g"
            elif mark.mass_kg is not None and mark.kind is MarkKind.STEP_BEGUN:
                word = f"add {1000.0 * mark.mass_kg:.0f} g"
            t = mark.t / 60.0
            for panel in self.panels:
                panel.axvline(t, color=FAINT, linewidth=0.7, linestyle=":")
            lane = next((n for n, free in enumerate(free_from) if free <= t), LANES - 1)
            free_from[lane] = t + LETTER * len(word) * span
            self.panels[0].annotate(
                word, (t, 1.0), xycoords=("data", "axes fraction"), xytext=(1, 2 + 8 * lane),
                textcoords="offset points", fontsize=6.5, color="#555555", annotation_clip=False,
            )  # fmt: skip

    def save(self, path: Path) -> None:
        """Write the picture.

        Raises
        ------
        ConfigError
            It cannot be written there.
        """
        height = self.figure.get_figheight()
        self.figure.subplots_adjust(
            left=0.075, right=0.955, top=1.0 - self._top_inch / height, bottom=0.5 / height,
            hspace=0.16,
        )  # fmt: skip
        write_figure(self.figure, path, dpi=110)
