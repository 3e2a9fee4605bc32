"""``demo`` on a terminal opens the dashboard; told to print lines it does not."""

import os
import pty
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from chargeassist.session.record.store import SessionReader

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

# DEC private mode 1049, set: the screen of full-screen programs (xterm, "Control Sequences").
FULL_SCREEN = b"\x1b[?1049h"


class Terminal:
    """A program whose input and output are a terminal of 100 columns and 30 rows."""

    def __init__(self, *arguments: str) -> None:
        self.seen = b""
        self._master, slave = pty.openpty()
        environment = {**os.environ, "TERM": "xterm-256color", "COLUMNS": "100", "LINES": "30"}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "chargeassist", *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=environment,
            start_new_session=True,
        )
        os.close(slave)

    def until(self, holds: Callable[[bytes], bool], within_s: float = 20.0) -> bool:
        """Read until `holds` is true of everything seen, or the program has ended."""
        give_up = time.monotonic() + within_s
        while not holds(self.seen) and time.monotonic() < give_up:
            ready, _, _ = select.select([self._master], [], [], 0.1)
            if not ready:
                continue
            try:
                self.seen += os.read(self._master, 65536)
            except OSError:  # the other end is closed: the program has ended
                break
        return holds(self.seen)

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGKILL)
        self.process.wait(10.0)
        os.close(self._master)


def test_demo_on_a_terminal_opens_the_dashboard(tmp_path: Path) -> None:
    pytest.importorskip("chargeassist.tui.app", reason="the dashboard is not there")
    terminal = Terminal("demo", "--record", str(tmp_path))
    try:
        assert terminal.until(lambda seen: FULL_SCREEN in seen), terminal.seen[-500:]
        assert terminal.until(lambda seen: b"SIMULATED" in seen), terminal.seen[-500:]
        assert terminal.until(lambda seen: b"Millrace Lane" in seen), terminal.seen[-500:]
        assert terminal.process.poll() is None
    finally:
        terminal.close()


def test_demo_told_to_print_lines_prints_them_on_a_terminal_too(tmp_path: Path) -> None:
    terminal = Terminal("demo", "--lines", "--speed", "max", "--record", str(tmp_path))
    try:
        assert terminal.until(lambda seen: b"record: " in seen), terminal.seen[-500:]
        assert terminal.process.wait(10.0) == 0
    finally:
        terminal.close()
    assert FULL_SCREEN not in terminal.seen
    assert b"Stop: " in terminal.seen
    (path,) = tmp_path.iterdir()
    with SessionReader(path) as reader:
        assert reader.verify().finished
