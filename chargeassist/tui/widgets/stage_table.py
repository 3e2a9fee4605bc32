"""The table of a stage in which the unit does not run: what was told, measured and judged."""

from collections.abc import Iterable

from textual.content import Content

from chargeassist.guide import wording
from chargeassist.guide.stages.stage import StageRow
from chargeassist.model.text import plain
from chargeassist.model.usual_limit import OF_THE_PROGRAM
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, hanging, joined

_LABEL = 26

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
    """A line for each row of the stage; the one that is worked on in bold."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the rows, then what the keys tell."""
        snapshot = scene.snapshot
        if snapshot is None or snapshot.stage_step is None:
            return Content("")
        found = snapshot.stage_step.rows
        rows = self._rows(scene, found, width, sources=True)
        if len(rows) > self._most():
            # What is to be done and what was read come first; conditions (c) show the rest.
            own = [row for row in found if row.state or not row.source.startswith(OF_THE_PROGRAM)]
            rows = self._rows(scene, own, width, sources=False)
        return joined(rows)

    def _most(self) -> int:
        """Return the lines that the board leaves for this, by its style."""
        share = self.styles.max_height
        return int(self.app.size.height * (1.0 if share is None else share.value / 100.0))

    def _rows(
        self, scene: Scene, found: Iterable[StageRow], width: int, *, sources: bool
    ) -> list[Content]:
        rows: list[Content] = []
        for row in found:
            rows += self._row(scene, row, width, source=sources)
        return rows

    def _row(self, scene: Scene, row: StageRow, width: int, *, source: bool) -> list[Content]:
        pen = scene.pen
        palette = pen.palette
        label, text = wording.stage_row(row, scene.system)
        style = {"fail": f"bold {palette.warning}", "now": "bold", "doubt": palette.warning}.get(
            row.state, palette.ink
        )
        shape = pen.pick(*_SHAPES[row.state])
        head = pen.cut(pen.line((f"{shape} ", style), (label, style)), _LABEL)
        said = pen.line((plain(text, 300), style))
        if source and row.source:
            said += pen.line((f"  [{plain(row.source, 200)}]", palette.faint))
        return hanging(head, _LABEL + 1, said, width)
