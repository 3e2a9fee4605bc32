"""Base of what comes over the board: a box under the top line, which stays in sight."""

from typing import ClassVar, NamedTuple, TypeVar

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.css.query import NoMatches
from textual.screen import ModalScreen
from textual.widget import Widget

from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import touch
from chargeassist.tui.widgets.top_bar import TopBar

Answer = TypeVar("Answer")


class Hint(NamedTuple):
    """A key of a box: what is pressed, what it does, and the action behind a touch."""

    key: str
    does: str
    action: str


BACK = Hint("Esc", "goes back", "screen.back")


class Overlay(ModalScreen[Answer | None]):
    """A question or a text over the board.

    Subclasses give `body`; what is behind goes on being updated, and SIMULATED or REPLAY stays on
    the first line. The keys stand in the box's lower edge: in sight however long the text is, and
    to be touched where there is no keyboard.
    """

    hints: ClassVar[tuple[Hint, ...]] = (BACK,)

    def __init__(self, scene: Scene) -> None:
        super().__init__()
        self.scene = scene
        self._scrolls: bool | None = None

    def compose(self) -> ComposeResult:
        """Put the box under the top line."""
        yield TopBar(self.scene)
        with VerticalScroll(id="box"):
            yield from self.body()

    def on_mount(self) -> None:
        """Name the keys once it is known whether the text is longer than the box."""
        self.call_after_refresh(self._name_keys)

    def on_resize(self) -> None:
        """Name the keys that scroll where a smaller screen has cut the text."""
        self.call_after_refresh(self._name_keys)

    def _name_keys(self) -> None:
        try:
            box = self.query_one("#box", VerticalScroll)
        except NoMatches:  # not put together yet, or gone again
            return
        scrolls = box.max_scroll_y > 0
        if scrolls == self._scrolls:
            return
        self._scrolls = scrolls
        pen = self.scene.pen
        parts: list[Content] = []
        if scrolls:
            parts += [
                touch(
                    pen.line((f" {pen.pick(up, spelled)} ", "bold reverse")), f"screen.turn({by})"
                )
                for up, spelled, by in (("↑", "up", -1), ("↓", "down", 1))
            ]
        parts += [
            touch(pen.line((f" {hint.key} ", "bold reverse"), f" {hint.does}"), hint.action)
            for hint in self.hints
        ]
        box.border_subtitle = Content("  ").join(parts)

    def body(self) -> list[Widget]:
        """Return what is in the box."""
        raise NotImplementedError

    def show(self, scene: Scene) -> None:
        """Keep the top line up to date."""
        self.scene = scene
        for bar in self.query(TopBar):  # none before the box is put together
            bar.show(scene)
        self._name_keys()

    def action_turn(self, pages: int) -> None:
        """Scroll by a page, for a hand without arrow keys."""
        box = self.query_one("#box", VerticalScroll)
        box.scroll_relative(y=pages * max(1, box.size.height - 1), animate=False)

    def action_back(self) -> None:
        """Go back without an answer."""
        self.dismiss(None)


class TextOverlay(Overlay[Answer]):
    """An overlay of nothing but text, which the arrow keys scroll."""

    def on_mount(self) -> None:
        """Let the arrow keys scroll."""
        self.query_one("#box").focus()
