"""What reading a record is alike for, whatever file it is kept in."""

import re
from abc import ABC, abstractmethod
from collections.abc import Generator, Iterator, Mapping
from pathlib import Path
from types import TracebackType
from typing import Self, overload

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.errors import RecordDamagedError, RecordError
from chargeassist.model.events import Event, Reading, SessionStarted, SessionStopped
from chargeassist.model.job import Job
from chargeassist.model.reading_run import ReadingRun
from chargeassist.model.text import plain
from chargeassist.session.record.chain import EventRow, ReadingRow, Row, RowsDigest
from chargeassist.session.record.codec import job_from_json
from chargeassist.session.record.content import OnEvent, VerifyReport
from chargeassist.session.record.job_bounds import check_job

LONGEST_RUN = 512
"""So many readings at most are held at once. More do not fit beside what folds them in the fast
memory of a core, and take longer each."""


class RecordReader(ABC):
    """A record, opened for reading.

    Parameters
    ----------
    path : Path
    """

    _started: SessionStarted

    def __init__(self, path: Path) -> None:
        self._path = path

    @property
    def path(self) -> Path:
        """Where it is."""
        return self._path

    @property
    def started(self) -> SessionStarted:
        """Its first event."""
        return self._started

    @property
    def job_folder(self) -> Path | None:
        """Where relative paths in its job's addresses start; None where that is not known here."""
        return None

    @property
    def job(self) -> Job:
        """The job it was recorded under; raises RecordError for one no job file could give."""
        return check_job(job_from_json(self._started.job), str(self._path))

    @property
    @abstractmethod
    def stopped(self) -> SessionStopped | None:
        """Its last event; None where it has no end."""

    @property
    @abstractmethod
    def channels(self) -> tuple[Channel, ...]:
        """The channels it declares, as last declared, in order of first declaration."""

    @property
    @abstractmethod
    def counts(self) -> Mapping[str, int]:
        """Readings per channel, of every declared channel."""

    @property
    @abstractmethod
    def chain_head(self) -> str:
        """Hash of the session file's last commit [hexadecimal]; "" when it is not known."""

    @abstractmethod
    def rows(self) -> Iterator[Row]:
        """Yield every row in order, without reading what the rows say."""

    @abstractmethod
    def verify(self, watch: OnEvent | None = None) -> VerifyReport:
        """Recompute every hash and count; what disagrees is in the report, never raised.

        Parameters
        ----------
        watch : callable, optional
            Shown every event that can be read, in order.
        """

    @abstractmethod
    def close(self) -> None:
        """Let go of the file; a second call does nothing."""

    def events(self) -> Generator[Event, None, None]:
        """Yield every event in order.

        Raises
        ------
        RecordError
            At a row that is missing or cannot be read; names file and row.
        """
        expected = 1
        for row in self.rows():
            if row.seq != expected:
                raise self._missing(expected, row.seq)
            expected += 1
            yield self.event_of(row)

    def _missing(self, expected: int, came: int) -> RecordDamagedError:
        return RecordDamagedError(
            f"{self._path}: row {expected} expected, row {came} came; "
            "a row was changed, added or taken out"
        )

    @overload
    def event_of(self, row: ReadingRow) -> Reading: ...

    @overload
    def event_of(self, row: Row) -> Event: ...

    def event_of(self, row: Row) -> Event:
        """Return the event of `row`; raises RecordError, which names file and row."""
        try:
            return row.event()
        except RecordError as exc:
            raise RecordDamagedError(f"{self._path}, row {row.seq}: {exc}") from exc

    def runs(self) -> Iterator[Event | ReadingRun]:
        """Yield every event in order, but readings that follow one another together.

        A run holds a few thousand readings at most, of which the device's own time is left out.

        Raises
        ------
        RecordError
            At a row that is missing or cannot be read; names file and row.
        """
        for rows in self.row_runs():
            yield self.event_of(rows) if isinstance(rows, EventRow) else self.run_of(rows)

    def row_runs(self) -> Iterator[EventRow | list[ReadingRow]]:
        """Yield every row in order, but readings that follow one another together.

        Raises
        ------
        RecordError
            At a row that is missing; names file and row.
        """
        expected = 1
        waiting: list[ReadingRow] = []
        for row in self.rows():
            if row.seq != expected:
                raise self._missing(expected, row.seq)
            expected += 1
            if isinstance(row, ReadingRow):
                waiting.append(row)
                if len(waiting) < LONGEST_RUN:
                    continue
            if waiting:
                yield waiting
                waiting = []
            if isinstance(row, EventRow):
                yield row
        if waiting:
            yield waiting

    def run_of(self, rows: list[ReadingRow]) -> ReadingRun:
        """Return `rows` as a run; raises RecordError at one that cannot be a reading."""
        _, times, channels, values, qualities, _ = zip(*rows, strict=True)
        if set(qualities) == {Quality.GOOD.value}:
            return ReadingRun(times=times, channels=channels, values=values)
        return ReadingRun(
            times=times,
            channels=channels,
            values=values,
            qualities=[self.event_of(row).quality for row in rows],
        )

    def rows_sha256(self) -> str:
        """Return one hash over all rows [hexadecimal]: a session and its package have the same."""
        digest = RowsDigest(self._started.session_id)
        for row in self.rows():
            digest.add(row)
        return digest.hexdigest()

    def __enter__(self) -> Self:
        """Return the reader."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close it."""
        self.close()


_SESSION_ID = re.compile(r"[A-Za-z0-9-]{1,64}")


def known_start(event: Event | None, where: str) -> SessionStarted:
    """Return `event` if it can be the start of a session.

    Its number becomes part of the names of files and of what a screen shows: it is letters, digits
    and "-".

    Raises
    ------
    RecordError
        If it is another event, or its number something else; `where` it stands is named.
    """
    if not isinstance(event, SessionStarted):
        raise RecordDamagedError(f"{where}: expected the start of a session")
    if not _SESSION_ID.fullmatch(event.session_id):
        raise RecordDamagedError(
            f"{where}: expected a session number of letters, digits and '-', at most 64, "
            f"got {plain(event.session_id, 60)!r}"
        )
    return event


def in_order(readings: Iterator[ReadingRow], others: Iterator[EventRow]) -> Iterator[Row]:
    """Yield the rows of two tables by their number; each table is in order by itself."""
    other = next(others, None)
    for reading in readings:
        while other is not None and other.seq < reading.seq:
            yield other
            other = next(others, None)
        yield reading
    if other is not None:
        yield other
        yield from others
