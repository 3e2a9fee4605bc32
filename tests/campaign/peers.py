"""Far ends that are real: a mosquitto broker, certificates by openssl, a slow wire between."""

import os
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Self

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from tests.campaign.program import STEP_A, until
from tests.campaign.tried import NotPossibleError

RADIO = """
[[source]]
name = "radio"
url = "{url}"
[[source.probe]]
role = "compressor_current"
unit = "A"
topic = "rig/amps"
max_age = "1 s"
"""


IN_FLIGHT = 1000
"""Messages not yet acknowledged; MQTT numbers only 65 535 of them."""


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as each:
        each.bind(("127.0.0.1", 0))
        return int(each.getsockname()[1])


def _program(name: str, package: str) -> str:
    path = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin")
    if path is None:
        raise NotPossibleError(f"{name} is not installed (Debian package {package})")
    return path


class Mosquitto:
    """A broker on a free loopback port, that keeps it through restarts."""

    def __init__(self, folder: Path, config: str = "allow_anonymous true") -> None:
        self.port = free_port()
        self._folder = folder
        self._command = _program("mosquitto", "mosquitto")
        # Started by root it would change to an account that may not read the certificates.
        user = "user root\n" if os.geteuid() == 0 else ""
        self._config = folder / "mosquitto.conf"
        self._config.write_text(f"{user}listener {self.port} 127.0.0.1\n{config}\n")
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it answers."""
        with (self._folder / "mosquitto.log").open("ab") as log:
            self._process = subprocess.Popen(
                [self._command, "-c", str(self._config)], stdout=log, stderr=log
            )
        if not until(self._answers, 10.0):
            raise RuntimeError((self._folder / "mosquitto.log").read_text()[-300:])

    def _answers(self) -> bool:
        with socket.socket() as each:
            return each.connect_ex(("127.0.0.1", self.port)) == 0

    def kill(self, number: int = signal.SIGKILL) -> None:
        """End it by a signal."""
        if self._process is not None:
            self._process.send_signal(number)
            self._process.wait(10.0)
            self._process = None

    @contextmanager
    def stopped(self) -> Iterator[None]:
        """Let it hang: it takes what comes and answers nothing."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)
        try:
            yield
        finally:
            self._process.send_signal(signal.SIGCONT)

    def __enter__(self) -> Self:
        """Start it."""
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End it."""
        self.kill()


class Publisher:
    """Numbers its readings and publishes them at QoS 1."""

    def __init__(self, port: int, per_second: float = 20.0) -> None:
        self._sent: dict[int, float] = {}
        self.per_second = per_second
        self._numbers: dict[int, int] = {}
        self._early: dict[int, float] = {}
        self._client = paho.Client(CallbackAPIVersion.VERSION2)
        self._client.max_inflight_messages_set(IN_FLIGHT)
        self._client.max_queued_messages_set(0)
        self._client.reconnect_delay_set(1, 1)
        self._client.on_publish = lambda c, u, mid, *rest: self._acknowledged(mid)
        self._port = port
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._publish, daemon=True)

    @property
    def sent(self) -> dict[int, float]:
        """When each number was acknowledged by the broker, by ``time.monotonic`` [s]."""
        return dict(self._sent)

    def _acknowledged(self, mid: int) -> None:
        """Note when; the broker may be quicker than `publish` returns."""
        now = time.monotonic()
        with self._lock:
            number = self._numbers.pop(mid, None)
            if number is None:
                self._early[mid] = now
            else:
                self._sent[number] = now

    def _publish(self) -> None:
        number = 0
        due = time.monotonic()
        while not self._stop.is_set():
            due = max(due + 1.0 / self.per_second, time.monotonic() - 0.1)
            self._stop.wait(max(0.0, due - time.monotonic()))
            if not self._client.is_connected() or len(self._numbers) >= IN_FLIGHT:
                continue
            number += 1
            mid = self._client.publish("rig/amps", f"{number * STEP_A:.4f}", qos=1).mid
            with self._lock:
                early = self._early.pop(mid, None)
                if early is None:
                    self._numbers[mid] = number
                else:
                    self._sent[number] = early

    def __enter__(self) -> Self:
        """Connect and begin."""
        self._client.connect_async("127.0.0.1", self._port)
        self._client.loop_start()
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End."""
        self._stop.set()
        self._thread.join()
        self._client.disconnect()
        self._client.loop_stop()


class SlowWire:
    """Passes a TCP connection on, `delay_s` late and in small pieces."""

    def __init__(self, to_port: int, delay_s: float) -> None:
        self._to_port = to_port
        self._delay_s = delay_s
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._server.getsockname()[1])
        self._sockets: list[socket.socket] = [self._server]

    def __enter__(self) -> Self:
        """Listen."""
        threading.Thread(target=self._accept, daemon=True).start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Cut it."""
        for each in self._sockets:
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
            each.close()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._server.accept()
                far = socket.create_connection(("127.0.0.1", self._to_port))
                self._sockets += [near, far]
                for ends in ((near, far), (far, near)):
                    threading.Thread(target=self._carry, args=ends, daemon=True).start()

    def _carry(self, source: socket.socket, target: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(64):
                time.sleep(self._delay_s)
                target.sendall(data)
        for each in (source, target):
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)


class Authority:
    """A certificate authority of our own, by the openssl command."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._command = _program("openssl", "openssl")
        self.file = folder / "ca.pem"
        self._openssl(
            *("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-keyout", "ca.key", "-out", "ca.pem", "-subj", "/CN=campaign authority"),
            *("-addext", "basicConstraints=critical,CA:TRUE"),
            *("-addext", "keyUsage=critical,keyCertSign,cRLSign"),
        )

    def _openssl(self, *words: str) -> None:
        subprocess.run([self._command, *words], cwd=self._folder, check=True, capture_output=True)

    def server(self, name: str, alternative: str, *, days: tuple[str, str] | None = None) -> str:
        """Make a server's certificate and return the broker's configuration for it.

        Parameters
        ----------
        name : str
        alternative : str
            Subject alternative name, such as "IP:127.0.0.1".
        days : (str, str), optional
            Not before and not after, as YYMMDDHHMMSSZ; from now for two days otherwise.
        """
        at = self._folder
        self._openssl(
            *("req", "-newkey", "rsa:2048", "-nodes", "-keyout", f"{name}.key"),
            *("-out", f"{name}.csr", "-subj", f"/CN={name}"),
        )
        (at / "ca.cnf").write_text(
            "[ca]\ndefault_ca=own\n[own]\nnew_certs_dir=.\ndatabase=index\nserial=serial\n"
            "default_md=sha256\npolicy=any\nunique_subject=no\n[any]\ncommonName=supplied\n"
            f"[ext]\nsubjectAltName={alternative}\nbasicConstraints=CA:FALSE\n"
            "authorityKeyIdentifier=keyid\n"
        )
        (at / "index").write_text("")
        (at / "serial").write_text("01\n")
        span = ("-days", "2") if days is None else ("-startdate", days[0], "-enddate", days[1])
        self._openssl(
            *("ca", "-batch", "-config", "ca.cnf", "-extensions", "ext", "-notext"),
            *("-cert", "ca.pem", "-keyfile", "ca.key", "-in", f"{name}.csr"),
            *("-out", f"{name}.pem", *span),
        )
        return (
            f"allow_anonymous true\ncafile {self.file}\n"
            f"certfile {at / f'{name}.pem'}\nkeyfile {at / f'{name}.key'}"
        )
