"""Where a session file lies, whether it is still there, and writing it anew where it is not.

A file that is deleted or replaced under a running program goes on taking writes, and all of them
are lost with the last handle. So the writer looks before every commit.
"""

import errno
import os
import sqlite3
import sys
from pathlib import Path

from chargeassist.session.record.store_schema import discard_file, sync_folder


class HeldFile:
    """A file this program has open, and whether its name still stands for it.

    Parameters
    ----------
    path : Path

    Raises
    ------
    OSError
        If it cannot be opened.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._handle: int | None = None
        if sys.platform != "win32":  # an open file can neither be moved nor deleted there
            self._handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC)

    def in_place(self) -> bool:
        """Return whether the name still stands for the file."""
        if self._handle is None:
            return True
        try:
            return os.path.samestat(os.fstat(self._handle), self._path.stat())
        except OSError:
            return False

    def close(self) -> None:
        """Let go; not before SQLite has: closing any handle of a file drops SQLite's locks on it.

        A second call does nothing.
        """
        handle, self._handle = self._handle, None
        if handle is not None:
            os.close(handle)


def copy_out(database: sqlite3.Connection, path: Path) -> Path:
    """Write all that `database` holds to a new file beside `path` and return that.

    It has not the name of a session yet.

    Raises
    ------
    sqlite3.Error, OSError
        If it cannot be written.
    """
    copy = path.with_name(path.name + ".new")
    discard_file(copy)
    database.execute("VACUUM INTO ?", (str(copy),))
    with copy.open("rb+") as file:
        os.fsync(file.fileno())
    return copy


def take_place(copy: Path, path: Path) -> Path:
    """Give `copy` the name `path`, or one like it where something stands there now; return it.

    The old file must be closed: SQLite removes the log that belongs to its name. Without effect
    where `copy` has its name already.

    Raises
    ------
    OSError
    """
    if not copy.exists():
        return path
    if not path.exists():
        # SQLite leaves these behind for a file that has moved; the copy has what is in them.
        for ending in ("-wal", "-shm"):
            path.with_name(path.name + ending).unlink(missing_ok=True)
    target = _free_name(path)
    copy.rename(target)
    sync_folder(target.parent)
    return target


def _free_name(path: Path) -> Path:
    """Return `path`, or the first of "name-2", "name-3" and so on that nothing stands under."""
    numbered = (path.with_name(f"{path.stem}-{n}{path.suffix}") for n in range(2, 1000))
    for each in (path, *numbered):
        if not any(each.with_name(each.name + end).exists() for end in ("", "-wal", "-journal")):
            return each
    raise FileExistsError(errno.EEXIST, "every name like it is taken", str(path))
