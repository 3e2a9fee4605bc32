"""The serial source against pseudo-terminals of the operating system and pyserial's loop://."""

import asyncio
import re
import sys
import threading
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path

import pytest
import serial

from chargeassist.cli.main import main
from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import Reading, SourceBack, SourceLost
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.testing import CollectingSink, check_source, running
from chargeassist_adapters.port import READ_TIMEOUT_S, Port
from chargeassist_adapters.retry import Backoff
from chargeassist_adapters.serial_probe import SerialSource
from tests.peers.terminal import SerialPort

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

PROBE = ProbeSpec(channel=Channel(name="t", role=Role.LIQUID_TEMPERATURE, unit="°C"))
KEYED = ProbeSpec(channel=PROBE.channel, select="t")


@pytest.fixture
def device(tmp_path: Path) -> Iterator[SerialPort]:
    with SerialPort(tmp_path / "ttyTEST") as made:
        yield made


def source_at(url: str, probe: ProbeSpec = PROBE, payload_format: str = "number") -> SerialSource:
    spec = SourceSpec(name="probe", url=url, format=payload_format, probes=(probe,))
    source = SerialSource.from_spec(spec, Path())
    source.retry = Backoff(0.02, 0.1)
    return source


@asynccontextmanager
async def sending(send: Callable[[], object]) -> AsyncIterator[None]:
    """Send again and again; what the port gets while it is being opened is thrown away."""

    async def forever() -> None:
        while True:
            send()
            await asyncio.sleep(0.02)

    task = asyncio.create_task(forever())
    try:
        yield
    finally:
        task.cancel()
        await asyncio.wait({task})


async def test_contract_with_junk_between_the_readings(device: SerialPort) -> None:
    source = source_at(f"serial:{device.link}?baud=115200")
    kept = await check_source(
        source,
        readings=20,
        feed=lambda: device.put(b"35.2\r\n\xff\xfe\x00\r\n\x1b[2J\r\n35.3\r\n"),
    )
    assert set(kept.values("t")) == {35.2 + 273.15, 35.3 + 273.15}
    assert kept.bad
    assert all("\x1b" not in b.raw + b.reason for b in kept.bad)


def _has(value: float) -> Callable[[CollectingSink], bool]:
    return lambda kept: value in kept.values("t")


async def test_every_line_once_and_in_order(device: SerialPort) -> None:
    async with running(source_at(f"serial:{device.link}", KEYED, "keyvalue")) as sink:
        async with sending(lambda: device.put(b"t=-1\r\n")):
            await sink.until(lambda k: len(k.readings) >= 1)
        for start in range(0, 1000, 50):
            device.put(b"".join(b"t=%d\r\n" % i for i in range(start, start + 50)))
            await sink.until(_has(start + 49 + 273.15))
    numbers = [v for v in sink.values("t") if v >= 273.15]
    assert numbers == [i + 273.15 for i in range(1000)]
    assert sink.bad == []
    assert sink.let_go == 0


async def test_unplugged_and_plugged_in_again_at_the_same_path(device: SerialPort) -> None:
    async with running(source_at(f"serial:{device.link}")) as sink:
        async with sending(lambda: device.put(b"1\r\n")):
            await sink.until(lambda k: len(k.readings) >= 2)
        device.unplug()
        await sink.until(lambda k: len(k.losses) == 1)
        assert str(device.link) in sink.losses[0].reason
        before = len(sink.readings)
        # Some tries find no port at all.
        await asyncio.sleep(0.2)
        device.plug_in()
        async with sending(lambda: device.put(b"2\r\n")):
            await sink.until(lambda k: len(k.readings) >= before + 2)
    kinds = [type(e) for e in sink.events if not isinstance(e, Reading)]
    assert kinds == [SourceLost, SourceBack]
    assert sink.values("t")[-1] == 2 + 273.15


async def test_absent_at_the_start_then_there(device: SerialPort) -> None:
    device.unplug()
    async with running(source_at(f"serial:{device.link}")) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        assert sink.losses[0].reason.startswith(f"no port {device.link}")
        device.plug_in()
        async with sending(lambda: device.put(b"7\r\n")):
            await sink.until(lambda k: len(k.readings) >= 1)
    assert len(sink.returns) == 1


