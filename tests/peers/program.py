"""The program as a process of its own; what it prints is kept."""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from types import TracebackType
from typing import Self

STARTS_WITHIN_S = 30.0


class Program:
    """``python -m chargeassist`` with its arguments; one that `hears` can be told lines."""

    def __init__(
        self,
        *arguments: str | Path,
        environment: Mapping[str, str] | None = None,
        hears: bool = False,
    ) -> None:
        self.said: list[str] = []
        self.complaints: list[str] = []
        self.process = subprocess.Popen(
            [sys.executable, "-m", "chargeassist", *map(str, arguments)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            stdin=subprocess.PIPE if hears else subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
            env={**os.environ, **(environment or {})},
        )
        assert self.process.stdout is not None
        assert self.process.stderr is not None
        self._readers = [
            threading.Thread(target=self._keep, args=(stream, kept), daemon=True)
            for stream, kept in (
                (self.process.stdout, self.said),
                (self.process.stderr, self.complaints),
            )
        ]
        for reader in self._readers:
            reader.start()

    @staticmethod
    def _keep(stream: Iterable[str], kept: list[str]) -> None:
        for line in stream:
            kept.append(line.rstrip("\n"))

    def tell(self, line: str) -> None:
        """Type a line."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{line}\n")
        self.process.stdin.flush()

    @property
    def everything(self) -> list[str]:
        """What it printed, on both streams."""
        return [*self.said, *self.complaints]

    def wait_for(self, *parts: str, within_s: float = STARTS_WITHIN_S) -> bool:
        """Return whether one line with all `parts` comes in time."""
        return until(
            lambda: any(all(p in line for p in parts) for line in self.everything), within_s
        )

    def count(self, text: str) -> int:
        """Return how many lines of its standard output have `text` in them so far."""
        return sum(text in line for line in self.said)

    def says_again(self, text: str, known: int, within_s: float = 20.0) -> bool:
        """Return whether more than `known` lines with `text` come in time."""
        return until(lambda: self.count(text) > known, within_s)

    def begun(self) -> bool:
        """Return whether the session has begun."""
        return until(lambda: self.said or self.process.poll() is not None, STARTS_WITHIN_S) and (
            bool(self.said)
        )

    def ended(self, within_s: float = 20.0) -> int | None:
        """Return the exit code; None (and the process is gone) if it does not end in time."""
        try:
            code = self.process.wait(within_s)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            code = None
        for reader in self._readers:
            reader.join(5.0)
        for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
            if stream is not None:
                stream.close()
        return code

    def interrupt(self, within_s: float = 20.0) -> int | None:
        """Press Ctrl-C and return the exit code."""
        self.process.send_signal(signal.SIGINT)
        return self.ended(within_s)

    def kill(self) -> float:
        """Kill it and return when."""
        killed_at = time.monotonic()
        self.process.kill()
        self.ended()
        return killed_at

    @property
    def memory_mib(self) -> float:
        """Resident memory."""
        text = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
        return next(int(r.split()[1]) for r in text.splitlines() if r.startswith("VmRSS")) / 1024

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
        self.ended()

    @property
    def crashed(self) -> bool:
        """Whether it broke with a Python traceback."""
        return any("Traceback" in line for line in self.complaints)


def until(holds: Callable[[], object], within_s: float) -> bool:
    """Return whether `holds` becomes true in time."""
    give_up = time.monotonic() + within_s
    while not holds():
        if time.monotonic() > give_up:
            return False
        time.sleep(0.02)
    return True
