"""Base of what comes over the board: a box under the top line, which stays in sight."""

from typing import TypeVar

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widget import Widget

from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.top_bar import TopBar

Answer = TypeVar("Answer")


class Overlay(ModalScreen[Answer | None]):
    """A question or a text over the board.

    Subclasses give `body`; what is behind goes on being updated, and SIMULATED or REPLAY stays on
    the first line.
    """

    def __init__(self, scene: Scene) -> None:
        super().__init__()
        self.scene = scene

    def compose(self) -> ComposeResult:
        """Put the box under the top line."""
        yield TopBar(self.scene)
        with VerticalScroll(id="box"):
            yield from self.body()

    def body(self) -> list[Widget]:
        """Return what is in the box."""
        raise NotImplementedError

    def show(self, scene: Scene) -> None:
        """Keep the top line up to date."""
        self.scene = scene
        for bar in self.query(TopBar):  # none before the box is put together
            bar.show(scene)

    def action_back(self) -> None:
        """Go back without an answer."""
        self.dismiss(None)


class TextOverlay(Overlay[Answer]):
    """An overlay of nothing but text, which the arrow keys scroll."""

    def on_mount(self) -> None:
        """Let the arrow keys scroll."""
        self.query_one("#box").focus()
