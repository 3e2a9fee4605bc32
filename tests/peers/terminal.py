"""Serial ports that are pseudo-terminals of the operating system."""

import os
import sys
import threading
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

if sys.platform != "win32":
    import tty


def raw_pty() -> tuple[int, int]:
    """Return both ends of a new pseudo-terminal that changes no byte."""
    master, slave = os.openpty()
    tty.setraw(slave)
    return master, slave


class SerialPort:
    """The far end of a serial port behind a path that stays the same when plugged in again.

    Parameters
    ----------
    link : Path
        What the program opens.
    """

    def __init__(self, link: Path) -> None:
        self.link = link
        self.ends: tuple[int, int] | None = None
        self._lock = threading.RLock()

    def plug_in(self) -> None:
        """Let the port be there."""
        # The near end is kept: a pseudo-terminal that nobody has opened yet would be dead.
        ends = raw_pty()
        os.set_blocking(ends[0], False)
        self.link.symlink_to(os.ttyname(ends[1]))
        with self._lock:
            self.ends = ends

    def unplug(self) -> None:
        """Let the port be gone; without effect where it is."""
        with self._lock:
            ends, self.ends = self.ends, None
        if ends is not None:
            self.link.unlink()
            for end in ends:
                os.close(end)

    def put(self, data: bytes) -> int:
        """Send `data`; return how many bytes the port took: none unplugged, or while it is full."""
        with self._lock:
            if self.ends is not None:
                with suppress(BlockingIOError):  # nobody reads: this is not sent
                    return os.write(self.ends[0], data)
        return 0

    def __enter__(self) -> Self:
        """Plug it in."""
        self.plug_in()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Unplug it."""
        self.unplug()
