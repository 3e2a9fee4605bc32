"""Real peers: a mosquitto broker, a certificate authority, a serial line with Modbus devices."""

import os
import select
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice

if sys.platform != "win32":
    import tty

MOSQUITTO = shutil.which(
    "mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin"
)


def need(program: str | None, name: str) -> str:
    """Return `program`, or skip; in continuous integration its absence is a failure."""
    if program is None:
        problem = f"{name} is not installed; on Debian: apt-get install {name}"
        if os.environ.get("CI"):
            pytest.fail(problem)
        pytest.skip(problem)
    return program


def free_port() -> int:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


class Mosquitto:
    """One broker process; can be stopped and started again on its port."""

    def __init__(self, folder: Path, port: int, config: str) -> None:
        self.folder = folder
        self.port = port
        self._program = need(MOSQUITTO, "mosquitto")
        self._config = folder / "mosquitto.conf"
        # Started by root it would change to an account that may not read the test's files.
        user = "user root\n" if sys.platform != "win32" and os.geteuid() == 0 else ""
        self._config.write_text(f"{user}listener {port} 127.0.0.1\n{config}\n", encoding="utf-8")
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def log(self) -> str:
        """What the broker wrote."""
        return (self.folder / "mosquitto.log").read_text(encoding="utf-8", errors="replace")

    def start(self) -> None:
        """Start and return once the port answers."""
        with (self.folder / "mosquitto.log").open("ab") as log:
            self._process = subprocess.Popen(
                [self._program, "-v", "-c", str(self._config)], stdout=log, stderr=log
            )
        give_up = time.monotonic() + 10.0
        while time.monotonic() < give_up:
            if self._process.poll() is not None:
                break
            with socket.socket() as s:
                if s.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.02)
        pytest.fail(f"mosquitto does not answer on port {self.port}:\n{self.log}")

    def stop(self) -> None:
        """Stop the process and wait for its end."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(10.0)
            self._process = None

    def signal(self, number: int) -> None:
        """Send the process a signal."""
        assert self._process is not None
        self._process.send_signal(number)


StartBroker = Callable[[str], Mosquitto]


@pytest.fixture
def start_broker(tmp_path: Path) -> Iterator[StartBroker]:
    """Start a broker with lines of configuration of its own ("{folder}" is its folder)."""
    started: list[Mosquitto] = []

    def start(config: str) -> Mosquitto:
        broker = Mosquitto(tmp_path, free_port(), config.replace("{folder}", str(tmp_path)))
        started.append(broker)
        broker.start()
        return broker

    yield start
    for broker in started:
        broker.stop()


@pytest.fixture
def broker(start_broker: StartBroker) -> Mosquitto:
    """A running broker that lets everybody in."""
    return start_broker("allow_anonymous true")


@pytest.fixture
def guarded(start_broker: StartBroker, tmp_path: Path) -> Mosquitto:
    """A broker with a password file (user "logger") and a list of what that user may read."""
    program = need(shutil.which("mosquitto_passwd"), "mosquitto")
    passwords, rights = tmp_path / "passwords", tmp_path / "rights"
    subprocess.run([program, "-c", "-b", str(passwords), "logger", "s3cret"], check=True)
    rights.write_text("user logger\ntopic readwrite open/#\n", encoding="utf-8")
    for file in (passwords, rights):
        file.chmod(0o644)
    return start_broker(
        "allow_anonymous false\npassword_file {folder}/passwords\nacl_file {folder}/rights"
    )


@dataclass(frozen=True)
class Certificates:
    """Files in PEM, made for this test run by the openssl command."""

    ca: Path
    cert: Path
    key: Path
    other_ca: Path


@pytest.fixture(scope="session")
def certificates(tmp_path_factory: pytest.TempPathFactory) -> Certificates:
    """An authority, a server certificate for localhost and 127.0.0.1, and another authority."""
    program = need(shutil.which("openssl"), "openssl")
    folder = tmp_path_factory.mktemp("certificates")

    def openssl(*words: str) -> None:
        subprocess.run([program, *words], cwd=folder, check=True, capture_output=True)

    def authority(name: str) -> None:
        openssl(
            *("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-keyout", f"{name}.key", "-out", f"{name}.pem", "-subj", f"/CN=test {name}"),
            *("-addext", "basicConstraints=critical,CA:TRUE"),
            *("-addext", "keyUsage=critical,keyCertSign,cRLSign"),
        )

    authority("ca")
    authority("other")
    openssl(
        *("req", "-newkey", "rsa:2048", "-nodes", "-keyout", "server.key"),
        *("-out", "server.csr", "-subj", "/CN=localhost"),
    )
    (folder / "san.ext").write_text(
        "subjectAltName=DNS:localhost,IP:127.0.0.1\nbasicConstraints=CA:FALSE\n"
        "authorityKeyIdentifier=keyid\n",
        encoding="utf-8",
    )
    openssl(
        *("x509", "-req", "-in", "server.csr", "-CA", "ca.pem", "-CAkey", "ca.key"),
        *("-CAcreateserial", "-out", "server.pem", "-days", "2", "-extfile", "san.ext"),
    )
    return Certificates(
        folder / "ca.pem", folder / "server.pem", folder / "server.key", folder / "other.pem"
    )


class Wire:
    """A line between a program and its devices: two pseudo-terminals and a thread that passes on.

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
        self._near: tuple[int, int] | None = None
        self._far = _raw_pty()
        self.far = os.ttyname(self._far[1])
        self._lock = threading.RLock()  # a spoiler may send, too
        self._stop = threading.Event()
        self.plug_in()
        self._thread = threading.Thread(target=self._pass_on, name="wire")
        self._thread.start()

    def plug_in(self) -> None:
        ends = _raw_pty()
        self.near.symlink_to(os.ttyname(ends[1]))
        with self._lock:
            self._near = ends

    def unplug(self) -> None:
        with self._lock:
            ends, self._near = self._near, None
        if ends is not None:
            self.near.unlink()
            for end in ends:
                os.close(end)

    def send(self, data: bytes) -> None:
        """Let the program hear `data`."""
        with self._lock:
            if self._near is not None:
                os.write(self._near[0], data)

    def close(self) -> None:
        self._stop.set()
        self._thread.join()
        self.unplug()
        for end in self._far:
            os.close(end)

    def _pass_on(self) -> None:
        while not self._stop.is_set():
            with self._lock:
                near = None if self._near is None else self._near[0]
                ends = [self._far[0]] if near is None else [self._far[0], near]
                ready, _, _ = select.select(ends, [], [], 0.002)
                if near is not None and near in ready:
                    data = self.to_devices(os.read(near, 4096))
                    os.write(self._far[0], data)
                if self._far[0] in ready:
                    data = self.to_program(os.read(self._far[0], 4096))
                    if near is not None:
                        os.write(near, data)
            # Lets whoever wants to unplug have the lock.
            time.sleep(0)


