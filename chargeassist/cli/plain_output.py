"""Standard output that a record, a probe or a file name from outside cannot give orders to.

A terminal obeys control characters: they move the cursor, set the title, clear lines that were
written before. Commands print names and notes of records that may come from anywhere, so whatever
they print goes through here and only line feeds and tabs are left. The dashboard writes to the
terminal itself, and draws text as text.
"""

import contextlib
import os
import sys
from collections.abc import Iterable, Iterator
from typing import Any, TextIO

from chargeassist.cli.paragraphs import row
from chargeassist.model.text import inert


class OutputError(OSError):
    """Standard output takes nothing more: its disk is full, or the like."""


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
        """Write `text`; returns its length.

        Raises
        ------
        BrokenPipeError
            Nobody reads it any more.
        OutputError
            It cannot be written for another reason.
        """
        with _told():
            self.stream.write(inert(text))
        return len(text)

    def flush(self) -> None:
        """Write what is held back; raises as `write`."""
        with _told():
            self.stream.flush()

    def writelines(self, lines: Iterable[str]) -> None:
        """Write several texts."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401  whatever the stream has
        """Return what the stream itself has."""
        return getattr(self.stream, name)


@contextlib.contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        raise OutputError(f"standard output cannot be written: {error.strerror}") from error


def open_closed_streams() -> None:
    """Open what the program was started without, to nowhere: a timer's job, ``>&-`` in a shell.

    Python has None for it, and would print to standard output what is meant for standard error.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115, PTH123


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
