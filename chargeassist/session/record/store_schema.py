"""Tables of a session file, how it is opened, and what SQLite's errors mean to a technician."""

import contextlib
import functools
import os
import shutil
import sqlite3
from enum import StrEnum
from pathlib import Path

from chargeassist.model.channels import Quality
from chargeassist.model.errors import RecordDamagedError, RecordError
from chargeassist.model.events import SessionStarted
from chargeassist.model.text import plain
from chargeassist.session.record.chain import Chain, EventRow, ReadingRow, Row, genesis, row_of

SUFFIX = ".session"
APPLICATION_ID = 0x43484153  # "CHAS"
USER_VERSION = 1
BUSY_TIMEOUT_S = 1.0
OLDEST_SQLITE = (3, 37, 0)  # STRICT tables
LONGEST_CELL_BYTES = 2**20  # the longest body is 131 000 characters of up to four bytes

READINGS_AT_ONCE = 150
"""Readings in one statement; SQLite takes 999 numbers in each, whatever it was built with."""

QUALITY_IDS = {Quality.GOOD: 0, Quality.RANGE: 1, Quality.RETAINED: 2}

_QUALITY_BY_NAME = {quality.value: number for quality, number in QUALITY_IDS.items()}

FOLDER = "folder"
"""Key in the table meta: the folder of the job file, on this machine only; no archive has it."""

TABLES = ("meta", "qualities", "channels", "readings", "events", "commits")

_TABLES_SQL = """
CREATE TABLE meta(key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE TABLE qualities(id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE channels(id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE readings(
    seq INTEGER PRIMARY KEY, t REAL NOT NULL, channel_id INTEGER NOT NULL, value REAL NOT NULL,
    quality INTEGER NOT NULL, device_time REAL) STRICT;
CREATE TABLE events(
    seq INTEGER PRIMARY KEY, t REAL NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL) STRICT;
CREATE TABLE commits(
    n INTEGER PRIMARY KEY, t REAL NOT NULL, last_seq INTEGER NOT NULL,
    sha256 BLOB NOT NULL) STRICT;
CREATE VIEW readings_named AS
    SELECT r.seq, r.t, c.name AS channel, r.value, q.name AS quality, r.device_time
    FROM readings r JOIN channels c ON c.id = r.channel_id JOIN qualities q ON q.id = r.quality;
"""

_TRIGGER_SQL = """
CREATE TRIGGER {table}_no_{word} BEFORE {word} ON {table}
BEGIN SELECT RAISE(ABORT, 'a session file is append-only'); END;
"""


def schema_sql() -> str:
    """Return the script that makes an empty session file."""
    triggers = (_TRIGGER_SQL.format(table=t, word=w) for t in TABLES for w in ("UPDATE", "DELETE"))
    qualities = ", ".join(f"({i}, '{q.value}')" for q, i in QUALITY_IDS.items())
    return (
        f"PRAGMA application_id={APPLICATION_ID}; PRAGMA user_version={USER_VERSION};"
        f"{_TABLES_SQL}{''.join(triggers)}INSERT INTO qualities VALUES {qualities};"
    )


