"""What reading a record is alike for, whatever file it is kept in."""

from abc import ABC, abstractmethod
from collections.abc import Generator, Iterator, Mapping
from pathlib import Path
from types import TracebackType
from typing import Self

from chargeassist.model.channels import Channel
from chargeassist.model.errors import RecordDamagedError, RecordError
from chargeassist.model.events import Event, SessionStarted, SessionStopped
from chargeassist.model.job import Job
from chargeassist.session.record.chain import EventRow, ReadingRow, Row, RowsDigest
from chargeassist.session.record.codec import job_from_json
from chargeassist.session.record.protocol import VerifyReport


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
    def job(self) -> Job:
        """The job it was recorded under."""
        return job_from_json(self._started.job)

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
    def verify(self) -> VerifyReport:
        """Recompute every hash and count; what disagrees is in the report, never raised."""

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
                raise RecordDamagedError(
                    f"{self._path}: row {expected} expected, row {row.seq} came"
                )
            expected += 1
            try:
                event = row.event()
            except RecordError as exc:
                raise RecordDamagedError(f"{self._path}, row {row.seq}: {exc}") from exc
            yield event

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
