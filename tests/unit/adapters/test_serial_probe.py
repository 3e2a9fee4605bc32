"""The serial source with a port made of a script: no device, no file, no waiting."""

import asyncio
import errno
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
import serial

from chargeassist.model.errors import ConfigError
from chargeassist.model.events import BadInput, Reading, SourceBack, SourceLost
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.source import Source
from chargeassist.testing import CollectingSink, ContractError, SteadyClock, check_source
from chargeassist_adapters import handover, held, serial_probe
from chargeassist_adapters.port import PortSettings, list_ports, why
from chargeassist_adapters.retry import Backoff
from chargeassist_adapters.serial_probe import SerialSource

MakeProbe = Callable[..., ProbeSpec]


class ScriptedPort:
    """Gives its chunks one read at a time; an exception among them is raised."""

    def __init__(self, *script: bytes | Exception) -> None:
        self.script = list(script)
        self.closed = 0
        self.biggest = 0

    @property
    def in_waiting(self) -> int:
        head = self.script[0] if self.script else b""
        return len(head) if isinstance(head, bytes) else 0

    def read(self, size: int, /) -> bytes:
        self.biggest = max(self.biggest, size)
        if not self.script:
            threading.Event().wait(0.002)
            return b""
        head = self.script.pop(0)
        if isinstance(head, Exception):
            raise head
        if len(head) > size:
            self.script.insert(0, head[size:])
        return head[:size]

    def close(self) -> None:
        self.closed += 1


def source_of(
    probes: list[ProbeSpec], *ports: ScriptedPort | Exception, payload_format: str = "number"
) -> SerialSource:
    spec = SourceSpec(
        name="probe", url="serial:/dev/ttyX", format=payload_format, probes=tuple(probes)
    )
    source = SerialSource.from_spec(spec, Path())
    waiting = list(ports)

    def open_port() -> ScriptedPort:
        if not waiting:
            raise serial.SerialException(errno.ENOENT, "could not open port /dev/ttyX")
        port = waiting.pop(0)
        if isinstance(port, Exception):
            raise port
        return port

    source._open_port = open_port
    source.retry = Backoff(0.001, 0.004)
    return source


async def collect(source: SerialSource, holds: Callable[[CollectingSink], bool]) -> CollectingSink:
    clock = SteadyClock()
    sink = CollectingSink(source.name, clock)
    run = asyncio.create_task(source.run(sink, clock))
    try:
        await sink.until(holds)
    finally:
        run.cancel()
        await asyncio.wait({run})
    return sink


async def test_lines_become_readings_and_the_port_is_closed(temperature: MakeProbe) -> None:
    port = ScriptedPort(b"5.2\r\n35.", b"2\r\n35.3\r\n35.4")
    source = source_of([temperature()], port)
    kept = await check_source(source, readings=2)
    assert kept.values("liquid_t") == [pytest.approx(308.35), pytest.approx(308.45)]
    assert kept.bad == []
    assert port.closed == 1


async def test_absent_then_there_then_unplugged_then_back(temperature: MakeProbe) -> None:
    absent = serial.SerialException(errno.ENOENT, "could not open port")
    gone = serial.SerialException("device reports readiness to read but returned no data")
    first = ScriptedPort(b"\n1\n", gone)
    second = ScriptedPort(b"9\n2\n")
    source = source_of([temperature()], absent, absent, first, absent, second)
    sink = await collect(source, lambda k: len(k.readings) == 2)
    kinds = [type(e) for e in sink.events]
    assert kinds[:6] == [SourceLost, SourceBack, Reading, SourceLost, SourceBack, Reading]
    assert sink.losses[0].reason == "no port /dev/ttyX: is the adapter plugged in?"
    assert sink.losses[1].reason == "/dev/ttyX was unplugged"
    assert (first.closed, second.closed) == (1, 1)