def connect(path: Path, *, write: bool) -> sqlite3.Connection:
    """Return a connection to `path` in explicit-transaction mode.

    Threads may share it one at a time.

    Raises
    ------
    RecordError
        If SQLite is too old.
    sqlite3.Error
        If it cannot be opened.
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise RecordError(
            f"this Python's SQLite is {sqlite3.sqlite_version}; session files need 3.37 or newer"
        )
    mode = "rw" if write else "ro"
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=BUSY_TIMEOUT_S,
        isolation_level=None,
        check_same_thread=False,
    )
    # A session file may come from anywhere. These are the advice of SQLite's own page on it,
    # "Defense Against The Dark Arts".
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST_CELL_BYTES)
    for setting in ("trusted_schema=OFF", "cell_size_check=ON", "mmap_size=0"):
        connection.execute(f"PRAGMA {setting}")
    return connection


def open_and_look(path: Path, *, write: bool = False) -> sqlite3.Connection:
    """Return a connection to `path` whose first page can be read; raises like `connect`."""
    connection = connect(path, write=write)
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def check_kind_of_file(connection: sqlite3.Connection, path: Path) -> None:
    """Return if `connection` is to a session file of this version, or raise RecordError."""
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if application != APPLICATION_ID:
        if path.is_file() and path.stat().st_size == 0:  # to SQLite an empty database
            raise RecordDamagedError(f"{path}: the file is empty; was it copied whole?")
        raise RecordError(f"{path}: this is a SQLite file, but not a chargeassist session")
    if version != USER_VERSION:
        raise RecordError(
            f"{path}: session format {version} expected to be {USER_VERSION}; "
            "a newer chargeassist may read it"
        )
    found = set(connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema"))
    known = _own_schema()
    # A view in the place of a table, or a trigger, would be somebody else's program.
    if found - known or any((kind, name) not in {f[:2] for f in found} for kind, name in _NEEDED):
        strange = sorted(str(name) for _, name, _, _ in found - known)
        raise RecordDamagedError(
            f"{path}: its tables are not those of a session file"
            + (f" ({plain(', '.join(strange), 80)})" if strange else "")
            + "; another program has changed it"
        )


def lost_schema(connection: sqlite3.Connection) -> list[str]:
    """Return the names of what a session file was made with and has no more: triggers, the view."""
    found = set(connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema"))
    return sorted(str(name) for _, name, _, _ in _own_schema() - found)


_NEEDED = tuple(("table", name) for name in TABLES)


@functools.cache
def _own_schema() -> frozenset[tuple[str, str, str, str]]:
    with contextlib.closing(sqlite3.connect(":memory:")) as own:
        own.executescript(schema_sql())
        rows = own.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema")
        return frozenset(rows.fetchall())


def begin_log(connection: sqlite3.Connection, path: Path) -> None:
    """Make `connection` keep a write-ahead log that is synced at every commit."""
    (mode,) = connection.execute("PRAGMA journal_mode=WAL").fetchone()
    if mode != "wal":
        raise RecordError(
            f"{path}: this kind of folder cannot hold a running session "
            "(a network share?); choose a folder on this machine"
        )
    connection.execute("PRAGMA synchronous=FULL")


def fold_log(connection: sqlite3.Connection) -> bool:
    """Fold the log of `begin_log` into the file; False where a reader keeps it from that."""
    try:
        (busy, _, _) = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        (mode,) = connection.execute("PRAGMA journal_mode=DELETE").fetchone()
    except sqlite3.Error:
        return False
    return bool(busy == 0 and mode == "delete")


class Trouble(StrEnum):
    """Why rows could not be written."""

    FULL = "full"
    LOCKED = "locked"
    READ_ONLY = "read-only"
    IO = "io"
    GONE = "gone"
    MOVED = "moved"


_ADVICE = {
    Trouble.FULL: "the disk is full: free some space",
    Trouble.LOCKED: "another program holds the file: close it",
    Trouble.READ_ONLY: "the file or its folder can no longer be written: check the medium",
    Trouble.IO: "the disk does not answer as it should: check the medium",
    Trouble.GONE: "the session file is no longer there and none can be made: put its folder back",
    Trouble.MOVED: "the session file was deleted or replaced: all of it is written anew",
}

_TROUBLE = {
    sqlite3.SQLITE_FULL: Trouble.FULL,
    sqlite3.SQLITE_BUSY: Trouble.LOCKED,
    sqlite3.SQLITE_LOCKED: Trouble.LOCKED,
    sqlite3.SQLITE_READONLY: Trouble.READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: Trouble.READ_ONLY,
    sqlite3.SQLITE_PERM: Trouble.READ_ONLY,
}
_ROOM_FOR_SQLITE = 256 * 1024


class RecordBlockedError(RecordError):
    """Rows could not be written now. They are kept; the next commit tries again.

    Attributes
    ----------
    trouble : Trouble
    waiting : int
        Rows that wait in memory.
    advice : str
        What is wrong and what to do, in one clause.
    """

    def __init__(self, path: Path, trouble: Trouble, waiting: int, detail: str) -> None:
        self.trouble = trouble
        self.waiting = waiting
        self.advice = _ADVICE[trouble]
        super().__init__(
            f"{path}: not written, {self.advice}, and leave the program running. "
            f"{waiting} rows wait in memory for the next attempt ({detail})"
        )


def trouble_of(exc: sqlite3.Error, path: Path) -> Trouble:
    """Return what kept `path` from being written.

    SQLite calls some failures for want of space (of its shared-memory file, of a quota) I/O errors;
    the space left tells them apart.
    """
    code = getattr(exc, "sqlite_errorcode", None)
    trouble = Trouble.IO if code is None else _TROUBLE.get(code & 0xFF, Trouble.IO)
    if trouble in (Trouble.IO, Trouble.READ_ONLY):
        try:
            if shutil.disk_usage(path.parent).free < _ROOM_FOR_SQLITE:
                return Trouble.FULL
        except OSError:
            return trouble
    return trouble


READ_ERRORS = (sqlite3.Error, UnicodeDecodeError)
"""What reading a damaged file raises; SQLite's own message about it may be no text."""


