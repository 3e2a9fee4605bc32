"""Far ends for the contract test: a serial device and a broker that do as they are told."""

import asyncio
import os
import select
import struct
import sys
import threading
from collections.abc import Callable, Coroutine, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import pytest

from chargeassist.model.channels import Channel, Role
from chargeassist.model.job import ProbeSpec, SourceSpec
from tests.peers.terminal import SerialPort, raw_pty

T = TypeVar("T")

RECORDINGS = Path(__file__).parents[2] / "recordings"


class ScriptedBroker:
    """A few packets of MQTT 3.1.1 (OASIS, 2014, chapter 3), in a thread of its own.

    Enough to answer CONNECT, SUBSCRIBE and PINGREQ, to publish with QoS 0, and to misbehave in
    ways a real broker does not.

    Attributes
    ----------
    connack, suback : int
        Codes it answers with.
    answer_connect, answer_ping : bool
        Whether it answers at all.
    on_connect : bytes
        Sent instead of a CONNACK if not empty.
    """

    def __init__(self) -> None:
        self.connack = 0
        self.suback: dict[str, int] = {}
        self.answer_connect = True
        self.on_connect = b""
        self.subscribed: list[tuple[str, int]] = []
        self.connects = 0
        self.port = 0
        self._writers: set[asyncio.StreamWriter] = set()
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="scripted broker")
        self._thread.start()
        self._server = self._do(self._open())

    def close(self) -> None:
        self._do(self._shut())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def send(self, topic: str, payload: bytes, *, retain: bool = False) -> None:
        """Publish to every client, subscribed or not."""
        name = topic.encode()
        body = struct.pack(">H", len(name)) + name + payload
        self.send_raw(bytes([0x30 | retain]) + _length(len(body)) + body)

    def send_raw(self, data: bytes) -> None:
        """Send any bytes at all to every client."""

        def send() -> None:
            for writer in self._writers:
                writer.write(data)

        self._loop.call_soon_threadsafe(send)

    def hang_up(self) -> None:
        """Cut every connection."""

        def cut() -> None:
            for writer in self._writers:
                writer.transport.abort()

        self._loop.call_soon_threadsafe(cut)

    def _do(self, work: Coroutine[object, object, T]) -> T:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(5.0)

    async def _open(self) -> asyncio.Server:
        server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        self.port = int(server.sockets[0].getsockname()[1])
        return server

    async def _shut(self) -> None:
        # A server closed while it accepts leaves that connection open for ever (CPython 3.11:
        # Server._attach asserts that the server is open), so what was dialled is let in first.
        await asyncio.sleep(0.05)
        self._server.close()
        for _ in range(50):
            for writer in list(self._writers):
                writer.transport.abort()
            await asyncio.sleep(0.01)
            if asyncio.all_tasks() == {asyncio.current_task()}:
                break

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._writers.add(writer)
        try:
            while True:
                kind, body = await _packet(reader)
                self._answer(kind, body, writer)
        except (asyncio.IncompleteReadError, ConnectionError, asyncio.CancelledError):
            pass
        finally:
            self._writers.discard(writer)
            writer.transport.abort()

    def _answer(self, kind: int, body: bytes, writer: asyncio.StreamWriter) -> None:
        if kind == 1:
            self.connects += 1
            if self.on_connect:
                writer.write(self.on_connect)
            elif self.answer_connect:
                writer.write(bytes([0x20, 2, 0, self.connack]))
        elif kind == 8:
            topics = _topics(body[2:])
            self.subscribed += topics
            codes = bytes(self.suback.get(topic, qos) for topic, qos in topics)
            writer.write(bytes([0x90, 2 + len(codes)]) + body[:2] + codes)
        elif kind == 12:
            writer.write(b"\xd0\x00")


async def _packet(reader: asyncio.StreamReader) -> tuple[int, bytes]:
    kind = (await reader.readexactly(1))[0] >> 4
    length, shift = 0, 0
    while True:
        byte = (await reader.readexactly(1))[0]
        length |= (byte & 0x7F) << shift
        shift += 7
        if not byte & 0x80:
            return kind, await reader.readexactly(length)


def _length(n: int) -> bytes:
    out = bytearray()
    while True:
        n, low = divmod(n, 128)
        out.append(low | (0x80 if n else 0))
        if not n:
            return bytes(out)


def _topics(body: bytes) -> list[tuple[str, int]]:
    topics = []
    while body:
        (size,) = struct.unpack(">H", body[:2])
        topics.append((body[2 : 2 + size].decode(), body[2 + size]))
        body = body[3 + size :]
    return topics


@pytest.fixture
def scripted_broker() -> Iterator[ScriptedBroker]:
    broker = ScriptedBroker()
    yield broker
    broker.close()


