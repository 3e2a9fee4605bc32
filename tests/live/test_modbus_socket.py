"""The Modbus source at a device server: RTU passed on by a socket, and what is none of it."""

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from chargeassist.model.channels import Channel, Role
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.testing import running
from chargeassist_adapters.modbus_probe import ModbusSource
from chargeassist_adapters.retry import Backoff

# The frames of the README: device 1 is asked for input register 0 and answers 2481.
ASKED = bytes.fromhex("01 04 00 00 00 01 31 ca")
ANSWERED = bytes.fromhex("01 04 02 09 b1 7f 14")


@contextmanager
def serving(answer: Callable[[socket.socket, bytes], object]) -> Iterator[str]:
    """Let a server call `answer` with what each client sends, until that returns nothing."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            with suppress(OSError):  # it was shut
                while True:
                    near, _ = server.accept()
                    with near, suppress(OSError):
                        while (asked := near.recv(256)) and answer(near, asked):
                            pass

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield f"socket://127.0.0.1:{server.getsockname()[1]}"
        finally:
            server.shutdown(socket.SHUT_RDWR)
            thread.join()


def source_at(place: str) -> ModbusSource:
    channel = Channel(name="p", role=Role.LIQUID_PRESSURE, unit="psig")
    probe = ProbeSpec(channel=channel, select="1/input:0:int16", scale=0.1)
    url = f"modbus:{place}?period=0.05&timeout=0.05"
    source = ModbusSource.from_spec(SourceSpec(name="line", url=url, probes=(probe,)), Path())
    source.retry = Backoff(0.05, 0.1)
    return source


async def test_the_frames_of_the_readme_by_a_socket() -> None:
    def answer(near: socket.socket, asked: bytes) -> bool:
        near.sendall(ANSWERED if asked == ASKED else b"")
        return True

    with serving(answer) as place:
        async with running(source_at(place)) as sink:
            await sink.until(lambda k: len(k.readings) >= 3)
    assert sink.values("p")[0] == pytest.approx(248.1 * 6894.757293168)


async def test_a_server_that_answers_nothing_is_asked_whether_it_speaks_rtu() -> None:
    with serving(lambda near, asked: True) as place:
        async with running(source_at(place)) as sink:
            await sink.until(lambda k: len(k.losses) >= 1)
    assert "no answer from device 1" in sink.losses[0].reason
    assert "Modbus TCP, as a rule at port 502, is not read" in sink.losses[0].reason


async def test_a_server_that_hangs_up_was_not_unplugged() -> None:
    with serving(lambda near, asked: False) as place:
        async with running(source_at(place)) as sink:
            await sink.until(lambda k: len(k.losses) >= 1)
    assert sink.losses[0].reason.startswith(f"{place} ended the connection")
    assert "Modbus TCP" in sink.losses[0].reason
