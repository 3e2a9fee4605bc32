"""Read a session file: finished, live or left behind by a crash."""

import math
import shutil
import sqlite3
import tempfile
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from operator import itemgetter
from pathlib import Path
from typing import Any

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.errors import RecordDamagedError, RecordError
from chargeassist.model.events import ChannelDeclared, Event, SessionStarted, SessionStopped
from chargeassist.model.reading_run import ReadingRun
from chargeassist.model.text import plain
from chargeassist.session.record.chain import Chain, EventRow, ReadingRow, Row, genesis
from chargeassist.session.record.content import ContentCheck, OnEvent, Problems, VerifyReport
from chargeassist.session.record.reader import (
    LONGEST_RUN,
    RecordReader,
    in_order,
    known_start,
)
from chargeassist.session.record.store_schema import (
    FOLDER,
    QUALITY_IDS,
    READ_ERRORS,
    check_kind_of_file,
    lost_schema,
    open_and_look,
    opening_error,
)
from chargeassist.session.record.write_ahead import bytes_cut_off

_SEQ = itemgetter(0)


class SessionReader(RecordReader):
    """A session file, opened for reading only; rows not yet committed are not seen.

    Nothing is changed, not even the write-ahead log of a crashed session.

    Parameters
    ----------
    path : Path

    Raises
    ------
    RecordError
        If it is missing, no session file, of another format, or has no readable start.
    """

    def __init__(self, path: Path) -> None:
        if not path.is_file():
            raise RecordError(f"{path}: no such file")
        super().__init__(path)
        self._copy: tempfile.TemporaryDirectory[str] | None = None
        self._db = self._open()
        try:
            check_kind_of_file(self._db, path)
            self._started = self._read_started()
        except READ_ERRORS as exc:
            self.close()
            raise opening_error(exc, path) from exc
        except BaseException:
            self.close()
            raise

    def _open(self) -> sqlite3.Connection:
        try:
            return open_and_look(self._path)
        except READ_ERRORS as exc:
            code = getattr(exc, "sqlite_errorcode", 0) & 0xFF
            if code not in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY):
                raise opening_error(exc, self._path) from exc
        # SQLite must write beside the file to read it (an interrupted session on a read-only
        # medium), or into it (power failed while the log was being folded in): it may in a copy.
        logs = [p for p in map(self._beside, ("-wal", "-journal")) if p.exists()]
        self._copy = tempfile.TemporaryDirectory(prefix="chargeassist-")
        try:
            target = Path(self._copy.name) / self._path.name
            shutil.copyfile(self._path, target)
            for log in logs:
                ending = log.name.removeprefix(self._path.resolve().name)
                shutil.copyfile(log, target.with_name(target.name + ending))
            return open_and_look(target, write=True)
        except (OSError, *READ_ERRORS) as exc:
            self._copy.cleanup()
            raise RecordError(f"{self._path}: cannot be read ({exc})") from exc

    def _beside(self, ending: str) -> Path:
        path = self._path.resolve()  # SQLite's logs lie beside the file, not beside a link to it
        return path.with_name(path.name + ending)

    def _read_started(self) -> SessionStarted:
        row = self._db.execute("SELECT seq, t, kind, body FROM events WHERE seq = 1").fetchone()
        return known_start(EventRow(*row).event() if row else None, f"{self._path}, row 1")

    def freeze(self) -> None:
        """Let rows, commits and their last hash be those of now, whatever is written from here on.

        What is asked of these tables then goes to views of this connection alone.
        """
        tables = (("channels", "id"), ("commits", "n"))
        # In one question: between two of them a commit may bring a channel and its first reading.
        lasts = ", ".join(f"(SELECT coalesce(max({key}), 0) FROM {table})" for table, key in tables)
        (found,) = self._some(f"SELECT {lasts}")
        for (table, key), last in zip(tables, found, strict=True):
            self._some(
                f"CREATE TEMP VIEW {table} AS SELECT * FROM main.{table} WHERE {key} <= {int(last)}"
            )

    @property
    def stopped(self) -> SessionStopped | None:
        """Its last event; None while the session is live or when it was interrupted."""
        for row in self._some("SELECT seq, t, kind, body FROM events WHERE kind='session_stopped'"):
            event = self.event_of(EventRow(*row))
            if isinstance(event, SessionStopped):
                return event
        return None

    @property
    def job_folder(self) -> Path | None:
        """Where relative paths in its job's addresses start, if that folder is still there."""
        found = self._some("SELECT value FROM meta WHERE key = ?", FOLDER)
        folder = Path(str(found[0][0])) if found else None
        return folder if folder is not None and folder.is_dir() else None

    @property
    def channels(self) -> tuple[Channel, ...]:
        """The channels it declares, as last declared, in order of first declaration."""
        found: dict[str, Channel] = {}
        for row in self._some(
            "SELECT seq, t, kind, body FROM events WHERE kind='channel_declared' ORDER BY seq"
        ):
            event = self.event_of(EventRow(*row))
            if isinstance(event, ChannelDeclared):
                found[event.channel.name] = event.channel
        return tuple(found.values())

    @property
    def counts(self) -> Mapping[str, int]:
        """Readings per channel, of every declared channel."""
        return dict(
            self._some(
                "SELECT c.name, count(r.seq) FROM channels c "
                "LEFT JOIN readings r ON r.channel_id = c.id GROUP BY c.id ORDER BY c.id"
            )
        )

    @property
    def last_t(self) -> float:
        """Latest time of any row [s]."""
        ((latest,),) = self._some(
            "SELECT max(t) FROM (SELECT t FROM readings UNION ALL SELECT t FROM events)"
        )
        return float(latest)

    @property
    def chain_head(self) -> str:
        """Hash of the last commit [hexadecimal]."""
        rows = self._some("SELECT sha256 FROM commits ORDER BY n DESC LIMIT 1")
        if rows and not isinstance(rows[0][0], bytes):
            raise RecordDamagedError(f"{self._path}: its last commit has no hash")
        return rows[0][0].hex() if rows else ""

    @property
    def commits(self) -> int:
        """Number of commits so far."""
        ((number,),) = self._some("SELECT count(*) FROM commits")
        return int(number)

    def commit_ends(self) -> list[int]:
        """Return the last row of each commit."""
        return [int(seq) for (seq,) in self._some("SELECT last_seq FROM commits ORDER BY n")]

    def rows(self) -> Iterator[Row]:
        """Yield every committed row in order, without reading what the rows say."""
        ((last,),) = self._some("SELECT coalesce(max(last_seq), 0) FROM commits")
        yield from self._rows_between(0, last)

    def runs(self) -> Iterator[Event | ReadingRun]:
        """Yield every event in order, but readings that follow one another together."""
        ((last,),) = self._some("SELECT coalesce(max(last_seq), 0) FROM commits")
        names, qualities = self._names()
        expected = 1
        for readings, others in self._chunks("seq, t, channel_id, value, quality", last):
            begin = 0
            for row in (*map(EventRow._make, others), None):
                end = len(readings)
                if row is not None:
                    end = bisect_left(readings, row.seq, begin, key=_SEQ)
                if begin < end:
                    yield self._run(readings[begin:end], expected, names, qualities)
                    expected += end - begin
                    begin = end
                if row is not None:
                    if row.seq != expected:
                        raise self._missing(expected, row.seq)
                    expected += 1
                    yield self.event_of(row)

    def _run(
        self,
        rows: list[tuple[Any, ...]],
        expected: int,
        names: Mapping[int, str],
        qualities: Mapping[int, str],
    ) -> ReadingRun:
        """Return rows of readings as a run; the first of them is to be row `expected`."""
        seqs, times, channels, values, told = zip(*rows, strict=True)
        if seqs[-1] - expected != len(rows) - 1:
            missing = next(n for n, seq in enumerate(seqs, start=expected) if seq != n)
            raise self._missing(missing, seqs[missing - expected])
        if not (_finite(times) and _finite(values)):
            raise RecordDamagedError(
                f"{self._path}, rows {seqs[0]} to {seqs[-1]}: expected finite numbers, got others"
            )
        channels = tuple(map(names.__getitem__, channels))
        if all(qualities[each] == Quality.GOOD.value for each in set(told)):
            return ReadingRun(times=times, channels=channels, values=values)
        qualities_said = [
            self.event_of(ReadingRow(seq, t, "", value, qualities[quality], None)).quality
            for seq, t, _, value, quality in rows
        ]
        return ReadingRun(times=times, channels=channels, values=values, qualities=qualities_said)

    def verify(self, watch: OnEvent | None = None) -> VerifyReport:
        """Recompute the chain and the counts; what disagrees is in the report, never raised.

        Parameters
        ----------
        watch : callable, optional
            Shown every event that can be read, in order.
        """
        problems = Problems()
        check = ContentCheck(problems, watch)
        commits = 0
        try:
            commits = self._verify_chain(check, problems)
            check.finish()
            lost = lost_schema(self._db)
            if lost:
                problems.add(
                    f"its schema differs from the one written: {', '.join(lost)} missing; "
                    "another program has changed the file, which no longer guards its rows"
                )
            for (text,) in self._some("PRAGMA quick_check(5)"):
                if text != "ok":
                    problems.add(f"the file's structure is damaged: {text}")
        except (RecordError, ValueError, TypeError) as exc:
            problems.add(f"the file cannot be read on: {exc}")
        return VerifyReport(
            commits=commits,
            rows=check.rows,
            finished=check.stopped is not None,
            problems=problems.all(),
            chain="broken" if problems.all() else f"whole, {commits} commits",
            notes=self._unfinished_write(),
        )

    def _unfinished_write(self) -> tuple[str, ...]:
        try:
            count = bytes_cut_off(self._beside("-wal"))
        except OSError:
            return ()
        if not count:
            return ()
        return (
            f"the last write to the file was not finished ({count} bytes of it are passed over); "
            "everything committed before it is there",
        )

    def _verify_chain(self, check: ContentCheck, problems: Problems) -> int:
        said = dict(self._some("SELECT key, value FROM meta"))
        said.pop(FOLDER, None)
        if said != {"session_id": self._started.session_id}:
            problems.add("the session's number stands differently in two places")
        named = {str(name) for (name,) in self._some("SELECT name FROM channels")}
        commits = self._some("SELECT n, t, last_seq, sha256 FROM commits ORDER BY n")
        chain = Chain(genesis(self._started.session_id))
        before = 0
        for n, t, last_seq, stored in commits:
            if n != chain.number + 1:
                problems.add(f"commit {chain.number + 1} expected, commit {n} came")
                chain.number = n - 1
            rows = _seen(self._rows_between(before, last_seq), check)
            computed = chain.next_hash(t, last_seq, rows)
            if computed != stored:
                problems.add(
                    f"commit {n} (rows {before + 1} to {last_seq}) does not match its hash"
                )
            # From the stored hash on, so that one damaged commit is one finding.
            chain.advance(stored)
            before = last_seq
        ((after, end),) = self._some(
            "SELECT count(*), max(seq) FROM (SELECT seq FROM readings UNION ALL "
            "SELECT seq FROM events) WHERE seq < 1 OR seq > ? AND NOT EXISTS "
            "(SELECT 1 FROM main.commits WHERE last_seq >= seq)",
            before,
        )
        if after:
            problems.add(f"{after} rows up to row {end} belong to no commit")
        if check.rows and not commits:
            problems.add("there are rows but no commits")
        # No hash covers a name that no row uses, and whoever counts by the table would list it.
        for name in sorted(named - check.channels):
            problems.add(f"channel {plain(name, 60)!r} stands in its table and was never declared")
        return len(commits)

    def _rows_between(self, after: int, last: int) -> Iterator[Row]:
        names, qualities = self._names()
        columns = "seq, t, channel_id, value, quality, device_time"
        for readings, others in self._chunks(columns, last, after):
            yield from in_order(
                (
                    ReadingRow(seq, t, names[channel], value, qualities[quality], device_time)
                    for seq, t, channel, value, quality, device_time in readings
                ),
                map(EventRow._make, others),
            )

    def _names(self) -> tuple["_Names", "_Names"]:
        """Return the names of channels and qualities by their number."""
        names = _Names("channel", self._some("SELECT id, name FROM channels"))
        qualities = _Names("quality", self._some("SELECT id, name FROM qualities"))
        if len(qualities) != len(QUALITY_IDS):
            raise RecordDamagedError(f"{self._path}: its table of qualities is not whole")
        return names, qualities

    def _chunks(
        self, columns: str, last: int, after: int = 0
    ) -> Iterator[tuple[list[tuple[Any, ...]], list[tuple[Any, ...]]]]:
        """Yield readings and other events of the rows up to `last`, both by their number.

        Short reads, none of them held open: a reader that lingers in a live file would keep the
        writer from ever emptying its log. Append-only makes them agree with one another.
        """
        while after < last:
            readings = self._some(
                f"SELECT {columns} FROM readings WHERE seq > ? AND seq <= ? ORDER BY seq LIMIT ?",
                *(after, last, LONGEST_RUN),
            )
            others = self._some(
                "SELECT seq, t, kind, body FROM events "
                "WHERE seq > ? AND seq <= ? ORDER BY seq LIMIT ?",
                *(after, last, LONGEST_RUN),
            )
            # A full chunk may go on; only up to its end is the order of the two known.
            full = [rows[-1][0] for rows in (readings, others) if len(rows) == LONGEST_RUN]
            bound = min([last, *full])
            yield _up_to(bound, readings), _up_to(bound, others)
            after = bound

    def _some(self, sql: str, *arguments: int | str) -> list[tuple[Any, ...]]:
        try:
            return self._db.execute(sql, arguments).fetchall()
        except READ_ERRORS as exc:
            raise opening_error(exc, self._path) from exc

    def close(self) -> None:
        """Let go of the file; a second call does nothing."""
        self._db.close()
        if self._copy is not None:
            self._copy.cleanup()


def _finite(numbers: Sequence[float]) -> bool:
    try:
        # A sum is finite where all are; only numbers beyond all use make it overflow.
        return math.isfinite(sum(numbers)) or all(map(math.isfinite, numbers))
    except TypeError:
        return False


class _Names(dict[int, str]):
    """Names by number; a number without a name stands for itself, and is told of where read."""

    def __init__(self, what: str, rows: list[tuple[Any, ...]]) -> None:
        super().__init__(rows)
        if not all(isinstance(name, str) for name in self.values()):
            raise RecordDamagedError(f"its table of {what} names holds something else than names")
        self._what = what

    def __missing__(self, number: int) -> str:
        return f"{self._what} {number}"


def _up_to(bound: int, rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Return those of `rows`, in order of their number, that are not beyond `bound`."""
    return rows[: bisect_right(rows, bound, key=_SEQ)]


def _seen(rows: Iterator[Row], check: ContentCheck) -> Iterator[Row]:
    for row in rows:
        check.see(row)
        yield row
