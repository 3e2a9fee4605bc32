"""What else can be told in a stage, picked by a number."""

from typing import ClassVar, Final

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget

from chargeassist.guide.stages.stage import NextMark
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import TextOverlay
from chargeassist.tui.widgets.panel import Panel, hanging, joined, touch

KEYS: Final = "1234567890abcdefghijklmn"
"""What picks the first, the second and so on."""


class OthersText(Panel):
    """One line for each thing that can be told."""

    def __init__(self, scene: Scene, marks: tuple[NextMark, ...]) -> None:
        super().__init__(scene)
        self._marks = marks

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the list."""
        pen = scene.pen
        hint = "   a number or letter tells it"
        rows = [pen.line(("Tell what was done or read", "bold"), (hint, pen.palette.faint))]
        for number, (name, mark) in enumerate(zip(KEYS, self._marks, strict=False), start=1):
            key = pen.line((f" {name} ", "bold reverse"), " ")
            said = mark.label if mark.entry is None else mark.entry.label
            told = hanging(key, key.cell_length, pen.line(said), width)
            rows += [touch(row, f"screen.pick({number})") for row in told]
        return joined(rows)


class Others(TextOverlay[NextMark]):
    """A number tells it; Escape goes back."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,o", "back", "go back"),
        *(Binding(key, f"pick({number})", "tell") for number, key in enumerate(KEYS, start=1)),
    ]

    def __init__(self, scene: Scene, marks: tuple[NextMark, ...]) -> None:
        super().__init__(scene)
        self._marks = marks[: len(KEYS)]

    def body(self) -> list[Widget]:
        """Return the list."""
        return [OthersText(self.scene, self._marks)]

    def action_pick(self, number: int) -> None:
        """Tell the one of that number."""
        if 1 <= number <= len(self._marks):
            self.dismiss(self._marks[number - 1])