async def test_an_open_but_silent_port_is_not_back(temperature: MakeProbe) -> None:
    source = source_of([temperature()], OSError(errno.EIO, "x"), ScriptedPort())
    sink = await collect(source, lambda k: len(k.losses) == 1)
    assert sink.returns == []


async def test_junk_is_rate_limited_counted_and_survived(temperature: MakeProbe) -> None:
    junk = b"\n" + b"\xff\xfe\x1b[2J\n" * 500
    source = source_of([temperature()], ScriptedPort(junk, b"35.2\n"))
    sink = await collect(source, lambda k: len(k.readings) == 1)
    assert sum(b.count for b in sink.bad) == 500
    assert len(sink.bad) <= 6 + 5
    assert all("\x1b" not in b.raw + b.reason for b in sink.bad)


async def test_a_megabyte_line_is_told_now_and_then(temperature: MakeProbe) -> None:
    port = ScriptedPort(b"\n", b"9" * 1_000_000, b"\n35.2\n")
    sink = await collect(source_of([temperature()], port), lambda k: len(k.readings) == 1)
    assert sum(b.count for b in sink.bad) == 1 + 1_000_000 // 65_536
    assert port.biggest <= serial_probe.MAX_READ_BYTES


class Sleeper(ScriptedPort):
    """A port whose machine sleeps for ten minutes before its second read."""

    def __init__(self, *script: bytes) -> None:
        super().__init__(*script)
        self.now = 1000.0
        self.reads = 0

    def read(self, size: int, /) -> bytes:
        self.reads += 1
        if self.reads == 2:
            self.now += 600.0
        return super().read(size)


async def test_what_waited_while_the_program_was_held_is_let_go_and_counted(
    temperature: MakeProbe, monkeypatch: pytest.MonkeyPatch
) -> None:
    port = Sleeper(b"\n1\n", b"10\n11\n1", b"2\n1", b"3\n4")
    monkeypatch.setattr(held, "steady_s", lambda: port.now)
    sink_of = source_of([temperature()], port)
    clock = SteadyClock()
    sink = CollectingSink("probe", clock)
    run = asyncio.create_task(sink_of.run(sink, clock))
    await sink.until(lambda k: k.let_go > 0)
    # What was begun before cannot be told from what comes after: its line is passed over too.
    port.script.append(b"5\n20\n")
    await sink.until(lambda k: len(k.readings) == 2)
    run.cancel()
    await asyncio.wait({run})
    assert sink.values("liquid_t") == [1.0 + 273.15, 20.0 + 273.15]
    assert sink.let_go == 4
    assert sink.losses == []


