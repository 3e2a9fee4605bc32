r"""Probes on a serial port or a USB serial adapter: ``serial:/dev/ttyUSB0?baud=115200``.

Address: ``serial:`` and a device (``/dev/ttyUSB0``, ``COM3``, a pseudo-terminal), or one of
pyserial's ``loop://``, ``socket://host:port``, ``rfc2217://host:port`` and
``hwgrep://0403:6001`` (the first port whose hardware id matches; it is found again after
re-plugging). Options, in the address or in the job: ``baud`` (9600), ``frame`` (8N1),
``delimiter`` and ``time`` (see ``lines``).

Wire format: lines as in ``lines`` (number, csv, keyvalue) or one JSON object a line as in
``payloads``; example ``p=248.1 t=35.20\r\n``. The first line after opening is passed over without
a word, since a port is as a rule opened in the middle of a line.

Junk becomes BadInput, at most five a second, the rest counted; an absent or unplugged port becomes
SourceLost and is tried again after 0.5 s, 1 s, 2 s, then every 5 s, also at the start.
"""

import asyncio
import contextlib
import errno
import re
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import serial
from serial.tools import list_ports as pyserial_ports

from chargeassist.model.channels import Channel
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark
from chargeassist.model.job import SourceSpec
from chargeassist.model.text import plain
from chargeassist.session.source import Clock, Sink
from chargeassist_adapters.address import read_options, shown, source_name, whole
from chargeassist_adapters.conversion import Fault, PayloadParser, Sample
from chargeassist_adapters.faults import FaultGate
from chargeassist_adapters.lines import LineSplitter
from chargeassist_adapters.payloads import make_parser
from chargeassist_adapters.retry import Backoff

if sys.platform == "win32":
    PORT_ERRORS: tuple[type[Exception], ...] = (OSError, ValueError)
else:
    import termios

    # A port that vanishes while it is set up or flushed raises termios.error, which is no OSError.
    PORT_ERRORS = (OSError, ValueError, termios.error)

FORMATS = ("number", "csv", "keyvalue", "json")
URL_HANDLERS = ("loop", "socket", "rfc2217", "hwgrep")
OPTIONS = {
    "baud": "speed, 9600 if not given",
    "frame": "data bits, parity, stop bits, 8N1 if not given",
    "delimiter": "of csv: , ; tab space",
    "time": "column, key or path of the device's own time in seconds",
}
READ_TIMEOUT_S = 0.1
STOP_WITHIN_S = 0.9
MAX_READ_BYTES = 64 * 1024
MAX_WAITING_LINES = 1000


