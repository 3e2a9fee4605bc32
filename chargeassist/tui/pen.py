"""What drawing is done with: colours, shapes, and what a terminal that is not UTF-8 gets instead.

The colours are those of Okabe and Ito, "Color Universal Design" (2008), which people of every
kind of colour vision can tell apart. No meaning is carried by a colour alone: each comes with a
word and a shape.
"""

import codecs
import sys
from dataclasses import dataclass
from typing import TextIO

from textual.content import Content

from chargeassist.model.events import Action
from chargeassist.stream.facts import ChannelState, SettleState

_BLACK = "#000000"
_ORANGE = "#E69F00"
_SKY_BLUE = "#56B4E9"
_BLUISH_GREEN = "#009E73"
_YELLOW = "#F0E442"
_DARK_BLUE = "#00529B"  # blue, #0072B2, darkened: see `LIGHT`
_VERMILLION = "#D55E00"
_REDDISH_PURPLE = "#CC79A7"

Part = str | tuple[str, str] | Content


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Colours by meaning, for a dark or a light ground.

    Attributes
    ----------
    fills : dict
        Ground of the banner by action; `on_fill` is legible on each of them.
    states : dict
        Ink by state word.
    """

    ground: str
    ink: str
    faint: str
    band: str
    band_ground: str
    forecast: str
    mark: str
    warning: str
    fills: dict[Action, str]
    on_fill: str
    states: dict[str, str]


_FILLS = {
    Action.WAIT: _SKY_BLUE,
    Action.ADD: _BLUISH_GREEN,
    Action.STOP: _YELLOW,
    Action.RECOVER: _REDDISH_PURPLE,
    Action.FIX_FIRST: _VERMILLION,
    Action.DO: _ORANGE,
}

DARK = Palette(
    ground="#0B0F12",
    ink="#F2F2EE",
    faint="#9AA3AB",
    band=_BLUISH_GREEN,
    band_ground="#0D3B2E",
    forecast=_SKY_BLUE,
    mark=_ORANGE,
    warning=_ORANGE,
    fills=_FILLS,
    on_fill=_BLACK,
    states={
        SettleState.TWO_PHASE.value: _YELLOW,
        SettleState.SETTLED.value: "#2FD1A3",  # bluish green, lightened to be read on black
        SettleState.NEARLY.value: _YELLOW,
        SettleState.MOVING.value: _SKY_BLUE,
        SettleState.NO_SIGNAL.value: "#FF8A3D",  # vermillion, lightened likewise
        ChannelState.BY_HAND.value: "#D7DCE2",
    },
)
# Darkened to be read on white, and until one of 16 colours is blue, red or grey: cyan, green and
# yellow on white are not to be read.
LIGHT = Palette(
    ground="#FFFFFF",
    ink="#111111",
    faint="#5A6168",
    band=_BLUISH_GREEN,
    band_ground="#CFEDE3",
    forecast=_DARK_BLUE,
    mark="#6B4423",  # orange, darkened likewise
    warning="#A32400",  # vermillion, darkened until one of 16 colours is red, not yellow
    fills=_FILLS,
    on_fill=_BLACK,
    states={
        SettleState.TWO_PHASE.value: "#574B0A",
        SettleState.SETTLED.value: "#00694C",
        SettleState.NEARLY.value: "#574B0A",
        SettleState.MOVING.value: _DARK_BLUE,
        SettleState.NO_SIGNAL.value: "#A32400",
        ChannelState.BY_HAND.value: "#3A4048",
    },
)

_SHAPES = {
    SettleState.SETTLED.value: ("●", "="),
    SettleState.TWO_PHASE.value: ("◇", "o"),
    SettleState.NEARLY.value: ("◐", "~"),
    SettleState.MOVING.value: ("▲", ">"),
    SettleState.NO_SIGNAL.value: ("×", "x"),
    ChannelState.BY_HAND.value: ("■", "#"),
}

_SPELLED_OUT = str.maketrans(
    {
        "±": "+/-",
        "−": "-",
        "–": "-",
        "—": "--",
        "°": "",
        "·": ".",
        "→": "->",
        "…": "...",
        "×": "x",
        "▲": "^",
        "●": "*",
        "■": "#",
        "’": "'",
    }
)


@dataclass(frozen=True, slots=True)
class Pen:
    """Palette and alphabet.

    Attributes
    ----------
    palette : Palette
    unicode : bool
        False: the terminal takes ASCII only; everything drawn is spelled out.
    """

    palette: Palette = DARK
    unicode: bool = True

    def text(self, text: str) -> str:
        """Return `text` in the letters this terminal has."""
        if self.unicode:
            return text
        return text.translate(_SPELLED_OUT).encode("ascii", "replace").decode("ascii")

    def pick(self, unicode: str, ascii_only: str) -> str:
        """Return the drawing character this terminal has."""
        return unicode if self.unicode else ascii_only

    def line(self, *parts: Part) -> Content:
        """Return parts as one piece of content; markup in them is text, never obeyed.

        Parameters
        ----------
        *parts : str, (str, str) or Content
            Plain text, (text, style), or content this pen has made already.
        """
        return Content.assemble(*(self._part(part) for part in parts))

    def shape(self, state: ChannelState | SettleState) -> str:
        """Return the shape that goes with a state word."""
        return self.pick(*_SHAPES[state.value])

    def state(self, state: ChannelState | SettleState) -> Content:
        """Return a state as shape, word and colour."""
        style = f"bold {self.palette.states[state.value]}"
        return self.line((f"{self.shape(state)} {state.value}", style))

    def cut(self, text: Content, width: int) -> Content:
        """Return `text` in `width` cells: cut with an ellipsis, or filled with spaces."""
        length = text.cell_length
        if length <= width:
            return text.pad_right(width - length)
        mark = self.text("…")[:width]
        return text.truncate(width - len(mark)) + Content(mark)

    def brief(self, text: Content, width: int) -> Content:
        """Return `text` in one line of `width` cells: cut behind a word, with an ellipsis."""
        if text.cell_length <= width:
            return text
        mark = self.text("…")
        kept = text.truncate(width - 1 - len(mark))
        words = kept.plain.rstrip(" ")
        if text.plain[len(words) : len(words) + 1] not in {" ", ""}:
            words = words[: words.rfind(" ")].rstrip(" ") if words.strip(" ").count(" ") else words
        return text[: len(words)] + Content(f" {mark}")

    def right(self, text: Content, width: int) -> Content:
        """Return `text` at the right edge of `width` cells."""
        return text.pad_left(max(0, width - text.cell_length))

    def _part(self, part: Part) -> Content:
        if isinstance(part, Content):
            return part
        if isinstance(part, str):
            return Content(self.text(part))
        text, style = part
        return Content.styled(self.text(text), style)


def terminal_takes_unicode() -> bool:
    """Return whether the terminal that Textual draws on shows more than ASCII.

    It draws on the original standard error on POSIX, on standard output on Windows.
    """
    return takes_unicode(sys.__stdout__ if sys.platform == "win32" else sys.__stderr__)


def takes_unicode(stream: TextIO | None) -> bool:
    """Return whether the terminal behind `stream` shows more than ASCII; no stream does not."""
    if stream is None or stream.encoding is None:
        return False
    try:
        return codecs.lookup(stream.encoding).name.startswith("utf")
    except LookupError:
        return False
