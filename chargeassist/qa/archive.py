"""Archive a session: a Data Package that can be trusted, and read, years later without us.

Beside the tables every package has, an archive holds the job and the limits as used, the end of
each commit of the session file (so that its hash chain can be computed again from the tables), and
a seal over all of it. It is written once: a mistake is corrected by a new archive, which names the
one it supersedes, and why.
"""

import contextlib
import errno
import os
import shutil
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from chargeassist.model.build import software
from chargeassist.model.errors import ConfigError, RecordDamagedError, RecordError
from chargeassist.model.events import SessionMode
from chargeassist.model.text import plain
from chargeassist.qa.archive_files import commits_file, job_file, limits_file
from chargeassist.qa.seal import SIGNATURE, SIGNER, SUMS, check_seal, sealed_as, sums_text
from chargeassist.qa.sshsig import public_line, sign
from chargeassist.qa.zipping import zip_folder
from chargeassist.session.record.package import open_record, write_package
from chargeassist.session.record.package_layout import Attachment
from chargeassist.session.record.package_reader import PackageReader
from chargeassist.session.record.store_reader import SessionReader
from chargeassist.session.record.store_schema import sync_folder
from chargeassist.session.record.zipped import SUFFIX as ZIP
from chargeassist.session.whole_file import expect_folder, give_new_name

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

LONGEST_REASON = 400


@dataclass(frozen=True, slots=True)
class Signer:
    """Who signs: a private key and the name it is known by."""

    name: str
    key: "Ed25519PrivateKey"


@dataclass(frozen=True, slots=True)
class Supersedes:
    """The archive that a new one supersedes, and why."""

    path: Path
    reason: str


def make_archive(
    session: Path,
    target: Path,
    *,
    signer: Signer | None = None,
    supersedes: Supersedes | None = None,
    unfinished: bool = False,
    more: Callable[[SessionReader | PackageReader], Sequence[Attachment]] | None = None,
) -> str:
    """Archive the record `session` as `target` and return the hash that stands for the archive.

    Parameters
    ----------
    session : Path
        A session file, a package folder or its ZIP file.
    target : Path
        A new folder, or a new file that ends in ".zip".
    signer : Signer, optional
    supersedes : Supersedes, optional
    unfinished : bool
        Whether a session without an end may be archived.
    more : callable, optional
        Makes further files to seal in, such as a report, of the record as it is archived.

    Raises
    ------
    ConfigError
        If the target exists, the folder it is to stand in does not, or what is superseded is no
        archive of the same session.
    RecordError
        If the session cannot be read, has no end, contradicts its own hashes, or the target cannot
        be written.
    """
    if target.exists() or target.is_symlink():
        raise ConfigError(
            f"{target}: an archive is never overwritten; choose another name, and if it supersedes "
            "that one say so: --supersedes OLD --reason WHY"
        )
    expect_folder(target)
    with open_record(session) as record:
        if isinstance(record, SessionReader):
            record.freeze()  # of one that runs on: rows, commits and their head of one moment
        _check_whole(record, unfinished=unfinished)
        about = _about(record, supersedes)
        files = [job_file(record.started.job), limits_file(record.job)]
        ends = record.commit_ends()
        if ends:
            files.append(commits_file(ends))
        if more is not None:
            files += more(record)
        try:
            with tempfile.TemporaryDirectory(
                prefix=f".{target.name}.", suffix=".partial", dir=target.parent
            ) as name:
                folder = Path(name) / "archive"
                write_package(
                    record.events(),
                    folder,
                    chain_head=record.chain_head,
                    attachments=files,
                    about_archive=about,
                )
                digest = _seal(folder, signer)
                _put(folder, target, Path(name))
        except OSError as exc:
            raise RecordError(
                f"{target}: cannot be written ({exc.strerror or exc}); "
                "choose a place with room that you may write to"
            ) from exc
    return digest


def _check_whole(record: SessionReader | PackageReader, *, unfinished: bool) -> None:
    report = record.verify()
    problems = report.problems or _broken_seal(record)
    if problems:
        raise RecordDamagedError(
            f"{record.path}: contradicts itself and is not sealed as if it were whole: "
            + "; ".join(problems)
        )
    if not report.finished and not unfinished:
        # A simulated unit does not outlive its session, so there is nothing to resume.
        field = record.started.mode is SessionMode.FIELD
        go_on = "resume it (live --resume), wait for it, " if field else ""
        raise RecordError(
            f"{record.path}: the session has no end; {go_on}"
            f"{'or ' if field else ''}archive it as it is with --unfinished"
        )


def _broken_seal(record: SessionReader | PackageReader) -> tuple[str, ...]:
    """Return what is wrong with the seal of an archive that is archived again."""
    if not isinstance(record, PackageReader):
        return ()
    if not record.about_archive and not (record.folder / SUMS).exists():
        return ()
    return check_seal(record.folder).problems


def _about(
    record: SessionReader | PackageReader, supersedes: Supersedes | None
) -> dict[str, object]:
    about: dict[str, object] = {"made_by": software()}
    if supersedes is None:
        return about
    reason = plain(supersedes.reason.strip(), LONGEST_REASON)
    if not reason:
        raise ConfigError("expected the reason why an archive is superseded, got none")
    with open_record(supersedes.path) as old:
        digest = sealed_as(old.folder) if isinstance(old, PackageReader) else ""
        if not digest:
            raise ConfigError(f"{supersedes.path}: expected an archive ({SUMS} in it), found none")
        if old.started.session_id != record.started.session_id:
            raise ConfigError(
                f"{supersedes.path}: holds another session than {record.path}; "
                "an archive supersedes one of the same session"
            )
    return {**about, "supersedes": digest, "reason": reason}


def _seal(folder: Path, signer: Signer | None) -> str:
    if signer is not None:
        public = signer.key.public_key().public_bytes_raw()
        (folder / SIGNER).write_bytes(public_line(public, signer.name).encode())
    sums = sums_text(folder).encode()
    (folder / SUMS).write_bytes(sums)
    if signer is not None:
        (folder / SIGNATURE).write_bytes(sign(sums, signer.key).encode())
    return sealed_as(folder)


def _put(folder: Path, target: Path, room: Path) -> None:
    """Give the finished archive its name, or raise if someone took it meanwhile.

    It is on the disk by then: who has an archive may delete the session file.
    """
    if target.suffix.lower() != ZIP:
        if target.exists():
            raise FileExistsError(errno.EEXIST, "it exists by now", str(target))
        for path in folder.iterdir():
            _sync(path)
        sync_folder(folder)
        folder.rename(target)
    else:
        packed = room / "archive.zip"
        zip_folder(folder, packed)
        shutil.rmtree(folder)
        _sync(packed)
        give_new_name(packed, target)
    with contextlib.suppress(OSError):  # a folder one may write to and not look into
        sync_folder(target.absolute().parent)


def _sync(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())
