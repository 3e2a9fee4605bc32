"""The rows of a record, kept while they pass by: it is read once, not once for each use."""

import hashlib
from collections.abc import Iterator, Mapping

from chargeassist.model.channels import Quality
from chargeassist.model.events import Event
from chargeassist.model.reading_run import ReadingRun
from chargeassist.session.record.chain import EventRow, ReadingRow
from chargeassist.session.record.reader import RecordReader

Readings = Mapping[str, tuple[list[float], list[float]]]
"""Times [s] and values [SI] by channel."""


class Gathered:
    """Passes the events of a record on and keeps what they were made of.

    Parameters
    ----------
    record : RecordReader

    Attributes
    ----------
    readings : dict
        Times [s] and values [SI] by channel, so far, but for retained ones.
    others : list of EventRow
        All rows but the readings, so far.
    """

    def __init__(self, record: RecordReader) -> None:
        self._record = record
        self._digest = hashlib.sha256()
        self.readings: dict[str, tuple[list[float], list[float]]] = {}
        self.others: list[EventRow] = []

    def runs(self) -> Iterator[Event | ReadingRun]:
        """Yield every event in order, but readings that follow one another together.

        Raises
        ------
        RecordError
            At a row that is missing or cannot be read; names file and row.
        """
        for rows in self._record.row_runs():
            if isinstance(rows, EventRow):
                self.others.append(rows)
                yield self._record.event_of(rows)
            else:
                self._keep(rows)
                yield self._record.run_of(rows)

    def _keep(self, rows: list[ReadingRow]) -> None:
        lines = []
        for _, t, channel, value, quality, _ in rows:
            if quality != Quality.RETAINED.value:  # "last known" is no sample of this session
                times, values = self.readings.setdefault(channel, ([], []))
                times.append(t)
                values.append(value)
            lines.append(f"{t!r}\t{channel}\t{value!r}\n")
        self._digest.update("".join(lines).encode())

    def readings_sha256(self) -> str:
        """Return one hash over the readings alone, in order, so far [hexadecimal]; "" for none."""
        return self._digest.hexdigest() if self.readings else ""