def _raw_pty() -> tuple[int, int]:
    master, slave = os.openpty()
    tty.setraw(slave)
    return master, slave


@pytest.fixture
def wire(tmp_path: Path) -> Iterator[Wire]:
    if sys.platform == "win32":
        pytest.skip("no pseudo-terminals on Windows")
    made = Wire(tmp_path)
    yield made
    made.close()


Registers = dict[str, dict[int, list[int]]]
"""By table ("input", "holding"): words by the address of the first."""


@pytest.fixture
def serve_registers() -> Callable[..., AbstractAsyncContextManager[ModbusSerialServer]]:
    """Serve registers of devices by their number, by pymodbus's own server, on a serial port."""

    def block(words: dict[int, list[int]]) -> list[SimData]:
        held = words or {65535: [0]}
        return [SimData(at, values=list(w), datatype=DataType.REGISTERS) for at, w in held.items()]

    def device(number: int, tables: Registers) -> SimDevice:
        bits = [SimData(0, values=[False] * 16, datatype=DataType.BITS)]
        holding, read_only = block(tables.get("holding", {})), block(tables.get("input", {}))
        return SimDevice(number, simdata=(bits, bits, holding, read_only))

    @asynccontextmanager
    async def serve(port: str, devices: dict[int, Registers]) -> AsyncIterator[ModbusSerialServer]:
        server = ModbusSerialServer([device(n, t) for n, t in devices.items()], port=port)
        await server.serve_forever(background=True)
        try:
            yield server
        finally:
            await server.shutdown()  # type: ignore[no-untyped-call]

    return serve
