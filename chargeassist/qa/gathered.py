"""The rows of a record, kept while they pass by: it is read once, not once for each use."""

import hashlib
from collections.abc import Iterator, Mapping

from chargeassist.model.errors import RecordDamagedError, RecordError
from chargeassist.model.events import Event
from chargeassist.session.record.chain import EventRow, ReadingRow
from chargeassist.session.record.reader import RecordReader

Readings = Mapping[str, tuple[list[float], list[float]]]
"""Times [s] and values [SI] by channel."""


class Gathered:
    """Passes the events of a record on and keeps what they were made of.

    Attributes
    ----------
    readings : dict
        Times and values by channel, so far.
    others : list of EventRow
        All rows but the readings, so far.
    """

    def __init__(self, record: RecordReader) -> None:
        self._record = record
        self._digest = hashlib.sha256()
        self.readings: dict[str, tuple[list[float], list[float]]] = {}
        self.others: list[EventRow] = []

    def events(self) -> Iterator[Event]:
        """Yield every event in order; raises RecordError at a row that cannot be read."""
        for expected, row in enumerate(self._record.rows(), start=1):
            if row.seq != expected:
                raise RecordDamagedError(
                    f"{self._record.path}: row {expected} expected, row {row.seq} came"
                )
            if isinstance(row, ReadingRow):
                times, values = self.readings.setdefault(row.channel, ([], []))
                times.append(row.t)
                values.append(row.value)
                self._digest.update(f"{row.t!r}\t{row.channel}\t{row.value!r}\n".encode())
            else:
                self.others.append(row)
            try:
                event = row.event()
            except RecordError as exc:
                raise RecordDamagedError(f"{self._record.path}, row {row.seq}: {exc}") from exc
            yield event

    def readings_sha256(self) -> str:
        """Return one hash over the readings alone, in order, so far [hexadecimal]."""
        return self._digest.hexdigest()
