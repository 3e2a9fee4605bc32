"""A disk that is full, held, read-only or gone for a while loses nothing."""

import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import RecordError
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Gap,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionStarted,
    SessionStopped,
    Unsettled,
)
from chargeassist.session.record import store
from chargeassist.session.record.store import (
    RecordBlockedError,
    SessionReader,
    SessionWriter,
    Trouble,
)
from chargeassist.session.record.store_schema import connect

END = SessionStopped(t=9e3, outcome=Outcome.COMPLETE)


def fill(writer: SessionWriter) -> None:
    """Let SQLite believe the disk has no more pages."""
    (pages,) = writer._db.execute("PRAGMA page_count").fetchone()
    writer._db.execute(f"PRAGMA max_page_count={pages}")


def empty(writer: SessionWriter) -> None:
    writer._db.execute("PRAGMA max_page_count=1000000")


@pytest.fixture
def writer(tmp_path: Path, started: SessionStarted) -> Iterator[SessionWriter]:
    writer = SessionWriter.create(tmp_path / "a.session", started)
    channel = Channel(name="a", role=Role.BAROMETER, unit="hPa", source="rig")
    writer.append(ChannelDeclared(t=0.0, channel=channel))
    writer.commit()
    yield writer
    writer.abandon()


def readings(first: int, last: int) -> list[Event]:
    return [Reading(t=i / 10, channel="a", value=1e5 + i) for i in range(first, last)]


def test_full_disk_keeps_rows_for_the_next_commit(writer: SessionWriter) -> None:
    fill(writer)
    for event in readings(0, 1000):
        writer.append(event)
    for _ in range(2):
        with pytest.raises(RecordBlockedError, match=r"a\.session.*disk is full.*1000 rows") as got:
            writer.commit()
        assert got.value.trouble is Trouble.FULL
        assert got.value.waiting == 1000
    assert writer.blocked is not None
    for event in readings(1000, 1100):
        writer.append(event)
    empty(writer)
    writer.commit()
    assert writer.blocked is None
    assert writer.pending == 0
    writer.close(END)
    with SessionReader(writer.path) as reader:
        assert reader.verify().ok
        assert [e for e in reader.events() if isinstance(e, Reading)] == readings(0, 1100)


def test_append_commits_by_itself_and_never_raises_for_the_disk(
    writer: SessionWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "AUTO_COMMIT_ROWS", 100)
    writer._retry_at = 100
    for event in readings(0, 100):
        writer.append(event)
    assert writer.pending == 0
    fill(writer)
    for event in readings(100, 600):
        writer.append(event)
    assert writer.blocked is not None
    assert writer.pending >= 300
    empty(writer)
    for event in readings(600, 700):
        writer.append(event)
    assert writer.blocked is None
    writer.close(END)
    with SessionReader(writer.path) as reader:
        assert reader.counts == {"a": 700}
        assert reader.verify().ok


def test_beyond_the_bound_readings_are_counted_and_told(
    writer: SessionWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "PENDING_LIMIT", 500)
    fill(writer)
    for event in readings(0, 800):
        writer.append(event)
    assert writer.pending == 500
    writer.append(Mark(t=80.0, kind=MarkKind.NOTE, text="never let go"))
    assert writer.pending == 501
    with pytest.raises(RecordBlockedError):
        writer.commit()
    empty(writer)
    writer.commit()
    writer.append(Reading(t=81.0, channel="a", value=1.0))
    assert writer.counts == {"a": 501}
    writer.close(END)
    with SessionReader(writer.path) as reader:
        assert reader.verify().ok
        tail = list(reader.events())[-4:]
    assert tail[0] == Mark(t=80.0, kind=MarkKind.NOTE, text="never let go")
    assert tail[1] == Gap(t=81.0, source="rig", dropped=300)
    assert tail[2] == Reading(t=81.0, channel="a", value=1.0)
    assert tail[3] == SessionStopped(t=9e3, outcome=Outcome.COMPLETE, counts={"a": 501})