def opening_error(exc: Exception, path: Path) -> RecordError:
    """Return the error to raise when `path` cannot be opened or read."""
    if isinstance(exc, UnicodeDecodeError):
        return RecordDamagedError(f"{path}: the file is damaged (text that is no Unicode)")
    code = getattr(exc, "sqlite_errorcode", 0) & 0xFF
    if code == sqlite3.SQLITE_NOTADB and path.suffix.lower() == ".zip":
        return RecordDamagedError(f"{path}: not a whole ZIP: cut off or damaged; fetch it again")
    if code == sqlite3.SQLITE_NOTADB:
        return RecordError(f"{path}: not a chargeassist session (it is no SQLite file)")
    if code == sqlite3.SQLITE_CORRUPT:
        return RecordDamagedError(f"{path}: the file is damaged ({exc})")
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return RecordError(f"{path}: another program holds the file; close it and try again")
    return RecordError(f"{path}: cannot be read ({exc}); check that it exists and may be read")


def insert_batch(
    db: sqlite3.Connection,
    commit: tuple[int, float, int, bytes],
    rows: list[Row],
    channel_ids: list[tuple[str, int]],
) -> None:
    """Write `rows`, the channels they name and their `commit` (n, t, last_seq, hash) durably.

    Raises
    ------
    sqlite3.Error
        If any of it fails; the transaction may then still be open.
    """
    db.execute("BEGIN IMMEDIATE")
    db.executemany("INSERT OR IGNORE INTO channels(name, id) VALUES (?, ?)", channel_ids)
    _insert_readings(db, [row for row in rows if isinstance(row, ReadingRow)], dict(channel_ids))
    db.executemany(
        "INSERT INTO events VALUES (?, ?, ?, ?)", (r for r in rows if isinstance(r, EventRow))
    )
    db.execute("INSERT INTO commits VALUES (?, ?, ?, ?)", commit)
    db.execute("COMMIT")


def _insert_readings(db: sqlite3.Connection, rows: list[ReadingRow], ids: dict[str, int]) -> None:
    """Write `rows`, many with one statement.

    Python's sqlite3 waits at each for the event loop's thread, which under a flood takes its time.
    """
    for begin in range(0, len(rows), READINGS_AT_ONCE):
        some = rows[begin : begin + READINGS_AT_ONCE]
        values = [
            item
            for seq, t, channel, value, quality, device_time in some
            for item in (seq, t, ids[channel], value, _QUALITY_BY_NAME[quality], device_time)
        ]
        places = ", ".join(["(?, ?, ?, ?, ?, ?)"] * len(some))
        db.execute(f"INSERT INTO readings VALUES {places}", values)


def make_file(path: Path, started: SessionStarted, folder: Path | None = None) -> None:
    """Make the session file `path`, holding `started` as its first row and commit.

    `folder` is where relative paths in the job's addresses start, for who resumes it.
    """
    discard_file(path)
    path.touch(exist_ok=False)
    row = row_of(1, started)
    head = Chain(genesis(started.session_id)).next_hash(row.t, 1, [row])
    db = connect(path, write=True)
    try:
        db.execute("PRAGMA synchronous=FULL")
        # One transaction: each statement by itself would wait for the disk three times.
        db.executescript(f"BEGIN; {schema_sql()} COMMIT;")
        db.execute("INSERT INTO meta VALUES ('session_id', ?)", (started.session_id,))
        if folder is not None:
            db.execute("INSERT INTO meta VALUES (?, ?)", (FOLDER, str(folder.resolve())))
        insert_batch(db, (1, row.t, 1, head), [row], [])
    finally:
        db.close()


def sync_folder(folder: Path) -> None:
    """Make the names in `folder` durable, where the system can: a new file's name is data too."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:
        return  # some file systems have no such thing; the file itself is synced all the same
    finally:
        os.close(handle)


def discard_file(path: Path) -> None:
    """Remove an unfinished file made by `make_file`, as far as that is possible."""
    for ending in ("", "-journal"):
        try:
            path.with_name(path.name + ending).unlink(missing_ok=True)
        except OSError:
            return


def plain_error(exc: BaseException, path: Path) -> BaseException:
    """Return the error to raise for `exc`, in words."""
    if isinstance(exc, UnicodeDecodeError):
        return opening_error(exc, path)
    if isinstance(exc, sqlite3.Error):
        if trouble_of(exc, path) is Trouble.FULL:
            return RecordError(f"{path}: the disk is full; free some space and start again")
        return opening_error(exc, path)
    if isinstance(exc, OSError):
        return RecordError(f"{path}: cannot be written ({exc.strerror or exc})")
    return exc
