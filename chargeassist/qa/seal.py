"""The seal of an archive: one list of SHA-256 over all its files, and a signature over the list.

``SHA256SUMS`` is what coreutils writes: ``sha256sum -c SHA256SUMS`` checks an archive without this
program. ``SHA256SUMS.sig`` is an OpenSSH signature of it, ``signer.pub`` the key that made it.
"""

import hashlib
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.text import plain
from chargeassist.qa.sshsig import public_of_line, signer_of
from chargeassist.session.record.package_reader import MAX_TABLE_BYTES, regular_file
from chargeassist.session.record.zipped import MOST_FILES

SUMS = "SHA256SUMS"
SIGNATURE = "SHA256SUMS.sig"
SIGNER = "signer.pub"
_MOST_BYTES = 100_000


class Signed(StrEnum):
    """How a signature stands."""

    NOT = "none"
    VALID = "valid"
    NOT_VALID = "not valid"
    NOT_CHECKED = "not checked"


@dataclass(frozen=True, slots=True, kw_only=True)
class SealCheck:
    """What checking a seal found.

    Attributes
    ----------
    sha256 : str
        Of the list [hexadecimal]: it stands for the whole archive; "" where there is no list.
    signed : Signed
    signer : bytes or None
        Raw public key of who signed; None unless the signature is valid.
    problems : tuple of str
    """

    sha256: str
    signed: Signed = Signed.NOT
    signer: bytes | None = None
    problems: tuple[str, ...] = ()


def sums_text(folder: Path) -> str:
    """Return the list of hashes of all files in `folder`, but for the list and its signature.

    Raises
    ------
    RecordError
        If anything but plain files of bounded size stands there.
    OSError
    """
    names = sorted(p.name for p in folder.iterdir() if p.name not in (SUMS, SIGNATURE))
    if len(names) > MOST_FILES:
        raise RecordError(f"{folder}: expected at most {MOST_FILES} files, found {len(names)}")
    return "".join(
        f"{_sha256(regular_file(folder, name, MAX_TABLE_BYTES))}  {name}\n" for name in names
    )


def sealed_as(folder: Path) -> str:
    """Return the hash that stands for the archive in `folder` [hexadecimal]; "" for a package."""
    path = folder / SUMS
    return hashlib.sha256(_short(path)).hexdigest() if path.is_file() else ""


def check_seal(folder: Path) -> SealCheck:
    """Compare every file of `folder` with the list, and the list with its signature."""
    if not (folder / SUMS).is_file():
        return SealCheck(sha256="", problems=(f"{SUMS} is missing: nothing covers the whole",))
    try:
        listed = _short(folder / SUMS)
        problems = _differences(listed, folder)
        signed, signer, more = _check_signature(listed, folder)
    except (OSError, RecordError) as exc:
        return SealCheck(sha256="", problems=(str(exc),))
    digest = hashlib.sha256(listed).hexdigest()
    return SealCheck(sha256=digest, signed=signed, signer=signer, problems=(*problems, *more))


def _differences(listed: bytes, folder: Path) -> list[str]:
    found = sums_text(folder)
    if listed == found.encode():
        return []
    said = _entries(listed.decode("utf-8", "replace"))
    there = _entries(found)
    problems = [f"{name}: is listed in {SUMS} and missing" for name in said if name not in there]
    problems += [f"{name}: is not listed in {SUMS}" for name in there if name not in said]
    problems += [
        f"{name}: its content does not match its hash"
        for name in there
        if name in said and said[name] != there[name]
    ]
    return problems or [f"{SUMS} is not as it was written"]


def _entries(text: str) -> dict[str, str]:
    pairs = (line.partition("  ") for line in text.splitlines())
    return {plain(name, 80): digest for digest, _, name in pairs}


def _check_signature(listed: bytes, folder: Path) -> tuple[Signed, bytes | None, list[str]]:
    there = [name for name in (SIGNATURE, SIGNER) if (folder / name).is_file()]
    if not there:
        return Signed.NOT, None, []
    if len(there) == 1:
        problem = f"the signature is not whole: only {there[0]} is there"
        return Signed.NOT_VALID, None, [problem]
    try:
        public, _ = public_of_line(_short(folder / SIGNER).decode())
        signer = signer_of(listed, _short(folder / SIGNATURE).decode())
    except (RecordError, UnicodeDecodeError) as exc:
        return Signed.NOT_VALID, None, [f"signature: {exc}"]
    except ConfigError as exc:
        return Signed.NOT_CHECKED, None, [f"the signature was not checked: {exc}"]
    if public != signer:
        return Signed.NOT_VALID, None, [f"{SIGNER} is not the key that signed"]
    return Signed.VALID, signer, []


def _short(path: Path) -> bytes:
    data = regular_file(path.parent, path.name, _MOST_BYTES).read_bytes()
    if not data:
        raise RecordError(f"{path.name}: expected 1 to {_MOST_BYTES} bytes")
    return data


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
