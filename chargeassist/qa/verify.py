"""Whether a record is what was recorded: whole, unchanged, signed by whom, without holes.

Nothing here recomputes a verdict; `chargeassist.qa.rescore` does. What contradicts is a problem;
what the record itself says was missing is a note.
"""

import itertools
import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from chargeassist.model.build import software
from chargeassist.model.errors import RecordError
from chargeassist.model.events import SessionStarted
from chargeassist.model.text import cell
from chargeassist.qa.archive_files import (
    JOB,
    LIMIT_COLUMNS,
    LIMIT_WORDS,
    LIMITS,
    job_file,
    limit_rows,
)
from chargeassist.qa.continuity import Continuity
from chargeassist.qa.keys import KnownKey
from chargeassist.qa.seal import SUMS, Signed, check_seal
from chargeassist.qa.sshsig import fingerprint
from chargeassist.qa.zipping import zip_problems
from chargeassist.session.record.package import open_record
from chargeassist.session.record.package_layout import (
    CHANNELS,
    COLUMNS,
    channel_fields,
)
from chargeassist.session.record.package_reader import (
    MAX_TABLE_BYTES,
    PackageReader,
    regular_file,
    table_rows,
)
from chargeassist.session.record.store_reader import SessionReader
from chargeassist.session.record.zipped import SUFFIX as ZIP
from chargeassist.session.record.zipped import is_zip


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """The answers.

    Attributes
    ----------
    kind : str
        "session file", "package" or "archive".
    started : SessionStarted or None
        None when not even that can be read.
    complete : bool
        Whether the record ends in the end of the session.
    problems : tuple of str
        What contradicts; empty when nothing does.
    gaps, clock_steps : tuple of str
        What the record itself says was missing or jumped.
    chain : str
        "whole", "broken", or why there is none.
    sealed_as : str
        Hash that stands for the archive; "" where it is none.
    signature : str
        In words: by whom, or that there is none.
    signed_by : str
        Name of the known key whose valid signature it has; "" otherwise.
    supersedes, reason : str
        Hash of the archive this one supersedes, and why; empty for most.
    rows : int
    """

    kind: str
    started: SessionStarted | None = None
    complete: bool = False
    problems: tuple[str, ...] = ()
    gaps: tuple[str, ...] = ()
    clock_steps: tuple[str, ...] = ()
    chain: str = ""
    sealed_as: str = ""
    signature: str = Signed.NOT.value
    signed_by: str = ""
    supersedes: str = ""
    reason: str = ""
    rows: int = 0

    @property
    def ok(self) -> bool:
        """Whether nothing contradicts anything and the record has its end."""
        return self.complete and not self.problems


def verify(path: Path, known: Sequence[KnownKey] = ()) -> Verification:
    """Check the record at `path`; what is wrong is in the answer, never raised.

    Parameters
    ----------
    path : Path
        A session file, a package folder, or an archive in either form.
    known : sequence of KnownKey
        Keys whose owners are known.

    Raises
    ------
    RecordError
        If nothing is there.
    """
    if not path.exists():
        raise RecordError(f"{path}: nothing is there; expected a session file or an archive")
    problems: list[str] = []
    try:
        if path.is_file() and (path.suffix.lower() == ZIP or is_zip(path)):
            problems += zip_problems(path)
        with open_record(path) as record:
            return verify_opened(record, known, problems)
    except (RecordError, OSError) as exc:
        return Verification(kind="unreadable", problems=(*problems, str(exc)))


def verify_opened(
    record: SessionReader | PackageReader,
    known: Sequence[KnownKey] = (),
    problems: Sequence[str] = (),
) -> Verification:
    """Check a record that is open already; of a ZIP, what is in it.

    Parameters
    ----------
    record : SessionReader or PackageReader
    known : sequence of KnownKey
        Keys whose owners are known.
    problems : sequence of str
        What was found wrong with it before.

    Raises
    ------
    RecordError, OSError
        If it cannot be read.
    """
    if isinstance(record, SessionReader):
        return _verify_session(record)
    return _verify_package(record, known, [*problems])


def _verify_session(record: SessionReader) -> Verification:
    holes = Continuity()
    report = record.verify(holes.see)
    holes.finish()
    return Verification(
        kind="session file",
        started=record.started,
        complete=report.finished,
        problems=report.problems,
        gaps=(*holes.gaps, *report.notes),
        clock_steps=tuple(holes.clock_steps),
        chain=report.chain,
        rows=report.rows,
    )


