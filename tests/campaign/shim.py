"""What stands between the program and the C library; see ``shim.c``."""

import os
import shutil
import struct
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tests.campaign.tried import NotPossibleError

_SOURCE = Path(__file__).with_name("shim.c")
_ENTRY = struct.Struct("5q")
_CONTROL = struct.Struct("4q")


@cache
def _built() -> str:
    if not sys.platform.startswith("linux"):
        raise NotPossibleError("LD_PRELOAD is a thing of Linux")
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        raise NotPossibleError("no C compiler (Debian package gcc)")
    library = Path(tempfile.mkdtemp(prefix="campaign-")) / "shim.so"
    command = [compiler, "-shared", "-fPIC", "-O1", "-o", str(library), str(_SOURCE), "-lpthread"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise NotPossibleError(f"shim.c could not be compiled: {done.stderr[-200:]}")
    return str(library)


@dataclass(frozen=True)
class Operation:
    """One thing done to a file.

    Attributes
    ----------
    op : str
        C created, W written, T cut to `offset`, S synced, R renamed to `data`, U removed.
    steady_s : float
        By the clock of ``time.monotonic``.
    """

    op: str
    steady_s: float
    offset: int
    path: str
    data: bytes


class Shim:
    """The library for one program, whose files lie in `folder`.

    Parameters
    ----------
    folder : Path
        Files in it are touched, no others.
    aside : Path
        Folder for the control file and the log.
    kill_at : int
        Number of the write to die in; 0 for none.
    """

    def __init__(self, folder: Path, aside: Path, *, kill_at: int = 0, log: bool = False) -> None:
        self._control = aside / "control"
        self._log = aside / "log"
        self._slots = [0, 0, 0, 0]
        self._tell()
        self.environment = {
            "LD_PRELOAD": _built(),
            "SHIM_CONTROL": str(self._control),
            "SHIM_MATCH": str(folder.resolve()),
        }
        if kill_at:
            self.environment["SHIM_KILL_AT"] = str(kill_at)
        if log:
            self.environment["SHIM_LOG"] = str(self._log)

    def set_wall_clock(self, ahead_s: float) -> None:
        """Let the program's wall clock be `ahead_s` ahead of the machine's."""
        self._slots[0] = round(ahead_s * 1e9)
        self._tell()

    def sleep(self, asleep_s: float) -> None:
        """Let the machine have slept: the clock that stands still in sleep lags behind."""
        self._slots[0] += round(asleep_s * 1e9)
        self._slots[1] += round(asleep_s * 1e9)
        self._tell()

    @contextmanager
    def failing(self, number: int) -> Iterator[None]:
        """Let every write and sync fail with errno `number`."""
        self._slots[2:] = [number, number]
        self._tell()
        yield
        self._slots[2:] = [0, 0]
        self._tell()

    def operations(self) -> list[Operation]:
        """Return all that was done to the files, in order."""
        data = self._log.read_bytes()
        found, at = [], 0
        while at + _ENTRY.size <= len(data):
            op, ns, offset, path_len, data_len = _ENTRY.unpack_from(data, at)
            at += _ENTRY.size
            path = data[at : at + path_len].decode()
            at += path_len
            found.append(Operation(chr(op), ns / 1e9, offset, path, data[at : at + data_len]))
            at += data_len
        return found

    def _tell(self) -> None:
        # Over the old content, never a new file: the program has it mapped.
        handle = os.open(self._control, os.O_RDWR | os.O_CREAT, 0o600)
        os.pwrite(handle, _CONTROL.pack(*self._slots), 0)
        os.close(handle)
