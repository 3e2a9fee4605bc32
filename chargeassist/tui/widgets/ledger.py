"""The ledger of charge steps: when, how much, what it did, and what is in the circuit now."""

from textual.content import Content

from chargeassist.model import display
from chargeassist.model.text import plain
from chargeassist.stream.facts import ChargeStep
from chargeassist.tui import words
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined

_NUMBER, _TIME, _MASS, _MOVE, _GAIN, _BY = 5, 8, 12, 18, 18, 12
_WITH_GAIN = _NUMBER + _TIME + _MASS + _MOVE + _GAIN


class Ledger(Panel):
    """The newest steps that fit, and the total; on one line the newest step alone."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the rows."""
        if scene.snapshot is None:
            return Content("")
        pen = scene.pen
        ledger = scene.snapshot.facts.ledger
        total = pen.line(
            ("in the circuit ", pen.palette.faint),
            (words.in_circuit(scene.snapshot, scene.system), "bold"),
        )
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
            total += pen.line((f"   {earlier} earlier {steps}", pen.palette.faint))
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
                    + pen.line((words.in_circuit(scene.snapshot, system), "bold"))
                )
            return one
        return joined([first, total])


def _header(scene: Scene, width: int) -> Content:
    pen, faint = scene.pen, scene.pen.palette.faint
    row = pen.cut(pen.line(("step", faint)), _NUMBER)
    row += pen.right(pen.line(("ended", faint)), _TIME)
    row += pen.right(pen.line(("added", faint)), _MASS)
    row += pen.right(pen.line(("before → after", faint)), _MOVE)
    if width >= _WITH_GAIN:
        row += pen.right(pen.line(("gain", faint)), _GAIN)
    if width >= _WITH_GAIN + _BY:
        row += pen.right(pen.line(("told by", faint)), _BY)
    return row


def _row(step: ChargeStep, scene: Scene, width: int) -> Content:
    pen, system = scene.pen, scene.system
    row = pen.cut(pen.line((f"{step.number}", f"bold {pen.palette.mark}")), _NUMBER)
    row += pen.right(pen.line(display.clock(step.ended_t)), _TIME)
    row += pen.right(pen.line((words.step_mass(step, system), "bold")), _MASS)
    row += pen.right(pen.line(words.before_after(step, system)), _MOVE)
    if width >= _WITH_GAIN:
        row += pen.right(pen.line(words.gain(step, system)), _GAIN)
    if width >= _WITH_GAIN + _BY:
        row += pen.right(pen.line((plain(step.measured_by, _BY - 1), pen.palette.faint)), _BY)
    return row
