"""Real peers: a mosquitto broker on a free loopback port, a certificate authority, serial pairs."""

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

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