async def test_a_line_read_before_the_hold_and_handed_over_after_it_is_let_go(
    temperature: MakeProbe, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = 1000.0
    monkeypatch.setattr(handover, "steady_s", lambda: now)
    port = ScriptedPort(b"\n1\n")
    source = source_of([temperature()], port)
    clock = SteadyClock()
    sink = CollectingSink("probe", clock)
    run = asyncio.create_task(source.run(sink, clock))
    await sink.until(lambda k: len(k.readings) == 1)
    port.script.append(b"2\n")
    # The loop stands still while the thread reads on.
    threading.Event().wait(0.1)
    now += 10.0
    await sink.until(lambda k: k.let_go == 1)
    port.script.append(b"3\n")
    await sink.until(lambda k: len(k.readings) == 2)
    run.cancel()
    await asyncio.wait({run})
    assert sink.values("liquid_t") == [1.0 + 273.15, 3.0 + 273.15]


async def test_more_than_can_be_held_is_dropped_oldest_first_and_counted(
    temperature: MakeProbe, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serial_probe, "MAX_WAITING", 10)
    lines = b"\n" + b"".join(b"%d\n" % i for i in range(100))
    sink = await collect(
        source_of([temperature()], ScriptedPort(lines, b"100\n")),
        lambda k: any(v == 100 + 273.15 for v in k.values("liquid_t")),
    )
    assert sink.let_go + len(sink.readings) == 101
    assert sink.let_go >= 89
    assert sink.values("liquid_t")[-2] == 99 + 273.15


async def test_a_port_that_fails_while_it_is_set_up_is_lost_and_not_a_crash(
    temperature: MakeProbe,
) -> None:
    termios = pytest.importorskip("termios")
    source = source_of([temperature()], termios.error(5, "I/O"), ScriptedPort(b"\n1\n"))
    sink = await collect(source, lambda k: len(k.readings) == 1)
    assert len(sink.losses) == 1


async def test_a_port_that_hangs_while_it_is_opened_does_not_hold_the_session_up(
    temperature: MakeProbe, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serial_probe, "STOP_WITHIN_S", 0.02)
    port, opening, opened = ScriptedPort(b"\n1\n"), threading.Event(), threading.Event()
    source = source_of([temperature()])

    def open_slowly() -> ScriptedPort:
        opening.set()
        opened.wait(10.0)
        return port

    source._open_port = open_slowly
    clock = SteadyClock()
    sink = CollectingSink("probe", clock)
    run = asyncio.create_task(source.run(sink, clock))
    await asyncio.to_thread(opening.wait, 10.0)
    (thread,) = (t for t in threading.enumerate() if t.name == "serial /dev/ttyX")
    run.cancel()
    done, _ = await asyncio.wait({run}, timeout=1.0)
    assert run in done
    opened.set()
    await asyncio.to_thread(thread.join, 10.0)
    await asyncio.sleep(0)
    assert port.closed == 1
    assert sink.events == []


async def test_a_programming_error_in_the_thread_ends_the_run_visibly(
    temperature: MakeProbe,
) -> None:
    source = source_of([temperature()], KeyError("bug"))
    with pytest.raises(ContractError, match="KeyError"):
        await check_source(source)


async def test_a_programming_error_in_a_sink_ends_the_run_visibly(
    temperature: MakeProbe, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = source_of([temperature()], ScriptedPort(b"\n1\n"))
    clock = SteadyClock()
    sink = CollectingSink("probe", clock)

    def broken(*args: object, **kwargs: object) -> None:
        raise KeyError("bug")

    monkeypatch.setattr(sink, "reading", broken)
    with pytest.raises(KeyError):
        await asyncio.wait_for(source.run(sink, clock), 5.0)


async def test_several_probes_on_one_line(pressure: MakeProbe, temperature: MakeProbe) -> None:
    probes = [pressure(select="p"), temperature(select="t")]
    source = source_of(probes, ScriptedPort(b"\np=100 t=35.2\nt=35.3\n"), payload_format="keyvalue")
    sink = await collect(source, lambda k: len(k.events) == 4)
    assert [c.name for c in source.channels] == ["head_p", "liquid_t"]
    assert [type(e) for e in sink.events] == [Reading, Reading, BadInput, Reading]
    assert "'p' is missing" in sink.bad[0].reason


def test_from_spec_reads_address_and_options(temperature: MakeProbe) -> None:
    spec = SourceSpec(
        name="probe",
        url="serial:/dev/ttyUSB0?baud=115200",
        options={"frame": "7e2"},
        probes=(temperature(),),
    )
    source = SerialSource.from_spec(spec, Path())
    settings = getattr(source._open_port, "__self__", None)
    assert isinstance(settings, PortSettings)
    assert (settings.device, settings.baud) == ("/dev/ttyUSB0", 115200)
    assert (settings.bytesize, settings.parity, settings.stopbits) == (7, "E", 2.0)
    assert isinstance(source, Source)
    assert not source.brings_time
    assert not source.simulated


@pytest.mark.parametrize(
    "url", ["serial:COM3", "serial:loop://", "serial:hwgrep://0403:6001", "serial:socket://h:7"]
)
def test_addresses_accepted(temperature: MakeProbe, url: str) -> None:
    SerialSource.from_spec(SourceSpec(name="p", url=url, probes=(temperature(),)), Path())


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("serial:", "expected serial: and a device"),
        ("serial:spy:///dev/ttyUSB0", "expected serial: and a device"),
        ("serial:/dev/x?baud=fast", "whole number from 50"),
        ("serial:/dev/x?speed=9600", "unknown option 'speed'"),
        ("serial:/dev/x?frame=9N1", "expected a frame such as 8N1"),
        ("serial:/dev/x?delimiter=x", "delimiter: expected one of"),
        ("serial:socket://h", r"expected socket://host:port, got 'socket://h'"),
        ("serial:socket://h:99999", "expected socket://host:port"),
        ("serial:rfc2217://:7", "expected rfc2217://host:port"),
        ("serial:socket://me:s3cret@h:7", r"expected socket://host:port, got 'socket://h:7'"),
        ("serial:hwgrep://*FTDI", r"expected hwgrep:// and a regular expression .*'\*FTDI'"),
    ],
)
def test_addresses_refused(temperature: MakeProbe, url: str, says: str) -> None:
    spec = SourceSpec(name="p", url=url, format="csv", probes=(temperature(select="1"),))
    with pytest.raises(ConfigError, match=says):
        SerialSource.from_spec(spec, Path())


