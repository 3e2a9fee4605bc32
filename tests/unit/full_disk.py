"""A disk that fills up: no file of this process can become longer."""

import resource
import signal
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def full_disk(room_bytes: int) -> Iterator[None]:
    """Let every file end after so many bytes, as on a disk that is full."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room_bytes, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, handler)
