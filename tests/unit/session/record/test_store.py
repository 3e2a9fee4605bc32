import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.errors import RecordDamagedError, RecordError
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionStarted,
    SessionStopped,
)
from chargeassist.model.job import Job
from chargeassist.model.reading_run import ReadingRun
from chargeassist.session.record.store import SessionReader, SessionWriter
from chargeassist.session.record.store_schema import READINGS_AT_ONCE
from tests.unit.session.record.laid_open import raw


def without_device_time(event: Event) -> Event:
    return replace(event, device_time=None) if isinstance(event, Reading) else event


def taken_apart(runs: list[Event | ReadingRun]) -> list[Event]:
    return [event for each in runs for event in (each if isinstance(each, ReadingRun) else (each,))]


def test_finished_session_reads_back_in_order(
    finished_file: Path, whole: list[Event], started: SessionStarted, job: Job
) -> None:
    with SessionReader(finished_file) as reader:
        assert list(reader.events()) == whole
        assert reader.started == started
        assert reader.stopped == whole[-1]
        assert reader.job == job
        assert [c.name for c in reader.channels] == ["liquid_p", "liquid_t"]
        assert reader.counts == {"liquid_p": 100, "liquid_t": 100}
        assert reader.last_t == 16.0
        report = reader.verify()
    assert report.ok
    assert report.finished
    assert report.rows == len(whole)
    assert report.commits == 10


def test_runs_hold_the_same_events(finished_file: Path, whole: list[Event]) -> None:
    with SessionReader(finished_file) as reader:
        runs = list(reader.runs())
    assert sum(isinstance(each, ReadingRun) for each in runs) < 20
    assert taken_apart(runs) == [without_device_time(event) for event in whole]


def test_run_with_a_row_missing_names_it(finished_file: Path) -> None:
    raw(finished_file, "DELETE FROM readings WHERE seq = 40")
    with (
        SessionReader(finished_file) as reader,
        pytest.raises(RecordDamagedError, match="row 40 expected, row 41 came"),
    ):
        list(reader.runs())


def test_run_with_a_quality_nobody_knows_names_its_row(finished_file: Path) -> None:
    raw(finished_file, "UPDATE readings SET quality = 7 WHERE seq = 40")
    with (
        SessionReader(finished_file) as reader,
        pytest.raises(RecordDamagedError, match="row 40: expected a quality"),
    ):
        list(reader.runs())


