"""Standard output that a record, a probe or a file name from outside cannot give orders to.

A terminal obeys control characters: they move the cursor, set the title, clear lines that were
written before. Commands print names and notes of records that may come from anywhere, so whatever
they print goes through here and only line feeds and tabs are left. The dashboard writes to the
terminal itself, and draws text as text.
"""

import contextlib
import sys
from collections.abc import Iterable, Iterator
from typing import Any, TextIO

from chargeassist.cli.paragraphs import row
from chargeassist.model.text import inert


class PlainOutput:
    """A text stream that passes on everything but what a terminal obeys.

    Parameters
    ----------
    stream : TextIO
        Where it goes.
    """

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        """Write `text`; returns its length."""
        self.stream.write(inert(text))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write several texts."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401  whatever the stream has
        """Return what the stream itself has."""
        return getattr(self.stream, name)


@contextlib.contextmanager
def plain_output() -> Iterator[None]:
    """Let standard output pass through `PlainOutput` inside the block."""
    out = sys.stdout
    sys.stdout = PlainOutput(out)
    try:
        yield
    finally:
        sys.stdout = out


def complain(about: object) -> None:
    """Write a message of the program's to standard error, as plain as `PlainOutput` is.

    On a terminal it is wrapped between words; elsewhere a line stays a line.
    Standard error itself stays as it is, for progress bars draw there.
    """
    lines = inert(str(about)).split("\n")
    print("\n".join(row(line, 2, sys.stderr) for line in lines), file=sys.stderr)
