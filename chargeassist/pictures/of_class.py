"""The picture of a class: each drill's points, and what the others were lost for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from chargeassist.pictures.frame import STYLE, check_place, write_figure

FILLS: Final = (
    ("#56B4E9", "//"),
    ("#F0E442", ""),
    ("#CC79A7", "\\\\"),
    ("#000000", "++"),
    ("#BBBBBB", ""),
    ("#D55E00", "xx"),
    ("#E69F00", ".."),
    ("#0072B2", "--"),
)
"""Okabe and Ito's colours, each with its hatching."""


@dataclass(frozen=True, slots=True)
class ClassRow:
    """One drill: its name, its points, what was lost by rule, and how late "settled" was called.

    `late_s` holds seconds after it had settled, negative before [s].
    """

    label: str
    points: float
    lost: Mapping[str, float]
    late_s: tuple[float, ...]


def class_picture(rows: Sequence[ClassRow], rules: Sequence[str], path: Path) -> None:
    """Draw a class into a file.

    Parameters
    ----------
    rows : sequence of ClassRow
        At least one, from the top.
    rules : sequence of str
        Every key of `lost`, as many as `FILLS` at most, in order.
    path : Path

    Raises
    ------
    ConfigError
        The picture cannot be drawn there, or matplotlib is not installed.
    """
    check_place(path)
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(10.0, 1.6 + 0.32 * len(rows)), layout="constrained")
        FigureCanvasAgg(figure)
        left, right = figure.subplots(1, 2, sharey=True, width_ratios=[3, 2])
        places = range(len(rows))
        left.barh(places, [row.points for row in rows], color="#009E73", label="points")
        edge = [row.points for row in rows]
        for rule, (colour, hatch) in zip(rules, FILLS[: len(rules)], strict=True):
            widths = [row.lost.get(rule, 0.0) for row in rows]
            if any(widths):
                left.barh(
                    places, widths, left=edge, color=colour, hatch=hatch, edgecolor="white",
                    label=rule,
                )  # fmt: skip
                edge = [a + b for a, b in zip(edge, widths, strict=True)]
        left.axvline(100.0, color="#999999", linewidth=0.8)
        # A name with a "$" in it is no formula.
        labels = [row.label for row in rows]
        left.set_yticks(list(places), labels, fontsize=7.5, parse_math=False)
        left.invert_yaxis()
        left.set_xlabel("points, and what was lost for what", fontsize=8.0)
        left.legend(
            fontsize=7.0, frameon=False, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=4
        )
        right.axvline(0.0, color="#000000", linewidth=0.8)
        for place, row in enumerate(rows):
            early = [late for late in row.late_s if late < 0.0]
            on = [late for late in row.late_s if late >= 0.0]
            right.plot(early, [place] * len(early), "x", color="#D55E00", markersize=6)
            right.plot(on, [place] * len(on), "o", color="#0072B2", markersize=4)
        right.set_xlabel('"settled" called: seconds before (×) and after (●) it had', fontsize=8.0)
        for panel in (left, right):
            panel.spines[["top", "right"]].set_visible(False)
            panel.tick_params(labelsize=7.5)
    write_figure(figure, path)
