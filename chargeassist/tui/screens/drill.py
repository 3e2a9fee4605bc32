"""The screens of a drill: its board, what else could be wrong, the end, and the score."""

import re
from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container, Horizontal
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from chargeassist.model import display
from chargeassist.model.events import Action
from chargeassist.trainer.calls import FIXES
from chargeassist.trainer.drill_session import DrillSession
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.board import SessionScreen
from chargeassist.tui.screens.overlay import Hint, TextOverlay
from chargeassist.tui.widgets.channel_table import ChannelTable
from chargeassist.tui.widgets.key_bar import KeyBar
from chargeassist.tui.widgets.ledger import Ledger
from chargeassist.tui.widgets.notices import Notices
from chargeassist.tui.widgets.number_line import NumberLine
from chargeassist.tui.widgets.panel import Panel, hanging, joined, touch
from chargeassist.tui.widgets.top_bar import TopBar
from chargeassist.tui.widgets.trend_plot import TrendPlot
from chargeassist.tui.widgets.values import ValueCell

_LETTERS = "123456789ab"


class Question(Panel):
    """What is asked of the trainee now, as large as the instruction is elsewhere."""

    def __init__(self, scene: Scene, session: DrillSession) -> None:
        super().__init__(scene, id="question")
        self._session = session

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return headline and sentence on one colour, the same at every moment."""
        pen = scene.pen
        style = f"bold {pen.palette.on_fill} on {pen.palette.fills[Action.WAIT]}"
        head, sentence = question(scene, self._session)
        rows = ["", f"  {head}", f"  {sentence}", ""]
        return joined([pen.line((pen.text(row)[:width].ljust(width), style)) for row in rows])


def question(scene: Scene, session: DrillSession) -> tuple[str, str]:
    """Return what is asked, as a headline and a sentence."""
    last = session.last
    if scene.ended:
        return "THE DRILL IS OVER", "The score follows."
    if scene.snapshot is None:
        return "YOUR CALL", "No values yet."
    if session.drill.step_open and last is not None and last.mass_kg is not None:
        amount = display.mass(last.mass_kg, scene.system)
        return f"{amount} GOING IN", "The valve shuts by itself. Then: when has it settled?"
    if last is None:
        return "YOUR CALL", "When has it settled? Or is something wrong that must be fixed first?"
    at = display.clock(last.t)
    if last.kind == "settled":
        value = ""
        if last.reading_k is not None:
            value = f" at {display.difference(last.reading_k, scene.system)}"
        return "AND NOW?", f"You called it settled{value} ({at}). Add, recover, stop, or fix?"
    return "YOUR CALL", f"Since your {last.kind} at {at}: when has it settled again?"


class DrillBoard(SessionScreen):
    """Values, their change, the ledger and the clock; no verdict and no colour of one."""

    def __init__(self, scene: Scene, session: DrillSession) -> None:
        super().__init__()
        judged, witness = scene.job.target.judged, scene.job.target.witness
        self._top = (TopBar(scene), Question(scene, session), NumberLine(scene))
        self._cells = (ValueCell(scene, judged.name), ValueCell(scene, witness.name))
        self._tables = (ChannelTable(scene), Ledger(scene))
        self._trend = TrendPlot(scene)
        self._bottom = (Notices(scene), KeyBar(scene))

    def compose(self) -> ComposeResult:
        """Put the parts one below the other."""
        yield from self._top
        with Horizontal(id="values"):
            yield from self._cells
        with Container(id="middle"):
            with Container(id="tables"):
                yield from self._tables
            yield self._trend
        with Container(id="foot"):
            yield from self._bottom

    def show(self, scene: Scene) -> None:
        """Show `scene` on every part."""
        with self.app.batch_update():
            for panel in (*self._top, *self._tables, *self._bottom):
                panel.show(scene)
            for cell in self._cells:
                cell.show(scene)
            self._trend.show(scene)


class _Choices(Panel):
    """One line for each choice; each can be clicked or touched."""

    def __init__(self, scene: Scene, title: str, choices: Sequence[tuple[str, str]]) -> None:
        super().__init__(scene)
        self._title = title
        self._choices = tuple(choices)

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the list."""
        pen = scene.pen
        rows = [pen.line((self._title, "bold"))]
        for key, label in self._choices:
            line = pen.line((f" {key} ", "bold reverse"), f"  {label}")
            rows.append(touch(line, f"screen.pick('{key}')"))
        return joined(rows)


class Choose(TextOverlay[str]):
    """Dismisses with the key of a choice, or None after Escape.

    Parameters
    ----------
    scene : Scene
    title : str
    choices : sequence of (str, str)
        A single letter or digit, and what it means.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "back", "go back"),
        *(Binding(key, f"pick('{key}')", "choose") for key in _LETTERS + "xg"),
    ]

    def __init__(self, scene: Scene, title: str, choices: Sequence[tuple[str, str]]) -> None:
        super().__init__(scene)
        self._title = title
        self._choices = tuple(choices)

    def body(self) -> list[Widget]:
        """Return the list."""
        box = _Choices(self.scene, self._title, self._choices)
        box.styles.height = "auto"
        return [box]

    def action_pick(self, key: str) -> None:
        """Choose, if it is on offer."""
        if any(key == offered for offered, _ in self._choices):
            self.dismiss(key)


def fixes() -> list[tuple[str, str, str]]:
    """Return (key, word, meaning) of everything that can be called to be fixed."""
    return [
        (key, word, fix.words) for key, (word, fix) in zip(_LETTERS, FIXES.items(), strict=True)
    ]


def _apart(line: str) -> tuple[str, str]:
    """Return what stands before a line's text (points, a time), and the text."""
    found = re.match(r"\s*(?:[+\u2212-]?[\d.:]+\s{2,})?", line)
    at = 0 if found is None else found.end()
    return line[:at], line[at:]


class Score(TextOverlay[bool]):
    """The result in words; any of its keys ends the program."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,q,enter", "back", "leave")]
    hints = (Hint("q", "leaves", "screen.back"),)

    def __init__(self, scene: Scene, lines: Sequence[str]) -> None:
        super().__init__(scene)
        self._lines = tuple(lines)

    def body(self) -> list[Widget]:
        """Return the lines, the total first."""
        pen = self.scene.pen
        width = max(20, min(84, self.app.size.width) - 8)
        rows = []
        for number, line in enumerate(self._lines):
            style = "bold" if number == 0 else ""
            head, said = _apart(line)
            rows += hanging(pen.line(head), len(head), pen.line((said or " ", style)), width)
        text = Static(joined(rows))
        text.styles.height = "auto"
        return [text]
