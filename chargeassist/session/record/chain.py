"""Rows of a record and the SHA-256 chain over them.

A row has one canonical line of text, whatever file it stands in:

    reading   ``seq TAB t TAB reading TAB channel TAB value TAB quality TAB device_time LF``
    others    ``seq TAB t TAB kind TAB body LF``

with numbers in shortest round-trip form and an empty `device_time` where there was none. Neither
names nor JSON bodies hold a raw tab or line feed, so a line has one meaning.

Each commit hashes the hash before it, its own number, time and last row, and its rows. A change to
any row, or to the order of rows or commits, changes every later hash. The chain shows damage and
careless edits; someone who recomputes it all is only stopped by a signature over its head.
"""

import hashlib
import re
from collections.abc import Iterable, Sequence
from math import isfinite
from typing import NamedTuple

from chargeassist.model.errors import RecordError
from chargeassist.model.events import ChannelDeclared, Event, Reading
from chargeassist.model.text import plain
from chargeassist.session.record.codec import (
    decode_event,
    encode_event,
    finite,
    finite_time,
    quality_of,
)

READING = "reading"
_CHANNEL_NAME = re.compile(r"[a-z0-9_]{1,40}")


class ReadingRow(NamedTuple):
    """A reading as it stands in a record; `t` and `device_time` in [s], `value` in SI."""

    seq: int
    t: float
    channel: str
    value: float
    quality: str
    device_time: float | None

    def line(self) -> str:
        """Return the canonical line."""
        device = "" if self.device_time is None else repr(self.device_time)
        return (
            f"{self.seq}\t{self.t!r}\t{READING}\t{self.channel}\t{self.value!r}"
            f"\t{self.quality}\t{device}\n"
        )

    def event(self) -> Reading:
        """Return the event, or raise RecordError if a field cannot be one."""
        device = self.device_time
        try:
            sound = isfinite(self.t) and isfinite(self.value)
            sound = sound and (device is None or isfinite(device))
        except TypeError:
            sound = False
        if not sound:
            raise RecordError(
                f"expected finite numbers, got {plain(f'{self.t!r}, {self.value!r}, {device!r}')}"
            )
        return Reading(
            t=self.t,
            channel=self.channel,
            value=self.value,
            quality=quality_of(self.quality),
            device_time=self.device_time,
        )


class EventRow(NamedTuple):
    """Any other event as it stands in a record; `t` in [s]."""

    seq: int
    t: float
    kind: str
    body: str

    def line(self) -> str:
        """Return the canonical line."""
        return f"{self.seq}\t{self.t!r}\t{self.kind}\t{self.body}\n"

    def event(self) -> Event:
        """Return the event, or raise RecordError if kind or body cannot be read."""
        if {type(self.kind), type(self.body)} != {str}:
            raise RecordError("expected kind and body as text, got something else")
        if self.kind == READING:
            raise RecordError("a reading stands among the events; expected it with the readings")
        return decode_event(self.kind, self.t, self.body)


Row = ReadingRow | EventRow


def row_of(seq: int, event: Event) -> Row:
    """Return `event` as row number `seq`.

    Raises
    ------
    RecordError
        If it cannot be recorded: a number that is not finite, a wrong type.
    """
    if isinstance(event, Reading):
        t, value, device = event.t, event.value, event.device_time
        if device is None and type(t) is type(value) is float and isfinite(t) and isfinite(value):
            return ReadingRow(seq, t + 0.0, event.channel, value + 0.0, event.quality.value, None)
        return ReadingRow(
            seq,
            finite_time(t, READING),
            event.channel,
            finite(value, f"reading of {event.channel!r}"),
            event.quality.value,
            None if device is None else finite(device, f"device time of {event.channel!r}"),
        )
    if isinstance(event, ChannelDeclared) and not _CHANNEL_NAME.fullmatch(event.channel.name):
        raise RecordError(
            "expected a channel name of 1 to 40 of a-z, 0-9 and _, "
            f"got {plain(event.channel.name, 60)!r}"
        )
    kind, body = encode_event(event)
    return EventRow(seq, finite_time(event.t, kind), kind, body)


def genesis(session_id: str) -> bytes:
    """Return the hash the chain of session `session_id` begins with; 32 bytes."""
    return hashlib.sha256(f"chargeassist session 1\n{session_id}\n".encode()).digest()


class Chain:
    """The running hash over commits.

    Attributes
    ----------
    head : bytes
        Hash of the last commit; 32 bytes.
    number : int
        Of the last commit; 0 before the first.
    """

    def __init__(self, head: bytes, number: int = 0) -> None:
        self.head = head
        self.number = number

    def next_hash(self, t: float, last_seq: int, rows: Iterable[Row]) -> bytes:
        """Return the hash of the next commit without making it the head.

        Parameters
        ----------
        t : float
            Time of the commit's last row [s].
        last_seq : int
        rows : iterable of Row
            In order of `seq`.
        """
        # In one piece: hashlib lets other threads run meanwhile.
        return self.hash_of_lines(t, last_seq, ("".join([row.line() for row in rows]).encode(),))

    def hash_of_lines(self, t: float, last_seq: int, lines: Iterable[bytes]) -> bytes:
        """Return the same for the canonical lines of the rows."""
        digest = hashlib.sha256(self.head)
        digest.update(f"{self.number + 1}\t{t!r}\tcommit\t{last_seq}\n".encode())
        for line in lines:
            digest.update(line)
        return digest.digest()

    def advance(self, head: bytes) -> None:
        """Make `head` the hash of commit ``number + 1``."""
        self.head = head
        self.number += 1


class ChainOfCommits:
    """Computes the chain of a session file again from its rows and the ends of its commits.

    Parameters
    ----------
    session_id : str
    ends : sequence of int
        Last row of each commit, in order; at least one.
    """

    def __init__(self, session_id: str, ends: Sequence[int]) -> None:
        self._chain = Chain(genesis(session_id))
        self._ends = ends
        self._lines: list[bytes] = []

    def take(self, row: Row, line: bytes) -> None:
        """Take the next row, and its canonical line."""
        self._lines.append(line)
        done = self._chain.number
        if done < len(self._ends) and row.seq == self._ends[done]:
            self._chain.advance(self._chain.hash_of_lines(row.t, row.seq, self._lines))
            self._lines = []

    def problem(self, head: str) -> str:
        """Return why what was taken does not lead to the hash `head` [hexadecimal], or ""."""
        if self._lines or self._chain.number != len(self._ends):
            return "the commits do not end where the rows end"
        if self._chain.head.hex() != head:
            return "the rows do not give the hash the session file's chain ended in"
        return ""


class RowsDigest:
    """One hash over all rows of a record, the same for a session file and its package."""

    def __init__(self, session_id: str) -> None:
        self._digest = hashlib.sha256(genesis(session_id))

    def add(self, row: Row) -> None:
        """Take the next row."""
        self.add_line(row.line().encode())

    def add_line(self, line: bytes) -> None:
        """Take the next row by its canonical line."""
        self._digest.update(line)

    def hexdigest(self) -> str:
        """Return the hash of all rows so far; 64 hexadecimal digits."""
        return self._digest.hexdigest()
