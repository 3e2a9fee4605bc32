r"""Probes on a Modbus RTU line, as a rule RS-485: ``modbus:/dev/ttyUSB0?baud=9600&frame=8N1``.

Address: ``modbus:`` and a device as of ``serial:``, or ``socket://host:port`` (a serial device
server that passes bytes on; Modbus TCP is another protocol and is not read) or
``hwgrep://0403:6001``. Options, in the address or in the job: ``baud`` (19200) and ``frame`` (8E1;
both as the standard has them), ``period`` (seconds from poll to poll, 1), ``timeout`` (seconds
until a device has answered, 0.5), ``echo`` (yes if the adapter hears what it sends). Devices are
read, never written: function codes 3 and 4 alone.

Wire format: select names device, table, register and type, such as ``2/input:3:int16``; see
``modbus_registers``. The register is the address on the wire, counted from 0. The number is
multiplied by the probe's ``scale``, its ``offset`` is added, then it is read in its unit: 248.1
psig sent as 2481 has ``unit = "psig"`` and ``scale = 0.1``. Range: what the type holds, less what
no probe sends (NaN, a temperature below 150 K, the ends of an integer: 0x7FFF and 0x8000 of int16,
0xFFFF of uint16, which stand for "no sensor" or for too much). Neighbouring registers are read at
once.

What goes wrong: a read that gives nothing or garbage once is asked for again, and how many were is
told once a minute, with the last of them; garbled twice and an exception are BadInput. After an
exception to several probes each is asked for alone, so that one wrong register costs only its own.
A device that does not answer twice is lost ("cart, device 3"), is asked again after 0.5 s doubling
to 5 s, and the others go on. An absent or unplugged port is SourceLost and tried again as with
``serial:``. What came while the program was held up is let go and counted.

Reference: Modbus Application Protocol Specification V1.1b3; Modbus over Serial Line V1.02.
"""

import asyncio
from pathlib import Path

from chargeassist.model.channels import Channel
from chargeassist.model.errors import ConfigError
from chargeassist.model.job import SourceSpec
from chargeassist.model.text import plain
from chargeassist.session.source import Clock, Sink
from chargeassist.session.time_watch import HELD_S
from chargeassist_adapters.address import seconds, shown, source_name, yes_or_no
from chargeassist_adapters.conversion import ProbeValue, Sample
from chargeassist_adapters.faults import FaultGate
from chargeassist_adapters.field_source import FieldSource
from chargeassist_adapters.handover import Back, Handover, Lost
from chargeassist_adapters.modbus_line import Item, ModbusLine, Retried, Timing
from chargeassist_adapters.modbus_registers import Block, RegisterProbe, blocks_of, read_select
from chargeassist_adapters.port import PortSettings, read_port
from chargeassist_adapters.retry import Backoff

URL_HANDLERS = ("socket", "hwgrep")
OPTIONS = {
    "baud": "speed, 19200 if not given",
    "frame": "data bits, parity, stop bits, 8E1 if not given",
    "period": "seconds from poll to poll, 1 if not given",
    "timeout": "seconds until a device has answered, 0.5 if not given",
    "echo": "yes if the adapter hears what it sends",
}


RETRIES_TOLD_EVERY_S = 60.0


class RetryCount:
    """Tells a sink how many reads had to be asked for again, together.

    Parameters
    ----------
    sink : Sink
    """

    def __init__(self, sink: Sink) -> None:
        self._sink = sink
        self._count = 0
        self._last = Retried("")
        self._timer: asyncio.TimerHandle | None = None

    def add(self, retried: Retried) -> None:
        """Count one."""
        self._count, self._last = self._count + 1, retried
        if self._timer is None:
            loop = asyncio.get_running_loop()
            self._timer = loop.call_later(RETRIES_TOLD_EVERY_S, self.tell)

    def tell(self) -> None:
        """Tell what was counted, if anything."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        if self._count:
            reason = f"answered when asked again; the last time: {self._last.reason}"
            self._sink.bad_input(plain(reason, 240), self._last.raw, count=self._count)
        self._count = 0


class ModbusSource(FieldSource):
    """Reads the probes of one Modbus line.

    Attributes
    ----------
    retry : Backoff
        Delays between tries to open the port; may be replaced before `run`.
    """

    def __init__(
        self,
        name: str,
        channels: tuple[Channel, ...],
        blocks: tuple[Block, ...],
        settings: PortSettings,
        timing: Timing,
        *,
        echo: bool = False,
    ) -> None:
        super().__init__(name, channels)
        self.retry = Backoff()
        self._blocks = blocks
        self._settings = settings
        self._timing = timing
        self._echo = echo

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> "ModbusSource":
        """Return a source for `spec`; the port is opened by `run`.

        Raises
        ------
        ConfigError
        """
        del base
        name = source_name(spec)
        settings, options = read_port(
            spec, OPTIONS, handlers=URL_HANDLERS, baud=19_200, frame="8E1"
        )
        if settings.bytesize != 8 or settings.parity not in "NEO" or settings.stopbits == 1.5:
            raise ConfigError(
                f"source {name!r}: Modbus RTU has eight data bits: expected a frame such as 8E1, "
                f"8N1 or 8N2, got {plain(options['frame'])!r}"
            )
        if spec.format != "number":
            raise ConfigError(
                f"source {name!r}: a Modbus line has no format, select says how a number is "
                f"written; leave format out, got {plain(spec.format)!r}"
            )
        if not spec.probes:
            raise ConfigError(f"source {name!r}: expected at least one probe, got none")
        timing = Timing(
            period_s=seconds(options, "period", 1.0, 0.05, 60.0),
            timeout_s=seconds(options, "timeout", 0.5, 0.02, 10.0),
        )
        for channel in (p.channel for p in spec.probes):
            if channel.max_age_s <= timing.period_s:
                raise ConfigError(
                    f"source {name!r}: option 'period': expected less than the "
                    f"{channel.max_age_s:g} s after which {plain(channel.name)} counts as silent "
                    f"(its max_age), got {timing.period_s:g}"
                )
        probes = [
            RegisterProbe(read_select(p.select, p.channel.name), ProbeValue(p)) for p in spec.probes
        ]
        return cls(
            name,
            tuple(p.channel for p in spec.probes),
            blocks_of(probes),
            settings,
            timing,
            echo=yes_or_no(options, "echo", default=False),
        )

    async def run(self, sink: Sink, clock: Clock) -> None:
        """Ask until cancelled; missing ports and devices are told to `sink` and tried again."""
        gate = FaultGate(sink, clock)
        retries = RetryCount(sink)

        def deliver(item: Item) -> None:
            match item:
                case Lost():
                    sink.lost(item.reason, part=item.part)
                case Back():
                    sink.back(part=item.part)
                case Sample() if handover.waited_s > HELD_S:
                    sink.dropped(1)  # read before the program was held up: nobody knows when
                case Retried():
                    retries.add(item)
                case Sample():
                    sink.reading(item.channel, item.value, quality=item.quality)
                case _:
                    gate.report(item)

        handover: Handover[Item] = Handover(deliver, sink.dropped)
        device = shown(self._settings.device)
        line = ModbusLine(
            self._settings,
            device,
            self._blocks,
            self._timing,
            self.retry,
            handover,
            echo=self._echo,
        )
        try:
            await handover.run(line.work, line.stop, name=f"modbus {device}")
        finally:
            gate.flush()
            retries.tell()