def test_formats_and_probes_are_checked(temperature: MakeProbe) -> None:
    with pytest.raises(ConfigError, match="a serial line has format number, csv, keyvalue, json"):
        SerialSource.from_spec(
            SourceSpec(name="p", url="serial:/dev/x", format="senml", probes=(temperature(),)),
            Path(),
        )
    with pytest.raises(ConfigError, match="at least one probe"):
        SerialSource.from_spec(SourceSpec(name="p", url="serial:/dev/x"), Path())


@pytest.mark.parametrize(
    ("exc", "says"),
    [
        (OSError(errno.EACCES, "Permission denied"), "may not be opened"),
        (OSError(errno.EBUSY, "busy"), "in use by another program"),
        (serial.SerialException(11, "Could not exclusively lock port"), "in use by another"),
        (serial.SerialException("could not open port 'COM3': FileNotFoundError(2)"), "no port"),
        (OSError(errno.ENXIO, "Device not configured"), "unplugged"),
        (OSError(errno.EINVAL, "Invalid argument"), "does not take this baud or frame"),
        (serial.SerialException("ClearCommError failed \x1b[2J"), "ClearCommError failed ·[2J"),
    ],
)
def test_reasons_say_what_to_do(exc: Exception, says: str) -> None:
    assert says in why(exc, "COM3")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"Could not open port {{}}: [Errno {errno.ECONNREFUSED}] No", "refuses the connection"),
        ("Could not open port {}: timed out", "does not answer: is the device server on"),
        ("Could not open port {}: [Errno -2] Name or service not known", "Name or service not"),
        ("socket disconnected", "ended the connection"),
        ("connection failed (reader thread died)", "ended the connection"),
    ],
)
def test_reasons_of_a_device_server_name_it_once(text: str, says: str) -> None:
    """As pyserial 3.5 words them."""
    address = "socket://10.0.0.7:4001"
    reason = why(serial.SerialException(text.format(address)), address)
    assert says in reason
    assert reason.count(address) == 1


def test_list_ports_and_discover(monkeypatch: pytest.MonkeyPatch) -> None:
    class Found:
        def __init__(self, device: str, description: str, hwid: str) -> None:
            self.device, self.description, self.hwid = device, description, hwid

    ports = [
        Found("/dev/ttyUSB1", "USB Serial\x1b", "USB VID:PID=0403:6001 SER=A1"),
        Found("/dev/ttyS0", "n/a", "n/a"),
    ]
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: ports)
    assert list_ports() == (
        ("/dev/ttyS0", "no description"),
        ("/dev/ttyUSB1", "USB Serial· USB VID:PID=0403:6001 SER=A1"),
    )
    assert SerialSource.discover()[0] == "serial:/dev/ttyS0  no description"
