"""A list whose chosen line has a mark before it: told without a colour too."""

from rich.segment import Segment
from textual.content import Content
from textual.strip import Strip
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from chargeassist.tui.pen import Pen


class MarkedList(OptionList):
    """The mark takes a cell before each line.

    Parameters
    ----------
    pen : Pen
    *content : Option or Content
    id : str, optional
    """

    def __init__(
        self,
        pen: Pen,
        *content: Option | Content,
        id: str | None = None,  # noqa: A002 - as every widget has it
    ) -> None:
        super().__init__(*content, id=id)
        self._pen = pen

    def _get_left_gutter_width(self) -> int:
        """Return the cells that the mark takes."""
        return 1

    def render_line(self, y: int) -> Strip:
        """Return a line with its mark, if it is the first one of the chosen option."""
        strip = super().render_line(y)
        number = self.scroll_offset.y + y
        there = 0 <= number < len(self._lines)
        mark = " "
        if there and self._lines[number] == (self.highlighted, 0):
            mark = self._pen.pick("▶", ">") if self.has_focus else self._pen.pick("▷", "-")
        style = next((segment.style for segment in strip), None)
        return Strip([Segment(mark, style), *strip])
