"""A serial line between a program and its devices, in whose middle a test can spoil what passes."""

import asyncio
import os
import select
import threading
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice

from tests.peers.terminal import SerialPort, raw_pty

Registers = dict[str, dict[int, list[int]]]
"""By table ("input", "holding"): words by the address of the first."""


class Line:
    """Two pseudo-terminals and a thread that passes on.

    Attributes
    ----------
    near : Path
        What the program opens; stays the same when plugged in again.
    far : str
        What the devices open.
    to_devices, to_program : callable
        What becomes of the bytes in between; a test spoils them here.
    """

    def __init__(self, folder: Path) -> None:
        self.near = folder / "ttyLINE"
        self.to_devices: Callable[[bytes], bytes] = bytes
        self.to_program: Callable[[bytes], bytes] = bytes
        self._port = SerialPort(self.near)
        self._far = raw_pty()
        self.far = os.ttyname(self._far[1])
        self._lock = threading.RLock()  # a spoiler may send, too
        self._stop = threading.Event()
        self.plug_in()
        self._thread = threading.Thread(target=self._pass_on, name="line")
        self._thread.start()

    def plug_in(self) -> None:
        """Let the near end be there."""
        with self._lock:
            self._port.plug_in()

    def unplug(self) -> None:
        """Let the near end be gone."""
        with self._lock:
            self._port.unplug()

    def send(self, data: bytes) -> None:
        """Let the program hear `data`."""
        self._port.put(data)

    def close(self) -> None:
        """End the thread and close every end."""
        self._stop.set()
        self._thread.join()
        self.unplug()
        for end in self._far:
            os.close(end)

    def _pass_on(self) -> None:
        while not self._stop.is_set():
            with self._lock:
                near = None if self._port.ends is None else self._port.ends[0]
                ends = [self._far[0]] if near is None else [self._far[0], near]
                ready, _, _ = select.select(ends, [], [], 0.002)
                if near is not None and near in ready:
                    os.write(self._far[0], self.to_devices(os.read(near, 4096)))
                if self._far[0] in ready:
                    self.send(self.to_program(os.read(self._far[0], 4096)))
            # Lets whoever wants to unplug have the lock.
            time.sleep(0)


def _block(words: dict[int, list[int]]) -> list[SimData]:
    held = words or {65535: [0]}
    return [SimData(at, values=list(w), datatype=DataType.REGISTERS) for at, w in held.items()]


def _device(number: int, tables: Registers) -> SimDevice:
    bits = [SimData(0, values=[False] * 16, datatype=DataType.BITS)]
    holding, read_only = _block(tables.get("holding", {})), _block(tables.get("input", {}))
    return SimDevice(number, simdata=(bits, bits, holding, read_only))


@asynccontextmanager
async def serve_registers(
    port: str, devices: dict[int, Registers]
) -> AsyncIterator[ModbusSerialServer]:
    """Serve registers of devices by their number, by pymodbus's own server, on a serial port.

    It runs on an event loop of its own: what it is still busy with is nobody else's task.
    """
    server: ModbusSerialServer | None = None
    serves, over = threading.Event(), threading.Event()

    async def serve() -> None:
        nonlocal server
        server = ModbusSerialServer([_device(n, t) for n, t in devices.items()], port=port)
        await server.serve_forever(background=True)
        serves.set()
        await asyncio.to_thread(over.wait)
        await server.shutdown()  # type: ignore[no-untyped-call]

    thread = threading.Thread(target=asyncio.run, args=(serve(),), name="registers")
    thread.start()
    try:
        assert await asyncio.to_thread(serves.wait, 60.0)
        assert server is not None
        yield server
    finally:
        over.set()
        await asyncio.to_thread(thread.join)
