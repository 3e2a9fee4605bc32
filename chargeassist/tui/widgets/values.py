"""The judged value, its witness and the seconds to go, in digits to be read at arm's length."""

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.renderables.digits import Digits as Letters
from textual.widgets import Digits

from chargeassist.model import display
from chargeassist.model.judged import SUBCOOLING, SUPERHEAT
from chargeassist.stream.facts import ChannelState, Measured
from chargeassist.tui import words
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, joined

_DIGITS_PAD = 1
"""Cells right of the digits, by ``app.tcss``."""


class ValueText(Panel):
    """Three short lines beside the digits of one value; without digits, the value among them.

    Attributes
    ----------
    alone : bool
        The digits are too wide to leave room for the lines, and do not stand there.
    """

    def __init__(self, scene: Scene, kind: str) -> None:
        super().__init__(scene, id=f"{kind}-text")
        self.kind = kind
        self.alone = False

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the lines; on one line alone: name, value, uncertainty."""
        pen = scene.pen
        digits, rows = value_rows(scene, self.kind)
        if height == 3 and pen.unicode and not self.alone:
            return joined(rows)
        if self.kind == "to-go":
            number = pen.line((digits, "bold"), " ") if digits.isdecimal() else Content("")
            range_s = [rows[2]] if height == 1 else []
            if height == 1 and rows[0].cell_length > width:
                rows[0] = pen.cut(pen.line(_brief_state(rows[0])), width)
            return _as_fits([rows[0], number + rows[1], *range_s], width, height)
        first = rows[0] + pen.line(" ", (digits, "bold"))
        if height == 1:
            first = _with_unit(scene, first, rows[1], width)
        if height == 1 and scene.snapshot is not None:
            room = width - first.cell_length - rows[1].cell_length - 2
            rows[2] = _named_target(scene, self.kind, rows[2], room)
        return _as_fits([first, *rows[1:]], width, height)


def _brief_state(state: Content) -> Content:
    """Return a state by its first word: "◐ nearly"."""
    shape, word = state.plain.split(" ")[:2]
    return state.truncate(len(shape) + 1 + len(word))


def _with_unit(scene: Scene, value: Content, uncertainty: Content, width: int) -> Content:
    """Return a value with its unit, where its uncertainty has no room to say that."""
    known = uncertainty.plain.startswith("±")
    if not known or value.cell_length + 1 + uncertainty.cell_length <= width:
        return value
    unit = uncertainty.plain.rpartition(" ")[2]
    gap = " " if value.cell_length + 1 + len(unit) < width else ""  # a gap behind it too
    return value + scene.pen.line((f"{gap}{unit}", "bold"))


def _named_target(scene: Scene, kind: str, target: Content, room: int) -> Content:
    """Return the target of the judged value with its word, as briefly as `room` asks for."""
    if kind != scene.job.target.judged.name or target.plain.startswith("target"):
        return target
    short = target.plain.replace(" to ", "–")
    bare = short.partition(" ")[0]  # the unit stands beside the uncertainty
    for text in (target.plain, short, bare):
        named = scene.pen.line((f"target {text}", scene.pen.palette.faint))
        if named.cell_length <= room:
            return named
    return target


def _as_fits(rows: list[Content], width: int, height: int | None) -> Content:
    """Return rows one below the other; where there is one line, as many as it holds."""
    if height != 1:
        return joined(rows)
    line = rows[0]
    for row in rows[1:]:
        if line.cell_length + 1 + row.cell_length > width:
            break
        line = line + Content(" ") + row
    return line


class ValueCell(Horizontal):
    """One value."""

    def __init__(self, scene: Scene, kind: str, *, classes: str = "") -> None:
        super().__init__(id=kind, classes=classes)
        self._digits = Digits("")
        self._text = ValueText(scene, kind)
        self.kind = kind

    def compose(self) -> ComposeResult:
        """Put the digits before the lines."""
        yield self._digits
        yield self._text

    def on_resize(self) -> None:
        """Let the digits go, or come back, for the new size."""
        self.show(self._text.scene)

    def show(self, scene: Scene) -> None:
        """Show the newest value."""
        digits, rows = value_rows(scene, self.kind)
        longest = max(row.cell_length for row in rows)
        room = self.size.width - Letters.get_width(digits) - _DIGITS_PAD
        self._text.alone = self.size.width > 0 and room < longest and self.kind != "to-go"
        self._digits.set_class(not digits or self._text.alone, "-empty")
        if self._digits.value != digits:
            self._digits.update(digits)
        self._text.show(scene)


def value_rows(scene: Scene, kind: str) -> tuple[str, list[Content]]:
    """Return the digits of a value and the three lines beside them.

    Parameters
    ----------
    scene : Scene
    kind : str
        "subcooling", "superheat" or "to-go".
    """
    pen = scene.pen
    faint = pen.palette.faint
    if scene.snapshot is None:
        return "", [pen.line((kind.replace("-", " "), faint)), Content(""), Content("")]
    facts = scene.snapshot.facts
    state = pen.state(facts.settling.state)
    if kind == "to-go":
        digits, between = words.to_go(scene.snapshot)
        label = "s to go, about" if digits.isdecimal() else "time to go" if digits else ""
        if facts.settled is not None:
            _, uncertainty = words.value_lines(facts.settled, scene.system)
            # What the sentence says, which is renewed every few seconds: never two numbers at once.
            said_k = scene.snapshot.advice.figures.get(facts.judged.figure, facts.settled.value_k)
            number = display.difference_number(said_k, scene.system)
            return "", [state, pen.line(f"at {number} {uncertainty}"), Content("")]
        if facts.by_hand is not None:
            few, rest = words.hand_lines(facts.by_hand)
            return "", [pen.state(ChannelState.BY_HAND), pen.line(few), pen.line((rest, faint))]
        return digits, [state, pen.line(label), pen.line((between, faint))]
    judged = kind == facts.judged.name
    value = facts.subcooling if kind == "subcooling" else facts.superheat
    measured = value if isinstance(value, Measured) else None
    by_hand = words.read_by_hand(facts, SUBCOOLING if kind == SUBCOOLING.name else SUPERHEAT)
    digits, uncertainty = words.value_lines(measured, scene.system, by_hand=by_hand)
    below = words.target if judged else words.witness_range
    return digits, [
        pen.line((kind, "bold")),
        pen.line((uncertainty, "bold" if judged else "")),
        pen.line((below(scene.snapshot, scene.system), faint)),
    ]


class Values(Horizontal):
    """The three values side by side."""

    def __init__(self, scene: Scene) -> None:
        super().__init__(id="values")
        judged, witness = scene.job.target.judged, scene.job.target.witness
        self._cells = [
            ValueCell(scene, judged.name, classes="judged"),
            ValueCell(scene, witness.name, classes="witness"),
            ValueCell(scene, "to-go"),
        ]

    def compose(self) -> ComposeResult:
        """Put the values side by side."""
        yield from self._cells

    def show(self, scene: Scene) -> None:
        """Show the newest values."""
        for cell in self._cells:
            cell.show(scene)
