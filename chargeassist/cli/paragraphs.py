"""Text wrapped for the terminal it goes to; addresses and names are never broken."""

import shutil
import sys
import textwrap
from collections.abc import Iterator
from typing import TextIO

WIDTH = 79
"""A terminal of 80 columns, whose last one many leave empty."""

_NARROWEST = 24


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
    return textwrap.wrap(
        text,
        width(),
        initial_indent=first,
        subsequent_indent=others,
        break_long_words=False,
        break_on_hyphens=False,
    )


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
    lines = textwrap.wrap(
        text,
        wide,
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return "\n".join(lines) or text
