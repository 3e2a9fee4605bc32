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
SourceLost and is tried again after 0.5 s, 1 s, 2 s, then every 5 s, also at the start. What came
while the program was held up (``held``) is let go and counted.
"""

import contextlib
import threading
from collections.abc import Callable
from pathlib import Path

from chargeassist.model.channels import Channel
from chargeassist.model.errors import ConfigError
from chargeassist.model.job import SourceSpec
from chargeassist.model.text import plain
from chargeassist.session.clock import steady_s
from chargeassist.session.listening import Ear
from chargeassist.session.source import Clock, Sink
from chargeassist.session.time_watch import HELD_S
from chargeassist_adapters.address import shown, source_name
from chargeassist_adapters.conversion import Fault, PayloadParser, Sample
from chargeassist_adapters.faults import FaultGate
from chargeassist_adapters.field_source import FieldSource
from chargeassist_adapters.fields import decode
from chargeassist_adapters.handover import MAX_WAITING, STOP_WITHIN_S, Handover, Lost
from chargeassist_adapters.held import HeldWatch
from chargeassist_adapters.lines import LineSplitter
from chargeassist_adapters.payloads import make_parser
from chargeassist_adapters.port import PORT_ERRORS, Port, list_ports, read_port, why
from chargeassist_adapters.retry import Backoff

FORMATS = ("number", "csv", "keyvalue", "json")
OPTIONS = {
    "baud": "speed, 9600 if not given",
    "frame": "data bits, parity, stop bits, 8N1 if not given",
    "delimiter": "of csv: , ; tab space",
    "time": "column, key or path of the device's own time in seconds",
}
MAX_READ_BYTES = 64 * 1024

LET_GO_FOR_S = 0.7
"""How long at most [s] what waits after the program was held up is looked for.

Kernel, adapter and device server each have a buffer, and the next fills as one is emptied; a port
that then says nothing for `READ_TIMEOUT_S` has no more.
"""

_Item = bytes | Fault | Lost


class SerialSource(FieldSource):
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
        super().__init__(name, channels)
        self.retry = Backoff()
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
        name = source_name(spec)
        settings, options = read_port(spec, OPTIONS)
        if spec.format not in FORMATS:
            raise ConfigError(
                f"source {name!r}: a serial line has format {', '.join(FORMATS)}, "
                f"got {plain(spec.format)!r}"
            )
        if not spec.probes:
            raise ConfigError(f"source {name!r}: expected at least one probe, got none")
        parser = make_parser(spec.format, spec.probes, options)
        channels = tuple(p.channel for p in spec.probes)
        return cls(name, channels, parser, shown(settings.device), settings.open)

    @classmethod
    def discover(cls) -> tuple[str, ...]:
        """Return one line of text per serial port of this machine: its address and what it is.

        Any source class may offer ``discover``; the command that lists probes calls it if it is
        there. It neither opens nor changes anything.
        """
        return tuple(f"serial:{device}  {about}" for device, about in list_ports())

    @classmethod
    async def listen(cls, spec: SourceSpec, base: Path, ear: Ear, topics: str = "") -> None:
        """Tell `ear` each line of the port, decoded, until cancelled.

        Raises
        ------
        ConfigError
        """
        del base, topics
        settings, _ = read_port(spec, OPTIONS)

        def deliver(item: _Item) -> None:
            if isinstance(item, Lost):
                ear.lost(item.reason)
                return
            ear.back()
            found = item if isinstance(item, Fault) else decode(item, FORMATS)
            if isinstance(found, Fault):
                ear.trouble(found.reason, found.raw)
            else:
                ear.heard(found)

        handover: Handover[_Item] = Handover(deliver, lambda _: None)
        device = shown(settings.device)
        reader = _Reader(settings.open, device, Backoff(), handover)
        await handover.run(reader.work, reader.stop.set, name=f"serial {device}")

    async def run(self, sink: Sink, clock: Clock) -> None:
        """Read until cancelled; a missing port is told to `sink` and tried again."""
        gate = FaultGate(sink, clock)

        def deliver(item: _Item) -> None:
            if isinstance(item, Lost):
                sink.lost(item.reason)
                return
            sink.back()
            if isinstance(item, Fault):
                gate.report(item)
                return
            if handover.waited_s > HELD_S:
                # Read before the program was held up, and only now handed over.
                dropped(1)
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

        handover: Handover[_Item] = Handover(deliver, dropped, limit=MAX_WAITING)
        reader = _Reader(self._open_port, self._device, self.retry, handover)
        try:
            await handover.run(
                reader.work,
                reader.stop.set,
                name=f"serial {self._device}",
                within_s=STOP_WITHIN_S,
            )
        finally:
            gate.flush()


class _Reader:
    """The thread: opens, reads, cuts into lines, closes, tries again."""

    def __init__(
        self,
        open_port: Callable[[], Port],
        device: str,
        retry: Backoff,
        handover: Handover[_Item],
    ) -> None:
        self.stop = threading.Event()
        self._open_port = open_port
        self._device = device
        self._retry = retry
        self._handover = handover

    def work(self) -> None:
        """Run until `stop` is set."""
        while not self.stop.is_set():
            try:
                self._once()
            except PORT_ERRORS as exc:
                self._handover.put([Lost(why(exc, self._device))])
            self.stop.wait(self._retry.next_s())

    def _once(self) -> None:
        port = self._open_port()
        splitter = LineSplitter()
        watch = HeldWatch()
        try:
            while not self.stop.is_set():
                chunk = _read(port)
                if watch.look():
                    self._handover.let_go(self._lines_waiting(port, splitter, chunk))
                    splitter = LineSplitter()
                    watch.look()
                elif chunk:
                    self._retry.reset()
                    self._handover.put(splitter.feed(chunk))
        finally:
            # An unplugged adapter may refuse even this; the handle is gone all the same.
            with contextlib.suppress(*PORT_ERRORS):
                port.close()

    def _lines_waiting(self, port: Port, splitter: LineSplitter, chunk: bytes) -> int:
        """Return how many lines end in `chunk` and in what else waits; all of it is read."""
        lines = len(splitter.feed(chunk))
        until = steady_s() + LET_GO_FOR_S
        # A device that floods never leaves nothing waiting.
        while not self.stop.is_set() and steady_s() < until:
            more = _read(port)
            if not more:
                break
            lines += len(splitter.feed(more))
        return lines


def _read(port: Port) -> bytes:
    """Return what waits at a port, or what comes first within `READ_TIMEOUT_S`."""
    # readline() would read byte by byte: 300 times the processor time per line.
    return port.read(min(max(1, port.in_waiting), MAX_READ_BYTES))
