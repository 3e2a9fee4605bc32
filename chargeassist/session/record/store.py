"""Write a session file: one SQLite file, append-only, committed in hash-chained batches.

While a session runs, SQLite keeps a write-ahead log beside the file and syncs it at every commit:
what a commit returned for survives the death of the program and, if the disk honours the sync, of
the machine. `SessionWriter.close` folds the log in, so that one file is left.

A reading costs about 28 bytes of the file.
"""

import dataclasses
import sqlite3
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Self

from chargeassist.model.errors import RecordDamagedError, RecordError
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Gap,
    Reading,
    SessionStarted,
    SessionStopped,
)
from chargeassist.session.record.chain import Chain, Row, row_of
from chargeassist.session.record.content import VerifyReport
from chargeassist.session.record.filelock import FileLock
from chargeassist.session.record.place import HeldFile, copy_out, take_place
from chargeassist.session.record.store_reader import SessionReader
from chargeassist.session.record.store_schema import (
    SUFFIX,
    RecordBlockedError,
    Trouble,
    begin_log,
    check_kind_of_file,
    connect,
    discard_file,
    fold_log,
    insert_batch,
    make_file,
    plain_error,
    sync_folder,
    trouble_of,
)

__all__ = [
    "AUTO_COMMIT_ROWS",
    "PENDING_LIMIT",
    "SUFFIX",
    "RecordBlockedError",
    "SessionReader",
    "SessionWriter",
    "Trouble",
]

AUTO_COMMIT_ROWS = 20_000
"""Rows that wait before `append` commits by itself, where nobody has called `commit` meanwhile.

So many in half a second, after which a running session commits in a thread of its own, no wire
brings: the event loop does not wait for the disk."""

_NOT_APPENDED = SessionStarted, SessionStopped

PENDING_LIMIT = 200_000
"""Rows kept in memory while the disk refuses them: 40 minutes of 8 probes at 10 Hz, about 50 MB."""


