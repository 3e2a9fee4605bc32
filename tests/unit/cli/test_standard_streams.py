"""Standard input, output and error as shells, timers and full disks leave them to a program."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from tests.unit.cli.shell import PROGRAM, shell

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="redirections of a POSIX shell")

LOOK_UP = ("saturation", "R-32", "248psig")


def with_streams(
    redirection: str, *arguments: str, within_s: float = 60.0
) -> subprocess.CompletedProcess[str]:
    """Run the program behind a redirection such as ``2>&-``."""
    return subprocess.run(
        ["sh", "-c", f'exec "$@" {redirection}', "sh", *PROGRAM, *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=within_s,
        check=False,
    )


@pytest.mark.parametrize("redirection", ["<&-", "2>&-", "<&- 2>&-"])
def test_a_stream_that_is_closed_takes_no_answer_away(redirection: str) -> None:
    done = with_streams(redirection, *LOOK_UP)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == shell(*LOOK_UP).stdout


@pytest.mark.parametrize("arguments", [LOOK_UP, ("saturation", "list"), ("--help",)])
def test_without_standard_output_a_command_still_ends_in_order(arguments: tuple[str, ...]) -> None:
    done = with_streams(">&-", *arguments)
    assert (done.returncode, done.stderr) == (0, "")


def test_messages_are_never_written_to_standard_output_in_place_of_standard_error() -> None:
    done = with_streams("2>&-", "saturation", "R-0", "248psig", "--json")
    assert done.returncode == 2
    assert set(json.loads(done.stdout)) == {"error"}


def test_a_session_runs_with_nobody_at_standard_input(tmp_path: Path) -> None:
    done = with_streams("<&-", "demo", "--record", str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert "Stop: " in done.stdout


def test_questions_with_nobody_to_answer_write_nothing(tmp_path: Path) -> None:
    done = with_streams("<&-", "job", "new", str(tmp_path / "job.toml"))
    assert done.returncode == 2
    assert "the answers ended at name; nothing was written" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("arguments", [LOOK_UP, ("--help",), ("simulate", "--list", "--json")])
def test_a_full_disk_behind_standard_output_is_told(arguments: tuple[str, ...]) -> None:
    done = with_streams(">/dev/full", *arguments)
    assert done.returncode == 1
    assert done.stderr == (
        "chargeassist: standard output cannot be written: No space left on device\n"
    )


@pytest.mark.parametrize("arguments", [LOOK_UP, ("saturation", "--help"), ("completion", "bash")])
def test_a_reader_that_has_gone_is_no_trouble(arguments: tuple[str, ...]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [*PROGRAM, *arguments], stdout=writing, stderr=subprocess.PIPE, timeout=60.0, check=False
    )
    os.close(writing)
    assert (done.returncode, done.stderr) == (1, b"")


def test_a_page_of_help_needs_no_letter_that_the_terminal_lacks() -> None:
    done = shell("saturation", "--help", PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == 0, done.stderr
    assert "exit codes:" in done.stdout


def test_what_debrief_cannot_be_asked_is_told_as_json_too(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for words in (["debrief", "--json", "-"], ["debrief", "--json=-"]):
        with pytest.raises(SystemExit) as left:
            main(words)
        assert left.value.code == 2
        assert set(json.loads(capsys.readouterr().out)) == {"error"}
    with pytest.raises(SystemExit):
        main(["debrief", "--json", "class.json"])
    assert capsys.readouterr().out == ""


def test_a_session_that_shall_outlive_its_terminal_does(tmp_path: Path) -> None:
    record = tmp_path / "a.session"
    words = ("live", "simulator:clean-charge", "--lines", "--record", str(record))
    process = subprocess.Popen(
        ["sh", "-c", "trap '' HUP; exec \"$@\"", "sh", *PROGRAM, *words],  # as nohup does
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )
    assert process.stdout is not None
    while "caution" not in (line := process.stdout.readline()) and "Wait" not in line:
        assert line, "the program ended before it said anything"
    process.send_signal(signal.SIGHUP)
    with pytest.raises(subprocess.TimeoutExpired):
        process.wait(timeout=2.0)
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=30.0)
    assert process.returncode == 143
