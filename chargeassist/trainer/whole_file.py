"""A small file written whole or not at all."""

import contextlib
import os
from pathlib import Path


def write_whole(path: Path, data: bytes) -> None:
    """Write a file by way of another beside it, which is gone afterwards.

    Raises
    ------
    OSError
        It cannot be written; what was there before is as it was.
    """
    partial = path.with_name(f".{path.name}.{os.getpid()}.partial")
    try:
        partial.write_bytes(data)
        partial.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            partial.unlink()
        raise
