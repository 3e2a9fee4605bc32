"""Base of the parts of the board: draw text from the scene, and repaint only what changed."""

from textual.content import Content
from textual.geometry import Size
from textual.style import Style
from textual.widget import Widget

from chargeassist.tui.scene import Scene

SLIM = 58
"""Fewer columns, as on a phone held upright, have room for one value on a line."""


class Panel(Widget):
    """A piece of text drawn from the scene.

    Subclasses give `draw`. A panel of automatic height asks for a new layout only when its number
    of lines changes, so that a screen over a slow line is not sent twice.
    """

    def __init__(self, scene: Scene, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.scene = scene
        self._shown: Content | None = None
        self._needed = 0

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return what to show.

        Parameters
        ----------
        scene : Scene
        width : int
            Cells.
        height : int or None
            Lines there are; None when as many as needed may be used.
        """
        raise NotImplementedError

    def show(self, scene: Scene) -> None:
        """Draw `scene`; repaints nothing where the text stays the same."""
        self.scene = scene
        width, height = self.content_size
        if not width:
            return
        before, needed = self._shown, self._needed
        self._shown = self._drawn(width, height)
        grown = self._needed != needed
        if grown or before is None or not same(self._shown, before):
            self.refresh(layout=grown)

    def render(self) -> Content:
        """Return the text for the present size."""
        width, height = self.content_size
        self._shown = self._drawn(width, height)
        return self._shown

    def _drawn(self, width: int, height: int) -> Content:
        """Return the text, and note the lines it needs where their number is not given."""
        automatic = self.styles.height is not None and self.styles.height.is_auto
        if not automatic:
            return self.draw(self.scene, width, height)
        whole = self.draw(self.scene, width, None)
        self._needed = lines(whole, width)
        # What needs more than the screen can give says itself what is left out.
        return whole if self._needed <= height else self.draw(self.scene, width, height)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines needed at `width` cells."""
        return lines(self.draw(self.scene, width, None), width) if width else 0


def in_large_print(widget: Widget) -> bool:
    """Return whether the board that `widget` is on shows large print."""
    return widget.screen.has_class("-large")


def same(one: Content, other: Content) -> bool:
    """Return whether two pieces of content have the same text in the same styles."""
    return one.plain == other.plain and one.spans == other.spans


def lines(content: Content, width: int) -> int:
    """Return the number of lines `content` takes when wrapped to `width` cells."""
    return len(content.wrap(width)) if content.plain else 0


def hanging(head: Content, indent: int, text: Content, width: int) -> list[Content]:
    """Return `text` wrapped beside `head`, its lines all at `indent` cells."""
    rows = text.wrap(max(10, width - indent))
    first = head.pad_right(max(0, indent - head.cell_length))
    heads = [first] + [Content(" " * indent)] * (len(rows) - 1)
    return [one + line for one, line in zip(heads, rows, strict=True)]


def joined(rows: list[Content]) -> Content:
    """Return rows one below the other."""
    return Content("\n").join(rows)


def touch(content: Content, action: str) -> Content:
    """Return `content` such that a touch or click on it does what `action` names."""
    return content.stylize(Style.from_meta({"@click": action}))