def _verify_package(
    record: PackageReader, known: Sequence[KnownKey], problems: list[str]
) -> Verification:
    about = record.about_archive
    archived = bool(about) or (record.folder / SUMS).exists()
    sealed_as, signature, signed_by = "", Signed.NOT.value, ""
    if archived:
        seal = check_seal(record.folder)
        problems += seal.problems
        sealed_as, signature = seal.sha256, seal.signed.value
        if seal.signer is not None:
            whose = next((key for key in known if key.public == seal.signer), None)
            signed_by = "" if whose is None else whose.name
            signature = f"valid, by {_told(seal.signer, whose)}"
    holes = Continuity()
    report = record.verify(holes.see)
    holes.finish()
    problems += report.problems
    problems += _beside(record)
    return Verification(
        kind="archive" if archived else "package",
        started=record.started,
        complete=report.finished,
        problems=tuple(dict.fromkeys(problems)),
        gaps=tuple(holes.gaps),
        clock_steps=tuple(holes.clock_steps),
        chain=report.chain,
        sealed_as=sealed_as,
        signature=signature,
        signed_by=signed_by,
        supersedes=str(about.get("supersedes", "")),
        reason=str(about.get("reason", "")),
        rows=report.rows,
    )


def _told(public: bytes, key: KnownKey | None) -> str:
    mark = fingerprint(public)
    if key is None:
        return f"a key that is not among those you trust ({mark})"
    return f"{key.name} ({'your own key' if key.own else 'a key you trust'}, {mark})"


def _beside(record: PackageReader) -> list[str]:
    """Compare the tables that repeat what the rows say with the rows.

    Those under the usual names, and those the descriptor names, which other programs read.
    """
    problems = []
    try:
        for name, (usual, agrees, whose) in _REPEATED.items():
            there = {usual} if (record.folder / usual).is_file() else set()
            # Another program may have put a "job" of its own into a package.
            if name in record.files and (name == CHANNELS or record.about_archive):
                there.add(record.files[name].relative_to(record.folder).as_posix())
            problems += [
                f"{file}: does not agree with the {whose}"
                for file in sorted(there)
                if not agrees(record, file)
            ]
    except (RecordError, OSError, ValueError, RecursionError) as exc:
        told = str(exc).replace(f"{record.folder}{os.sep}", "")  # of a ZIP, where it was unpacked
        problems.append(f"the tables beside the rows cannot be read: {told}")
    return problems


def _channels_agree(record: PackageReader, name: str) -> bool:
    """Return whether the table of channels is that of `record`; reads no further than it is."""
    path = regular_file(record.folder, name, MAX_TABLE_BYTES)
    found = table_rows(path, COLUMNS[CHANNELS], tuple)
    expected = (channel_fields(channel) for channel in record.channels)
    return all(one == other for one, other in itertools.zip_longest(found, expected))


def _job_agrees(record: PackageReader, name: str) -> bool:
    expected = job_file(record.started.job).data
    # Twice as long: a job may be written with other blanks.
    data = regular_file(record.folder, name, 2 * len(expected) + 65_536).read_bytes()
    return bool(json.loads(data) == json.loads(expected))


def _limits_agree(record: PackageReader, name: str) -> bool:
    """Return whether the table of limits is that of the job, but for another version's words."""
    path = regular_file(record.folder, name, MAX_TABLE_BYTES)
    own_words = record.about_archive.get("made_by") == software()
    columns = tuple(c for c in LIMIT_COLUMNS if own_words or c not in LIMIT_WORDS)
    places = [LIMIT_COLUMNS.index(column) for column in columns]
    found = table_rows(path, columns, tuple)
    expected = (tuple(cell(row[place]) for place in places) for row in limit_rows(record.job))
    return all(one == other for one, other in itertools.zip_longest(found, expected))


_REPEATED = {
    CHANNELS: (f"{CHANNELS}.csv", _channels_agree, "channels the session declared"),
    "job": (JOB, _job_agrees, "job of the session"),
    "limits": (LIMITS, _limits_agree, "job of the session"),
}
"""By the name of the resource: its usual file, how it is compared, and with what."""
