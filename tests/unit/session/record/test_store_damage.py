"""A session file that was changed or damaged: what is found, and where."""

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from chargeassist.model.errors import RecordDamagedError, RecordError
from chargeassist.model.events import Event, SessionStarted
from chargeassist.session.record.store import SessionReader, SessionWriter
from chargeassist.session.record.store_schema import open_and_look
from tests.unit.session.record.laid_open import raw

CHANGES = {
    "value": "UPDATE readings SET value = value * (1 + 1e-15) WHERE seq = 60",
    "time": "UPDATE readings SET t = t + 1e-12 WHERE seq = 60",
    "channel": "UPDATE readings SET channel_id = 1 - channel_id WHERE seq = 60",
    "quality": "UPDATE readings SET quality = 2 WHERE seq = 60",
    "unknown quality": "UPDATE readings SET quality = 9 WHERE seq = 60",
    "device time": "UPDATE readings SET device_time = 5 WHERE seq = 61",
    "one reading gone": "DELETE FROM readings WHERE seq = 60",
    "one reading more": "INSERT INTO readings VALUES (9999, 3, 0, 1, 0, NULL)",
    "two swapped": (
        "UPDATE readings SET seq = 99999 WHERE seq = 60;"
        "UPDATE readings SET seq = 60 WHERE seq = 62;"
        "UPDATE readings SET seq = 62 WHERE seq = 99999"
    ),
    "channels renamed": "UPDATE channels SET name = 'other' WHERE id = 0",
    "qualities renamed": "UPDATE qualities SET name = 'fine' WHERE id = 0",
    "qualities gone": "DELETE FROM qualities",
    "mark": "UPDATE events SET body = replace(body, '0.11', '0.10') WHERE kind = 'mark'",
    "kind": "UPDATE events SET kind = 'unsettled' WHERE kind = 'settled'",
    "unreadable body": "UPDATE events SET body = '{' WHERE kind = 'mark'",
    "start": "UPDATE events SET body = replace(body, 'simulated', 'field') WHERE seq = 1",
    "session number": "UPDATE meta SET value = '0' WHERE key = 'session_id'",
    "commit hash": "UPDATE commits SET sha256 = zeroblob(32) WHERE n = 4",
    "commit time": "UPDATE commits SET t = t + 1e-9 WHERE n = 4",
    "commit cut": "UPDATE commits SET last_seq = last_seq - 1 WHERE n = 4",
    "commit gone": "DELETE FROM commits WHERE n = 4",
    "last commit gone": "DELETE FROM commits WHERE n = 10",
    "all commits gone": "DELETE FROM commits",
    "far commit": "INSERT INTO commits VALUES (11, 16, 9000000000000000000, zeroblob(32))",
}


@pytest.mark.parametrize("change", CHANGES)
def test_change_is_found(finished_file: Path, change: str) -> None:
    raw(finished_file, CHANGES[change])
    with SessionReader(finished_file) as reader:
        report = reader.verify()
    assert not report.ok
    assert all(p for p in report.problems)


def test_one_change_is_one_finding(finished_file: Path) -> None:
    raw(finished_file, CHANGES["value"])
    with SessionReader(finished_file) as reader:
        # Row 1 is commit 1, then come commits of 25 rows.
        assert reader.verify().problems == ("commit 4 (rows 52 to 76) does not match its hash",)


def test_tail_cut_off_cleanly_leaves_an_unfinished_session(finished_file: Path) -> None:
    # The chain cannot know what came after its last commit; that it has no end is what shows.
    raw(
        finished_file,
        "DELETE FROM commits WHERE n = 10;"
        "DELETE FROM events WHERE seq > (SELECT max(last_seq) FROM commits);"
        "DELETE FROM readings WHERE seq > (SELECT max(last_seq) FROM commits)",
    )
    with SessionReader(finished_file) as reader:
        report = reader.verify()
    assert report.ok
    assert not report.finished