@dataclass
class FarEnd:
    """What a source of one kind is pointed at, and how to make it send.

    Attributes
    ----------
    junk_is_told : bool
        Whether `send` puts junk between the readings.
    """

    spec: SourceSpec
    base: Path
    send: Callable[[], object] | None = None
    close: Callable[[], None] = field(default=lambda: None)
    junk_is_told: bool = False


PROBE_CHANNEL = Channel(name="liquid_t", role=Role.LIQUID_TEMPERATURE, unit="°C")


def serial_end(folder: Path) -> FarEnd:
    """A pseudo-terminal."""
    if sys.platform == "win32":
        pytest.skip("no pseudo-terminals on Windows")
    port = SerialPort(folder / "ttyTEST")
    port.plug_in()
    probes = (ProbeSpec(channel=PROBE_CHANNEL),)
    spec = SourceSpec(name="serial", url=f"serial:{port.link}", probes=probes)
    return FarEnd(spec, folder, lambda: port.put(b"35.2\r\n\xff\x00junk\r\n"), port.unplug, True)


class ScriptedDevice:
    """A Modbus RTU device in a thread of its own: it answers every read with the same word.

    Frames are put together here, from the standard: Modbus over Serial Line V1.02, 2.5.1 and 6.2.2.
    Every third answer has a wrong checksum.
    """

    def __init__(self, word: int) -> None:
        self._master, self._slave = raw_pty()
        self.port = os.ttyname(self._slave)
        self._word = word
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="scripted device")
        self._thread.start()

    def close(self) -> None:
        self._stop.set()
        self._thread.join()
        os.close(self._master)
        os.close(self._slave)

    def _serve(self) -> None:
        answers = 0
        while not self._stop.is_set():
            if not select.select([self._master], [], [], 0.01)[0]:
                continue
            request = os.read(self._master, 8)
            if len(request) == 8 and crc(request) == 0:
                answers += 1
                count = request[5]
                frame = bytes([*request[:2], 2 * count]) + self._word.to_bytes(2, "big") * count
                spoilt = 0 if answers % 3 else 1
                os.write(self._master, frame + (crc(frame) ^ spoilt).to_bytes(2, "little"))


def crc(frame: bytes) -> int:
    """Return the checksum of Modbus RTU, bit by bit; 0 of a frame that ends in its own."""
    value = 0xFFFF
    for byte in frame:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ (0xA001 if value & 1 else 0)
    return value


# The check value of this checksum in the catalogue of parametrised CRC algorithms (from memory).
assert crc(b"123456789") == 0x4B37


def modbus_end(folder: Path) -> FarEnd:
    """A scripted device on a pseudo-terminal."""
    if sys.platform == "win32":
        pytest.skip("no pseudo-terminals on Windows")
    device = ScriptedDevice(352)
    url = f"modbus:{device.port}?frame=8N1&period=0.05&timeout=0.05"
    probes = (ProbeSpec(channel=PROBE_CHANNEL, select="7/input:3:int16", scale=0.1),)
    spec = SourceSpec(name="modbus", url=url, probes=probes)
    return FarEnd(spec, folder, None, device.close, True)


def mqtt_end(folder: Path) -> FarEnd:
    """A scripted broker."""
    broker = ScriptedBroker()

    def send() -> None:
        if broker.subscribed:
            broker.send("unit/t", b"\xff\x00junk")
            broker.send("unit/t", b"35.2")

    probes = (ProbeSpec(channel=PROBE_CHANNEL, topic="unit/t"),)
    spec = SourceSpec(name="mqtt", url=f"mqtt://127.0.0.1:{broker.port}", probes=probes)
    return FarEnd(spec, folder, send, broker.close, True)


def simulator_end(folder: Path) -> FarEnd:
    """The simulated unit; it is its own far end."""
    probes = (ProbeSpec(channel=PROBE_CHANNEL),)
    return FarEnd(SourceSpec(name="sim", url="simulator:?length=2min", probes=probes), folder)


def recording_end(folder: Path) -> FarEnd:
    """A recording of the repository."""
    del folder
    url = "recording:quarry-road-bakery?speed=max"
    return FarEnd(SourceSpec(name="recording", url=url), RECORDINGS)


FAR_ENDS = {
    "serial": serial_end,
    "modbus": modbus_end,
    "mqtt": mqtt_end,
    "mqtts": mqtt_end,  # the same class under its other scheme; the handshake is tested live
    "simulator": simulator_end,
    "recording": recording_end,
}


@pytest.fixture
def far_end(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FarEnd]:
    """The far end for the entry point named by the test's parameter."""
    make = FAR_ENDS.get(request.param)
    if make is None:
        pytest.skip(f"no far end is known for the third-party source {request.param!r}")
    end = make(tmp_path)
    yield end
    end.close()
