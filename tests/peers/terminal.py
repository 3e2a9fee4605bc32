"""Pseudo-terminals of the operating system: serial ports, and terminals programs run on."""

import os
import select
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

if sys.platform != "win32":
    import fcntl
    import pty
    import termios
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


class OnTerminal:
    """The program with a terminal of its own for input and output.

    Parameters
    ----------
    *arguments : str
    folder : Path
        Where it is run.
    **environment : str
        Beside what is there.

    Attributes
    ----------
    seen : str
        All it has written, control sequences and all.
    """

    def __init__(self, *arguments: str, folder: Path, **environment: str) -> None:
        self.seen = ""
        self._master, slave = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "chargeassist", *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=folder,
            env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
            start_new_session=True,
            preexec_fn=_own_terminal,
        )
        os.close(slave)

    def until(self, holds: Callable[[str], object], within_s: float = 30.0) -> bool:
        """Read until `holds` is true of all that was seen; return whether it is."""
        give_up = time.monotonic() + within_s
        while not holds(self.seen) and time.monotonic() < give_up and self._read():
            pass
        return bool(holds(self.seen))

    def press(self, text: str) -> None:
        """Type `text` as it stands, without Enter."""
        os.write(self._master, text.encode())

    def ended(self, within_s: float = 30.0) -> int:
        """Read to the end and return the exit code."""
        give_up = time.monotonic() + within_s
        while time.monotonic() < give_up and self._read():
            pass
        return self.process.wait(within_s)

    def _read(self) -> bool:
        """Read what waits; return whether more may come."""
        if not select.select([self._master], [], [], 0.1)[0]:
            return True
        try:
            self.seen += os.read(self._master, 65536).decode("utf-8", errors="replace")
        except OSError:  # the other end is closed: the program has ended
            return False
        return True

    def __enter__(self) -> Self:
        """Return it."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let nothing run on."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(10.0)
        os.close(self._master)


def _own_terminal() -> None:
    """Make the terminal the child's own, so that Ctrl-C reaches it."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