class SessionWriter:
    """The one writer of a session file; made by `create` or `resume`.

    Any thread may call any method: rows are taken while a commit waits for the disk.
    """

    def __init__(self, path: Path, lock: FileLock, database: sqlite3.Connection) -> None:
        self._path = path
        self._lock = lock
        self._db = database
        self._file = HeldFile(path)
        self._copy: Path | None = None
        self._open = True
        self._ending = False
        self._taking = threading.Lock()
        self._committing = threading.Lock()
        self._pending: list[Row] = []
        self._seq = 0
        self._last_t = 0.0
        self._chain = Chain(b"")
        self._channel_ids: dict[str, int] = {}
        self._source_of: dict[str, str] = {}
        self._counts: dict[str, int] = {}
        self._let_go: dict[str, int] = {}
        self._retry_at = AUTO_COMMIT_ROWS
        self._blocked: RecordBlockedError | None = None

    @classmethod
    def create(cls, path: Path, started: SessionStarted, folder: Path | None = None) -> Self:
        """Return a writer of the new file `path` that already holds `started`, committed.

        `folder` is where relative paths in the job's addresses start.

        Raises
        ------
        RecordError
            If the file exists, is held by another program or cannot be written.
        """
        lock = FileLock(path)
        # Made under another name: a file called *.session has a beginning, whenever power fails.
        unborn = path.with_name(path.name + ".new")
        try:
            _check_new(path)
            make_file(unborn, started, folder)
            unborn.rename(path)
            sync_folder(path.parent)
            writer = cls(path, lock, connect(path, write=True))
        except BaseException as exc:
            discard_file(unborn)
            lock.release()
            raise plain_error(exc, path) from exc
        return writer._begin()[0]

    @classmethod
    def resume(cls, path: Path) -> tuple[Self, float]:
        """Return (writer, latest recorded time [s]) to resume an interrupted session.

        Raises
        ------
        RecordError
            If the session is finished, another program writes it, or the file cannot be opened.
        RecordDamagedError
            If its content contradicts its hashes.
        """
        if not path.is_file():
            raise RecordError(f"{path}: no such file; there is no session to resume")
        lock = FileLock(path)
        try:
            with SessionReader(path) as reader:
                _check_resumable(path, reader.verify())
                sources = {c.name: c.source for c in reader.channels}
            writer = cls(path, lock, connect(path, write=True))
            writer._source_of = sources
        except BaseException as exc:
            lock.release()
            raise plain_error(exc, path) from exc
        return writer._begin()

    def _begin(self) -> tuple[Self, float]:
        try:
            db = self._db
            check_kind_of_file(db, self._path)
            begin_log(db, self._path)
            row = db.execute("SELECT n, last_seq, sha256 FROM commits ORDER BY n DESC").fetchone()
            self._chain = Chain(row[2], row[0])
            self._seq = row[1]
            self._channel_ids = dict(db.execute("SELECT name, id FROM channels"))
            with SessionReader(self._path) as reader:
                self._counts = dict(reader.counts)
                self._last_t = reader.last_t
        except BaseException as exc:
            self.abandon()
            raise plain_error(exc, self._path) from exc
        return self, self._last_t

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    @property
    def counts(self) -> Mapping[str, int]:
        """Readings taken so far per declared channel; what `close` writes at the end."""
        return dict(self._counts)

    @property
    def pending(self) -> int:
        """Rows taken and not yet on disk."""
        return len(self._pending)

    @property
    def last_seq(self) -> int:
        """Number of the last row taken; rows 1 to ``last_seq - pending`` are on disk."""
        return self._seq

    @property
    def blocked(self) -> RecordBlockedError | None:
        """Why the last commit failed; None when it did not."""
        return self._blocked

    @property
    def chain_head(self) -> str:
        """Hash of the last commit [hexadecimal]."""
        return self._chain.head.hex()

    def append(self, event: Event) -> None:
        """Take `event` as the next row; it is on disk after the next commit that succeeds.

        Commits by itself once `AUTO_COMMIT_ROWS` wait; a disk that refuses is not raised here but
        stands in `blocked`. Beyond `PENDING_LIMIT` waiting rows, readings are let go and counted;
        each source's count is recorded as a ``Gap`` as soon as there is room.

        Raises
        ------
        RecordError
            For what cannot be recorded: a number that is not finite, an undeclared channel, a
            second start, or anything after the end.
        """
        with self._taking:
            if not self._open or self._ending:
                raise RecordError(f"{self._path}: the session is closed; nothing can be added")
            if isinstance(event, _NOT_APPENDED):
                raise RecordError(
                    f"{type(event).__name__} is written by create and close, not by append"
                )
            self._take(event)
            due = len(self._pending) >= self._retry_at
        if due and self._committing.acquire(blocking=False):
            try:
                self._commit()
            except RecordBlockedError:
                pass  # kept in `blocked`, and raised by the next commit the caller makes
            finally:
                self._committing.release()

    def commit(self) -> None:
        """Write every waiting row durably; without effect if none waits.

        Raises
        ------
        RecordBlockedError
            If the disk refuses. The rows stay in memory and the next commit tries again.
        """
        with self._committing:
            if self._open:
                self._commit()

    def close(self, stopped: SessionStopped) -> bool:
        """Write `stopped` as the last row and leave one file.

        Its counts are set to what was recorded.

        Returns
        -------
        bool
            False if a reader in another program kept SQLite's log from being folded in; the record
            is complete all the same, and the last to close the file folds it in.

        Raises
        ------
        RecordBlockedError
            If the disk refuses; the writer stays open, and calling `close` again tries again.
            `abandon` gives up what waits.
        """
        with self._committing:
            with self._taking:
                if not self._open:
                    raise RecordError(f"{self._path}: the session is closed already")
                self._tell_gaps(stopped.t)
                kept = len(self._pending), self._seq, self._last_t
                final = dataclasses.replace(stopped, counts=dict(self._counts))
                self._pending.append(self._row(final))
                self._ending = True
            try:
                self._commit()
            except RecordBlockedError:
                with self._taking:  # the end of a session must not stand twice
                    del self._pending[kept[0] :]
                    self._seq, self._last_t = kept[1:]
                    self._ending = False
                raise
            folded = fold_log(self._db)
        self.abandon()
        return folded

    def abandon(self) -> None:
        """Let go of the file without an end, as a crash would; waiting rows are lost.

        The session can be resumed. A second call does nothing.
        """
        with self._committing, self._taking:
            if not self._open:
                return
            self._open = False
        self._db.close()
        self._file.close()
        self._lock.release()

    def _take(self, event: Event) -> None:
        if isinstance(event, Reading):
            if event.channel not in self._counts:
                raise RecordError(
                    f"a reading of {event.channel!r}, which was never declared; declared are "
                    f"{', '.join(self._counts) or 'none'}"
                )
            if len(self._pending) >= PENDING_LIMIT:
                row_of(self._seq + 1, event)  # refuse what is no reading, also when it is let go
                source = self._source_of.get(event.channel, "")
                self._let_go[source] = self._let_go.get(source, 0) + 1
                return
        if len(self._pending) < PENDING_LIMIT:
            self._tell_gaps(event.t)
        self._pending.append(self._row(event))
        if isinstance(event, Reading):
            self._counts[event.channel] += 1
        elif isinstance(event, ChannelDeclared):
            name = event.channel.name
            self._source_of[name] = event.channel.source
            self._counts.setdefault(name, 0)
            self._channel_ids.setdefault(name, len(self._channel_ids))

    def _row(self, event: Event) -> Row:
        row = row_of(self._seq + 1, event)
        self._seq += 1
        self._last_t = max(self._last_t, row.t)
        return row

    def _tell_gaps(self, t: float) -> None:
        # A verdict has the time of its tick, which is before the reading that set it off.
        t = max(t, self._last_t)
        for source, count in self._let_go.items():
            self._pending.append(self._row(Gap(t=t, source=source, dropped=count)))
        self._let_go = {}

    def _commit(self) -> None:
        with self._taking:
            batch = list(self._pending)
            channel_ids = list(self._channel_ids.items())
        if not self._file.in_place():
            self._write_anew(len(batch))
        if not batch:
            self._blocked = None
            return
        t, last_seq = batch[-1].t, batch[-1].seq
        head = self._chain.next_hash(t, last_seq, batch)
        try:
            insert_batch(self._db, (self._chain.number + 1, t, last_seq, head), batch, channel_ids)
        except sqlite3.Error as exc:
            if not self._is_written(head):
                self._retry_at = len(batch) + AUTO_COMMIT_ROWS
                trouble = trouble_of(exc, self._path)
                self._blocked = RecordBlockedError(self._path, trouble, len(batch), str(exc))
                raise self._blocked from exc
        self._chain.advance(head)
        self._blocked = None
        self._retry_at = AUTO_COMMIT_ROWS
        with self._taking:
            del self._pending[: len(batch)]

    def _write_anew(self, waiting: int) -> None:
        """Write what was committed into a new file, ours having been taken away; tells by raising.

        The batch goes into it with the next commit.
        """
        old = self._path
        try:
            # Each step may be the one that fails; the next commit goes on from there.
            if self._copy is None:
                self._copy = copy_out(self._db, old)
            self._db.close()
            self._path = take_place(self._copy, old)
            if not self._lock.holds(self._path):
                self._lock.release()
                self._lock = FileLock(self._path)
            self._db = connect(self._path, write=True)
            begin_log(self._db, self._path)
            self._file.close()
            self._file = HeldFile(self._path)
            self._copy = None
        except (sqlite3.Error, OSError, RecordError) as exc:
            self._blocked = RecordBlockedError(old, Trouble.GONE, waiting, str(exc))
            raise self._blocked from exc
        detail = f"now {self._path.name}"
        self._blocked = RecordBlockedError(self._path, Trouble.MOVED, waiting, detail)
        raise self._blocked

    def _is_written(self, head: bytes) -> bool:
        """Return whether a commit that reported a failure is in the file all the same."""
        try:
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")
            row = self._db.execute("SELECT sha256 FROM commits ORDER BY n DESC LIMIT 1").fetchone()
        except sqlite3.Error:
            return False
        return bool(row and row[0] == head)


def _check_new(path: Path) -> None:
    if path.exists():
        raise RecordError(
            f"{path}: this file exists; choose another name, or go on with the session in it: "
            f"chargeassist live --resume {path}"
        )


def _check_resumable(path: Path, report: VerifyReport) -> None:
    if not report.ok:
        raise RecordDamagedError(
            f"{path}: the record is damaged and is left as it is: {'; '.join(report.problems)}"
        )
    if report.finished:
        raise RecordError(f"{path}: this session is finished; begin a new one")
