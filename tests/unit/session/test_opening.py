"""Sessions put together: new, resumed after an interruption at any row, replayed bit for bit."""

import asyncio
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.events import (
    ChannelDeclared,
    ClockSet,
    Event,
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionMode,
    SessionResumed,
    SessionStarted,
    SessionStopped,
    Stage,
    StageChanged,
    VerdictEvent,
)
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.model.units import Reference
from chargeassist.session import opening
from chargeassist.session.opening import open_new, open_resumed, record_path
from chargeassist.session.plugins import make_source
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.record.filelock import FileLock
from chargeassist.session.record.package import open_record
from chargeassist.session.record.store import SessionWriter
from chargeassist.session.source import Clock, Sink, Source
from tests.unit.session.played import (
    LENGTH_S,
    NOW,
    ago,
    check_replay,
    cut,
    demo,
    events_of,
    lines_of,
    play,
)


@dataclass
class Stream:
    """A live source that sends a few readings and returns."""

    channels: tuple[Channel, ...]
    name: str = "simulated unit"
    brings_time: bool = False
    simulated: bool = True

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> "Stream":
        raise NotImplementedError

    async def run(self, sink: Sink, clock: Clock) -> None:
        for k in range(3):
            for channel in self.channels:
                sink.reading(channel.name, 310.0 + k)
            await asyncio.sleep(0.01)

    def technician(self, mark: Mark) -> None:
        """Ignore it."""


@pytest.fixture
def live_again(monkeypatch: pytest.MonkeyPatch, simulated: list[Event]) -> None:
    """Let the simulated unit of the record come back as a live source, at `NOW`."""
    channels = tuple(e.channel for e in simulated if isinstance(e, ChannelDeclared))

    def make(spec: SourceSpec, base: Path) -> Source:
        return Stream(channels) if spec.scheme == "simulator" else make_source(spec, base)

    monkeypatch.setattr(opening, "make_source", make)
    monkeypatch.setattr(opening, "utc_now", lambda: NOW)


def _closes(event: Event) -> bool:
    return isinstance(event, StageChanged) and event.stage is Stage.CLOSE_OUT


def cuts(rows: Sequence[Event]) -> list[int]:
    """Rows to be killed at: around verdicts, where a batch may be torn, and anywhere."""
    near = [i + d for i, e in enumerate(rows) if isinstance(e, VerdictEvent) for d in (0, 1)]
    chance = random.Random(20)
    anywhere = chance.sample(range(12, len(rows)), 3)
    # The last: killed between the verdict that closes the session and its end.
    return sorted({*chance.sample(near, 6), *anywhere, len(rows) - 1})


def test_a_killed_session_replays_as_far_as_it_came(tmp_path: Path, simulated: list[Event]) -> None:
    for number in cuts(simulated):
        path = tmp_path / f"{number}.session"
        cut(simulated, number, path, ago(LENGTH_S))
        recorded = sum(isinstance(e, VerdictEvent) and not _closes(e) for e in simulated[:number])
        assert check_replay(path) == recorded, number


@pytest.mark.parametrize("away_s", [0.0, 5.2, 8 * 3600.0])
def test_a_killed_session_goes_on_and_replays_whole(
    tmp_path: Path, simulated: list[Event], live_again: None, away_s: float
) -> None:
    for number in cuts(simulated)[:: 1 if away_s == 5.2 else 4]:
        path = tmp_path / f"{number}.session"
        last_t = max(e.t for e in simulated[:number])
        cut(simulated, number, path, ago(last_t + away_s))
        opened = open_resumed(path)
        play(opened)
        rows = events_of(path)
        with open_record(path) as record:
            report = record.verify()
            assert report.ok, (number, report.problems)
            assert report.finished
        assert lines_of(rows[1:number]) == lines_of(simulated[1:number])
        (resumed,) = [e for e in rows if isinstance(e, SessionResumed)]
        assert resumed.away_s == pytest.approx(away_s, abs=1e-3)
        assert resumed.t == pytest.approx(last_t + away_s, abs=1e-3)
        assert sum(isinstance(e, ChannelDeclared) for e in rows) == 11, "declared once"
        check_replay(path)
        # What was known before the interruption is still known: the steps of the ledger.
        marks = [e for e in rows[:number] if isinstance(e, Mark)]
        assert [e for e in rows if isinstance(e, Mark)] == marks


