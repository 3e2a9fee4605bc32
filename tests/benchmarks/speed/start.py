"""How soon the program answers, how soon the dashboard stands, what it costs, what it imports."""

import fcntl
import os
import pty
import resource
import select
import struct
import subprocess
import sys
import tempfile
import termios
import time
from contextlib import suppress

REPEATS = 15
SETTLE_S, WATCHED_S = 8.0, 30.0
HEAVY = ("CoolProp", "scipy", "matplotlib", "pandas")
LIVE = ("demo", "library", "--speed", "1", "--hands-on")
PROGRAM = (sys.executable, "-m", "chargeassist")


def as_installed(cache: str) -> None:
    """Let child processes keep compiled modules in a folder, as any installation does."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = cache


def least_s(command: list[str]) -> float:
    """Return the least processor time of a command [s]: what it waits for is other work's."""
    times = []
    for _ in range(REPEATS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, check=True, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times)


class Terminal:
    """The program on a pseudo-terminal of 120 x 40."""

    def __init__(self, *arguments: str) -> None:
        self.begun = time.perf_counter()
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.environ |= {"TERM": "xterm-256color", "COLUMNS": "120", "LINES": "40"}
            os.execv(PROGRAM[0], [*PROGRAM, *arguments])
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))

    def read_for(self, seconds: float, until: bytes = b"\0\0") -> float | None:
        """Read what it writes; return when `until` was seen, in seconds from its start."""
        seen, end = b"", time.perf_counter() + seconds
        while (left := end - time.perf_counter()) > 0.0:
            if select.select([self.fd], [], [], left)[0]:
                try:
                    seen = seen[-200:] + os.read(self.fd, 65536)
                except OSError:  # it has ended
                    return None
                if until in seen:
                    return time.perf_counter() - self.begun
        return None

    def cpu_s(self) -> float:
        """Return the processor time it has used so far [s]."""
        with open(f"/proc/{self.pid}/stat", encoding="ascii") as file:  # noqa: PTH123
            user, system = file.read().rsplit(")", 1)[1].split()[11:13]
        return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")

    def end(self) -> None:
        with suppress(OSError):
            os.write(self.fd, b"q")
            self.read_for(2.0)
        with suppress(ProcessLookupError):
            os.kill(self.pid, 15)
        with suppress(OSError):
            self.read_for(1.0)
        os.waitpid(self.pid, 0)


def heavy_imports(*arguments: str) -> str:
    """Return which heavy packages the program has imported when it ends."""
    code = (
        "import sys; from chargeassist.cli.main import main\n"
        f"try: main({list(arguments)!r})\n"
        "except SystemExit: pass\n"
        f"print('|', *[each for each in {HEAVY!r} if each in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stderr.rsplit("|", 1)[1].strip() or "none"


def measure() -> None:
    with tempfile.TemporaryDirectory() as cache:
        as_installed(cache)
        _measure()


def _measure() -> None:
    bare = least_s([sys.executable, "-c", "pass"])
    version = least_s([*PROGRAM, "--version"])
    print(f"python -c pass {bare * 1e3:.0f} ms, --version {version * 1e3:.0f} ms", end="")
    print(f": {version / bare:.1f} x (least of {REPEATS})")
    paints, cpus = [], []
    for _ in range(6):
        terminal = Terminal("demo", "library")
        paints.append(terminal.read_for(30.0, b"SIMULATED") or float("inf"))
        cpus.append(terminal.cpu_s())
        terminal.end()
    print(f"first paint of the dashboard after {min(paints[1:]):.2f} s, ", end="")
    print(f"{min(cpus[1:]):.2f} s of it processor time (least of 5)")
    terminal = Terminal(*LIVE)
    terminal.read_for(SETTLE_S)
    before, begun = terminal.cpu_s(), time.perf_counter()
    terminal.read_for(WATCHED_S)
    share = (terminal.cpu_s() - before) / (time.perf_counter() - begun)
    terminal.end()
    print(f"dashboard, ten channels at 1 Hz, simulator included: {100 * share:.1f} % of a core")
    print(f"heavy imports of --version: {heavy_imports('--version')}", end="; ")
    print(f"of a demo printed as lines: {heavy_imports('demo', 'library', '--lines')}")


if __name__ == "__main__":
    measure()
