"""A log whose last write was cut off is told from a whole one, byte by byte.

The format is SQLite's own (sqlite.org/fileformat2.html, section 4); SQLite writes the logs here.
"""

import random
import sqlite3
import struct
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from chargeassist.session.record.write_ahead import bytes_cut_off

HEADER, FRAME = 32, 24 + 4096


@pytest.fixture
def live(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A database whose log has three commits of one page each."""
    with closing(sqlite3.connect(tmp_path / "a.db", isolation_level=None)) as database:
        database.execute("PRAGMA page_size=4096")
        database.execute("CREATE TABLE a(b)")
        database.execute("PRAGMA journal_mode=WAL")
        for number in range(3):
            database.execute("INSERT INTO a VALUES (?)", (number,))
        yield database


def rows(folder: Path, log: bytes) -> int:
    """Return how many rows SQLite finds with this log."""
    place = folder / "copy"
    place.mkdir(exist_ok=True)
    (place / "a.db").write_bytes((folder / "a.db").read_bytes())
    (place / "a.db-wal").write_bytes(log)
    with closing(sqlite3.connect(place / "a.db")) as database:
        (count,) = database.execute("SELECT count(*) FROM a").fetchone()
    return int(count)


def cut_off(folder: Path, log: bytes) -> int:
    (folder / "b-wal").write_bytes(log)
    return bytes_cut_off(folder / "b-wal")


def test_whole_missing_and_empty_logs(live: sqlite3.Connection, tmp_path: Path) -> None:
    log = (tmp_path / "a.db-wal").read_bytes()
    assert len(log) == HEADER + 3 * FRAME
    assert bytes_cut_off(tmp_path / "a.db-wal") == 0
    assert bytes_cut_off(tmp_path / "none") == 0
    assert cut_off(tmp_path, b"") == 0


def test_cut_anywhere_it_says_what_sqlite_passes_over(
    live: sqlite3.Connection, tmp_path: Path
) -> None:
    log = (tmp_path / "a.db-wal").read_bytes()
    chance = random.Random(3)
    places = {1, 31, HEADER, HEADER + 1, HEADER + 24, HEADER + FRAME, HEADER + FRAME + 23}
    for at in places | {chance.randrange(len(log)) for _ in range(20)}:
        whole = max(0, (at - HEADER) // FRAME)
        assert rows(tmp_path, log[:at]) == whole
        assert cut_off(tmp_path, log[:at]) == (at - HEADER - whole * FRAME if at >= HEADER else at)


def test_a_spoilt_sector_ends_what_is_whole(live: sqlite3.Connection, tmp_path: Path) -> None:
    log = bytearray((tmp_path / "a.db-wal").read_bytes())
    log[HEADER + FRAME + 2000] ^= 1
    assert rows(tmp_path, bytes(log)) == 1
    assert cut_off(tmp_path, bytes(log)) == FRAME, "up to where its sums are wrong"
    log[3] ^= 1
    assert rows(tmp_path, bytes(log)) == 0
    assert cut_off(tmp_path, bytes(log)) == len(log)


def test_a_transaction_that_was_not_committed_counts(
    live: sqlite3.Connection, tmp_path: Path
) -> None:
    live.execute("PRAGMA cache_size=1")
    live.execute("BEGIN")
    for number in range(2000):
        live.execute("INSERT INTO a VALUES (?)", ("x" * 100 + str(number),))
    log = (tmp_path / "a.db-wal").read_bytes()
    assert len(log) > HEADER + 10 * FRAME
    assert rows(tmp_path, log) == 3
    assert cut_off(tmp_path, log) == len(log) - HEADER - 3 * FRAME
    live.execute("ROLLBACK")


def test_what_an_earlier_round_left_is_no_cut(live: sqlite3.Connection, tmp_path: Path) -> None:
    live.execute("PRAGMA wal_checkpoint(RESTART)")
    live.execute("INSERT INTO a VALUES (9)")
    log = (tmp_path / "a.db-wal").read_bytes()
    assert len(log) == HEADER + 3 * FRAME, "written over, not cut"
    assert rows(tmp_path, log) == 4
    assert cut_off(tmp_path, log) == 0


@pytest.mark.parametrize("size", [7, 4, 12, 256, 1000, 2**17])
def test_a_page_size_sqlite_does_not_have_is_no_log(tmp_path: Path, size: int) -> None:
    head = struct.pack(">6I", 0x377F0682, 3007000, size, 0, 1, 2)
    one = two = 0
    for first, second in struct.iter_unpack("<2I", head):
        one = (one + first + two) % 2**32
        two = (two + second + one) % 2**32
    log = head + struct.pack(">2I", one, two) + struct.pack(">6I", 1, 1, 1, 2, 0, 0) + b"x" * size
    assert cut_off(tmp_path, log) == len(log)
