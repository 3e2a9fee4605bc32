"""What else can be told in a stage, picked by a number."""

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget

from chargeassist.guide.stages.stage import NextMark
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import Overlay
from chargeassist.tui.widgets.panel import Panel, hanging, joined

MOST = 10
"""Keys 1 to 9, then 0."""


class OthersText(Panel):
    """One line for each thing that can be told."""

    def __init__(self, scene: Scene, marks: tuple[NextMark, ...]) -> None:
        super().__init__(scene)
        self._marks = marks

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the list."""
        pen = scene.pen
        rows = [pen.line(("Tell what was done or read", "bold"))]
        for number, mark in enumerate(self._marks, start=1):
            key = pen.line((f" {number % 10} ", "bold reverse"), " ")
            rows += hanging(key, key.cell_length, pen.line(mark.label), width)
        return joined([*rows, pen.line(("Esc goes back", pen.palette.faint))])


class Others(Overlay[NextMark]):
    """A number tells it; Escape goes back."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,o", "back", "go back"),
        *(Binding(str(number % 10), f"pick({number})", "tell") for number in range(1, MOST + 1)),
    ]

    def __init__(self, scene: Scene, marks: tuple[NextMark, ...]) -> None:
        super().__init__(scene)
        self._marks = marks[:MOST]

    def body(self) -> list[Widget]:
        """Return the list."""
        return [OthersText(self.scene, self._marks)]

    def on_mount(self) -> None:
        """Let the arrow keys scroll."""
        self.query_one("#box").focus()

    def action_pick(self, number: int) -> None:
        """Tell the one of that number."""
        if 1 <= number <= len(self._marks):
            self.dismiss(self._marks[number - 1])

    def action_back(self) -> None:
        """Go back."""
        self.dismiss(None)
