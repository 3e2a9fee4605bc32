"""The table of a stage in which the unit does not run: what was told, measured and judged."""

from collections.abc import Iterable

from textual.content import Content

from chargeassist.guide import wording
from chargeassist.guide.stages.stage import StageRow
from chargeassist.model.text import plain
from chargeassist.model.usual_limit import OF_THE_PROGRAM
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import SLIM, Panel, hanging, joined

_USUAL, _SLIM = 26, 16
"""Cells for shape and label at least, and on a screen as narrow as a phone at most."""
_UNLABELLED = 2
_HANGING = 4
"""Where a text begins that stands below its label."""

_SHAPES = {
    "done": ("●", "="),
    "now": ("▶", ">"),
    "open": ("○", "o"),
    "pass": ("●", "="),
    "fail": ("×", "x"),
    "doubt": ("◐", "~"),
    "": (" ", " "),
}


class StageTable(Panel):
    """A line for each row of the stage; the one that is worked on in bold.

    Without room for all the last line counts the rows that are left out.
    """

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the rows, each limit with its source where there is room for it."""
        snapshot = scene.snapshot
        if snapshot is None or snapshot.stage_step is None:
            return Content("")
        found = snapshot.stage_step.rows
        most = self._most()
        rows = _rows(scene, found, width, sources=True)
        if _lines(rows) > most:
            # What is to be done and what was read come first; conditions (c) show the rest.
            own = [row for row in found if row.state or not row.source.startswith(OF_THE_PROGRAM)]
            rows = _rows(scene, own, width, sources=False)
        return joined([line for row in _fitting(scene, rows, most) for line in row])

    def _most(self) -> int:
        """Return the lines that the board leaves for this, by its style."""
        share = self.styles.max_height
        return int(self.app.size.height * (1.0 if share is None else share.value / 100.0))


def _rows(
    scene: Scene, found: Iterable[StageRow], width: int, *, sources: bool
) -> list[list[Content]]:
    """Return the lines of each row, its texts all beginning below each other."""
    said = [(row, *wording.stage_row(row, scene.system)) for row in found]
    longest = _UNLABELLED + max((len(label) for _, label, _ in said), default=0)
    column = min(longest, _SLIM) if width < SLIM else max(longest, _USUAL)
    return [_row(scene, each, column, width, source=sources) for each in said]


def _row(
    scene: Scene, said: tuple[StageRow, str, str], column: int, width: int, *, source: bool
) -> list[Content]:
    pen = scene.pen
    palette = pen.palette
    row, label, text = said
    style = {"fail": f"bold {palette.warning}", "now": "bold", "doubt": palette.warning}.get(
        row.state, palette.ink
    )
    head = pen.line((f"{pen.pick(*_SHAPES[row.state])} ", style), (label, style))
    content = pen.line((plain(text, 300), style))
    if source and row.source:
        content += pen.line((f"  [{plain(row.source, 200)}]", palette.faint))
    if not label:
        return hanging(head, _UNLABELLED, content, width)
    below = [head, *hanging(Content(""), _HANGING, content, width)]
    if head.cell_length > column:
        one = head + Content(" ") + content
        return [one] if one.cell_length <= width else below
    beside = hanging(head, column + 1, content, width)
    return beside if len(beside) <= len(below) else below


def _lines(rows: list[list[Content]]) -> int:
    return sum(len(row) for row in rows)


def _fitting(scene: Scene, rows: list[list[Content]], most: int) -> list[list[Content]]:
    """Return the first rows that take `most` lines, the last of them a count of the others."""
    if _lines(rows) <= most:
        return rows
    kept: list[list[Content]] = []
    while len(kept) < len(rows) and _lines(kept) + len(rows[len(kept)]) < most:
        kept.append(rows[len(kept)])
    more = (f"  {len(rows) - len(kept)} more", scene.pen.palette.faint)
    return [*kept, [scene.pen.line(more)]]