async def test_a_port_that_is_no_terminal_is_lost_with_a_reason(tmp_path: Path) -> None:
    plain_file = tmp_path / "not_a_port"
    plain_file.write_bytes(b"1\n2\n3\n")
    async with running(source_at(f"serial:{plain_file}")) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
    assert sink.readings == []


async def test_a_port_in_use_is_told(device: SerialPort) -> None:
    other = serial.Serial(str(device.link), exclusive=True)
    try:
        async with running(source_at(f"serial:{device.link}")) as sink:
            await sink.until(lambda k: len(k.losses) == 1)
    finally:
        other.close()
    assert "in use by another program" in sink.losses[0].reason


async def test_the_port_is_closed_at_the_end(device: SerialPort) -> None:
    async with (
        running(source_at(f"serial:{device.link}")) as sink,
        sending(lambda: device.put(b"1\r\n")),
    ):
        await sink.until(lambda k: len(k.readings) >= 1)
    # Opening exclusively proves that nobody holds it.
    serial.Serial(str(device.link), exclusive=True).close()


async def test_half_lines_and_slow_bytes(device: SerialPort) -> None:
    """A line that comes byte by byte is read once, whole."""
    async with running(source_at(f"serial:{device.link}")) as sink:
        async with sending(lambda: device.put(b"1\r\n")):
            await sink.until(lambda k: len(k.readings) >= 1)
        for byte in b"35.25\r":
            device.put(bytes([byte]))
            await asyncio.sleep(0.005)
        await sink.until(lambda k: 35.25 + 273.15 in k.values("t"))
    assert sink.bad == []
    assert set(sink.values("t")) == {1.0 + 273.15, 35.25 + 273.15}


async def test_loop_url() -> None:
    source = source_at("serial:loop://?baud=9600")
    opened: list[serial.Serial] = []

    def open_port() -> Port:
        port = serial.serial_for_url("loop://", timeout=READ_TIMEOUT_S)
        opened.append(port)
        return port

    by_address = source._open_port()
    assert by_address.in_waiting == 0
    by_address.close()
    source._open_port = open_port

    def feed() -> None:
        for port in opened:
            port.write(b"x\r\n35.2\r\n")

    kept = await check_source(source, readings=3, feed=feed)
    assert set(kept.values("t")) == {35.2 + 273.15}
    assert not opened[0].is_open


@contextmanager
def sending_beside(device: SerialPort, data: bytes) -> Iterator[None]:
    """Send again and again from a thread: a command has a loop of its own."""
    done = threading.Event()

    def send() -> None:
        while not done.wait(0.05):
            device.put(data)

    thread = threading.Thread(target=send)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def test_probes_shows_what_a_serial_probe_sends(
    device: SerialPort, capsys: pytest.CaptureFixture[str]
) -> None:
    with sending_beside(device, b"248.1,93.0\r\n"):
        words = ("--format", "csv", "--select", "1", "--seconds", "1", "--unit", "psig")
        assert main(["probes", f"serial:{device.link}", *words]) == 0
    out = capsys.readouterr().out
    assert "liquid line pressure       248.1 psig" in out
    assert "as sent" not in out  # nothing stands between
    with sending_beside(device, b"2481,93.0\r\n"):
        assert main(["probes", f"serial:{device.link}", *words, "--scale", "0.1"]) == 0
    assert re.search(r"248\.1 psig.*   2481 as sent", capsys.readouterr().out)


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        (["--role", "vacuum", "--unit", "Pa", "--units", "si"], "66.7 Pa (66.7 Pa absolute)"),
        (["--role", "vacuum", "--units", "us"], "66.7 micron"),
        (["--role", "barometer", "--scale", "15", "--units", "us"], "(14.5 psia)"),
    ],
)
def test_probes_counts_a_vacuum_and_the_atmosphere_from_no_pressure_at_all(
    device: SerialPort, capsys: pytest.CaptureFixture[str], words: list[str], shown: str
) -> None:
    with sending_beside(device, b"66.7\r\n"):
        assert main(["probes", f"serial:{device.link}", "--seconds", "0.8", *words]) == 0
    assert shown in capsys.readouterr().out


def test_probes_ends_with_code_1_for_a_probe_that_is_silent(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["probes", f"serial:{tmp_path / 'nothing'}", "--seconds", "0.5"]) == 1
    out, err = capsys.readouterr()
    assert "is the adapter plugged in?" in out
    assert "nothing heard from liquid line pressure" in err
