"""A program that is stopped and goes on: what its wires kept meanwhile is no reading of now.

The far end sends the machine's own clock, so the age of each reading is known to the millisecond.
"""

import os
import queue
import select
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Self

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.contract.conftest import crc
from tests.peers.broker import Broker
from tests.peers.terminal import SerialPort, raw_pty

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no signals to stop a program")

HELD_S = 4.0
"""Longer than the three seconds from which on the program counts as held up."""

NOT_OLD_S = 1.5
"""What a busy machine may take to hand a reading over."""


class Reader:
    """The program that reads, and what it has said."""

    def __init__(self, *arguments: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.peers.ages", *arguments],
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[2],
        )
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._listening = threading.Thread(target=self._listen)
        self._listening.start()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self._lines.put(line.strip())

    def next_ages(self, count: int) -> list[float]:
        """Return the ages of the next readings [s]."""
        ages: list[float] = []
        while len(ages) < count:
            word, _, rest = self._lines.get(timeout=30.0).partition(" ")
            if word == "AGE":
                ages.append(float(rest))
        return ages

    def signal(self, number: int) -> None:
        self._process.send_signal(number)

    def hold(self) -> None:
        """Stop it for a while; what it said before is forgotten."""
        self.signal(signal.SIGSTOP)
        time.sleep(HELD_S)
        with suppress(queue.Empty):
            while True:
                self._lines.get_nowait()
        self.signal(signal.SIGCONT)

    def end(self) -> None:
        self._process.kill()
        self._process.wait(10.0)
        self._listening.join()
        assert self._process.stdout is not None
        self._process.stdout.close()


@contextmanager
def reading(*arguments: str) -> Iterator[Reader]:
    reader = Reader(*arguments)
    try:
        yield reader
    finally:
        reader.end()


@contextmanager
def repeating(do: Callable[[], object], period_s: float) -> Iterator[None]:
    over = threading.Event()

    def run() -> None:
        while not over.wait(period_s):
            do()

    thread = threading.Thread(target=run)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


class Publisher(Client):
    """A client of the broker that publishes from any thread."""

    def __init__(self, port: int) -> None:
        super().__init__(CallbackAPIVersion.VERSION2)
        self.connect("127.0.0.1", port)

    def __enter__(self) -> Self:
        self.loop_start()
        return self

    def __exit__(self, *_: object) -> None:
        self.loop_stop()
        self.disconnect()


def now_line() -> bytes:
    return b"%.3f\r\n" % time.monotonic()


def check_nothing_old(reader: Reader) -> None:
    assert max(reader.next_ages(5)) < NOT_OLD_S
    reader.hold()
    assert max(reader.next_ages(20)) < NOT_OLD_S


def test_a_serial_port(tmp_path: Path) -> None:
    with (
        SerialPort(tmp_path / "ttyTEST") as port,
        repeating(lambda: port.put(now_line()), 0.05),
        reading(f"serial:{port.link}", "number", "", "", "1") as reader,
    ):
        check_nothing_old(reader)


@pytest.mark.parametrize("period_s", [0.05, 0.002])
def test_a_device_server(period_s: float) -> None:
    """A socket says only that something waits in it, not how much."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(30.0)
        url = f"serial:socket://127.0.0.1:{server.getsockname()[1]}"
        with reading(url, "number", "", "", "1") as reader:
            near, _ = server.accept()

            def send() -> None:
                with suppress(OSError):  # the program has ended
                    near.sendall(now_line())

            with near, repeating(send, period_s):
                check_nothing_old(reader)
                reader.end()


def test_a_broker(broker: Broker) -> None:
    url = f"mqtt://127.0.0.1:{broker.port}"
    with (
        reading(url, "number", "", "clock", "1") as reader,
        Publisher(broker.port) as publisher,
        repeating(lambda: publisher.publish("clock", now_line()), 0.05),
    ):
        check_nothing_old(reader)


def test_a_modbus_device_that_answers_while_the_program_is_held() -> None:
    """The program is stopped between its question and the answer."""
    master, slave = raw_pty()
    over, held = threading.Event(), threading.Event()

    def serve() -> None:
        while not over.is_set():
            if not select.select([master], [], [], 0.01)[0]:
                continue
            request = os.read(master, 8)
            sent = int(time.monotonic() * 100.0) & 0xFFFFFFFF
            frame = bytes([*request[:2], 4]) + sent.to_bytes(4, "big")
            if held.is_set():  # asked, and stopped before it hears the answer
                reader.signal(signal.SIGSTOP)
                os.write(master, frame + crc(frame).to_bytes(2, "little"))
                time.sleep(HELD_S)
                held.clear()
                reader.signal(signal.SIGCONT)
            else:
                os.write(master, frame + crc(frame).to_bytes(2, "little"))

    url = f"modbus:{os.ttyname(slave)}?frame=8N1&period=0.1"
    with reading(url, "number", "1/input:0:uint32", "", "0.01") as reader:
        thread = threading.Thread(target=serve)
        thread.start()
        try:
            assert max(reader.next_ages(5)) < NOT_OLD_S
            held.set()
            while held.is_set():
                time.sleep(0.05)
            assert max(reader.next_ages(10)) < NOT_OLD_S
        finally:
            over.set()
            thread.join()
            os.close(master)
            os.close(slave)
