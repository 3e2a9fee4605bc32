"""Lines of standard input, read beside a running session: file, pipe or terminal alike."""

import asyncio
import os
import sys
import threading
from collections.abc import Callable

LONGEST_LINE = 4096
"""Of a longer line the rest is dropped [bytes]."""


def hear_lines(take: Callable[[str], None]) -> None:
    """Give each line to `take` on the event loop that runs now, until the input ends.

    The thread reads the descriptor itself: one that waits inside a buffered reader would hold its
    lock while the program ends.
    """
    number = _descriptor()
    if number is None:
        return
    loop = asyncio.get_running_loop()

    def listen() -> None:
        rest = b""
        while chunk := _read(number):
            *whole, rest = (rest + chunk).split(b"\n")
            rest = rest[:LONGEST_LINE]
            for line in whole:
                if not _tell(loop, take, line):
                    return
        if rest:
            _tell(loop, take, rest)

    threading.Thread(target=listen, name="standard input", daemon=True).start()


def _descriptor() -> int | None:
    """Return where standard input can be read; None where nobody is there to type."""
    try:
        number = sys.stdin.fileno()
        if os.isatty(number) and os.tcgetpgrp(number) != os.getpgrp():
            return None  # a job in the background would be stopped by its first read
    except (AttributeError, OSError, ValueError):
        return None
    return number


def _read(number: int) -> bytes:
    try:
        return os.read(number, LONGEST_LINE)
    except OSError:
        return b""


def _tell(loop: asyncio.AbstractEventLoop, take: Callable[[str], None], line: bytes) -> bool:
    text = line[:LONGEST_LINE].decode("utf-8", "replace")
    try:
        loop.call_soon_threadsafe(take, text)
    except RuntimeError:  # the loop has ended, and the session with it
        return False
    return True
