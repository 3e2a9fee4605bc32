"""``job new`` on a real terminal: questions, a refusal, going back, Ctrl-C, and the file."""

import os
import pty
import select
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from chargeassist.model.limits import LimitKey
from chargeassist.session.job.jobfile import load_job
from chargeassist.session.job.questions import next_question

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

ANSWERS = {
    "name": "Weir Cottage, kitchen",
    "refrigerant": "R-32",
    "site.altitude": "690 ft",
    "site.place": "roof",
    "target.method": "subcooling",
    "target.subcooling": "9 °F",
    "target.source": "charging label",
    "target.tolerance": "2 °F",
    "charge.plate": "5 lb",
    "charge.step_cap": "4 oz",
    "more": "y",
    "conditions.outdoor_low": "60 °F",
    "conditions.source": "installation manual, page 12",
    "source.1.adapter": "serial",
    "source.1.url": "serial:/dev/ttyUSB0",
    "source.1.liquid_pressure.unit": "psig",
    "source.1.liquid_pressure.high": "800 psig",
}


class Asked:
    """`job new` with a terminal for input and output."""

    def __init__(self, folder: Path) -> None:
        self.seen = ""
        self._master, slave = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "chargeassist", "job", "new", "job.toml"],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=folder,
            env={**os.environ, "PYTHONIOENCODING": "utf-8"},
            start_new_session=True,
            preexec_fn=_own_terminal,
        )
        os.close(slave)

    def prompted(self, key: str, within_s: float = 20.0) -> str:
        """Return what was printed up to the prompt of `key`."""
        give_up = time.monotonic() + within_s
        while f"{key}> " not in self.seen and time.monotonic() < give_up:
            if not self._read():
                break
        before, prompt, self.seen = self.seen.partition(f"{key}> ")
        assert prompt, f"{key} was not asked: {before[-400:]}"
        return before

    def type(self, text: str, end: str = "\n") -> None:
        os.write(self._master, f"{text}{end}".encode())

    def ended(self) -> int:
        """Read to the end and return the exit code."""
        while self._read():
            pass
        return self.process.wait(10.0)

    def _read(self) -> bool:
        ready, _, _ = select.select([self._master], [], [], 20.0)
        if not ready:
            return False
        try:
            self.seen += os.read(self._master, 65536).decode("utf-8", errors="replace")
        except OSError:  # the other end is closed: the program has ended
            return False
        return True

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(10.0)
        os.close(self._master)


def _own_terminal() -> None:
    """Make the terminal the child's own, so that Ctrl-C reaches it and is not ignored.

    What a shell starts in the background ignores it, and so would all that is started from there.
    """
    import fcntl
    import signal
    import termios

    signal.signal(signal.SIGINT, signal.SIG_DFL)
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


@pytest.fixture
def asked(tmp_path: Path) -> Iterator[Asked]:
    program = Asked(tmp_path)
    yield program
    program.close()


def test_a_job_is_made_on_a_terminal(asked: Asked, tmp_path: Path) -> None:
    given: dict[str, str] = {}
    while (question := next_question(given)) is not None:
        asked.prompted(question.key)
        if question.key == "target.subcooling":
            asked.type("")
            assert "a target is never filled in" in asked.prompted(question.key)
            asked.type("b")
            asked.prompted("profile")
            asked.type("")
            asked.prompted(question.key)
        text = ANSWERS.get(question.key, "")
        asked.type(text)
        given[question.key] = text or question.default
    assert asked.ended() == 0
    assert "written: job.toml" in asked.seen
    assert "2 stages miss something needed" in asked.seen
    job = load_job(tmp_path / "job.toml")
    assert job.name == "Weir Cottage, kitchen"
    assert job.target.subcooling_k == pytest.approx(5.0)
    assert job.site.at_height
    limit = job.limit(LimitKey.OUTDOOR_LOW)
    assert limit is not None
    assert limit.citation == "installation manual, page 12 (equipment instructions)"
    # What was written is read again without complaint; only what is missing is told.
    again = subprocess.run(
        [sys.executable, "-m", "chargeassist", "job", "check", "job.toml"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert again.returncode in {0, 1}
    assert again.stderr == ""


def test_ctrl_c_leaves_and_writes_nothing(asked: Asked, tmp_path: Path) -> None:
    asked.prompted("name")
    asked.type("Weir Cottage")
    asked.prompted("refrigerant")
    asked.type("\x03", end="")
    assert asked.ended() == 130
    assert "nothing was written" in asked.seen
    assert list(tmp_path.iterdir()) == []
