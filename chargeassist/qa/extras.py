"""What a technician's install leaves out, asked for only where it is needed."""

from collections.abc import Iterator
from contextlib import contextmanager

from chargeassist.model.errors import ConfigError


@contextmanager
def extra(name: str, purpose: str) -> Iterator[None]:
    """Turn a failing import inside the block into a sentence that names the extra to install.

    Parameters
    ----------
    name : str
        Of the extra: "qa", "fleet".
    purpose : str
        What it is needed for: "signing".

    Raises
    ------
    ConfigError
        Instead of ImportError.
    """
    try:
        yield
    except ImportError as exc:
        raise ConfigError(
            f"{exc.name or 'a library'} is not installed, and is needed for {purpose}: "
            f"pip install 'chargeassist[{name}]' ('.[{name}]' from a clone)"
        ) from exc
