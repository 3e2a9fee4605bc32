"""Real peers: a mosquitto broker, a certificate authority, a serial line with Modbus devices."""

import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.peers.broker import EVERYBODY, Broker, StartBroker
from tests.peers.certificates import Authority, Certificates
from tests.peers.line import Line

NeedProgram = Callable[[str, str], str]


@pytest.fixture
def start_broker(tmp_path: Path, need_program: NeedProgram) -> Iterator[StartBroker]:
    """Start a broker with lines of configuration of its own ("{folder}" is its folder)."""
    program = need_program("mosquitto", "mosquitto")
    started: list[Broker] = []

    def start(config: str) -> Broker:
        own = config.replace("{folder}", str(tmp_path))
        started.append(Broker(program, tmp_path, own, verbose=True))
        started[-1].start()
        return started[-1]

    yield start
    for broker in started:
        broker.stop()


@pytest.fixture
def broker(start_broker: StartBroker) -> Broker:
    """A running broker that lets everybody in."""
    return start_broker(EVERYBODY)


@pytest.fixture
def guarded(start_broker: StartBroker, need_program: NeedProgram, tmp_path: Path) -> Broker:
    """A broker with a password file (user "logger") and a list of what that user may read."""
    program = need_program("mosquitto_passwd", "mosquitto")
    passwords, rights = tmp_path / "passwords", tmp_path / "rights"
    subprocess.run([program, "-c", "-b", str(passwords), "logger", "s3cret"], check=True)
    rights.write_text("user logger\ntopic readwrite open/#\n", encoding="utf-8")
    for file in (passwords, rights):
        file.chmod(0o644)
    return start_broker(
        "allow_anonymous false\npassword_file {folder}/passwords\nacl_file {folder}/rights"
    )


@pytest.fixture(scope="session")
def certificates(
    tmp_path_factory: pytest.TempPathFactory, need_program: NeedProgram
) -> Certificates:
    """Certificates made for this test run."""
    program = need_program("openssl", "openssl")
    ours, other = (Authority(program, tmp_path_factory.mktemp(name)) for name in ("ours", "other"))
    return Certificates(ours, ours.server("localhost", "DNS:localhost,IP:127.0.0.1"), other)


@pytest.fixture
def wire(tmp_path: Path) -> Iterator[Line]:
    """A serial line."""
    if sys.platform == "win32":
        pytest.skip("no pseudo-terminals on Windows")
    made = Line(tmp_path)
    yield made
    made.close()
