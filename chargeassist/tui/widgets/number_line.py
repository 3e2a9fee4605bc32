"""The judged value on a line: where it is and will settle, where each step left it, the target.

Each row begins with its word, so that nothing has to be looked up::

    steps          1        2    3
    now                      ├──◆──┤
    forecast                  (──◇──)
    target   ───────┬──────█████████████──┬────
    °F              7        8  9  10     11
"""

import math
from dataclasses import dataclass

from textual.content import Content

from chargeassist.model import display
from chargeassist.stream.facts import Measured, TargetFacts
from chargeassist.tui.pen import Pen
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined
from chargeassist.tui.words import without_value

GUTTER = 10
_STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
CELLS_PER_LABEL = 6


@dataclass(frozen=True, slots=True)
class LineScale:
    """The axis, in shown units: from `low` to `high` over `width` cells, a label each `step`."""

    low: float
    high: float
    step: float
    width: int

    def column(self, value: float) -> int:
        """Return the cell of a value, which may lie outside 0 to width - 1."""
        share = (value - self.low) / (self.high - self.low)
        return round(share * (self.width - 1))

    def ticks(self) -> list[float]:
        """Return the values that are labelled."""
        count = round((self.high - self.low) / self.step)
        return [self.low + index * self.step for index in range(count + 1)]