def test_a_session_may_be_interrupted_twice(
    tmp_path: Path, simulated: list[Event], live_again: None
) -> None:
    path = tmp_path / "twice.session"
    verdicts = [i for i, e in enumerate(simulated) if isinstance(e, VerdictEvent)]
    cut(simulated, verdicts[-3] + 1, path, ago(400.0))
    play(open_resumed(path))
    rows = events_of(path)
    again = tmp_path / "again.session"
    end = next(i for i, e in enumerate(rows) if isinstance(e, SessionResumed)) + 5
    cut(rows, end, again, ago(410.0))
    play(open_resumed(again))
    assert sum(isinstance(e, SessionResumed) for e in events_of(again)) == 2
    check_replay(again)


def test_a_wall_clock_set_back_makes_no_time_go_back(
    tmp_path: Path, simulated: list[Event], live_again: None
) -> None:
    for started_utc in (ago(-86_400.0), "no date", "2026-05-04T08:15:00"):
        path = tmp_path / f"{len(started_utc)}.session"
        cut(simulated, 500, path, started_utc)
        play(open_resumed(path))
        rows = events_of(path)
        (resumed,) = [e for e in rows if isinstance(e, SessionResumed)]
        assert resumed.away_s is None
        assert resumed.t >= max(e.t for e in simulated[:500])
        with open_record(path) as record:
            assert record.verify().ok
        check_replay(path)


@pytest.mark.parametrize("step_s", [3600.0, -3600.0])
def test_a_wall_clock_that_was_set_in_the_session_is_reckoned_with(
    tmp_path: Path, simulated: list[Event], live_again: None, step_s: float
) -> None:
    rows = [*simulated[:500]]
    last_t = max(e.t for e in rows)
    rows.append(ClockSet(t=last_t, step_s=step_s))
    path = tmp_path / "a.session"
    cut(rows, len(rows), path, ago(last_t + step_s + 7.0))
    play(open_resumed(path))
    (resumed,) = [e for e in events_of(path) if isinstance(e, SessionResumed)]
    assert resumed.away_s == pytest.approx(7.0, abs=1e-3)
    check_replay(path)


def test_a_wall_clock_that_contradicted_the_record_once_says_no_time_again(
    tmp_path: Path, simulated: list[Event], live_again: None
) -> None:
    """Set back by an hour while the program was away, and an hour away the next time: no minute."""
    rows = [*simulated[:500]]
    last_t = max(e.t for e in rows)
    rows += [
        SessionResumed(t=last_t, away_s=None),
        Mark(t=last_t + 100.0, kind=MarkKind.NOTE, text="on again"),
    ]
    path = tmp_path / "a.session"
    cut(rows, len(rows), path, ago(last_t + 100.0 + 60.0))
    play(open_resumed(path))
    _, again = [e for e in events_of(path) if isinstance(e, SessionResumed)]
    assert again.away_s is None
    assert again.t == pytest.approx(last_t + 100.0)
    check_replay(path)