def test_outside_program_finds_the_documented_tables(finished_file: Path) -> None:
    with closing(sqlite3.connect(finished_file)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert db.execute("PRAGMA application_id").fetchone() == (0x43484153,)
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
        assert db.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        rows = db.execute("SELECT * FROM readings_named ORDER BY seq LIMIT 2").fetchall()
        assert rows == [
            (4, 0.0, "liquid_p", 2.4e6, "good", 1e9),
            (5, 0.0, "liquid_t", 310.15, "range", None),
        ]


@pytest.mark.parametrize(
    "table", ["readings", "events", "commits", "channels", "qualities", "meta"]
)
def test_tables_only_grow(finished_file: Path, table: str) -> None:
    with closing(sqlite3.connect(finished_file)) as db:
        column = db.execute(f"SELECT name FROM pragma_table_info('{table}')").fetchone()[0]
        for statement in (f"DELETE FROM {table}", f"UPDATE {table} SET {column} = {column}"):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                db.execute(statement)


def test_live_file_is_read_up_to_the_last_commit(
    tmp_path: Path, started: SessionStarted, middle: list[Event]
) -> None:
    path = tmp_path / "live.session"
    writer = SessionWriter.create(path, started)
    try:
        with SessionReader(path) as reader:
            assert list(reader.events()) == [started]
            for event in middle[:50]:
                writer.append(event)
            assert writer.pending == 50
            assert list(reader.events()) == [started]
            writer.commit()
            assert writer.pending == 0
            assert list(reader.events()) == [started, *middle[:50]]
            report = reader.verify()
            assert report.ok
            assert not report.finished
            assert reader.stopped is None
            assert reader.chain_head == writer.chain_head
    finally:
        writer.abandon()


def test_reading_a_crashed_file_changes_nothing(
    tmp_path: Path, started: SessionStarted, middle: list[Event]
) -> None:
    # A copy taken while the log was not folded in is what a crash leaves.
    path, crashed = tmp_path / "a.session", tmp_path / "crashed" / "a.session"
    crashed.parent.mkdir()
    writer = SessionWriter.create(path, started)
    for event in middle:
        writer.append(event)
    writer.commit()
    for ending in ("", "-wal"):
        crashed.with_name(crashed.name + ending).write_bytes(
            path.with_name(path.name + ending).read_bytes()
        )
    writer.abandon()
    before = crashed.read_bytes(), crashed.with_name("a.session-wal").read_bytes()
    with SessionReader(crashed) as reader:
        assert list(reader.events()) == [started, *middle]
        assert reader.verify().ok
    assert before == (crashed.read_bytes(), crashed.with_name("a.session-wal").read_bytes())

    writer, last_t = SessionWriter.resume(crashed)
    assert last_t == 15.0
    writer.append(Mark(t=20.0, kind=MarkKind.NOTE, text="back"))
    writer.close(SessionStopped(t=21.0, outcome=Outcome.ABANDONED, reason="late"))
    with SessionReader(crashed) as reader:
        events = list(reader.events())
        assert events[:-2] == [started, *middle]
        assert reader.verify().ok
        assert reader.stopped == SessionStopped(
            t=21.0,
            outcome=Outcome.ABANDONED,
            reason="late",
            counts={"liquid_p": 100, "liquid_t": 100},
        )


def test_resumed_session_goes_on_with_channels_and_counts(
    tmp_path: Path, started: SessionStarted, middle: list[Event]
) -> None:
    path = tmp_path / "a.session"
    writer = SessionWriter.create(path, started)
    for event in middle[:12]:
        writer.append(event)
    writer.commit()
    writer.append(middle[12])
    writer.abandon()  # the last one is lost, as in a crash
    writer, _ = SessionWriter.resume(path)
    assert writer.counts == {"liquid_p": 5, "liquid_t": 5}
    for event in middle[12:]:
        writer.append(event)
    writer.close(SessionStopped(t=16.0, outcome=Outcome.COMPLETE))
    with SessionReader(path) as reader:
        assert list(reader.events())[1:-1] == middle
        assert reader.verify().ok


def test_second_writer_is_told_which_file_is_held(tmp_path: Path, started: SessionStarted) -> None:
    path = tmp_path / "a.session"
    writer = SessionWriter.create(path, started)
    try:
        for attempt in (SessionWriter.resume, lambda p: SessionWriter.create(p, started)):
            with pytest.raises(RecordError, match=r"a\.session: another running chargeassist"):
                attempt(path)
    finally:
        writer.abandon()
    writer, _ = SessionWriter.resume(path)
    writer.abandon()


def test_existing_file_is_not_overwritten(finished_file: Path, started: SessionStarted) -> None:
    before = finished_file.read_bytes()
    with pytest.raises(RecordError, match="this file exists"):
        SessionWriter.create(finished_file, started)
    assert finished_file.read_bytes() == before
    assert [p.name for p in finished_file.parent.iterdir()] == [finished_file.name]


def test_finished_session_is_not_resumed(finished_file: Path) -> None:
    with pytest.raises(RecordError, match="finished"):
        SessionWriter.resume(finished_file)


def test_damaged_session_is_not_resumed_and_left_alone(
    tmp_path: Path, started: SessionStarted, middle: list[Event]
) -> None:
    path = tmp_path / "a.session"
    writer = SessionWriter.create(path, started)
    for event in middle:
        writer.append(event)
    writer.commit()
    writer.abandon()
    raw(path, "UPDATE readings SET value = value + 1 WHERE seq = 40")
    before = path.read_bytes()
    with pytest.raises(RecordDamagedError, match="commit 2"):
        SessionWriter.resume(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "no such file"),
        (b"", "the file is empty"),
        (b"seq,t\n" * 400, "no SQLite file"),
    ],
)
def test_what_is_no_session_is_refused(tmp_path: Path, content: bytes | None, said: str) -> None:
    path = tmp_path / "x.session"
    if content is not None:
        path.write_bytes(content)
    for opener in (SessionReader, SessionWriter.resume):
        with pytest.raises(RecordError, match=said):
            opener(path)
    assert not path.with_name("x.session.lock").exists()


def test_newer_format_is_refused(finished_file: Path) -> None:
    raw(finished_file, "PRAGMA user_version=2")
    with pytest.raises(RecordError, match="newer chargeassist"):
        SessionReader(finished_file)


def test_writer_refuses_what_cannot_be_recorded(
    tmp_path: Path, started: SessionStarted, stopped: SessionStopped
) -> None:
    writer = SessionWriter.create(tmp_path / "a.session", started)
    writer.append(
        ChannelDeclared(t=0.0, channel=Channel(name="a", role=Role.BAROMETER, unit="hPa"))
    )
    wrong: list[tuple[Event, str]] = [
        (Reading(t=0.0, channel="b", value=1.0), "never declared"),
        (Reading(t=0.0, channel="a", value=float("nan")), "finite"),
        (Reading(t=float("inf"), channel="a", value=1.0), "finite"),
        (started, "create and close"),
        (stopped, "create and close"),
    ]
    for event, said in wrong:
        with pytest.raises(RecordError, match=said):
            writer.append(event)
    assert writer.pending == 1
    with pytest.raises(RecordError, match="finite"):
        writer.close(replace(stopped, t=float("nan")))
    writer.close(stopped)
    with pytest.raises(RecordError, match="closed"):
        writer.append(Mark(t=1.0, kind=MarkKind.NOTE))
    with pytest.raises(RecordError, match="closed"):
        writer.close(stopped)
    with SessionReader(tmp_path / "a.session") as reader:
        assert reader.verify().ok
        assert reader.counts == {"a": 0}


