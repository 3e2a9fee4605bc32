"""Every key, every instruction and every state word, in one line each."""

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from chargeassist.model.events import Action
from chargeassist.stream.facts import SettleState
from chargeassist.tui import words
from chargeassist.tui.screens.overlay import Overlay
from chargeassist.tui.widgets.panel import joined

_KEYS = (
    ("a", "a charge step begins: the cylinder valve is open"),
    ("e", "it ends: type how much went in, or leave it to the scale"),
    ("r", "refrigerant was recovered: type how much came out"),
    ("f", "the unit shows its test frequency: confirm it"),
    ("g", "the frequency is no longer held"),
    ("n", "a note for the record"),
    ("u", "°F, psi and oz, or °C, kPa and g"),
    ("d", "dark or light ground"),
    ("space", "hold time (replay and simulator)"),
    ("q", "end the session, with a question first"),
)


class Help(Overlay[bool]):
    """Any of its keys goes back."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,enter,question_mark,space", "back", "go back")
    ]

    def body(self) -> list[Widget]:
        """Return the lists."""
        pen = self.scene.pen
        rows: list[Content] = [pen.line(("Keys", "bold"), ("   Esc goes back", pen.palette.faint))]
        for key, meaning in _KEYS:
            head = pen.cut(pen.line((f" {key} ", "bold reverse")), 9)
            rows.append(head + pen.line(meaning))
        rows += [Content(""), pen.line(("Instructions", "bold"))]
        for action in Action:
            style = f"bold {pen.palette.on_fill} on {pen.palette.fills[action]}"
            head = pen.cut(pen.line((f" {action.value} ", style)), 13)
            rows.append(head + pen.line(words.instruction(action)))
        rows += [Content(""), pen.line(("State words", "bold"))]
        for state in SettleState:
            head = pen.cut(pen.state(state), 18)
            rows.append(head + pen.line(words.STATE_MEANINGS[state.value]))
        rows += [
            Content(""),
            pen.line(("The number line", "bold")),
            pen.line(f"|--{pen.pick('◆', 'O')}--|  value and its uncertainty (k = 2)"),
            pen.line(f"(--{pen.pick('◇', 'o')}--)  where it will settle, 90 % interval"),
            pen.line("digits    where each charge step settled"),
            Content(""),
            pen.line(
                (
                    "This advises and records. The nameplate, the maker's instructions, local code "
                    "and licensed practice go first.",
                    pen.palette.faint,
                )
            ),
        ]
        return [Static(joined(rows))]

    def on_mount(self) -> None:
        """Let the arrow keys scroll."""
        self.query_one("#box").focus()

    def action_back(self) -> None:
        """Go back."""
        self.dismiss(None)
