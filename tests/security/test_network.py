"""What this program does on the network: nothing by itself, and it never listens."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

# Python tells its audit hooks of every socket; what a C library opened would stand in /proc.
SPY = """
import sys
told = []
def hook(name, arguments):
    if name in ("socket.bind", "socket.connect", "socket.getaddrinfo", "socket.gethostbyname"):
        told.append(f"{name} {arguments[1:]}")
    if name == "webbrowser.open":
        told.append(name)
sys.addaudithook(hook)
from chargeassist.cli.main import main
code = main(sys.argv[1:])
for table in ("/proc/self/net/tcp", "/proc/self/net/tcp6"):
    try:
        rows = open(table).read().splitlines()[1:]
    except OSError:
        continue
    import os
    mine = set()
    for number in os.listdir("/proc/self/fd"):
        try:
            mine.add(os.readlink(f"/proc/self/fd/{number}"))
        except OSError:
            pass
    for row in rows:
        fields = row.split()
        if fields[3] == "0A" and f"socket:[{fields[9]}]" in mine:
            told.append(f"listens {row}")
print("TOLD", told, "CODE", code, file=sys.stderr)
"""


def spied(folder: Path, *words: str) -> str:
    """Return what a command, run in a process of its own, told of the network."""
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", SPY, *words],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env={"PYTHONPATH": str(ROOT), "HOME": str(folder), "PATH": "/usr/bin:/bin"},
    )
    lines = [line for line in done.stderr.splitlines() if line.startswith("TOLD")]
    assert lines, done.stderr
    return lines[-1]


RECORDING = str(ROOT / "recordings" / "quarry-road-bakery")


@pytest.mark.parametrize(
    "words",
    [
        ("demo", "--lines", "--speed", "max", "--record", "demo.session"),
        ("replay", RECORDING, "--check"),
        ("report", RECORDING, "--to", "report.html"),
        ("fleet", "add", RECORDING, "--to", "fleet"),
    ],
    ids=lambda words: words[0],
)
def test_nothing_listens_and_nothing_is_called(tmp_path: Path, words: tuple[str, ...]) -> None:
    """A session on the simulator, a replay, a report, a dataset: no socket, no name looked up."""
    assert spied(tmp_path, *words) == "TOLD [] CODE 0"


def test_the_spy_sees_a_connection(tmp_path: Path) -> None:
    words = ("probes", "mqtt://127.0.0.1:9", "--topic", "t", "--seconds", "0.5")
    told = spied(tmp_path, *words)
    assert "socket.connect (('127.0.0.1', 9)" in told
    assert "bind" not in told
    assert "listens" not in told
