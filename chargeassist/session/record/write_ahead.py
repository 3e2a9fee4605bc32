"""Whether SQLite's write-ahead log ends in a write that was cut off.

SQLite itself passes over such a write without a word. Whoever asks what a crash or a power cut cost
wants to know. The format is that of SQLite's "WAL file format" (sqlite.org/fileformat2.html,
section 4): a header of 32 bytes, then frames of 24 bytes and one page each, their checksums
running on from frame to frame; a frame with a page count ends a commit.
"""

import struct
from pathlib import Path

_HEADER = struct.Struct(">8I")
_FRAME = struct.Struct(">6I")
_MAGIC = {0x377F0682: "<", 0x377F0683: ">"}
_PAGE_SIZES = frozenset(2**power for power in range(9, 17))  # 512 to 65 536 bytes
_MASK = 0xFFFFFFFF


def bytes_cut_off(log: Path) -> int:
    """Return how many bytes of the log `log` belong to a write that never came to its end [byte].

    0 for a log that is missing, empty or whole. What an earlier round of the log left behind its
    present end is no cut.

    Raises
    ------
    OSError
        If it is there and cannot be read.
    """
    if not log.exists():
        return 0
    data = log.read_bytes()
    if len(data) < _HEADER.size:
        return len(data)
    magic, _, page_size, _, *salts, first, second = _HEADER.unpack_from(data)
    order = _MAGIC.get(magic)
    if (
        order is None
        or page_size not in _PAGE_SIZES
        or _summed(data[:24], order, (0, 0)) != (first, second)
    ):
        return len(data)
    size = _FRAME.size + page_size
    sums = (first, second)
    committed = end = at = _HEADER.size
    while at + _FRAME.size <= len(data):
        _, pages, *rest = _FRAME.unpack_from(data, at)
        if rest[:2] != salts:
            break  # of an earlier round
        end = min(at + size, len(data))
        sums = _summed(data[at : at + 8], order, sums)
        sums = _summed(data[at + _FRAME.size : end], order, sums) if end == at + size else (-1, -1)
        if list(sums) != rest[2:]:
            break
        at += size
        if pages:
            committed = at
    else:
        end = len(data)
    return end - committed


def _summed(data: bytes, order: str, before: tuple[int, int]) -> tuple[int, int]:
    """Return the two running checksums after `data`, whose length is a multiple of 8 bytes."""
    one, two = before
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for first, second in zip(words[::2], words[1::2], strict=True):
        one = (one + first + two) & _MASK
        two = (two + second + one) & _MASK
    return one, two
