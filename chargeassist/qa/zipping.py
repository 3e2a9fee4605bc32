"""One ZIP file of an archive: the same content gives the same bytes, and every byte counts.

The comment at its end is a SHA-256 over all bytes before the comment: a ZIP has bytes that no
reader looks at, and a flipped one is to be found all the same.
"""

import hashlib
import shutil
import zipfile
from pathlib import Path

from chargeassist.session.record.package_layout import DESCRIPTOR

_WHEN = (1980, 1, 1, 0, 0, 0)
_WORD = b"sha256 "
_COMMENT_BYTES = len(_WORD) + 64
_MODE = 0o100644 << 16
_HUGE = 2**31


def zip_folder(folder: Path, path: Path) -> None:
    """Write the files of `folder` into the new ZIP file `path`; raises OSError."""
    names = sorted((p.name for p in folder.iterdir()), key=lambda n: (n != DESCRIPTOR, n))
    with zipfile.ZipFile(path, "x") as archive:
        for name in names:
            info = zipfile.ZipInfo(name, _WHEN)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.create_system = 3
            info.external_attr = _MODE
            info.file_size = (folder / name).stat().st_size
            # Python keeps the level of a single member under this name from 3.7 on.
            info._compresslevel = 9  # type: ignore[attr-defined]  # noqa: SLF001
            with (
                (folder / name).open("rb") as file,
                archive.open(info, "w", force_zip64=info.file_size > _HUGE) as member,
            ):
                shutil.copyfileobj(file, member, 1 << 20)
        archive.comment = b" " * _COMMENT_BYTES
    size = path.stat().st_size - _COMMENT_BYTES
    with path.open("r+b") as file:
        digest = _digest(path, size)
        file.seek(size)
        file.write(_WORD + digest.encode())


def zip_problems(path: Path) -> tuple[str, ...]:
    """Return what is wrong with the bytes of the ZIP file `path`; raises OSError."""
    size = path.stat().st_size - _COMMENT_BYTES
    if size < 0:
        return (f"{path.name}: it is cut off",)
    with path.open("rb") as file:
        file.seek(size)
        comment = file.read()
    if not comment.startswith(_WORD):
        return (f"{path.name}: the hash at its end is missing; was it zipped anew or cut off?",)
    if comment[len(_WORD) :].decode("ascii", "replace") != _digest(path, size):
        return (f"{path.name}: its bytes do not match the hash at its end",)
    return ()


def _digest(path: Path, size: int) -> str:
    digest = hashlib.sha256()
    left = size
    with path.open("rb") as file:
        while left and (data := file.read(min(left, 1 << 20))):
            digest.update(data)
            left -= len(data)
    return digest.hexdigest()
