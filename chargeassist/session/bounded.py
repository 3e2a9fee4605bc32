"""Read a file that somebody named, and no more of it than such a file holds."""

import re
from pathlib import Path

from chargeassist.model.errors import ConfigError
from chargeassist.model.text import without_credentials


def file_bytes(path: Path, what: str, limit: int) -> bytes:
    """Return the content of the plain file at `path`.

    A pipe would be waited for and a device read without end, so neither is opened.

    Parameters
    ----------
    path : Path
    what : str
        It should be, with its article; stands in errors.
    limit : int
        Largest size [bytes].

    Raises
    ------
    ConfigError
        If it cannot be read, is no plain file, or is larger.
    """
    try:
        if path.exists() and not path.is_file():
            raise ConfigError(f"{path}: expected {what}, got a folder, a device or a pipe")
        with path.open("rb") as file:
            data = file.read(limit + 1)
    except OSError as error:
        raise ConfigError(f"{_shown(path)}: cannot be read: {error.strerror or error}") from error
    except ValueError as error:  # a name with a zero byte in it
        raise ConfigError(f"{str(path)!r}: expected {what}, got no name of a file") from error
    if len(data) > limit:
        raise ConfigError(f"{path}: expected {what} of at most {limit // 1024} KiB, got more")
    return data


_ADDRESS = re.compile(r"[a-z][a-z0-9+.-]*:/[^/].*@")


def _shown(path: Path) -> str:
    """Return a name for a message; of an address in its place not what stands before the "@"."""
    name = str(path)
    return without_credentials(name) if _ADDRESS.match(name) else name