class Port(Protocol):
    """The part of a pyserial port that is used."""

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read without waiting."""
        ...

    def read(self, size: int, /) -> bytes:
        """Return up to `size` bytes, fewer or none after the timeout."""
        ...

    def close(self) -> None:
        """Give the port back."""
        ...


@dataclass(frozen=True, slots=True)
class PortSettings:
    """How a port is opened."""

    device: str
    baud: int
    bytesize: int
    parity: str
    stopbits: float

    def open(self) -> Port:
        """Open the port; raises one of ``PORT_ERRORS``."""
        port: Port = serial.serial_for_url(
            self.device,
            baudrate=self.baud,
            bytesize=self.bytesize,
            parity=self.parity,
            stopbits=self.stopbits,
            timeout=READ_TIMEOUT_S,
            # Two readers on one port get half the bytes each.
            exclusive=True,
        )
        return port


class SerialSource:
    """Reads the probes of one serial port.

    Attributes
    ----------
    retry : Backoff
        Delays between tries; may be replaced before `run`.
    """

    def __init__(
        self,
        name: str,
        channels: tuple[Channel, ...],
        parser: PayloadParser,
        device: str,
        open_port: Callable[[], Port],
    ) -> None:
        self.retry = Backoff()
        self._name = name
        self._channels = channels
        self._parser = parser
        self._device = device
        self._open_port = open_port

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> "SerialSource":
        """Return a source for `spec`; the port is opened by `run`.

        Raises
        ------
        ConfigError
        """
        del base
        device, _, query = spec.url.partition(":")[2].partition("?")
        name = source_name(spec)
        options = read_options(spec, query, OPTIONS)
        settings = _settings(name, device, options)
        if spec.format not in FORMATS:
            raise ConfigError(
                f"source {name!r}: a serial line has format {', '.join(FORMATS)}, "
                f"got {plain(spec.format)!r}"
            )
        if not spec.probes:
            raise ConfigError(f"source {name!r}: expected at least one probe, got none")
        parser = make_parser(spec.format, spec.probes, options)
        channels = tuple(p.channel for p in spec.probes)
        return cls(name, channels, parser, shown(device), settings.open)

    @classmethod
    def discover(cls) -> tuple[str, ...]:
        """Return one line of text per serial port of this machine: its address and what it is.

        Any source class may offer ``discover``; the command that lists probes calls it if it is
        there. It neither opens nor changes anything.
        """
        return tuple(f"serial:{device}  {about}" for device, about in list_ports())

    @property
    def name(self) -> str:
        """Name of the source in events."""
        return self._name

    @property
    def channels(self) -> tuple[Channel, ...]:
        """The channels of its probes, in the order of the job."""
        return self._channels

    @property
    def brings_time(self) -> bool:
        """False: readings are stamped on arrival."""
        return False

    @property
    def simulated(self) -> bool:
        """False: a port delivers what a device measured."""
        return False

    def technician(self, mark: Mark) -> None:
        """Ignore what the technician did."""

    async def run(self, sink: Sink, clock: Clock) -> None:
        """Read until cancelled; a missing port is told to `sink` and tried again."""
        loop = asyncio.get_running_loop()
        gate = FaultGate(sink, clock)
        failed: asyncio.Future[None] = loop.create_future()
        ended = asyncio.Event()

        def deliver(item: "_Item") -> None:
            if isinstance(item, _Lost):
                sink.lost(item.reason)
                return
            sink.back()
            if isinstance(item, Fault):
                gate.report(item)
                return
            for found in self._parser.parse(item, clock.now()):
                if isinstance(found, Sample):
                    sink.reading(
                        found.channel,
                        found.value,
                        quality=found.quality,
                        device_time=found.device_time,
                    )
                else:
                    gate.report(found)

        def dropped(lines: int) -> None:
            sink.dropped(lines * len(self._channels))

        counter = _Counter(loop, deliver, dropped, failed)
        reader = _Reader(self._open_port, self._device, self.retry, counter, ended)
        thread = threading.Thread(target=reader.work, name=f"serial {self._device}", daemon=True)
        thread.start()
        try:
            await failed
        finally:
            counter.close()
            reader.stop.set()
            try:
                # Longer than one read; only a port that hangs while it is opened outlasts it, and
                # its thread closes the port by itself when the opening ends.
                await asyncio.wait_for(ended.wait(), STOP_WITHIN_S)
                thread.join()
            except TimeoutError:
                pass
            gate.flush()


@dataclass(frozen=True, slots=True)
class _Lost:
    reason: str


_Item = bytes | Fault | _Lost


class _Counter:
    """Hands items from the reader's thread over to the loop, in batches and in bounded memory."""

    def __init__(
        self,
        loop: asyncio.AbstractEventLoop,
        deliver: Callable[[_Item], None],
        dropped: Callable[[int], None],
        failed: asyncio.Future[None],
    ) -> None:
        self._loop = loop
        self._deliver = deliver
        self._tell_dropped = dropped
        self._failed = failed
        self._lock = threading.Lock()
        self._items: deque[_Item] = deque()
        self._dropped = 0
        self._called = False
        self._closed = False

    def put(self, items: Iterable[_Item]) -> None:
        """Lay `items` on the counter; called in the reader's thread. The oldest give way."""
        with self._lock:
            self._items.extend(items)
            while len(self._items) > MAX_WAITING_LINES:
                self._items.popleft()
                self._dropped += 1
            call = not self._called and not self._closed and len(self._items) > 0
            self._called = self._called or call
        if call:
            self.call(self._collect)

    def call(self, function: Callable[..., None], *args: object) -> None:
        """Call `function` on the loop, if there still is one."""
        try:
            self._loop.call_soon_threadsafe(function, *args)
        except RuntimeError:
            self._closed = True

    def fail(self, exc: BaseException) -> None:
        """Let `run` raise `exc`: a fault of the program, not of the field."""
        if not self._failed.done():
            self._failed.set_exception(exc)

    def close(self) -> None:
        """Deliver nothing more."""
        self._closed = True

    def _collect(self) -> None:
        with self._lock:
            items, self._items = self._items, deque()
            dropped, self._dropped = self._dropped, 0
            self._called = False
        if self._closed:
            return
        try:
            if dropped:
                self._tell_dropped(dropped)
            for item in items:
                self._deliver(item)
        except Exception as exc:  # noqa: BLE001  a callback's error would be logged and lost
            self.fail(exc)


