"""Text wrapped for a terminal of usual width; addresses and names are never broken."""

import textwrap
from collections.abc import Iterator

WIDTH = 79
"""A terminal of 80 columns, whose last one many leave empty."""


def indented(text: str, indent: str = "   ") -> str:
    """Return `text` wrapped, each line after `indent`."""
    return "\n".join(
        textwrap.wrap(
            text,
            WIDTH,
            initial_indent=indent,
            subsequent_indent=indent,
            break_long_words=False,
            break_on_hyphens=False,
        )
    )


def beside(label: str, text: str, indent: int = 14) -> Iterator[str]:
    """Yield the lines of `text` wrapped in a column of its own, `label` before the first."""
    rows = textwrap.wrap(text, WIDTH - indent, break_long_words=False, break_on_hyphens=False)
    first, *others = rows or [""]
    yield label.ljust(indent) + first
    for row in others:
        yield " " * indent + row
