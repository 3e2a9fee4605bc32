"""Open a package that came as one ZIP file: it is unpacked beside nothing and thrown away again.

A ZIP comes from outside: names that lead out of the folder, links, encryption, doubled names,
methods that few can read and files that unpack to more than a package may hold, or than a disk has
room for, are refused before they are written.
"""

import contextlib
import os
import shutil
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from chargeassist.model.errors import RecordDamagedError, RecordError
from chargeassist.model.text import plain
from chargeassist.session.record.chain import EventRow, ReadingRow
from chargeassist.session.record.package_reader import MAX_TABLE_BYTES, PackageReader

SUFFIX = ".zip"
MOST_FILES = 200
MOST_TIMES = 200
"""A package of steady readings packs thirty times smaller; a bomb, a thousand times."""
UNSUSPECTED_BYTES = 64 * 2**20

_SQLITE = b"SQLite format 3\0"
_METHODS = frozenset({zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED})


def is_zip(path: Path) -> bool:
    """Return whether the file `path` is a ZIP file, whole or with something before or after.

    A ZIP is known by four bytes near its end, which a session file may have there by chance.
    """
    try:
        return not is_session_file(path) and zipfile.is_zipfile(path)
    except OSError:
        return False


def is_session_file(path: Path) -> bool:
    """Return whether the file `path` begins as a session file does.

    Raises
    ------
    OSError
        It cannot be read.
    """
    with path.open("rb") as file:
        return file.read(len(_SQLITE)) == _SQLITE


class ZippedPackage(PackageReader):
    """A package in a ZIP file, opened for reading; `close` removes what was unpacked.

    Parameters
    ----------
    path : Path

    Raises
    ------
    RecordError
        If it is no ZIP file, cannot be unpacked, or holds no session.
    """

    def __init__(self, path: Path) -> None:
        self._unpacked = tempfile.TemporaryDirectory(prefix="chargeassist-")
        try:
            folder = Path(self._unpacked.name)
            unpack(path, folder)
            self._zip = path
            with self._named():
                super().__init__(folder)
            self._path = path
        except BaseException:
            self._unpacked.cleanup()
            raise

    @contextlib.contextmanager
    def _named(self) -> Iterator[None]:
        """Let errors name the file that came, not where it was unpacked."""
        try:
            yield
        except RecordError as exc:
            folder = self._unpacked.name
            text = str(exc).replace(folder + os.sep, f"{self._zip}: ")
            raise type(exc)(text.replace(folder, str(self._zip))) from exc

    def commit_ends(self) -> list[int]:
        """Return the last row of each commit, as of a folder."""
        with self._named():
            return super().commit_ends()

    def _reading_rows(self) -> Iterator[ReadingRow]:
        with self._named():
            yield from super()._reading_rows()

    def _event_rows(self) -> Iterator[EventRow]:
        with self._named():
            yield from super()._event_rows()

    def close(self) -> None:
        """Remove what was unpacked; a second call does nothing."""
        self._unpacked.cleanup()


def unpack(path: Path, folder: Path) -> None:
    """Unpack the files of the ZIP file `path` into the empty `folder`.

    Raises
    ------
    RecordError
        If it cannot be read, or holds anything but plain files side by side.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
            _check(path, members)
            _check_room(path, sum(member.file_size for member in members), folder)
            for member in members:
                with archive.open(member) as came, (folder / member.filename).open("wb") as file:
                    shutil.copyfileobj(came, file, 1 << 20)
    except FileNotFoundError as exc:
        raise RecordError(f"{path}: nothing is there") from exc
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, struct.error) as exc:
        raise RecordDamagedError(f"{path}: cannot be unpacked ({exc}); copy it again") from exc
    except (OSError, ValueError, RuntimeError) as exc:
        raise RecordError(f"{path}: cannot be unpacked ({exc})") from exc


def _check(path: Path, members: list[zipfile.ZipInfo]) -> None:
    names = [member.filename for member in members]
    # Without case, as two of the usual systems keep names: one file would overwrite the other.
    if len({name.casefold() for name in names}) != len(names) or len(names) > MOST_FILES:
        raise RecordError(f"{path}: expected at most {MOST_FILES} files, each name once")
    for name in names:
        if (
            not name.isprintable()
            or name == ""
            or name[-1] in ". "  # Windows drops these
            or any(c in name for c in '/\\:*?"<>|')
        ):
            raise RecordError(
                f"{path}: expected plain files side by side, found {plain(name, 80)!r}"
            )
    for member in members:
        if member.flag_bits & 0x1:
            raise RecordError(
                f"{path}: it is encrypted; expected a package that can be read by all"
            )
        if stat.S_ISLNK(member.external_attr >> 16):
            raise RecordError(f"{path}: a package may not hold links; pack the files themselves")
        if member.compress_type not in _METHODS:
            raise RecordError(
                f"{path}: packed by method {member.compress_type}; expected a ZIP file with "
                "members stored or deflated, as every program writes them"
            )


def _check_room(path: Path, total: int, folder: Path) -> None:
    # The sizes the directory states bound what is written: zipfile stops reading there.
    if total > MAX_TABLE_BYTES:
        raise RecordError(f"{path}: unpacks to {total} bytes, expected at most {MAX_TABLE_BYTES}")
    if total > UNSUSPECTED_BYTES and total > MOST_TIMES * path.stat().st_size:
        raise RecordError(
            f"{path}: unpacks to {total} bytes, more than {MOST_TIMES} times its size; no session "
            "does. If you trust who sent it, unpack it yourself and name the folder"
        )
    free = shutil.disk_usage(folder).free
    if total > free:
        raise RecordError(
            f"{path}: unpacks to {total} bytes and {folder.parent} has {free} left; free some "
            "space, or let TMPDIR name another folder"
        )
