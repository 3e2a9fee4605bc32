"""The command line as a shell sees it: output, errors, exit codes."""

import json
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest

from chargeassist.cli.main import main
from chargeassist.session.keeper import UNATTENDED_S
from chargeassist.session.record.store import SessionReader
from tests.short_job import SHORT_JOB
from tests.unit.cli.shell import PROGRAM, shell

PORT = """
[[source]]
name = "port"
url = "serial:{device}"
[[source.probe]]
role = "liquid_pressure"
unit = "psig"
"""


def test_help_is_quick_because_it_imports_nothing_heavy() -> None:
    code = (
        "import sys, json\n"
        "from chargeassist.cli.main import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit as end:\n    assert end.code == 0\n"
        "heavy = {'CoolProp', 'textual', 'rich', 'numpy', 'asyncio', 'serial', 'aiomqtt',"
        " 'msgspec', 'sqlite3', 'importlib.metadata'}\n"
        "print(json.dumps(sorted(heavy & set(sys.modules))))"
    )
    for arguments in (["--help"], ["live", "--help"], ["--version"]):
        done = subprocess.run(
            [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True
        )
        assert json.loads(done.stdout.splitlines()[-1]) == [], arguments


def test_no_command_imports_coolprop_and_lines_need_no_textual(tmp_path: Path) -> None:
    code = (
        "import sys\n"
        "from chargeassist.cli.main import main\n"
        f"main(['demo', '--lines', '--speed', 'max', '--record', {str(tmp_path)!r}])\n"
        "print([m for m in ('CoolProp', 'textual') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.fixture(scope="module")
def demo_run(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[str], Path]:
    folder = tmp_path_factory.mktemp("demo")
    done = shell("demo", "--record", str(folder), "--seed", "11")
    assert done.returncode == 0, done.stderr
    (record,) = folder.iterdir()
    return done.stdout.splitlines(), record


def test_demo_without_a_terminal_ends_at_stop(demo_run: tuple[list[str], Path]) -> None:
    lines, record = demo_run
    assert lines[0] == "Millrace Lane Library, reading room · R-32"
    assert "SIMULATED: nothing here was measured" in lines[2]
    advice = [line for line in lines if line.split()[1:2] and line.split()[1].istitle()]
    assert "  Stop: " in advice[-1]
    assert any("= settled" in line for line in lines)
    assert lines[-1] == f"record: {record}"
    with SessionReader(record) as reader:
        report = reader.verify()
        assert report.ok, report.problems
        assert report.finished


def test_demo_gives_the_same_lines_at_any_speed(
    demo_run: tuple[list[str], Path], tmp_path: Path
) -> None:
    done = shell("demo", "--seed", "11", "--speed", "200", "--lines", "--record", str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[:-1] == demo_run[0][:-1]


def test_replay_at_full_speed_and_paced_gives_the_same_verdicts(
    demo_run: tuple[list[str], Path],
) -> None:
    for speed in ("max", "500"):
        done = shell("replay", "--check", "--speed", speed, str(demo_run[1]))
        assert done.returncode == 0, done.stdout
        assert done.stdout.rstrip().endswith("all the same")


def test_replay_says_so_and_prints_what_the_live_run_printed(
    demo_run: tuple[list[str], Path], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", "--lines", "--speed", "max", str(demo_run[1])]) == 0
    out = capsys.readouterr().out.splitlines()
    assert "REPLAY of " in out[2]
    assert out[3:] == demo_run[0][3:-1]


def test_replay_in_other_units(
    demo_run: tuple[list[str], Path], capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["replay", "--lines", "--speed", "max", "--units", "us", str(demo_run[1])]
    assert main(arguments) == 0
    out = capsys.readouterr().out
    assert "9.0 °F ± 1.4 °F" in out
    assert " K settled" not in out


def test_a_record_whose_verdicts_were_changed_is_told_with_code_1(
    demo_run: tuple[list[str], Path],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    from chargeassist.guide import assistant
    from chargeassist.guide.charging import advise

    def other(job: object, facts: object, *rest: object, **more: object) -> object:
        from dataclasses import replace

        said = advise(job, facts, *rest, **more)  # type: ignore[arg-type]
        return replace(said, subject="changed")

    monkeypatch.setattr(assistant, "advise", other)
    assert main(["replay", "--check", str(demo_run[1])]) == 1
    out = capsys.readouterr().out
    assert "differ" in out.splitlines()[-1]
    assert "verdict 1: recorded" in out


def test_a_record_that_was_changed_behind_its_back_is_told_with_code_1(
    demo_run: tuple[list[str], Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "a.session"
    copy.write_bytes(demo_run[1].read_bytes())
    assert main(["replay", "--check", str(copy)]) == 0
    with closing(sqlite3.connect(copy)) as database:
        for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type='trigger'"):
            database.execute(f"DROP TRIGGER {name}")
        # Amps bear on no verdict while they are below their limit; only the hashes can tell.
        changed = database.execute(
            "UPDATE readings SET value = value + 0.5 WHERE seq = (SELECT MAX(seq) FROM readings "
            "WHERE channel_id = (SELECT id FROM channels WHERE name = 'compressor_current'))"
        )
        assert changed.rowcount == 1
        database.commit()
    capsys.readouterr()
    assert main(["replay", "--check", str(copy)]) == 1
    assert "commit" in capsys.readouterr().out


@pytest.mark.skipif(sys.platform == "win32", reason="no such pipes on Windows")
@pytest.mark.parametrize(
    "arguments",
    [["demo", "--lines", "--record"], ["saturation", "list"], ["probes", "simulator:?rate=20Hz"]],
)
def test_a_reader_that_leaves_ends_the_program_quietly(
    arguments: list[str], tmp_path: Path
) -> None:
    if arguments[-1] == "--record":
        arguments = [*arguments, str(tmp_path)]
    process = subprocess.Popen(
        [*PROGRAM, *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    err = process.stderr.read().decode()
    process.stderr.close()
    assert process.wait(60.0) in {0, 1}
    assert err == ""
    for path in tmp_path.iterdir():
        with SessionReader(path) as reader:
            assert reader.verify().finished, "the record is closed all the same"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_output_to_a_full_disk_ends_the_session_in_order(tmp_path: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*PROGRAM, "demo", "--lines", "--record", str(tmp_path)],
            stdout=full,
            stderr=subprocess.PIPE,
            timeout=120.0,
            check=False,
        )
    assert done.returncode != 0
    assert b"Traceback" not in done.stderr
    (path,) = tmp_path.iterdir()
    with SessionReader(path) as reader:
        assert reader.verify().finished


def test_a_terminal_without_the_letters_is_no_reason_to_end(tmp_path: Path) -> None:
    done = shell("demo", "--record", str(tmp_path), PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == 0, done.stderr
    assert "Stop: " in done.stdout


def _started(
    arguments: Sequence[str], record: Path, *, naming: Sequence[str] = ("--record",)
) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [*PROGRAM, *arguments, *naming, str(record)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )
    assert process.stdout is not None
    while "Wait:" not in (line := process.stdout.readline()) and "Fix first" not in line:
        assert line, "the program ended before it said anything"
    return process


@pytest.mark.skipif(sys.platform == "win32", reason="signals are another thing on Windows")
@pytest.mark.parametrize(
    ("number", "code", "reason"),
    [
        (signal.SIGINT, 130, "interrupted"),
        (signal.SIGTERM, 143, "terminated"),
        (signal.SIGHUP, 129, "terminated"),
    ],
)
@pytest.mark.parametrize("kind", ["live", "demo"])
def test_a_signal_ends_the_session_in_order(
    kind: str, number: int, code: int, reason: str, tmp_path: Path
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(SHORT_JOB + PORT.format(device=tmp_path / "no-port"), encoding="utf-8")
    record = tmp_path / "a.session"
    begin = ["live", str(job), "--lines"] if kind == "live" else ["demo", "--speed", "5"]
    process = _started(begin, record)
    process.send_signal(number)
    # Less than it would wait for a disk that refuses the end, on however busy a machine.
    out, err = process.communicate(timeout=UNATTENDED_S - 2.0)
    assert process.returncode == code, err
    assert "Traceback" not in err
    assert f"record: {record}" in out
    with SessionReader(record) as reader:
        report = reader.verify()
        assert report.ok, report.problems
        resumable = kind == "live" and number == signal.SIGHUP  # a terminal closed by mistake
        assert report.finished is not resumable
        stopped = reader.stopped
    if resumable:
        assert stopped is None
        resumed = _started(["live", "--lines", "--resume"], record, naming=())
        resumed.send_signal(signal.SIGINT)
        assert "abandoned: interrupted" in resumed.communicate(timeout=UNATTENDED_S)[0]
    assert sorted(p.name for p in tmp_path.iterdir() if p != job) == ["a.session"]
    if resumable:
        return
    assert f"end: abandoned: {reason}" in out
    assert stopped is not None
    assert (stopped.outcome.value, stopped.reason) == ("abandoned", reason)


@pytest.mark.skipif(sys.platform == "win32", reason="signals are another thing on Windows")
@pytest.mark.parametrize(
    ("number", "code", "reason"),
    [(signal.SIGINT, 130, "interrupted"), (signal.SIGTERM, 143, "terminated")],
)
def test_a_signal_ends_a_drill_in_order_and_nothing_is_scored(
    number: int, code: int, reason: str, tmp_path: Path
) -> None:
    calls, record, results = tmp_path / "calls", tmp_path / "a.session", tmp_path / "results"
    calls.write_text("30:00 stop\n", encoding="utf-8")
    words = ("drill", "clean-charge", "--calls", str(calls), "--speed", "1")
    process = subprocess.Popen(
        [*PROGRAM, *words, "--record", str(record), "--out", str(results)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    # A first commit says that the session runs, and that its loop hears signals.
    until_t = time.monotonic() + 60.0
    while not (record.exists() and _rows(record)) and time.monotonic() < until_t:
        time.sleep(0.1)
    process.send_signal(number)
    out, err = process.communicate(timeout=UNATTENDED_S - 2.0)
    assert process.returncode == code, err
    assert "Traceback" not in err
    assert "nothing is scored" in err
    assert f"record: {record}" in out
    assert not results.exists()
    with SessionReader(record) as reader:
        assert reader.verify().finished
        stopped = reader.stopped
    assert stopped is not None
    assert (stopped.outcome.value, stopped.reason) == ("abandoned", reason)


def _rows(record: Path) -> bool:
    """Return whether more than the start of a session is in its file."""
    with SessionReader(record) as reader:
        return sum(1 for _ in zip(reader.events(), range(30), strict=False)) == 30
