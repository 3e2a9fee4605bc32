"""A file written whole or not at all: one that was cut off looks like a whole one.

Where results may go is one rule for every command: it makes the file or the folder that it is told
to write, never the folder that one stands in. A name with a slip in it would put a record where
nobody looks for it. The program's own folders for data and settings it makes as they are needed.
"""

import contextlib
import errno
import os
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain


def expect_folder(path: Path) -> None:
    """Refuse a file or folder to be made in a folder that is not there.

    Raises
    ------
    ConfigError
        Told before the work, not after it.
    """
    folder = path.absolute().parent
    if not folder.is_dir():
        raise ConfigError(
            f"{plain(str(path), 200)}: expected a name in a folder that is there; there is no "
            f"folder {plain(str(folder), 200)}: make it, or look for a slip in the name"
        )


def write_whole(path: Path, data: bytes, *, new: bool = False) -> None:
    """Write `data` by way of a file beside `path`, which is gone afterwards.

    Parameters
    ----------
    path : Path
        A file that stands there keeps its mode.
    data : bytes
    new : bool
        Whether nothing may stand there yet.

    Raises
    ------
    OSError
        It cannot be written; what was there before is as it was. `FileExistsError` where a new one
        was wanted and one stands there.
    """
    with partial_of(path) as partial:
        with partial.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if new:
            give_new_name(partial, path)
        else:
            if path.exists():
                shutil.copymode(path, partial)
            partial.replace(path)


def partial_name(path: Path) -> Path:
    """Return a name beside `path` that nobody else has.

    The number of the process would not do: in a container every run has the same, and what a run
    that was killed has left would be in the way of all that follow.
    """
    return path.with_name(f".{path.name}.{uuid.uuid4().hex[:12]}.partial")


@contextmanager
def partial_of(path: Path) -> Iterator[Path]:
    """Give a name beside `path` to write under; what stands there at the end is removed."""
    partial = partial_name(path)
    try:
        yield partial
    finally:
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)


def give_new_name(partial: Path, path: Path) -> None:
    """Give the finished file `partial` the name `path`, under which nothing may stand.

    Raises
    ------
    FileExistsError
        Something stands there, be it only by now.
    OSError
        It cannot be given.
    """
    try:
        os.link(partial, path)  # refuses, in one step, where the name is taken
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if path.exists():
            raise FileExistsError(errno.EEXIST, "it exists by now", str(path)) from None
        partial.rename(path)
