"""The ledger of charge steps: when, how much, what it did, and what is in the circuit now."""

from collections.abc import Sequence
from typing import NamedTuple

from textual.content import Content

from chargeassist.model import display
from chargeassist.model.text import plain
from chargeassist.stream.facts import ChargeStep
from chargeassist.tui import charge_words, words
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined

_NUMBER, _TIME, _MASS, _MOVE, _GAIN, _BY = 5, 8, 12, 18, 18, 12
_SLIM_TIME, _SLIM_MASS = 7, 10
_LEAST_NUMBER = 2


class Ledger(Panel):
    """The newest steps that fit, and the total; on one line the newest step alone."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the rows."""
        if scene.snapshot is None:
            return Content("")
        pen = scene.pen
        ledger = scene.snapshot.facts.ledger
        mass = pen.line((charge_words.in_circuit(scene.snapshot, scene.system), "bold"))
        total = pen.line(("in the circuit ", pen.palette.faint), mass)
        if total.cell_length > width:
            total = pen.line(("in it ", pen.palette.faint), mass)
        open_step = charge_words.in_open_step(scene.snapshot, scene.system)
        if open_step and total.cell_length + 2 + len(open_step) <= width and height != 1:
            total = pen.line(total, (f", {open_step}", pen.palette.faint))
        if height is not None and height < 3:
            return self._short(scene, total, width, height)
        if not ledger:
            return joined([pen.line(("no charge step yet", pen.palette.faint)), total])
        room = len(ledger) if height is None else height - 2
        shown = ledger[-room:]
        columns = _columns(shown, scene, width)
        rows = [_header(scene, columns), *(_row(step, scene, columns) for step in shown)]
        earlier = len(ledger) - len(shown)
        if earlier:
            steps = "step" if earlier == 1 else "steps"
            before = pen.line((f"   {earlier} earlier {steps}", pen.palette.faint))
            if total.cell_length + before.cell_length <= width:
                total += before
        return joined([*rows, total])

    @staticmethod
    def _short(scene: Scene, total: Content, width: int, height: int) -> Content:
        pen, system = scene.pen, scene.system
        assert scene.snapshot is not None  # noqa: S101 - the caller has looked
        ledger = scene.snapshot.facts.ledger
        if not ledger:
            first = pen.line(("no charge step yet", pen.palette.faint))
        else:
            step = ledger[-1]
            first = pen.line(
                (f"step {step.number}  ", f"bold {pen.palette.mark}"),
                f"{words.step_mass(step, system)}  {words.before_after(step, system)}",
            )
        if height == 1:
            one = first + Content("   ") + total
            if one.cell_length > width:
                one = (
                    first
                    + Content("  ")
                    + pen.line((charge_words.in_circuit(scene.snapshot, system), "bold"))
                )
            return one if one.cell_length <= width else first
        return joined([first, total])


class _Columns(NamedTuple):
    """Cells for the number, the time, the amount and what it did; and what there is room for."""

    number: int
    time: int
    mass: int
    move: int
    gain: bool
    by: bool


def _columns(steps: Sequence[ChargeStep], scene: Scene, width: int) -> _Columns:
    """Return the columns for these steps: as wide as their widest text, and never without a gap."""
    system = scene.system
    clock = max(len(display.clock(step.ended_t)) for step in steps)
    mass = 1 + max(len(words.step_mass(step, system)) for step in steps)
    move = 1 + max(len(words.before_after(step, system)) for step in steps)
    time, mass_wide, move_wide = max(_TIME, clock), max(_MASS, mass), max(_MOVE, move)
    needed = _NUMBER + time + mass_wide + move_wide
    if width >= needed:
        gain, by = width >= needed + _GAIN, width >= needed + _GAIN + _BY
        return _Columns(_NUMBER, time, mass_wide, move_wide, gain, by)
    time, mass = max(_SLIM_TIME, clock), max(_SLIM_MASS, mass)
    number = max(_LEAST_NUMBER, min(_NUMBER, width - time - mass - move))
    return _Columns(number, time, mass, max(1, width - number - time - mass), gain=False, by=False)


def _header(scene: Scene, columns: _Columns) -> Content:
    pen, faint = scene.pen, scene.pen.palette.faint
    row = pen.cut(pen.line(("step" if columns.number == _NUMBER else "", faint)), columns.number)
    row += pen.right(pen.line(("ended", faint)), columns.time)
    row += pen.right(pen.line(("added", faint)), columns.mass)
    row += pen.right(pen.line(("before → after", faint)), columns.move)
    if columns.gain:
        row += pen.right(pen.line(("gain", faint)), _GAIN)
    if columns.by:
        row += pen.right(pen.line(("told by", faint)), _BY)
    return row


def _row(step: ChargeStep, scene: Scene, columns: _Columns) -> Content:
    pen, system = scene.pen, scene.system
    row = pen.cut(pen.line((f"{step.number}", f"bold {pen.palette.mark}")), columns.number)
    row += pen.right(pen.line(display.clock(step.ended_t)), columns.time)
    row += pen.right(pen.line((words.step_mass(step, system), "bold")), columns.mass)
    row += pen.right(pen.line(words.before_after(step, system)), columns.move)
    if columns.gain:
        row += pen.right(pen.line(words.gain(step, system)), _GAIN)
    if columns.by:
        row += pen.right(pen.line((plain(step.measured_by, _BY - 1), pen.palette.faint)), _BY)
    return row
