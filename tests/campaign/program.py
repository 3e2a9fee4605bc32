"""The program as a process, a probe on a pseudo-terminal that numbers its readings, the record."""

import os
import signal
import subprocess
import sys
import threading
import time
import tty
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self, TypeVar

from chargeassist.model.events import Event, Reading
from chargeassist.session.record.protocol import VerifyReport
from chargeassist.session.record.store import SessionReader
from tests.campaign.tried import LAST_SECOND_S

COUNTED = "compressor_current"
"""Channel whose values number the readings: 0.0001 A each."""
STEP_A = 1e-4
STARTS_WITHIN_S = 30.0

JOB = """
name = "invented"
refrigerant = "R-32"
[site]
altitude = "210 m"
[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "invented"
[charge]
plate = "2.30 kg"
step_cap = "110 g"
[processing]
period = "0.5 s"
"""

CABLE = """
[[source]]
name = "cable"
url = "serial:{device}?baud=115200"
format = "csv"
[[source.probe]]
role = "compressor_current"
unit = "A"
select = "1"
max_age = "1 s"
[[source.probe]]
role = "liquid_pressure"
unit = "psig"
select = "2"
max_age = "1 s"
"""

E = TypeVar("E", bound=Event)


def write_job(folder: Path, *sources: str) -> Path:
    """Write a job file with `sources` and return its path."""
    path = folder / "job.toml"
    path.write_text(JOB + "".join(sources), encoding="utf-8")
    return path


class Probe:
    """A probe on a pseudo-terminal behind a path that stays the same."""

    def __init__(self, link: Path, per_second: float = 50.0) -> None:
        self.link = link
        self._sent: dict[int, float] = {}
        self._pause_s = 1.0 / per_second
        self._number = 0
        self._ends: tuple[int, int] | None = None
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._send, daemon=True)

    @property
    def sent(self) -> dict[int, float]:
        """When the reading of each number was sent until now, by ``time.monotonic`` [s]."""
        return dict(self._sent)

    @property
    def source(self) -> str:
        """Its part of a job file."""
        return CABLE.format(device=self.link)

    def __enter__(self) -> Self:
        """Plug in and begin to send."""
        self.plug_in()
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop and unplug."""
        self._stop.set()
        self._thread.join()
        self.unplug()

    def plug_in(self) -> None:
        """Let the port be there."""
        ends = os.openpty()
        tty.setraw(ends[1])
        os.set_blocking(ends[0], False)
        self.link.symlink_to(os.ttyname(ends[1]))
        with self._lock:
            self._ends = ends

    def unplug(self) -> None:
        """Let the port be gone."""
        with self._lock:
            ends, self._ends = self._ends, None
        if ends is not None:
            for end in ends:
                os.close(end)
            self.link.unlink()

    def put(self, data: bytes) -> int:
        """Send raw bytes; return how many the port took."""
        with self._lock:
            if self._ends is None:
                return 0
            with suppress(BlockingIOError):  # nobody reads: this one is not sent
                return os.write(self._ends[0], data)
        return 0

    def _send(self) -> None:
        due = time.monotonic()
        while not self._stop.is_set():
            due = max(due + self._pause_s, time.monotonic() - 0.1)
            self._stop.wait(max(0.0, due - time.monotonic()))
            number = self._number + 1
            line = b"%.4f,%.1f\r\n" % (number * STEP_A, 339.0 + 0.1 * (number % 5))
            sent_at = time.monotonic()
            if self.put(line) == len(line):
                self._number = number
                self._sent[number] = sent_at


class Program:
    """``python -m chargeassist`` with its arguments; what it prints is kept with its time."""

    def __init__(
        self, *arguments: str | Path, environment: Mapping[str, str] | None = None
    ) -> None:
        if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
            # Started in the background of a shell; the program would inherit it.
            signal.signal(signal.SIGINT, signal.default_int_handler)
        self.said: list[str] = []
        self.complaints: list[str] = []
        self.process = subprocess.Popen(
            [sys.executable, "-m", "chargeassist", *map(str, arguments)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            stdin=subprocess.DEVNULL,
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
    def _keep(stream: Sequence[str], kept: list[str]) -> None:
        for line in stream:
            kept.append(line.rstrip("\n"))

    @property
    def everything(self) -> list[str]:
        """What it printed, on both streams."""
        return [*self.said, *self.complaints]

    def wait_for(self, *parts: str, within_s: float = STARTS_WITHIN_S) -> bool:
        """Return whether one line with all `parts` comes in time."""
        return until(
            lambda: any(all(p in line for p in parts) for line in self.everything), within_s
        )

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
        for stream in (self.process.stdout, self.process.stderr):
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


class Recorded:
    """What is in a session file.

    Attributes
    ----------
    numbers : list of int
        Of the readings, in order.
    stamps : dict of int to float
        Session time of the reading of each number [s].
    """

    def __init__(self, path: Path) -> None:
        with SessionReader(path) as reader:
            self.report: VerifyReport = reader.verify()
            self.started = reader.started
            self.events: list[Event] = list(reader.events())
        counted = [e for e in self.events if isinstance(e, Reading) and e.channel == COUNTED]
        self.numbers = [round(event.value / STEP_A) for event in counted]
        self.stamps = {round(event.value / STEP_A): event.t for event in counted}

    def all(self, kind: type[E]) -> list[E]:
        """Return the events of one kind."""
        return [event for event in self.events if isinstance(event, kind)]


def oldest_loss_s(
    sent: Mapping[int, float], recorded: Sequence[int], struck_at: float, since: float = 0.0
) -> float:
    """Return the age [s] at `struck_at` of the oldest reading that was sent and is not recorded.

    Counted from `since`, and from the first recorded one: what is sent before the port is open is
    nobody's. 0 where nothing is missing.
    """
    there = set(recorded)
    first = min((sent[n] for n in there if n in sent and sent[n] >= since), default=struck_at)
    missing = [t for n, t in sent.items() if first <= t < struck_at and n not in there]
    return struck_at - min(missing) if missing else 0.0


def lost_words(losses_s: Sequence[float]) -> str:
    """Return what was lost, in words: the worst of `losses_s`, each the age of the oldest loss."""
    worst = max(losses_s, default=0.0)
    return "nothing" if worst == 0.0 else f"the last {worst:.2f} s at most"


def too_much(loss_s: float) -> bool:
    """Return whether more than the last second is lost."""
    return loss_s > LAST_SECOND_S
