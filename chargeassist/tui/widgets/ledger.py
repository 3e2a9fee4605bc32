"""The ledger of charge steps: when, how much, what it did, and what is in the circuit now."""

from textual.content import Content

from chargeassist.model import display
from chargeassist.model.text import plain
from chargeassist.stream.facts import ChargeStep
from chargeassist.tui import charge_words, words
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined

_NUMBER, _TIME, _MASS, _MOVE, _GAIN, _BY = 5, 8, 12, 18, 18, 12
_SLIM_TIME, _SLIM_MASS = 7, 10
_WITH_GAIN = _NUMBER + _TIME + _MASS + _MOVE + _GAIN


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
        rows = [_header(scene, width)]
        rows += [_row(step, scene, width) for step in shown]
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


def _columns(width: int) -> tuple[int, int, int]:
    """Return the cells for the time, the amount and what it did."""
    if width >= _NUMBER + _TIME + _MASS + _MOVE:
        return _TIME, _MASS, _MOVE
    return _SLIM_TIME, _SLIM_MASS, max(1, width - _NUMBER - _SLIM_TIME - _SLIM_MASS)


def _header(scene: Scene, width: int) -> Content:
    pen, faint = scene.pen, scene.pen.palette.faint
    row = pen.cut(pen.line(("step", faint)), _NUMBER)
    time, mass, move = _columns(width)
    row += pen.right(pen.line(("ended", faint)), time)
    row += pen.right(pen.line(("added", faint)), mass)
    row += pen.right(pen.line(("before → after", faint)), move)
    if width >= _WITH_GAIN:
        row += pen.right(pen.line(("gain", faint)), _GAIN)
    if width >= _WITH_GAIN + _BY:
        row += pen.right(pen.line(("told by", faint)), _BY)
    return row


def _row(step: ChargeStep, scene: Scene, width: int) -> Content:
    pen, system = scene.pen, scene.system
    row = pen.cut(pen.line((f"{step.number}", f"bold {pen.palette.mark}")), _NUMBER)
    time, mass, move = _columns(width)
    row += pen.right(pen.line(display.clock(step.ended_t)), time)
    row += pen.right(pen.line((words.step_mass(step, system), "bold")), mass)
    row += pen.right(pen.line(words.before_after(step, system)), move)
    if width >= _WITH_GAIN:
        row += pen.right(pen.line(words.gain(step, system)), _GAIN)
    if width >= _WITH_GAIN + _BY:
        row += pen.right(pen.line((plain(step.measured_by, _BY - 1), pen.palette.faint)), _BY)
    return row