def test_flipped_byte_is_found_or_touches_no_row(finished_file: Path, tmp_path: Path) -> None:
    # Bytes between the rows of a page, and the text of the tables' definitions, hold no row.
    with SessionReader(finished_file) as reader:
        rows = list(reader.rows())
    good = finished_file.read_bytes()
    random.seed(1)
    found = 0
    copy = tmp_path / "flipped.session"
    for place in random.sample(range(len(good)), 400):
        changed = bytearray(good)
        changed[place] ^= 1 << random.randrange(8)
        copy.write_bytes(changed)
        try:
            with SessionReader(copy) as reader:
                if reader.verify().ok:
                    assert list(reader.rows()) == rows, f"byte {place}"
                else:
                    found += 1
        except RecordError:
            found += 1
    assert found > 50


def test_every_flip_inside_a_row_is_found(finished_file: Path, tmp_path: Path) -> None:
    good = finished_file.read_bytes()
    text = b'"reason":"cable out"'
    start = good.index(text)
    for place in range(start, start + len(text)):
        for bit in range(8):
            changed = bytearray(good)
            changed[place] ^= 1 << bit
            copy = tmp_path / "flipped.session"
            copy.write_bytes(changed)
            with SessionReader(copy) as reader:
                assert not reader.verify().ok


@pytest.mark.parametrize("share", [0.3, 0.7, 0.99])
def test_truncated_file_is_found(finished_file: Path, share: float) -> None:
    data = finished_file.read_bytes()
    finished_file.write_bytes(data[: int(len(data) * share)])
    try:
        with SessionReader(finished_file) as reader:
            found = reader.verify().problems
    except RecordDamagedError as exc:
        found = (str(exc),)
    assert found


@pytest.mark.parametrize("table", ["readings", "events"])
def test_a_row_before_the_first_is_found(finished_file: Path, table: str) -> None:
    # No commit hashes it, and whoever counts by the table would count it.
    fields = {"readings": "t, channel_id, value, quality, device_time", "events": "t, kind, body"}
    raw(
        finished_file,
        f"INSERT INTO {table} SELECT -1, {fields[table]} FROM {table} ORDER BY seq DESC LIMIT 1",
    )
    with SessionReader(finished_file) as reader:
        assert any("belong to no commit" in problem for problem in reader.verify().problems)


def test_a_channel_nobody_declared_is_found(finished_file: Path) -> None:
    raw(finished_file, "INSERT INTO channels VALUES (77, 'ghost')")
    with SessionReader(finished_file) as reader:
        assert any("'ghost'" in problem for problem in reader.verify().problems)


@pytest.mark.parametrize(
    ("statement", "lost"),
    [
        ("DROP TRIGGER readings_no_UPDATE", "readings_no_UPDATE"),
        ("DROP VIEW readings_named", "readings_named"),
    ],
)
def test_a_guard_taken_away_is_found_though_every_row_is_whole(
    finished_file: Path, statement: str, lost: str
) -> None:
    with closing(sqlite3.connect(finished_file)) as db:
        db.execute(statement)
    with SessionReader(finished_file) as reader:
        (problem,) = reader.verify().problems
    assert f"its schema differs from the one written: {lost} missing" in problem


def test_a_link_to_an_interrupted_session_leads_to_its_log_too(
    tmp_path: Path,
    started: SessionStarted,
    middle: list[Event],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    alive = tmp_path / "alive.session"
    writer = SessionWriter.create(alive, started)
    for event in middle:
        writer.append(event)
    writer.commit()
    path, link = tmp_path / "left" / "a.session", tmp_path / "b.session"
    path.parent.mkdir()
    for ending in ("", "-wal"):
        Path(f"{path}{ending}").write_bytes(Path(f"{alive}{ending}").read_bytes())
    writer.abandon()
    link.symlink_to(path)

    def refuse(file: Path, *, write: bool = False) -> sqlite3.Connection:
        if not write:  # as on a medium that cannot be written to
            error = sqlite3.OperationalError("unable to open database file")
            error.sqlite_errorcode = sqlite3.SQLITE_CANTOPEN
            raise error
        return open_and_look(file, write=write)

    with monkeypatch.context() as patched:
        patched.setattr("chargeassist.session.record.store_reader.open_and_look", refuse)
        with SessionReader(link) as reader:
            assert list(reader.events()) == [started, *middle]
    log = Path(f"{path}-wal")
    log.write_bytes(log.read_bytes()[:-100])
    with SessionReader(link) as reader:
        (note,) = reader.verify().notes
        assert "was not finished" in note
