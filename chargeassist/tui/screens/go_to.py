"""The list of a recording's moments, bookmarks and notes: choose one and go there."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget
from textual.widgets import OptionList, Static

from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.trainer.moments import Moment
from chargeassist.trainer.sidecar import Entry
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import BACK, Hint, Overlay
from chargeassist.tui.widgets.marked_list import MarkedList
from chargeassist.tui.widgets.panel import hanging, joined

_BOX, _AROUND = 84, 14
"""Cells of the box at most, and of them its frames, its paddings and a scroll bar."""

_SHARE = 0.83
"""Of the screen's height, what a box may take by ``app.tcss``."""


@dataclass(frozen=True, slots=True)
class Place:
    """Somewhere to go: its time [s], what is there, and whether somebody kept it."""

    t: float
    text: str
    kept: bool = False


def places(
    moments: Sequence[Moment], entries: Sequence[Entry], system: UnitSystem
) -> tuple[Place, ...]:
    """Return every moment and entry, by time."""
    found = [Place(0.0, "the start")]
    found += [Place(moment.t, moment.text(system)) for moment in moments]
    found += [
        Place(entry.t, f"{entry.kind.value}{': ' if entry.text else ''}{entry.text}", kept=True)
        for entry in entries
    ]
    return tuple(sorted(found, key=lambda place: place.t))


class GoTo(Overlay[float]):
    """Dismisses with a session time [s], or None after Escape."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,q,j", "back", "go back")]
    hints = (Hint("Enter", "goes to the line chosen", "screen.go"), BACK)

    def __init__(self, scene: Scene, found: Sequence[Place], now: float) -> None:
        super().__init__(scene)
        self._found = tuple(found)
        self._now = now

    def body(self) -> list[Widget]:
        """Return the list, with the place one is at chosen."""
        pen = self.scene.pen
        width = min(_BOX, self.app.size.width) - _AROUND
        options = MarkedList(pen, *(self._option(place, width) for place in self._found))
        reached = [k for k, place in enumerate(self._found) if place.t <= self._now]
        options.highlighted = reached[-1] if reached else 0
        options.styles.max_height = max(4, int(_SHARE * self.app.size.height) - 4)
        return [
            Static(pen.line(("Go to", "bold")), id="title"),
            options,
        ]

    def _option(self, place: Place, width: int) -> Content:
        pen = self.scene.pen
        head = pen.line(
            (f"{display.clock(place.t):>8}  ", pen.palette.faint),
            (pen.pick("★ ", "* ") if place.kept else "  ", f"bold {pen.palette.mark}"),
        )
        return joined(hanging(head, head.cell_length, pen.line(place.text), width))

    def on_mount(self) -> None:
        """Choose at once."""
        self.query_one(OptionList).focus()

    def action_go(self) -> None:
        """Go to the line that is chosen, as Enter does."""
        self.query_one(OptionList).action_select()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Go there."""
        event.stop()
        self.dismiss(self._found[event.option_index].t)
