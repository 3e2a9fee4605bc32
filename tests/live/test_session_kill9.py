"""The program itself, fed by a pseudo-terminal and killed at any moment, loses nothing.

One session is begun, killed with SIGKILL, gone on with, killed again. The feeder notes what it
sent and when; whatever was sent more than a second before a kill must be on disk.
That tests the death of the process, not of the power.
"""

import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.model.events import Reading, SessionResumed
from chargeassist.model.units import Quantity, find_unit
from chargeassist.session.record.store import SessionReader

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

KILLS = 6
LONGEST_LOSS_S = 1.0

JOB = """
name = "invented"
refrigerant = "R-32"
[site]
altitude = "210 m"
[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "invented"
[charge]
plate = "2.30 kg"
step_cap = "110 g"
[processing]
period = "0.2 s"
[[source]]
name = "cable"
url = "serial:{device}"
format = "csv"
[[source.probe]]
role = "liquid_pressure"
unit = "psig"
select = "1"
max_age = "1 s"
[[source.probe]]
role = "liquid_temperature"
unit = "°F"
select = "2"
max_age = "1 s"
"""


class Feeder:
    """A probe that numbers its readings by their value and notes when it sent them."""

    def __init__(self, link: Path) -> None:
        self._master, self._slave = os.openpty()
        os.set_blocking(self._master, False)
        link.symlink_to(os.ttyname(self._slave))
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._feed)
        self.sent: list[tuple[float, float]] = []
        """Wall time and value [psig], in order."""

    def start(self) -> None:
        self._thread.start()

    def end(self) -> None:
        self._stop.set()
        self._thread.join()
        os.close(self._master)
        os.close(self._slave)

    def _feed(self) -> None:
        number = 0
        while not self._stop.wait(0.02):
            number += 1
            value = round(100.0 + 0.01 * number, 2)
            with suppress(BlockingIOError):  # nobody reads: this one is not sent
                line = b"%.2f,%.1f\r\n" % (value, 93.0 + 0.1 * (number % 5))
                if os.write(self._master, line) == len(line):
                    self.sent.append((time.time(), value))


@pytest.fixture
def feeder(tmp_path: Path) -> Iterator[Feeder]:
    made = Feeder(tmp_path / "ttyTEST")
    made.start()
    yield made
    made.end()


def begin(*arguments: str) -> subprocess.Popen[str]:
    """Start the program and return once it has printed its first line."""
    process = subprocess.Popen(
        [sys.executable, "-m", "chargeassist", "live", "--lines", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )
    assert process.stdout is not None
    if not process.stdout.readline():
        _, err = process.communicate()
        pytest.fail(f"the program did not begin: {err}")
    return process


def pressures(path: Path) -> list[float]:
    """Return the recorded pressures [Pa], after checking the file's hashes."""
    with SessionReader(path) as reader:
        report = reader.verify()
        assert report.ok, report.problems
        return [
            e.value
            for e in reader.events()
            if isinstance(e, Reading) and e.channel == "liquid_pressure"
        ]


def test_kills_lose_nothing_older_than_a_second(feeder: Feeder, tmp_path: Path) -> None:
    job, path = tmp_path / "job.toml", tmp_path / "a.session"
    job.write_text(JOB.format(device=tmp_path / "ttyTEST"), encoding="utf-8")
    psig = find_unit("psig", Quantity.PRESSURE)
    chance = random.Random(20)
    known: list[float] = []
    owed = 0
    for kill in range(KILLS):
        more = ["--resume", str(path)] if kill else [str(job), "--record", str(path)]
        process = begin(*more)
        time.sleep(chance.uniform(0.1, 2.0))
        killed_at = time.time()
        process.send_signal(signal.SIGKILL)
        process.communicate(timeout=10.0)
        found = pressures(path)
        assert found[: len(known)] == known, "what was there is still there"
        new, known = found[len(known) :], found
        if new:
            values = {round(psig.to_si(value), 2): sent_at for sent_at, value in feeder.sent}
            begun_at = values[new[0]]
            due = [v for v, t in values.items() if begun_at <= t < killed_at - LONGEST_LOSS_S]
            missing = set(due) - set(new)
            assert not missing, f"kill {kill}: {len(missing)} of {len(due)} are lost"
            owed += len(due)
    assert owed > 50, "too few readings were old enough to prove anything"

    process = begin("--resume", str(path))
    time.sleep(1.0)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=10.0)
    assert process.returncode == 130, err
    assert "end: abandoned: interrupted" in out
    with SessionReader(path) as reader:
        report = reader.verify()
        assert report.ok, report.problems
        assert report.finished
        resumed = [e for e in reader.events() if isinstance(e, SessionResumed)]
        assert KILLS // 2 < len(resumed) <= KILLS
        assert all(e.away_s is not None and 0.0 <= e.away_s < 60.0 for e in resumed)
        times = [e.t for e in reader.events() if isinstance(e, Reading | SessionResumed)]
        assert times == sorted(times)
    assert main(["replay", "--check", "--speed", "max", str(path)]) == 0
    assert [p.name for p in tmp_path.glob("a.session*")] == ["a.session"]


def test_probes_shows_what_a_serial_probe_sends(
    feeder: Feeder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    address = f"serial:{tmp_path / 'ttyTEST'}"
    shared = ["probes", address, "--format", "csv", "--select", "1", "--seconds", "1"]
    assert main([*shared, "--unit", "psig"]) == 0
    out = capsys.readouterr().out
    assert "psig as sent" in out
    assert "liquid line pressure" in out


def test_probes_ends_with_code_1_for_a_probe_that_is_silent(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["probes", f"serial:{tmp_path / 'nothing'}", "--seconds", "0.5"]) == 1
    out, err = capsys.readouterr()
    assert "is the adapter plugged in?" in out
    assert "nothing heard from liquid line pressure" in err