def test_a_finished_or_simulated_session_cannot_be_gone_on_with(
    tmp_path: Path, simulated: list[Event], live_again: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.session"
    cut(simulated, 100, path, ago(400.0))
    monkeypatch.undo()
    with pytest.raises(RecordError, match="brings its own time and cannot be resumed"):
        open_resumed(path)
    # Nothing holds the file after the refusal.
    writer, _ = SessionWriter.resume(path)
    writer.close(SessionStopped(t=500.0, outcome=Outcome.COMPLETE))
    channels = tuple(e.channel for e in simulated if isinstance(e, ChannelDeclared))
    monkeypatch.setattr(opening, "make_source", lambda spec, base: Stream(channels))
    with pytest.raises(RecordError, match="finished"):
        open_resumed(path)
    with pytest.raises(RecordError, match="nothing is there"):
        open_resumed(tmp_path / "b.session")


def test_mixed_simulator_and_probe_are_refused_before_a_file_is_made(tmp_path: Path) -> None:
    channel = Channel(
        name="liquid_p",
        role=Role.LIQUID_PRESSURE,
        unit="psig",
        reference=Reference.GAUGE,
        source="port",
    )
    port = SourceSpec(name="port", url="serial:/dev/null", probes=(ProbeSpec(channel=channel),))
    job = demo()
    with pytest.raises(ConfigError, match="brings its own time and cannot run beside"):
        open_new(replace(job, sources=(*job.sources, port)), tmp_path, record=tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_record_goes_where_it_is_told_and_never_over_another(tmp_path: Path) -> None:
    job = demo()
    named = tmp_path / "deep" / "my.session"
    with pytest.raises(ConfigError, match="expected a name in a folder that is there"):
        open_new(job, tmp_path, record=named, speed=None)
    named.parent.mkdir()
    opened = open_new(job, tmp_path, record=named, speed=None)
    assert opened.session.record_path == str(named)
    assert named.is_file()
    with pytest.raises(RecordError, match=r"exists|writing"):
        open_new(job, tmp_path, record=named)
    in_the_way = tmp_path / "file"
    in_the_way.write_text("kept")
    with pytest.raises(RecordError, match="expected a folder"):
        open_new(job, tmp_path, record=in_the_way)
    assert in_the_way.read_text() == "kept"


def test_a_record_is_named_after_time_and_job() -> None:
    started = SessionStarted(
        t=0.0,
        session_id="abcd" * 8,
        started_utc="2026-05-04T08:15:59.123+00:00",
        software="x",
        table_hash="y",
        mode=SessionMode.FIELD,
        job=job_to_json(demo()),
    )
    job = replace(demo(), name="../../Étage 2 · \x1b Küche" + "x" * 99)
    path = record_path(job, started, Path("folder"))
    assert path.parent == Path("folder")
    assert path.name.startswith("20260504-081559-")
    assert path.name.endswith("-abcd.session")
    assert path.name.isascii()
    assert len(path.name) < 80
    nameless = record_path(replace(job, name="···"), started, Path("folder"))
    assert nameless.name == "20260504-081559-job-abcd.session"


def test_a_job_that_plays_a_recording_is_a_replay_and_makes_no_second_record(
    tmp_path: Path, simulated: list[Event], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.session"
    cut(simulated, 600, path, "2026-05-04T08:15:00+00:00")
    records = tmp_path / "records"
    monkeypatch.setattr(opening, "RECORDS_FOLDER", records)
    job = replace(demo(), sources=(SourceSpec(name="old", url=f"recording:{path}?speed=max"),))
    told: list[Event] = []
    opened = open_new(job, tmp_path, listeners=[told.append])
    assert opened.session.replayed
    assert opened.session.mode is SessionMode.SIMULATED
    assert opened.session.record_path is None
    assert opened.started.started_utc == "2026-05-04T08:15:00+00:00"
    play(opened)
    recorded = [e for e in simulated[:600] if isinstance(e, Reading)]
    assert [e for e in told if isinstance(e, Reading)] == recorded
    assert not records.exists()
    with pytest.raises(ConfigError, match="not recorded again"):
        open_new(job, tmp_path, record=tmp_path)


def test_what_is_gone_on_with_is_held_before_it_is_read(
    tmp_path: Path, simulated: list[Event], live_again: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program could write between the reading and the holding, and would be unheard."""
    path = tmp_path / "a.session"
    cut(simulated, 100, path, ago(400.0))
    held: list[bool] = []
    fold = opening._fold

    def looks(*arguments: Any) -> Any:
        try:
            FileLock(path).release()
            held.append(False)
        except RecordError:
            held.append(True)
        return fold(*arguments)

    monkeypatch.setattr(opening, "_fold", looks)
    play(open_resumed(path))
    assert held == [True]


def test_a_resumed_session_looks_for_its_files_where_the_job_did(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("job", "elsewhere"):
        (tmp_path / name).mkdir()
    sought: list[Path] = []
    channel = Channel(
        name="liquid_p",
        role=Role.LIQUID_PRESSURE,
        unit="psig",
        reference=Reference.GAUGE,
        source="port",
    )

    def make(spec: SourceSpec, base: Path) -> Source:
        sought.append(base)
        return Stream((channel,), name="port", simulated=False)

    create = SessionWriter.create
    writers: list[SessionWriter] = []

    def created(path: Path, started: SessionStarted, folder: Path | None = None) -> SessionWriter:
        writers.append(create(path, started, folder))
        return writers[-1]

    monkeypatch.setattr(opening, "make_source", make)
    monkeypatch.setattr(SessionWriter, "create", created)
    path = tmp_path / "a.session"
    address = "mqtts://broker?ca=ca.pem"
    port = SourceSpec(name="port", url=address, probes=(ProbeSpec(channel=channel),))
    open_new(replace(demo(), sources=(port,)), tmp_path / "job", record=path)
    writers[0].abandon()
    monkeypatch.chdir(tmp_path / "elsewhere")
    play(open_resumed(path))
    assert sought == [tmp_path / "job", tmp_path / "job"]
    with open_record(path) as record:
        assert record.verify().ok, "where the job lay is no part of what was recorded"
    (tmp_path / "job").rmdir()
    with open_record(path) as record:
        assert record.job_folder is None, "taken to another machine it is sought where one is"
