"""A file written whole or not at all: one that was cut off looks like a whole one."""

import contextlib
import errno
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


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


@contextmanager
def partial_of(path: Path) -> Iterator[Path]:
    """Give a name beside `path` to write under; what stands there at the end is removed."""
    partial = path.with_name(f".{path.name}.{os.getpid()}.partial")
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
