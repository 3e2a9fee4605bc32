"""The session broke: what happened, what is kept, what to do."""

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Static

from chargeassist.model.text import plain
from chargeassist.tui import words
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import Hint, Overlay


class Failure(Overlay[bool]):
    """Dismisses when it has been read."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("q,escape,enter", "close", "close"),
    ]
    hints = (Hint("q", "closes the program", "screen.close"),)

    def __init__(self, scene: Scene, error: BaseException) -> None:
        super().__init__(scene)
        self._error = error

    def body(self) -> list[Widget]:
        """Return the error's text and where the record is."""
        pen, path = self.scene.pen, self.scene.recorded_to
        kept = (
            f"What was recorded until then is in {plain(path, 300)}"
            if path is not None
            else "Nothing was being recorded."
        )
        return [
            Static(pen.line(("The session broke off", f"bold {pen.palette.warning}")), id="title"),
            Static(pen.line("Shut the cylinder valve: nothing on this screen is live any more.")),
            Static(pen.line((words.failure(self._error), "bold")), id="error"),
            Static(pen.line(kept)),
        ]

    def action_close(self) -> None:
        """Done reading."""
        self.dismiss(None)
