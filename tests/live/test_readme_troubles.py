"""What the README says of troubles: each of its sentences is provoked by the trouble itself."""

import errno
import re
import sys
import threading
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from chargeassist.cli.main import main
from chargeassist.model.events import SessionMode
from chargeassist.session.job.demo import demo_job
from chargeassist.session.opening import started_now
from chargeassist.session.record.store import SessionWriter
from chargeassist_adapters.port import why
from tests.peers.line import Line

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
PRESSURE = ("--unit", "psig")
AMPS = ("--role", "compressor_current", "--unit", "A", "--topic", "job/amps")
REGISTER = ("--select", "1/input:0:int16")


def sentences() -> list[str]:
    """Return the first column of the README's table of troubles."""
    section = README.partition("## When something goes wrong")[2]
    return re.findall(r"^\| `([^`]+)` \|", section, re.MULTILINE)


class Bench:
    """Makes troubles and returns what the program says of them."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str], fixture: Any) -> None:
        self.folder = folder
        self.fixture = fixture
        self._capsys = capsys

    def says(self, *words: str) -> str:
        """Return all that a command prints."""
        main(list(words))
        told = self._capsys.readouterr()
        return " ".join(f"{told.out} {told.err}".split())

    def probes(self, url: str, *words: str, seconds: str = "1") -> str:
        return self.says("probes", url, *words, "--seconds", seconds)

    def hears(self, data: bytes) -> str:
        """Return what is said of a port that delivers `data`."""
        line: Line = self.fixture("wire")
        done = threading.Event()

        def feed() -> None:
            while not done.wait(0.1):
                line.send(data)

        feeding = threading.Thread(target=feed)
        feeding.start()
        try:
            return self.probes(f"serial:{line.near}", *PRESSURE)
        finally:
            done.set()
            feeding.join()

    def job(self, old: str, new: str) -> str:
        """Return what is said of the README's job, changed."""
        text = re.findall(r"^```toml\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)[0]
        assert old in text
        (self.folder / "job.toml").write_text(text.replace(old, new), encoding="utf-8")
        return self.says("job", "check", str(self.folder / "job.toml"))

    @contextmanager
    def session(self) -> Any:
        """Give a session file that another program writes."""
        path = self.folder / "FILE.session"
        started = started_now(demo_job("library"), SessionMode.SIMULATED)
        writer = SessionWriter.create(path, started)
        try:
            yield str(path)
        finally:
            writer.abandon()

    def interrupted(self) -> str:
        """Return a session file that was left without an end."""
        with self.session() as path:
            return str(path)


def absent(bench: Bench) -> str:
    return bench.probes("serial:/dev/ttyUSB0", *PRESSURE)


def used(bench: Bench) -> str:
    serial = pytest.importorskip("serial")
    near = bench.fixture("wire").near
    with serial.Serial(str(near), exclusive=True):
        return bench.probes(f"serial:{near}", *PRESSURE)


def forbidden(bench: Bench) -> str:
    # Whoever runs the tests may be allowed everything, so the system's answer is made.
    return why(PermissionError(errno.EACCES, "Permission denied"), "/dev/ttyUSB0")


def mute_device(bench: Bench) -> str:
    url = f"modbus:{bench.fixture('wire').near}?baud=9600&frame=8N1&timeout=0.1"
    return bench.probes(url, *PRESSURE, *REGISTER, seconds="2")


def no_broker(bench: Bench) -> str:
    broker = bench.fixture("broker")
    broker.stop()
    return bench.probes(f"mqtt://127.0.0.1:{broker.port}", *AMPS)


def stranger(bench: Bench) -> str:
    return bench.probes(f"mqtt://127.0.0.1:{bench.fixture('guarded').port}", *AMPS)


def encrypted(bench: Bench, host: str, ca: str) -> str:
    files = bench.fixture("certificates")
    broker = bench.fixture("start_broker")(files.config())
    return bench.probes(f"mqtts://{host}:{broker.port}{ca.format(ca=files.authority.file)}", *AMPS)


def another(bench: Bench) -> str:
    with bench.session() as path:
        return bench.says("demo", "--record", path)


PROVOKED: dict[str, Callable[[Bench], str]] = {
    "no port /dev/ttyUSB0: is the adapter plugged in?": absent,
    "is in use by another program": used,
    "may not be opened: in use, or your account may not use serial ports": forbidden,
    "expected ASCII text, got other bytes (wrong baud rate?)": lambda b: b.hears(b"\xf8\x86\xe6\n"),
    "expected one number, got more after it": lambda b: b.hears(b"248.1,121.4\r\n"),
    "nothing heard from": lambda b: b.hears(b""),
    "power, both wires, its number?": mute_device,
    "connection refused; is the broker running, is the port right?": no_broker,
    "the broker refuses the user name or password": stranger,
    "it is for another host: give the name that stands in it": lambda b: encrypted(
        b, "127.1", "?ca={ca}"
    ),
    "give the authority's file as ca=": lambda b: encrypted(b, "localhost", ""),
    "expected gauge or absolute: psig or psia": lambda b: b.job('"psig"', '"psi"'),
    "but the key is missing": lambda b: b.job('subcooling = "5.0 K"\n', ""),
    "another running chargeassist is writing this session": another,
    "this file exists; choose another name, or go on with the session in it": lambda b: b.says(
        "demo", "--record", b.interrupted()
    ),
    "brings its own time and cannot be resumed": lambda b: b.says(
        "live", "--resume", b.interrupted()
    ),
    "the session has no end": lambda b: b.says(
        "archive", b.interrupted(), "--to", str(b.folder / "a.zip")
    ),
    "expansion valve hunts": lambda b: b.says("simulate", "hunting-valve"),
}


def test_every_trouble_of_the_readme_is_provoked_here() -> None:
    assert set(sentences()) == set(PROVOKED)


@pytest.mark.parametrize("sentence", sentences())
def test_the_program_says_what_the_readme_says_it_does(
    sentence: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    request: pytest.FixtureRequest,
) -> None:
    assert sentence in PROVOKED[sentence](Bench(tmp_path, capsys, request.getfixturevalue))
