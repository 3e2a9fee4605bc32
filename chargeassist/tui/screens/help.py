"""Every key, every instruction and every state word, in one line each."""

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget

from chargeassist.model.events import Action
from chargeassist.stream.facts import ChannelState, SettleState
from chargeassist.tui import words
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import TextOverlay
from chargeassist.tui.widgets.panel import Panel, joined

_KEYS = (
    ("a", "a charge step begins: the cylinder valve is open"),
    ("e", "it ends: type how much went in, or leave it to the scale"),
    ("r", "refrigerant was recovered: type how much came out"),
    ("f", "the unit shows its test frequency: confirm it"),
    ("g", "the frequency is no longer held"),
    ("n", "a note for the record"),
    ("c", "conditions and limits with their sources, and probes: confirm, or go on without (x)"),
    ("s", "the stages of the job: what each lacks, what was judged; begin one"),
    ("enter", "in a stage: tell that the instruction is done"),
    ("o", "tell what was done or read: volts, amps, airflow, wet bulbs"),
    ("w", "why: causes that explain the readings, with the evidence"),
    ("u", "°F, psi and oz, or °C, kPa and g"),
    ("d", "dark or light ground"),
    ("l", "large print: the sentence and the judged value alone"),
    ("m", "bell off or on; it rings once when settled or something is to do, twice for trouble"),
    ("space", "hold time (replay and simulator)"),
    ("- +", "slower or faster, 1 to 60 times (replay and simulator)"),
    (", .", "replay: back, and on to the next event"),
    ("1-9", "replay: to where that charge step begins; 0 is the start"),
    ("j b", "replay: go to a moment; bookmark. n notes beside the recording"),
    ("q", "end the session, with a question first"),
)


_LINES = (
    ("|--{now}--|", "value and its uncertainty (k = 2)"),
    ("(--{expected}--)", "where it will settle, 90 % interval"),
    ("1 2 3", "where each charge step settled"),
)

_DUTY = (
    "This advises and records. The nameplate, the maker's instructions, local code and licensed "
    "practice go first."
)


class HelpText(Panel):
    """The lists, with meanings that wrap beside their words and not under them."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return all of it."""
        pen = scene.pen
        palette = pen.palette
        rows = [pen.line(("Keys", "bold"), ("   Esc goes back", palette.faint))]
        for key, meaning in _KEYS:
            rows += self._entry(pen.line((f" {key} ", "bold reverse")), 8, meaning, width)
        rows += [Content(""), pen.line(("Instructions", "bold"))]
        for action in Action:
            style = f"bold {palette.on_fill} on {palette.fills[action]}"
            head = pen.line((f" {action.value} ", style))
            rows += self._entry(head, 12, words.instruction(action), width)
        rows += [Content(""), pen.line(("State words", "bold"))]
        for state in (*SettleState, ChannelState.BY_HAND):
            rows += self._entry(pen.state(state), 17, words.STATE_MEANINGS[state.value], width)
        rows += [Content(""), pen.line(("The number line", "bold"))]
        glyphs = {"now": pen.pick("◆", "O"), "expected": pen.pick("◇", "o")}
        for drawn, meaning in _LINES:
            rows += self._entry(pen.line(drawn.format(**glyphs)), 9, meaning, width)
        return joined([*rows, Content(""), pen.line((_DUTY, palette.faint))])

    def _entry(self, head: Content, indent: int, meaning: str, width: int) -> list[Content]:
        pen = self.scene.pen
        lines = pen.line(meaning).wrap(max(10, width - indent))
        heads = [pen.cut(head, indent)] + [Content(" " * indent)] * (len(lines) - 1)
        return [one + line for one, line in zip(heads, lines, strict=True)]


class Help(TextOverlay[bool]):
    """Any of its keys goes back."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,enter,question_mark,space", "back", "go back")
    ]

    def body(self) -> list[Widget]:
        """Return the text."""
        return [HelpText(self.scene)]