class _Reader:
    """The thread: opens, reads, cuts into lines, closes, tries again."""

    def __init__(
        self,
        open_port: Callable[[], Port],
        device: str,
        retry: Backoff,
        counter: _Counter,
        ended: asyncio.Event,
    ) -> None:
        self.stop = threading.Event()
        self._open_port = open_port
        self._device = device
        self._retry = retry
        self._counter = counter
        self._ended = ended

    def work(self) -> None:
        """Run until `stop` is set."""
        try:
            while not self.stop.is_set():
                try:
                    self._once()
                except PORT_ERRORS as exc:
                    self._counter.put([_Lost(why(exc, self._device))])
                self.stop.wait(self._retry.next_s())
        except Exception as exc:  # noqa: BLE001  top of the thread: handed to run
            self._counter.call(self._counter.fail, exc)
        finally:
            self._counter.call(self._ended.set)

    def _once(self) -> None:
        port = self._open_port()
        splitter = LineSplitter()
        try:
            while not self.stop.is_set():
                # readline() would read byte by byte: 300 times the processor time per line.
                chunk = port.read(min(max(1, port.in_waiting), MAX_READ_BYTES))
                if chunk:
                    self._retry.reset()
                    self._counter.put(splitter.feed(chunk))
        finally:
            # An unplugged adapter may refuse even this; the handle is gone all the same.
            with contextlib.suppress(*PORT_ERRORS):
                port.close()


def why(exc: Exception, device: str) -> str:
    """Return in one clause why a port cannot be used and what to do."""
    text = str(exc)
    number = getattr(exc, "errno", None)
    if number == errno.ENOENT or "FileNotFoundError" in text:
        return f"no port {device}: is the adapter plugged in?"
    if "exclusively lock" in text or number == errno.EBUSY:
        return f"{device} is in use by another program"
    if number == errno.EACCES or "PermissionError" in text:
        return f"{device} may not be opened: in use, or your account may not use serial ports"
    if number in (errno.EIO, errno.ENXIO, errno.ENODEV) or "returned no data" in text:
        return f"{device} was unplugged"
    return plain(f"{device}: {text}", 200)


def list_ports() -> tuple[tuple[str, str], ...]:
    """Return (device, description) of each serial port of this machine, in order of device."""
    found = []
    for port in pyserial_ports.comports():
        about = [port.description or "", port.hwid or ""]
        words = " ".join(dict.fromkeys(w for w in about if w and w != "n/a"))
        found.append((plain(port.device), plain(words) or "no description"))
    return tuple(sorted(found))


def _settings(name: str, device: str, options: Mapping[str, str]) -> PortSettings:
    scheme, separator, _ = device.partition("://")
    if not device or (separator and scheme not in URL_HANDLERS):
        offered = ", ".join(f"{h}://" for h in URL_HANDLERS)
        raise ConfigError(
            f"source {name!r}: expected serial: and a device such as /dev/ttyUSB0 or COM3, "
            f"or {offered}; got {shown(device)!r}"
        )
    frame = options.get("frame", "8N1")
    match = re.fullmatch(r"([5-8])([NEOMS])(1|1\.5|2)", frame.upper(), re.ASCII)
    if match is None:
        raise ConfigError(
            f"source {name!r}: expected a frame such as 8N1, 8E1 or 7E1, got {plain(frame)!r}"
        )
    baud = whole(options, "baud", 9600, 50, 4_000_000)
    return PortSettings(device, baud, int(match[1]), match[2], float(match[3]))