def test_a_gap_told_before_a_verdict_makes_no_time_go_back(
    writer: SessionWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The verdict of a tick stands behind the reading that set it off, with the tick's time."""
    monkeypatch.setattr(store, "PENDING_LIMIT", 10)
    for event in readings(0, 15):
        writer.append(event)
    writer.commit()
    writer.append(Unsettled(t=0.5, cause="moving"))
    writer.append(Reading(t=2.0, channel="a", value=1.0))
    writer.close(END)
    with SessionReader(writer.path) as reader:
        assert reader.verify().problems == ()
        assert Gap(t=0.9, source="rig", dropped=5) in list(reader.events())


def test_gap_is_told_at_the_end_when_nothing_else_comes(
    writer: SessionWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "PENDING_LIMIT", 10)
    for event in readings(0, 15):
        writer.append(event)
    writer.close(END)
    with SessionReader(writer.path) as reader:
        assert reader.verify().ok
        assert list(reader.events())[-2] == Gap(t=9e3, source="rig", dropped=5)


def test_close_on_a_full_disk_can_be_tried_again(writer: SessionWriter) -> None:
    for event in readings(0, 2000):
        writer._take(event)
    fill(writer)
    for _ in range(3):
        with pytest.raises(RecordBlockedError):
            writer.close(END)
    writer.append(Mark(t=300.0, kind=MarkKind.NOTE, text="still taken"))
    empty(writer)
    assert writer.close(END)
    with SessionReader(writer.path) as reader:
        report = reader.verify()
        assert report.ok
        assert report.finished
        assert reader.counts == {"a": 2000}


def test_file_held_by_another_program_is_told_and_retried(
    writer: SessionWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    writer._db.execute("PRAGMA busy_timeout=0")
    with closing(connect(writer.path, write=True)) as other:
        other.execute("BEGIN IMMEDIATE")
        writer.append(Mark(t=1.0, kind=MarkKind.NOTE))
        with pytest.raises(RecordBlockedError, match="another program") as got:
            writer.commit()
        assert got.value.trouble is Trouble.LOCKED
        other.execute("ROLLBACK")
    writer.commit()
    assert writer.pending == 0


def test_commit_that_failed_after_it_was_written_is_not_written_twice(
    writer: SessionWriter,
) -> None:
    # What an I/O error reported after the sync would look like.
    writer.append(Mark(t=1.0, kind=MarkKind.NOTE))
    real = writer._db

    class Liar:
        def execute(self, sql: str, *rest: object) -> object:
            answer = real.execute(sql, *rest)  # type: ignore[arg-type]
            if sql == "COMMIT":
                real.execute("INSERT INTO commits VALUES (1, 0, 0, 'a text')")
            return answer

        def __getattr__(self, name: str) -> object:
            return getattr(real, name)

    writer._db = Liar()  # type: ignore[assignment]
    writer.commit()
    writer._db = real
    assert writer.pending == 0
    writer.close(END)
    with SessionReader(writer.path) as reader:
        assert reader.verify().ok
        assert len(list(reader.events())) == 4


def test_reader_open_at_the_end_costs_the_fold_not_the_record(writer: SessionWriter) -> None:
    with closing(connect(writer.path, write=False)) as other:
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM events").fetchone()
        writer.append(Mark(t=1.0, kind=MarkKind.NOTE))
        writer._db.execute("PRAGMA busy_timeout=0")
        assert writer.close(END) is False
    with SessionReader(writer.path) as reader:
        assert reader.verify().ok
        assert reader.verify().finished


def test_folder_that_is_missing_is_told_plainly(tmp_path: Path, started: SessionStarted) -> None:
    with pytest.raises(RecordError, match="choose a folder that exists"):
        SessionWriter.create(tmp_path / "none" / "a.session", started)


def away(path: Path, way: str) -> None:
    """Take the session file away."""
    if way == "moved":
        path.rename(path.with_name("elsewhere.session"))
    elif way == "replaced":
        path.unlink()
        path.write_bytes(b"something else")
    else:
        for ending in ("", "-wal", "-shm", ".lock"):
            path.with_name(path.name + ending).unlink()


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be taken away there")
@pytest.mark.parametrize("way", ["deleted", "moved", "replaced"])
def test_a_session_file_that_is_taken_away_is_written_anew(writer: SessionWriter, way: str) -> None:
    old = writer.path
    for event in readings(0, 500):
        writer.append(event)
    writer.commit()
    head = writer.chain_head
    away(old, way)
    for event in readings(500, 600):
        writer.append(event)
    with pytest.raises(RecordBlockedError, match=r"deleted or replaced.*100 rows") as got:
        writer.commit()
    assert got.value.trouble is Trouble.MOVED
    assert writer.chain_head == head
    writer.commit()
    assert (writer.path == old) is (way != "replaced")
    with pytest.raises(RecordError, match="another running"):
        SessionWriter.resume(writer.path)
    for event in readings(600, 700):
        writer.append(event)
    assert writer.close(END)
    with SessionReader(writer.path) as reader:
        report = reader.verify()
        assert report.ok, report.problems
        assert report.finished
        assert [e for e in reader.events() if isinstance(e, Reading)] == readings(0, 700)
    left = {p.name for p in old.parent.iterdir()}
    assert (
        left
        == {writer.path.name}
        | {
            "deleted": set(),
            "moved": {"elsewhere.session"},
            "replaced": {"a.session", "a.session-wal", "a.session-shm"},
        }[way]
    )
    if way == "moved":  # without its log it has only the beginning, and says that it has no end
        with SessionReader(old.with_name("elsewhere.session")) as reader:
            assert reader.verify().ok
            assert not reader.verify().finished


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be taken away there")
def test_a_folder_that_is_taken_away_is_waited_for(writer: SessionWriter) -> None:
    for event in readings(0, 50):
        writer.append(event)
    folder = writer.path.parent
    hidden = folder.with_name("hidden")
    folder.rename(hidden)
    for _ in range(3):
        with pytest.raises(RecordBlockedError, match="put its folder back") as got:
            writer.commit()
        assert got.value.trouble is Trouble.GONE
        assert writer.pending == 50
    hidden.rename(folder)
    writer.commit()
    writer.close(END)
    with SessionReader(writer.path) as reader:
        assert reader.verify().ok
        assert reader.counts == {"a": 50}


def test_power_that_failed_while_the_log_was_folded_in(
    writer: SessionWriter, tmp_path: Path
) -> None:
    """A rollback journal is left that SQLite must play back, and a reader may not write."""
    for event in readings(0, 2000):
        writer.append(event)
    writer.close(END)
    left = tmp_path / "left"
    left.mkdir()
    with closing(connect(writer.path, write=True)) as other:
        other.execute("PRAGMA cache_size=1")
        other.execute("BEGIN")
        for number in range(3000):
            other.execute("INSERT INTO events VALUES (?, 1.0, 'x', ?)", (10_000 + number, "y" * 99))
        for ending in ("", "-journal"):
            file = writer.path.with_name(writer.path.name + ending)
            (left / file.name).write_bytes(file.read_bytes())
        other.execute("ROLLBACK")
    found = left / writer.path.name
    assert found.stat().st_size > writer.path.stat().st_size, "half of it is written"
    with SessionReader(found) as reader:
        report = reader.verify()
        assert report.ok, report.problems
        assert report.finished
        assert reader.counts == {"a": 2000}
