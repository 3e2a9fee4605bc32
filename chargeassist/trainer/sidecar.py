"""Bookmarks and an instructor's notes: one file beside a recording, never in it.

The file is named after the recording, ``NAME.notes.json``, and belongs to its session: ::

    {"format": "chargeassist notes 1",
     "session_id": "a1a1...",              # of the recording it was made beside
     "entries": [{"t": 412.0, "kind": "bookmark", "text": "watch superheat here"}]}

``t`` is session time [s], ``kind`` is "bookmark" or "note". The file is written anew, whole or not
at all, with every entry; the recording is opened for reading only.
"""

from enum import StrEnum
from pathlib import Path
from typing import Final

import msgspec

from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.text import json_words, plain
from chargeassist.session.bounded import file_bytes
from chargeassist.session.whole_file import write_whole

FORMAT: Final = "chargeassist notes 1"
SUFFIX: Final = ".notes.json"
MOST: Final = 10_000
LONGEST: Final = 300
MOST_BYTES: Final = 16 * 2**20


class EntryKind(StrEnum):
    """A place to come back to, or something to say there."""

    BOOKMARK = "bookmark"
    NOTE = "note"


class Entry(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One bookmark or note at session time `t` [s]."""

    t: float
    kind: EntryKind
    text: str = ""


class _File(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    format: str
    session_id: str
    entries: tuple[Entry, ...] = ()


def sidecar_path(recording: Path) -> Path:
    """Return the file that belongs beside `recording`: a session file or a package folder."""
    place = recording.resolve()
    if place.name == "datapackage.json":
        place = place.parent
    return place.with_name(place.name + SUFFIX)


class Sidecar:
    """The entries beside one recording.

    Parameters
    ----------
    recording : Path
    session_id : str
        Of the recording.

    Raises
    ------
    RecordError
        There is such a file, and it cannot be read or belongs to another recording; it is left
        as it is.

    Attributes
    ----------
    path : Path
    entries : tuple of Entry
        By time.
    """

    def __init__(self, recording: Path, session_id: str) -> None:
        self.path = sidecar_path(recording)
        self._session_id = session_id
        self.entries = self._read()

    def add(self, entry: Entry) -> None:
        """Keep one more entry and write the file.

        Raises
        ------
        RecordError
            The file cannot be written; the entry is kept until the program ends.
        """
        if len(self.entries) >= MOST:
            raise RecordError(f"{self.path}: expected up to {MOST} entries; it is full")
        entry = Entry(entry.t, entry.kind, plain(entry.text, LONGEST))
        self.entries = tuple(sorted((*self.entries, entry), key=lambda each: each.t))
        self._write()

    def _read(self) -> tuple[Entry, ...]:
        if not self.path.exists():
            return ()
        try:
            text = file_bytes(self.path, "notes of this program", MOST_BYTES)
        except ConfigError as error:
            raise RecordError(str(error)) from error
        try:
            held = msgspec.json.decode(text, type=_File)
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
            raise RecordError(
                f"{self.path}: expected notes of this program, came something else: "
                f"{json_words(error)}; move the file away"
            ) from error
        if held.format != FORMAT:
            raise RecordError(f"{self.path}: expected {FORMAT!r}, got {plain(held.format, 40)!r}")
        if held.session_id != self._session_id:
            raise RecordError(
                f"{self.path}: these notes belong to another recording "
                f"(session {plain(held.session_id, 40)}, here it is {self._session_id}); "
                "move the file away"
            )
        if len(held.entries) > MOST:
            raise RecordError(f"{self.path}: expected up to {MOST} entries, got more")
        entries = (Entry(e.t, e.kind, plain(e.text, LONGEST)) for e in held.entries)
        return tuple(sorted(entries, key=lambda each: each.t))

    def _write(self) -> None:
        held = _File(FORMAT, self._session_id, self.entries)
        text = msgspec.json.format(msgspec.json.encode(held), indent=1) + b"\n"
        try:
            write_whole(self.path, text)
        except OSError as error:
            raise RecordError(
                f"{self.path}: cannot be written: {error.strerror}; what you noted is kept only "
                "until you leave"
            ) from error
