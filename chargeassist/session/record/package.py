"""Write a session as a Data Package folder, and open records of either form.

`package_layout` says what stands in the folder, `package_reader` reads it. The same events always
give the same bytes: no wall time but the session's own, line feeds only, numbers in shortest
round-trip form.
"""

import csv
import hashlib
import shutil
from collections.abc import Iterable, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import Self

from chargeassist.model.channels import Channel
from chargeassist.model.errors import RecordError
from chargeassist.model.events import ChannelDeclared, Event, SessionStarted
from chargeassist.model.text import plain
from chargeassist.session.record.chain import EventRow, ReadingRow, Row, RowsDigest, row_of
from chargeassist.session.record.codec import job_from_json
from chargeassist.session.record.package_layout import (
    CHANNELS,
    COLUMNS,
    DESCRIPTOR,
    EVENTS,
    READINGS,
    Attachment,
    channel_fields,
    descriptor_text,
)
from chargeassist.session.record.package_reader import PackageReader
from chargeassist.session.record.store_reader import SessionReader
from chargeassist.session.record.zipped import ZippedPackage, is_zip
from chargeassist.session.whole_file import expect_folder, partial_name

__all__ = ["PackageReader", "open_record", "write_package"]


def open_record(path: Path) -> SessionReader | PackageReader:
    """Return a reader of `path`: a session file, a package folder, its descriptor, or its ZIP file.

    Raises
    ------
    RecordError
        If it is missing or neither of them.
    """
    try:
        return _opened(path)
    except (OSError, ValueError) as exc:  # a name too long, or with a zero byte in it
        raise RecordError(f"{plain(str(path), 200)}: cannot be opened ({plain(str(exc))})") from exc


def _opened(path: Path) -> SessionReader | PackageReader:
    if path.name == DESCRIPTOR:
        return PackageReader(path.parent)
    if path.is_dir():
        return PackageReader(path)
    if not path.exists():
        raise RecordError(
            f"{path}: nothing is there; expected a session file, a package folder "
            f"(one that holds {DESCRIPTOR}) or its ZIP file"
        )
    if not path.is_file():
        raise RecordError(f"{path}: expected a file or a folder, got a device or a pipe")
    if is_zip(path):
        return ZippedPackage(path)
    return SessionReader(path)


def write_package(
    events: Iterable[Event],
    folder: Path,
    *,
    chain_head: str = "",
    attachments: Sequence[Attachment] = (),
    about_archive: Mapping[str, object] | None = None,
) -> None:
    """Write `events` to the new folder `folder`; it appears whole or not at all.

    Parameters
    ----------
    events : iterable of Event
        A session from its start; one that has no end yet may be written too.
    folder : Path
        Must not exist or be empty.
    chain_head : str
        Hash of the last commit of the session file they came from, kept for reference.
    attachments : sequence of Attachment
        Further files, named in the descriptor after the tables.
    about_archive : mapping, optional
        What an archive says of itself in the descriptor.

    Raises
    ------
    ConfigError
        If there is no folder for it to stand in; see `expect_folder`.
    RecordError
        If the folder is not empty or cannot be written, the first event is not the start of a
        session with a readable job, a reading's channel was not declared, or an event cannot be
        recorded.
    """
    if not folder.name:  # ".", or the root of a disk
        raise RecordError(f"{folder}: expected the name of a folder to make")
    expect_folder(folder)
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise RecordError(f"{folder}: expected a new or an empty folder; choose another name")
        partial = partial_name(folder)
        partial.mkdir()
        try:
            _write(events, partial, chain_head, attachments, about_archive)
            if folder.exists():
                folder.rmdir()
            partial.rename(folder)
        except BaseException:
            shutil.rmtree(partial, ignore_errors=True)
            raise
    except OSError as exc:
        raise RecordError(
            f"{folder}: cannot be written ({exc.strerror or exc}); "
            "choose a folder with room that you may write to"
        ) from exc


def _write(
    events: Iterable[Event],
    folder: Path,
    chain_head: str,
    attachments: Sequence[Attachment],
    about_archive: Mapping[str, object] | None,
) -> None:
    with ExitStack() as stack:
        tables = {name: stack.enter_context(_Table(folder, name)) for name in COLUMNS}
        started = None
        digest = None
        channels: dict[str, Channel] = {}
        for seq, event in enumerate(events, 1):
            row = row_of(seq, event)
            if digest is None:
                started = _first(event, folder)
                digest = RowsDigest(started.session_id)
            if isinstance(event, ChannelDeclared):
                channels[event.channel.name] = event.channel
            if isinstance(row, ReadingRow) and row.channel not in channels:
                raise RecordError(f"row {seq}: channel {row.channel!r} was never declared")
            digest.add(row)
            tables[READINGS if isinstance(row, ReadingRow) else EVENTS].add(_fields(row))
        if started is None or digest is None:
            raise RecordError("there is nothing to write: no events came")
        for channel in channels.values():
            tables[CHANNELS].add(channel_fields(channel))
    text = descriptor_text(
        started,
        {name: table.size_and_hash for name, table in tables.items()},
        rows_sha256=digest.hexdigest(),
        rows={name: table.rows for name, table in tables.items()},
        chain_head=chain_head,
        attachments=attachments,
        about_archive=about_archive,
    )
    for attachment in attachments:
        (folder / attachment.path).write_bytes(attachment.data)
    (folder / DESCRIPTOR).write_bytes(text.encode())


def _first(event: Event, folder: Path) -> SessionStarted:
    if not isinstance(event, SessionStarted):
        raise RecordError(
            f"{folder}: expected the start of a session as first event, got {type(event).__name__}"
        )
    job_from_json(event.job)
    return event


def _fields(row: Row) -> tuple[str, ...]:
    if isinstance(row, EventRow):
        return (str(row.seq), repr(row.t), row.kind, row.body)
    device = "" if row.device_time is None else repr(row.device_time)
    return (repr(row.t), str(row.seq), row.channel, repr(row.value), row.quality, device)


class _Table:
    """One CSV file being written, with its size and hash as it grows."""

    def __init__(self, folder: Path, name: str) -> None:
        self.rows = 0
        self._bytes = 0
        self._hash = hashlib.sha256()
        self._file = (folder / f"{name}.csv").open("wb")
        self._csv = csv.writer(self, lineterminator="\n")
        self._csv.writerow(COLUMNS[name])

    def write(self, text: str) -> None:
        """Take a line from the CSV writer."""
        data = text.encode()
        self._bytes += len(data)
        self._hash.update(data)
        self._file.write(data)

    def add(self, fields: tuple[str, ...]) -> None:
        """Write a row."""
        self.rows += 1
        self._csv.writerow(fields)

    @property
    def size_and_hash(self) -> tuple[int, str]:
        """Size [bytes] and SHA-256 [hexadecimal]."""
        return self._bytes, self._hash.hexdigest()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()
