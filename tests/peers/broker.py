"""A mosquitto broker of one's own on the loopback interface."""

import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Self

if sys.platform != "win32":
    import os

ANSWERS_WITHIN_S = ENDS_WITHIN_S = 30.0
EVERYBODY = "allow_anonymous true"


def free_port() -> int:
    """Return a port of 127.0.0.1 that nobody listens at."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        return int(server.getsockname()[1])


def answers(port: int) -> bool:
    """Return whether something listens at `port` of 127.0.0.1."""
    with socket.socket() as each:
        return each.connect_ex(("127.0.0.1", port)) == 0


class Broker:
    """One broker process; it can end and begin again at its port.

    Parameters
    ----------
    program : str
        Path of mosquitto.
    folder : Path
        For its configuration and its log.
    config : str
        Lines of configuration beside that of the listener.
    verbose : bool
        Whether its log says who subscribes to what.
    """

    def __init__(
        self, program: str, folder: Path, config: str = EVERYBODY, *, verbose: bool = False
    ) -> None:
        self.port = free_port()
        self._log = folder / "mosquitto.log"
        place = folder / "mosquitto.conf"
        # Started by root it would change to an account that may not read the test's files.
        user = "user root\n" if sys.platform != "win32" and os.geteuid() == 0 else ""
        place.write_text(f"{user}listener {self.port} 127.0.0.1\n{config}\n", encoding="utf-8")
        self._command = [program, *(["-v"] if verbose else []), "-c", str(place)]
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def log(self) -> str:
        """What it wrote."""
        return self._log.read_text(encoding="utf-8", errors="replace")

    def start(self) -> None:
        """Start it and return once it answers."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(self._command, stdout=log, stderr=log)
        give_up = time.monotonic() + ANSWERS_WITHIN_S
        while not answers(self.port):
            if self._process.poll() is not None or time.monotonic() > give_up:
                raise AssertionError(f"mosquitto does not answer at {self.port}: {self.log[-500:]}")
            time.sleep(0.02)

    def stop(self) -> None:
        """End it in order."""
        self.end(signal.SIGTERM)

    def end(self, number: int) -> None:
        """End it by a signal and return once it is gone; without effect where it is not there."""
        if self._process is None:
            return
        give_up = time.monotonic() + ENDS_WITHIN_S
        while self._process.poll() is None:
            if time.monotonic() > give_up:
                raise AssertionError(f"mosquitto does not end: {self.log[-500:]}")
            # It loses a signal that comes while it starts, though it answers already.
            self._process.send_signal(number)
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(1.0)
        self._process = None

    @contextmanager
    def hanging(self) -> Iterator[None]:
        """Let it hang: it takes what comes and answers nothing."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)
        try:
            yield
        finally:
            self._process.send_signal(signal.SIGCONT)

    def __enter__(self) -> Self:
        """Start it."""
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End it."""
        self.stop()


StartBroker = Callable[[str], Broker]
"""Starts a broker with a configuration of its own."""
