"""Text wrapped for the terminal it goes to; addresses, names and quantities are never broken."""

import re
import shutil
import sys
import textwrap
from collections.abc import Iterator
from typing import TextIO

from chargeassist.model.units import Quantity, unit_symbols

WIDTH = 79
"""A terminal of 80 columns, whose last one many leave empty."""

_NARROWEST = 24

_UNITS = "|".join(re.escape(s) for quantity in Quantity for s in unit_symbols(quantity))
_WITHIN_QUANTITY = re.compile(
    rf"(?<=±) (?=\d)|(?<=\d) (?=(?:{_UNITS})(?![^\W_]))|(?<=Pa|si|ar|Hg) (?=gauge|absolute)"
)
_BOUND = "\ue000"
"""Stands for a blank that no line ends at, while lines are made."""


def width() -> int:
    """Return the columns of a paragraph: `WIDTH`, or fewer on a narrower terminal."""
    return max(_NARROWEST, min(WIDTH, shutil.get_terminal_size().columns - 1))


def indented(text: str, indent: str = "   ") -> str:
    """Return `text` wrapped, each line after `indent`."""
    return "\n".join(hanging(text, indent, indent))


def beside(label: str, text: str, indent: int = 14) -> Iterator[str]:
    """Yield the lines of `text` wrapped in a column of its own, `label` before the first."""
    yield from hanging(text, label.ljust(indent), " " * indent) or [label]


def hanging(text: str, first: str = "", others: str = "") -> list[str]:
    """Return the lines of `text`, the first after `first`, the others after `others`."""
    return _wrapped(text, width(), first, others)


def _wrapped(text: str, wide: int, first: str, others: str) -> list[str]:
    lines = textwrap.wrap(
        _WITHIN_QUANTITY.sub(_BOUND, text),
        wide,
        initial_indent=first,
        subsequent_indent=others,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_BOUND, " ") for line in lines]


def row(text: str, indent: int, stream: TextIO | None = None) -> str:
    """Return a line of a table as it is printed: whole, or wrapped on a terminal too narrow for it.

    Parameters
    ----------
    text : str
    indent : int
        Columns before every line but the first.
    stream : TextIO, optional
        Where it goes, standard output by default; through a pipe a line stays one line.
    """
    columns = shutil.get_terminal_size().columns
    out = sys.stdout if stream is None else stream
    if len(text) < columns or not out.isatty():
        return text
    wide = max(_NARROWEST, columns - 1)
    indent = min(indent, wide // 3)
    return "\n".join(_wrapped(text, wide, "", " " * indent)) or text
