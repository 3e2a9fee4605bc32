"""Read a Data Package folder that holds a session.

Tolerant of what others may add (further resources, columns, properties), strict about what it
reads: every complaint names file and line, what was expected and what came. A descriptor comes from
outside: it cannot point out of its folder, and nothing is read without a bound.
"""

import csv
import hashlib
import math
import re
import stat
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import msgspec

from chargeassist.model.channels import Channel
from chargeassist.model.errors import RecordError
from chargeassist.model.events import ChannelDeclared, SessionStopped
from chargeassist.model.text import json_words, plain
from chargeassist.session.record.chain import (
    ChainOfCommits,
    EventRow,
    ReadingRow,
    Row,
    RowsDigest,
)
from chargeassist.session.record.content import ContentCheck, OnEvent, Problems, VerifyReport
from chargeassist.session.record.package_layout import COLUMNS, DESCRIPTOR, EVENTS, FORMAT, READINGS
from chargeassist.session.record.reader import RecordReader, in_order, known_start

MAX_DESCRIPTOR_BYTES = 4 * 2**20
MAX_TABLE_BYTES = 2 * 2**30
MAX_LINE_CHARS = 300_000

_INTEGER = re.compile(r"[1-9][0-9]{0,17}")
_NUMBER = re.compile(r"-?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_RowT = TypeVar("_RowT")


class _Resource(msgspec.Struct):
    name: str
    path: str
    bytes: int | None = None
    hash: str | None = None


class _About(msgspec.Struct):
    format: int
    session_id: str
    mode: str
    software: str
    table_hash: str
    readings: int
    events: int
    rows_sha256: str
    job: dict[str, Any]
    chain_head: str = ""
    archive: dict[str, Any] = {}


class _Descriptor(msgspec.Struct):
    resources: list[_Resource]
    chargeassist: _About
    created: str = ""


class PackageReader(RecordReader):
    """A package folder, opened for reading.

    Parameters
    ----------
    folder : Path

    Raises
    ------
    RecordError
        If it holds no session, is of another format, points out of its folder, is larger than
        2 GiB a file, or has no readable start.
    """

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._folder = folder
        path = regular_file(folder, DESCRIPTOR, MAX_DESCRIPTOR_BYTES)
        try:
            self._about = msgspec.json.decode(path.read_bytes(), type=_Descriptor)
        except (msgspec.DecodeError, ValueError, OSError, RecursionError) as exc:
            raise RecordError(
                f"{path}: expected the descriptor of a session; {json_words(exc)}"
            ) from exc
        version = self._about.chargeassist.format
        if version != FORMAT:
            raise RecordError(
                f"{path}: package format {version} expected to be {FORMAT}; "
                "a newer chargeassist may read it"
            )
        self._files = {
            r.name: regular_file(folder, r.path, MAX_TABLE_BYTES) for r in self._about.resources
        }
        for name in COLUMNS:
            if name not in self._files:
                raise RecordError(f"{path}: expected a resource named {name!r}, found none")
        first = next(self._event_rows(), None)
        self._started = known_start(
            first.event() if first else None, f"{self._files[EVENTS]}, line 2"
        )
        self._declared: tuple[dict[str, Channel], SessionStopped | None] | None = None
        self._counts: dict[str, int] | None = None

    @property
    def folder(self) -> Path:
        """The folder its files lie in."""
        return self._folder

    @property
    def files(self) -> Mapping[str, Path]:
        """The files of its resources by their names; all of them lie in `folder`."""
        return dict(self._files)

    @property
    def about_archive(self) -> Mapping[str, Any]:
        """What an archive says of itself in its descriptor; empty for a package."""
        return self._about.chargeassist.archive

    @property
    def stopped(self) -> SessionStopped | None:
        """Its last event; None when the session was packed without an end."""
        return self._read_declared()[1]

    @property
    def channels(self) -> tuple[Channel, ...]:
        """The channels it declares, as last declared, in order of first declaration."""
        return tuple(self._read_declared()[0].values())

    @property
    def counts(self) -> Mapping[str, int]:
        """Readings per channel, of every declared channel."""
        if self._counts is None:
            self._counts = dict.fromkeys(self._read_declared()[0], 0)
            for reading in self._reading_rows():
                self._counts[reading.channel] = self._counts.get(reading.channel, 0) + 1
        return dict(self._counts)

    @property
    def chain_head(self) -> str:
        """Hash of the last commit of the session file it was made from; "" when unknown."""
        return self._about.chargeassist.chain_head

    def commit_ends(self) -> list[int]:
        """Return the last row of each commit of that session file; empty when it is not known."""
        path = self._files.get("commits")
        if path is None:
            return []
        return list(table_rows(path, ("last_seq",), lambda row: _integer(row[0], "last_seq")))

    def rows(self) -> Iterator[Row]:
        """Yield every row in order, without reading what the rows say."""
        return in_order(self._reading_rows(), self._event_rows())

    def verify(self, watch: OnEvent | None = None) -> VerifyReport:
        """Recompute every hash and count; what disagrees is in the report, never raised.

        The chain of the session file the package was made from is computed again where the ends
        of its commits are in the package.

        Parameters
        ----------
        watch : callable, optional
            Shown every event that can be read, in order.
        """
        problems = Problems()
        check = ContentCheck(problems, watch)
        hashed = 0
        chain = "broken"
        try:
            for resource in self._about.resources:
                hashed += self._verify_file(resource, problems)
            chain = self._verify_rows(check, problems)
        except (RecordError, OSError) as exc:
            problems.add(f"the package cannot be read on: {exc}")
        return VerifyReport(
            commits=hashed,
            rows=check.rows,
            finished=check.stopped is not None,
            problems=problems.all(),
            chain=chain,
        )

    def _verify_file(self, resource: _Resource, problems: Problems) -> int:
        path = self._files[resource.name]
        size = path.stat().st_size
        if resource.bytes is None or resource.hash is None:
            if resource.name in COLUMNS:
                problems.add(f"{path.name}: the descriptor does not give its size and hash")
            return 0
        if size != resource.bytes:
            problems.add(f"{path.name}: {resource.bytes} bytes expected, {size} found")
        with path.open("rb") as file:
            found = f"sha256:{hashlib.file_digest(file, 'sha256').hexdigest()}"
        if found != resource.hash:
            problems.add(f"{path.name}: its content does not match its hash")
        return 1

    def _verify_rows(self, check: ContentCheck, problems: Problems) -> str:
        """Go through the rows once; return how the chain of the session file stands."""
        about, started = self._about.chargeassist, self._started
        digest = RowsDigest(started.session_id)
        ends = self.commit_ends()
        chain = ChainOfCommits(started.session_id, ends) if ends else None
        readings = 0
        for row in self.rows():
            check.see(row)
            line = row.line().encode()
            digest.add_line(line)
            if chain is not None:
                chain.take(row, line)
            readings += isinstance(row, ReadingRow)
        check.finish()
        said = {
            "session_id": (about.session_id, started.session_id),
            "mode": (about.mode, started.mode.value),
            "software": (about.software, started.software),
            "table_hash": (about.table_hash, started.table_hash),
            "created": (self._about.created, started.started_utc),
            "job": (msgspec.json.encode(about.job, order="sorted").decode(), started.job),
            "readings": (about.readings, readings),
            "events": (about.events, check.rows - readings),
            "rows_sha256": (about.rows_sha256, digest.hexdigest()),
        }
        for name, (there, here) in said.items():
            if there != here:
                problems.add(f"{DESCRIPTOR}: {name} does not agree with the rows")
        if chain is None:
            if "commits" in self._files:
                problems.add(f"{self._files['commits'].name}: expected the commits, found no row")
            if about.chain_head:
                return "its head only; the commits are not in the package"
            return "none: it was not made from a session file"
        problem = chain.problem(about.chain_head)
        if problem:
            problems.add(problem)
            return "broken"
        return f"whole, {len(ends)} commits"

    def _read_declared(self) -> tuple[dict[str, Channel], SessionStopped | None]:
        if self._declared is None:
            channels: dict[str, Channel] = {}
            stopped = None
            for row in self._event_rows():
                event = self.event_of(row)
                if isinstance(event, ChannelDeclared):
                    channels[event.channel.name] = event.channel
                elif isinstance(event, SessionStopped):
                    stopped = event
            self._declared = channels, stopped
        return self._declared

    def _reading_rows(self) -> Iterator[ReadingRow]:
        return table_rows(self._files[READINGS], COLUMNS[READINGS], _reading_row)

    def _event_rows(self) -> Iterator[EventRow]:
        return table_rows(self._files[EVENTS], COLUMNS[EVENTS], _event_row)

    def close(self) -> None:
        """Do nothing: no file is held open between calls."""


def regular_file(folder: Path, name: str, limit: int) -> Path:
    """Return the path of the plain file `name` inside `folder`.

    Raises
    ------
    RecordError
        If the name leads out of the folder or through a link, or the file is missing, no plain file
        or larger than `limit` [bytes].
    """
    parts = name.split("/")
    if any(p in ("", ".", "..") for p in parts) or re.search(r"[\\:\x00-\x1f]", name):
        raise RecordError(
            f"{folder}: a resource must lie inside the folder; its path is {plain(name)!r}"
        )
    path = folder
    for part in parts:
        path = path / part
        if path.is_symlink():
            raise RecordError(f"{path}: a package may not hold links")
    try:
        status = path.stat()
    except FileNotFoundError as exc:
        raise RecordError(
            f"{folder}: {name} is missing; expected a session's package with all its files"
        ) from exc
    except OSError as exc:
        raise RecordError(f"{path}: cannot be read ({exc.strerror})") from exc
    if not stat.S_ISREG(status.st_mode):
        raise RecordError(f"{path}: expected a plain file")
    if status.st_size > limit:
        raise RecordError(f"{path}: expected at most {limit} bytes, got {status.st_size}")
    return path


def table_rows(
    path: Path, columns: tuple[str, ...], make: Callable[[list[str]], _RowT]
) -> Iterator[_RowT]:
    """Yield `make` of the fields of each row of a CSV file, in the order of `columns`.

    Raises
    ------
    RecordError
        At a row that cannot be read: file, line, what was expected, what came.
    """
    line = 1
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = csv.reader(iter(lambda: _line(file.readline(MAX_LINE_CHARS)), ""), strict=True)
            header = next(rows, [])
            places = _places(header, columns)
            width, as_is = len(header), places == list(range(len(header)))
            for fields in rows:
                line = rows.line_num
                if not fields:
                    continue
                if len(fields) != width:
                    _refuse_width(width, len(fields))
                yield make(fields if as_is else [fields[p] for p in places])
    except (csv.Error, UnicodeDecodeError, OSError) as exc:
        raise RecordError(f"{path}, after line {line}: cannot be read ({exc})") from exc
    except RecordError as exc:
        raise type(exc)(f"{path}, line {line}: {exc}") from exc


def _places(header: list[str], columns: tuple[str, ...]) -> list[int]:
    if any(c not in header for c in columns):
        raise RecordError(
            f"expected columns {', '.join(columns)}, got {plain(', '.join(header))!r}"
        )
    return [header.index(c) for c in columns]


def _refuse_width(expected: int, came: int) -> NoReturn:
    raise RecordError(f"expected {expected} fields, got {came}")


def _line(text: str) -> str:
    if len(text) >= MAX_LINE_CHARS:
        raise RecordError(f"expected lines of less than {MAX_LINE_CHARS} characters")
    return text


def _reading_row(fields: list[str]) -> ReadingRow:
    t, seq, channel, value, quality, device = fields
    return ReadingRow(
        _integer(seq, "seq"),
        _number(t, "t"),
        channel,
        _number(value, "value"),
        quality,
        _number(device, "device_time") if device else None,
    )


def _event_row(fields: list[str]) -> EventRow:
    seq, t, kind, body = fields
    return EventRow(_integer(seq, "seq"), _number(t, "t"), kind, body)


def _integer(text: str, column: str) -> int:
    if not _INTEGER.fullmatch(text):
        raise RecordError(f"{column}: expected a whole number from 1, got {plain(text, 40)!r}")
    return int(text)


def _number(text: str, column: str) -> float:
    value = float(text) if _NUMBER.fullmatch(text) else math.nan
    if not math.isfinite(value):
        raise RecordError(f"{column}: expected a finite number, got {plain(text, 40)!r}")
    return value
