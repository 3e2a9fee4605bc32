"""A lock that dies with the process: one program at a time writes a file.

The lock is on a file of its own beside the session file. A lock on the session file itself would
disturb SQLite's (closing any handle of a file drops all POSIX locks the process has on it).
"""

import os
import sys
from pathlib import Path

from chargeassist.model.errors import RecordError

SUFFIX = ".lock"


class HeldError(RecordError):
    """Another program holds the lock."""


class FileLock:
    """Hold `path` for this process until `release` or the end of the process.

    Parameters
    ----------
    path : Path
        The file to hold; the lock file beside it, or beside what a link leads to, gets ``.lock``
        added.
    what : str
        What is written in it, as the message names it.
    what_to_do : str
        If another program holds it.

    Raises
    ------
    HeldError
        If another program holds it.
    RecordError
        If the folder cannot be written to or has no locks.
    """

    def __init__(
        self,
        path: Path,
        what: str = "this session",
        what_to_do: str = "close that one first, or open the file for reading only",
    ) -> None:
        self._path = _lock_of(path)
        self._handle: int | None = None
        # The holder before us may remove the file between our open and our lock: then we hold a
        # file that has no name any more, and have to try again.
        for _ in range(100):
            handle = _open(self._path, path)
            try:
                locked = _try_lock(handle)
            except OSError as exc:
                os.close(handle)
                raise RecordError(
                    f"{path}: files cannot be locked in this folder ({exc.strerror}; a network "
                    "share?); choose a folder on this machine"
                ) from exc
            if not locked:
                os.close(handle)
                raise HeldError(
                    f"{path}: another running chargeassist is writing {what}; {what_to_do}"
                )
            if _still_named(handle, self._path):
                self._handle = handle
                return
            os.close(handle)
        raise RecordError(f"{path}: its lock file {self._path.name} keeps vanishing; try again")

    def holds(self, path: Path) -> bool:
        """Return whether this is the lock of `path`, and its file is still there."""
        same = self._path == _lock_of(path)
        return same and self._handle is not None and _still_named(self._handle, self._path)

    def release(self) -> None:
        """Let go; a second call does nothing."""
        handle, self._handle = self._handle, None
        if handle is None:
            return
        if sys.platform == "win32":  # an open file cannot be removed there
            os.close(handle)
            _remove(self._path)
        else:
            _remove(self._path)
            os.close(handle)


def _lock_of(path: Path) -> Path:
    """Return the lock of the file that `path` is, by whatever link: two would both hold it."""
    # Path.resolve raises where links lead in a circle, which is said better when it is opened.
    return Path(os.path.realpath(path) + SUFFIX)


def _open(lock_path: Path, path: Path) -> int:
    try:
        return os.open(lock_path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o644)
    except OSError as exc:
        raise RecordError(
            f"{path}: cannot write in this folder ({exc.strerror}); "
            "choose a folder that exists and that you may write to"
        ) from exc


def _still_named(handle: int, lock_path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(lock_path))  # noqa: PTH116
    except FileNotFoundError:
        return False


def _remove(lock_path: Path) -> None:
    try:
        lock_path.unlink(missing_ok=True)
    except OSError:
        return  # a lock file left over holds nobody up: the lock is on the handle


if sys.platform == "win32":
    import msvcrt

    def _try_lock(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except PermissionError:  # held by another
            return False
        return True

else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
