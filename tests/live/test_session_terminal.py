"""``demo`` on a terminal opens the dashboard; told to print lines it does not."""

import signal
import sys
from pathlib import Path

import pytest

from chargeassist.session.record.store import SessionReader
from tests.peers.terminal import OnTerminal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

# DEC private mode 1049, set: the screen of full-screen programs (xterm, "Control Sequences").
FULL_SCREEN = "\x1b[?1049h"


SIZE = {"TERM": "xterm-256color", "COLUMNS": "100", "LINES": "30"}


def test_demo_on_a_terminal_opens_the_dashboard(tmp_path: Path) -> None:
    with OnTerminal("demo", "--record", str(tmp_path), folder=tmp_path, **SIZE) as terminal:
        for shown in (FULL_SCREEN, "SIMULATED", "Millrace Lane"):
            assert terminal.until(lambda seen, shown=shown: shown in seen), terminal.seen[-500:]  # type: ignore[misc]
        assert terminal.process.poll() is None


def test_demo_told_to_print_lines_prints_them_on_a_terminal_too(tmp_path: Path) -> None:
    records = tmp_path / "records"
    words = ("demo", "--lines", "--speed", "max", "--record", str(records))
    with OnTerminal(*words, folder=tmp_path, **SIZE) as terminal:
        assert terminal.ended() == 0, terminal.seen[-500:]
    assert FULL_SCREEN not in terminal.seen
    assert "Stop: " in terminal.seen
    (path,) = records.iterdir()
    with SessionReader(path) as reader:
        assert reader.verify().finished


def test_a_terminal_that_can_only_add_lines_is_given_lines(tmp_path: Path) -> None:
    words, dumb = ("demo", "--record", str(tmp_path)), {**SIZE, "TERM": "dumb"}
    with OnTerminal(*words, folder=tmp_path, **dumb) as terminal:
        assert terminal.until(lambda seen: "Fix first: " in seen), terminal.seen[-500:]
    assert "\x1b" not in terminal.seen


JOB = """
name = "invented"
refrigerant = "R-410A"
by_hand = true
target = {subcooling = "5 K", tolerance = "1 K", source = "invented"}
charge = {plate = "2 kg", weighed_in = "1.5 kg", step_cap = "100 g"}
site = {altitude = "0 m"}
"""


def test_a_live_session_whose_terminal_was_closed_is_gone_on_with(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    record = tmp_path / "a.session"
    begin, go_on = ("live", "job.toml", "--record", "a.session"), ("live", "--resume", "a.session")
    with OnTerminal(*begin, folder=tmp_path, **SIZE) as terminal:
        assert terminal.until(lambda seen: "run-up" in seen), terminal.seen[-500:]
        terminal.process.send_signal(signal.SIGHUP)  # what the system sends then
        assert terminal.ended() == 128 + signal.SIGHUP, terminal.seen[-500:]
    with SessionReader(record) as reader:
        report = reader.verify()
    assert report.ok
    assert not report.finished
    with OnTerminal(*go_on, folder=tmp_path, **SIZE) as terminal:
        assert terminal.until(lambda seen: "run-up" in seen), terminal.seen[-500:]
        terminal.process.send_signal(signal.SIGTERM)
        assert terminal.ended() == 128 + signal.SIGTERM, terminal.seen[-500:]
    with SessionReader(record) as reader:
        assert reader.verify().finished