def test_negative_zero_does_not_upset_the_chain(tmp_path: Path, started: SessionStarted) -> None:
    path = tmp_path / "a.session"
    writer = SessionWriter.create(path, started)
    channel = Channel(name="a", role=Role.LIQUID_PRESSURE, unit="psig")
    writer.append(ChannelDeclared(t=-0.0, channel=channel))
    writer.append(Reading(t=-0.0, channel="a", value=-0.0, device_time=-0.0))
    writer.close(SessionStopped(t=1.0, outcome=Outcome.COMPLETE))
    with SessionReader(path) as reader:
        assert reader.verify().ok


@pytest.mark.parametrize("count", [1, READINGS_AT_ONCE, READINGS_AT_ONCE + 1])
def test_every_reading_of_a_commit_is_kept_whatever_their_number(
    tmp_path: Path, started: SessionStarted, count: int
) -> None:
    channels = [Channel(name=name, role=Role.BAROMETER, unit="hPa") for name in ("a", "b")]
    written = [
        Reading(
            t=i / 10,
            channel="ab"[i % 2],
            value=float(i),
            quality=list(Quality)[i % len(Quality)],
            device_time=None if i % 3 else i / 7,
        )
        for i in range(count)
    ]
    writer = SessionWriter.create(tmp_path / "a.session", started)
    for channel in channels:
        writer.append(ChannelDeclared(t=0.0, channel=channel))
    for reading in written:
        writer.append(reading)
    writer.close(SessionStopped(t=60.0, outcome=Outcome.COMPLETE))
    with SessionReader(writer.path) as reader:
        assert reader.verify().ok
        assert [e for e in reader.events() if isinstance(e, Reading)] == written


def test_rows_may_be_taken_while_another_thread_commits(
    tmp_path: Path, started: SessionStarted
) -> None:
    path = tmp_path / "a.session"
    writer = SessionWriter.create(path, started)
    writer.append(
        ChannelDeclared(t=0.0, channel=Channel(name="a", role=Role.BAROMETER, unit="hPa"))
    )
    over = threading.Event()

    def keep_committing() -> None:
        while not over.is_set():
            writer.commit()

    thread = threading.Thread(target=keep_committing)
    thread.start()
    for i in range(6000):
        writer.append(Reading(t=i / 100, channel="a", value=float(i)))
    over.set()
    thread.join()
    writer.close(SessionStopped(t=60.0, outcome=Outcome.COMPLETE))
    with SessionReader(path) as reader:
        assert reader.verify().ok
        values = [e.value for e in reader.events() if isinstance(e, Reading)]
    assert values == [float(i) for i in range(6000)]


def test_reader_crosses_its_chunks_in_order(
    tmp_path: Path, started: SessionStarted, monkeypatch: pytest.MonkeyPatch, middle: list[Event]
) -> None:
    path = tmp_path / "a.session"
    writer = SessionWriter.create(path, started)
    for event in middle:
        writer.append(event)
    writer.commit()
    writer.abandon()
    for size in (1, 2, 3, 7):
        monkeypatch.setattr("chargeassist.session.record.store_reader.LONGEST_RUN", size)
        with SessionReader(path) as reader:
            assert list(reader.events()) == [started, *middle]
            assert taken_apart(list(reader.runs())) == [
                started, *map(without_device_time, middle)
            ]  # fmt: skip
            assert reader.verify().ok


def test_time_that_goes_back_is_reported(tmp_path: Path, started: SessionStarted) -> None:
    path = tmp_path / "a.session"
    writer = SessionWriter.create(path, started)
    writer.append(Mark(t=5.0, kind=MarkKind.NOTE))
    writer.append(Mark(t=4.0, kind=MarkKind.NOTE))
    writer.close(SessionStopped(t=6.0, outcome=Outcome.COMPLETE))
    with SessionReader(path) as reader:
        assert reader.verify().problems == ("row 3: time goes back to 4.0 s",)


def test_names_with_url_characters_are_only_names(
    tmp_path: Path, started: SessionStarted, stopped: SessionStopped
) -> None:
    def make(path: Path) -> None:
        SessionWriter.create(path, started).abandon()
        with SessionReader(path) as reader:
            assert reader.verify().ok

    for name in (
        "a b.session",
        "50%20.session",
        "a#b.session",
        "a?mode=rwc.session",
        "größe.session",
    ):
        make(tmp_path / name)
        assert (tmp_path / name).is_file()