def line_scale(values: list[float], width: int) -> LineScale:
    """Return an axis that holds `values`, ends on its labels and does not twitch.

    Parameters
    ----------
    values : list of float
        At least one; in shown units.
    width : int
        Cells.
    """
    low, high = min(values), max(values)
    most = max(2, width // CELLS_PER_LABEL)
    step = next((s for s in _STEPS if (high - low) / s <= most - 2), _STEPS[-1])
    # Rounding outwards to whole labels keeps the axis still while the values move a little.
    first, last = math.floor(low / step), math.ceil(high / step)
    if first == last:
        last += 1
    return LineScale(first * step, last * step, step, width)


class CellRow:
    """A row of cells that are written one by one; what falls outside is left out."""

    def __init__(self, width: int) -> None:
        self._cells = [(" ", "")] * width
        self._grounds = [""] * width

    def ground(self, first: int, last: int, colour: str) -> None:
        """Put a colour behind the cells from `first` to `last`, both included."""
        for column in range(max(0, first), min(last, len(self._grounds) - 1) + 1):
            self._grounds[column] = f" on {colour}"

    def put(self, column: int, text: str, style: str = "") -> None:
        """Write `text` from `column` on."""
        for offset, letter in enumerate(text):
            if 0 <= column + offset < len(self._cells):
                self._cells[column + offset] = (letter, style)

    def span(self, first: int, last: int, letter: str, style: str = "") -> None:
        """Write `letter` from column `first` to `last`, both included."""
        for column in range(max(0, first), min(last, len(self._cells) - 1) + 1):
            self._cells[column] = (letter, style)

    def is_blank(self, column: int) -> bool:
        """Return whether nothing stands in `column`; there is nothing outside the row."""
        return not 0 <= column < len(self._cells) or not self._cells[column][0].strip()

    def content(self, pen: Pen) -> Content:
        """Return the row as content."""
        pairs = zip(self._cells, self._grounds, strict=True)
        return pen.line(*((letter, (style + ground).strip()) for (letter, style), ground in pairs))


class NumberLine(Panel):
    """The number line of subcooling, or of superheat where that is judged."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return five rows; where there are only four, the marks of the steps go."""
        if scene.snapshot is None or width <= GUTTER + 10:
            return Content("")
        drawing = _Drawing(scene, width - GUTTER)
        rows = [
            ("steps", drawing.steps()),
            ("now", drawing.now()),
            drawing.expected(),
            ("target", drawing.axis()),
            (display.difference_unit(scene.system), drawing.labels()),
        ]
        if height is not None and height < len(rows):
            rows = rows[1:]
        pen = scene.pen
        return joined(
            [pen.cut(pen.line((word, pen.palette.faint)), GUTTER) + row for word, row in rows]
        )


class _Drawing:
    """One number line being drawn; everything in it is in shown units."""

    def __init__(self, scene: Scene, width: int) -> None:
        snapshot = scene.snapshot
        assert snapshot is not None  # noqa: S101 - the caller has looked
        self.pen = scene.pen
        self.veiled = scene.veiled
        self.facts = snapshot.facts
        self.system = scene.system
        self.width = width
        goal = snapshot.facts.goal(snapshot.job.target)
        # Without a target there is no band; its edges lie on no cell.
        self.band: tuple[float, ...] = ()
        if isinstance(goal, TargetFacts):
            self.band = (self.shown(goal.low_k), self.shown(goal.high_k))
        self.scale = line_scale(self._values(snapshot.job.target.tolerance_k), width)

    def shown(self, value_k: float) -> float:
        """Return a difference of temperatures in the shown unit."""
        return display.difference_value(value_k, self.system)

    def _values(self, tolerance_k: float) -> list[float]:
        margin = self.shown(tolerance_k)
        values = [0.0, 4 * margin]
        if self.band:
            values = [max(self.band[0] - 2 * margin, 0.0), self.band[1] + 2 * margin]
        for point in (self.facts.reading, self.facts.settled):
            if isinstance(point, Measured):
                half = self.shown(point.expanded_k or 0.0)
                values += [self.shown(point.value_k) - half, self.shown(point.value_k) + half]
        values += [self.shown(s.after_k) for s in self.facts.ledger if s.after_k is not None]
        forecast = self.facts.settling.forecast
        if forecast is not None:
            centre = self.shown(forecast.value_k)
            # A forecast that is still wild must not squeeze the rest; its ends become arrows.
            reach = 4 * margin
            values += [
                max(self.shown(forecast.low_k), centre - reach),
                min(self.shown(forecast.high_k), centre + reach),
            ]
        return values

    def row(self) -> CellRow:
        """Return a row with nothing but the edges of the target band."""
        row = CellRow(self.width)
        edges = [self.scale.column(edge) for edge in self.band]
        if edges:
            row.ground(edges[0], edges[-1], self.pen.palette.band_ground)
        for column in edges:
            row.put(column, self.pen.pick("┊", ":"), self.pen.palette.band)
        return row

    def steps(self) -> Content:
        """Return the row of step numbers, each where that step settled."""
        row = CellRow(self.width)
        style = f"bold {self.pen.palette.mark}"
        for step in reversed(self.facts.ledger):  # the newest takes its place first
            if step.after_k is None:
                continue
            text = str(step.number)
            column = self.scale.column(self.shown(step.after_k))
            # "1" beside "2" would read "12"; the older one makes way.
            if all(row.is_blank(column + i) for i in range(-1, len(text) + 1)):
                row.put(column, text, style)
        return row.content(self.pen)

    def now(self) -> Content:
        """Return the row of the present value with its uncertainty."""
        present = self.facts.reading
        if not isinstance(present, Measured):
            style = f"bold {self.pen.palette.states['no signal']}"
            why = self.pen.line((without_value(self.facts, present), style))
            return self.pen.brief(why, self.width)
        row = self.row()
        half = present.expanded_k or 0.0
        self._interval(
            row,
            (present.value_k - half, present.value_k, present.value_k + half),
            (self.pen.pick("├", "|"), self.pen.pick("◆", "O"), self.pen.pick("┤", "|")),
            f"bold {self.pen.palette.ink}",
        )
        return row.content(self.pen)

    def expected(self) -> tuple[str, Content]:
        """Return the row of the settled value, or of the forecast where there is none yet."""
        settled = self.facts.settled
        pen = self.pen
        row = self.row()
        if settled is not None:
            half = settled.expanded_k or 0.0
            self._interval(
                row,
                (settled.value_k - half, settled.value_k, settled.value_k + half),
                (pen.pick("├", "|"), pen.pick("■", "#"), pen.pick("┤", "|")),
                f"bold {pen.palette.states['settled']}",
            )
            return "called" if self.veiled else "settled", row.content(pen)
        forecast = self.facts.settling.forecast
        if self.veiled:
            return "called", pen.line(("nothing yet", pen.palette.faint))
        if forecast is None:
            return "forecast", pen.line(("none yet", pen.palette.faint))
        self._interval(
            row,
            (forecast.low_k, forecast.value_k, forecast.high_k),
            ("(", pen.pick("◇", "o"), ")"),
            f"bold {pen.palette.forecast}",
        )
        return "forecast", row.content(pen)

    def axis(self) -> Content:
        """Return the axis with the target band on it."""
        pen = self.pen
        row = CellRow(self.width)
        row.span(0, self.width - 1, pen.pick("─", "-"), pen.palette.faint)
        for tick in self.scale.ticks():
            row.put(self.scale.column(tick), pen.pick("┬", "+"), pen.palette.faint)
        if self.band:
            first, last = (self.scale.column(edge) for edge in self.band)
            row.span(first, last, pen.pick("█", "="), f"bold {pen.palette.band}")
        return row.content(pen)

    def labels(self) -> Content:
        """Return the numbers of the axis."""
        row = CellRow(self.width)
        decimals = 1 if self.scale.step < 1 else 0
        for tick in self.scale.ticks():
            text = f"{tick:.{decimals}f}".replace("-", "−")
            column = self.scale.column(tick) - len(text) // 2
            row.put(min(max(0, column), self.width - len(text)), text, self.pen.palette.faint)
        return row.content(self.pen)

    def _interval(
        self,
        row: CellRow,
        values_k: tuple[float, float, float],
        glyphs: tuple[str, str, str],
        style: str,
    ) -> None:
        """Draw low, middle and high; an end that is off the axis becomes an arrow."""
        low, middle, high = (self.scale.column(self.shown(value)) for value in values_k)
        last = self.width - 1
        row.span(low, high, self.pen.pick("─", "-"), style)
        row.put(max(0, low), glyphs[0] if low >= 0 else self.pen.pick("◀", "<"), style)
        row.put(min(last, high), glyphs[2] if high <= last else self.pen.pick("▶", ">"), style)
        row.put(min(max(0, middle), last), glyphs[1], style)
