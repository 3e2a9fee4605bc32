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

_MARKS = (
    ("a", "a charge step begins: the cylinder valve is open"),
    ("e", "it ends: type how much went in, or leave it to the scale"),
    ("r", "refrigerant was recovered: type how much came out"),
    ("f", "the unit shows its test frequency: confirm it"),
    ("g", "the frequency is no longer held"),
    ("enter", "what is asked for is done, or the reading it asks for; a caution is read"),
    ("o", "anything else that was done or read: volts, amps, airflow, wet bulbs"),
    ("n", "a note for the record"),
)
_SEEING = (
    ("w", "why: causes that explain the readings, with the evidence"),
    ("c", "conditions and limits with their sources, and probes: confirm, or go on without (x)"),
    ("s", "the stages of the job: what each lacks, what was judged; begin one"),
)
_SIGHT = (
    ("u", "°F, psi and oz, or °C, kPa and g"),
    ("d", "dark or light ground"),
)
_BOARD = (("l", "large print: sentence, judged value, state and target alone"),)
_BELL = (
    ("m", "bell off or on; it rings once when settled or something is to do, twice for trouble"),
)
_TIME = (("space", "hold time, and let it go on"), ("- +", "slower or faster, 1 to 60 times"))
_DESK = (
    (", .", "back, and on to the next event"),
    ("1-9", "to where that charge step begins; 0 is the start"),
    ("j", "go to a moment of the list"),
    ("b n", "bookmark; a note beside the recording"),
)
_CALLS = (
    ("s", "it has settled now"),
    ("a", "add: type how much"),
    ("r", "recover: type how much"),
    ("x", "stop, the charge is right; it ends the drill"),
    ("f", "fix first: choose what is wrong"),
)
_LAST = (("q", "end the session, with a question first"),)


def keys_of(scene: Scene) -> tuple[tuple[str, str], ...]:
    """Return the keys of this kind of session, each with what it does."""
    actions = {key.action for key in scene.keys}
    paced = _TIME if "pause" in actions else ()
    if scene.veiled:
        return (*_CALLS, *_SIGHT, *paced, *_LAST)
    if scene.replayed:
        desk = _DESK if "go_to" in actions else ()
        return (*desk, *paced, *_SEEING, *_SIGHT, *_BOARD, *_LAST)
    return (*_MARKS, *_SEEING, *_SIGHT, *_BOARD, *_BELL, *paced, *_LAST)


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
        rows = [pen.line(("Keys", "bold"))]
        for key, meaning in keys_of(scene):
            rows += self._entry(pen.line((f" {key} ", "bold reverse")), 8, meaning, width)
        if scene.veiled:  # verdicts are what the trainee is asked for
            return joined([*rows, Content(""), pen.line((_DUTY, palette.faint))])
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
