"""Readings that are numbered by their value: sent by cable or by radio, looked for in a record."""

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self, TypeVar

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from chargeassist.model.events import Event, Reading
from chargeassist.session.record.content import VerifyReport
from chargeassist.session.record.store import SessionReader
from tests.campaign.tried import LAST_SECOND_S
from tests.peers.terminal import SerialPort
from tests.short_job import SHORT_JOB

COUNTED = "compressor_current"
"""Channel whose values number the readings: 0.0001 A each."""
STEP_A = 1e-4
IN_FLIGHT = 1000
"""Messages not yet acknowledged; MQTT numbers only 65 535 of them."""

JOB = f"""{SHORT_JOB}
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

RADIO = """
[[source]]
name = "radio"
url = "{url}"
[[source.probe]]
role = "compressor_current"
unit = "A"
topic = "rig/amps"
max_age = "1 s"
"""

E = TypeVar("E", bound=Event)


def write_job(folder: Path, *sources: str) -> Path:
    """Write a job file with `sources` and return its path."""
    path = folder / "job.toml"
    path.write_text(JOB + "".join(sources), encoding="utf-8")
    return path


class Counter:
    """Sends readings numbered from 1 on, in a thread of its own, and notes when.

    Parameters
    ----------
    per_second : float
    send : callable
        Takes the next number; returns whether it went out.
    """

    def __init__(self, per_second: float, send: Callable[[int], bool]) -> None:
        self.per_second = per_second
        self._send = send
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def begin(self) -> None:
        """Begin to send."""
        self._thread.start()

    def end(self) -> None:
        """Send no more."""
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        number = 1
        due = time.monotonic()
        while not self._stop.is_set():
            due = max(due + 1.0 / self.per_second, time.monotonic() - 0.1)
            self._stop.wait(max(0.0, due - time.monotonic()))
            if self._send(number):
                number += 1


class Probe(SerialPort):
    """A probe on a serial port that numbers its readings."""

    def __init__(self, link: Path, per_second: float = 50.0) -> None:
        super().__init__(link)
        self._sent: dict[int, float] = {}
        self._counter = Counter(per_second, self._send)

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
        self._counter.begin()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop and unplug."""
        self._counter.end()
        self.unplug()

    def _send(self, number: int) -> bool:
        line = b"%.4f,%.1f\r\n" % (number * STEP_A, 339.0 + 0.1 * (number % 5))
        sent_at = time.monotonic()
        if self.put(line) != len(line):
            return False
        self._sent[number] = sent_at
        return True


class Publisher:
    """Numbers its readings and publishes them at QoS 1."""

    def __init__(self, port: int, per_second: float = 20.0) -> None:
        self._sent: dict[int, float] = {}
        self._numbers: dict[int, int] = {}
        self._early: dict[int, float] = {}
        self._client = paho.Client(CallbackAPIVersion.VERSION2)
        self._client.max_inflight_messages_set(IN_FLIGHT)
        self._client.max_queued_messages_set(0)
        self._client.reconnect_delay_set(1, 1)
        self._client.on_publish = lambda c, u, mid, *rest: self._acknowledged(mid)
        self._port = port
        self._lock = threading.Lock()
        self.counter = Counter(per_second, self._publish)

    @property
    def sent(self) -> dict[int, float]:
        """When each number was acknowledged by the broker, by ``time.monotonic`` [s]."""
        return dict(self._sent)

    def _acknowledged(self, mid: int) -> None:
        """Note when; the broker may be quicker than `publish` returns."""
        now = time.monotonic()
        with self._lock:
            number = self._numbers.pop(mid, None)
            if number is None:
                self._early[mid] = now
            else:
                self._sent[number] = now

    def _publish(self, number: int) -> bool:
        if not self._client.is_connected() or len(self._numbers) >= IN_FLIGHT:
            return False
        mid = self._client.publish("rig/amps", f"{number * STEP_A:.4f}", qos=1).mid
        with self._lock:
            early = self._early.pop(mid, None)
            if early is None:
                self._numbers[mid] = number
            else:
                self._sent[number] = early
        return True

    def __enter__(self) -> Self:
        """Connect and begin."""
        self._client.connect_async("127.0.0.1", self._port)
        self._client.loop_start()
        self.counter.begin()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End."""
        self.counter.end()
        self._client.disconnect()
        self._client.loop_stop()


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
