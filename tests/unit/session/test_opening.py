"""Sessions put together: new, resumed after an interruption at any row, replayed bit for bit."""

import asyncio
import datetime as dt
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from chargeassist.guide.assistant import Assistant
from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.events import (
    Advice,
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
from chargeassist.model.job import Job, ProbeSpec, SourceSpec
from chargeassist.model.units import Reference
from chargeassist.session import opening
from chargeassist.session.compare import VerdictComparison
from chargeassist.session.demo import demo_job
from chargeassist.session.fold import LONGEST_SILENCE_S, Fold
from chargeassist.session.opening import (
    open_new,
    open_replay,
    open_resumed,
    record_path,
)
from chargeassist.session.pilot import Pilot
from chargeassist.session.plugins import make_source
from chargeassist.session.record.codec import encode_event, job_to_json
from chargeassist.session.record.package import open_record
from chargeassist.session.record.store import SessionWriter
from chargeassist.session.source import Clock, Sink, Source

LENGTH_S = 420


def demo(length_s: int = LENGTH_S, seed: int = 7) -> Job:
    """The demonstration job, shorter."""
    job = demo_job("library", seed)
    (source,) = job.sources
    address, _, query = source.url.partition("?")
    url = f"{address}?{query}&length={length_s}s"
    return replace(job, sources=(replace(source, url=url),))


def play(opened: opening.Opened) -> None:
    asyncio.run(asyncio.wait_for(opened.session.run(lambda snapshot: None), 60.0))


def events_of(path: Path) -> list[Event]:
    with open_record(path) as record:
        return list(record.events())


def lines_of(events: Sequence[Event]) -> list[str]:
    return [f"{e.t!r} {encode_event(e)}" for e in events]


def check_replay(path: Path, speed: float | None = None) -> int:
    """Assert that a replay gives the recorded verdicts; return how many."""
    comparison = VerdictComparison(path)
    play(open_replay(path, speed=speed, listeners=[comparison]))
    assert comparison.differences() == ()
    return comparison.compared


@pytest.fixture(scope="module")
def simulated(tmp_path_factory: pytest.TempPathFactory) -> list[Event]:
    """Every row of a recorded simulator session, charge steps and all."""
    folder = tmp_path_factory.mktemp("simulated")
    opened = open_new(demo(), folder, record=folder, speed=None, attendant=Pilot())
    play(opened)
    (path,) = folder.iterdir()
    assert check_replay(path) >= 6
    return events_of(path)


def cut(rows: Sequence[Event], count: int, path: Path, started_utc: str) -> None:
    """Write the first `count` of `rows` as a program that was killed would have."""
    first = rows[0]
    assert isinstance(first, SessionStarted)
    writer = SessionWriter.create(path, replace(first, started_utc=started_utc))
    for event in rows[1:count]:
        writer.append(event)
    writer.commit()
    writer.abandon()


def ago(seconds: float) -> str:
    return (dt.datetime.now(dt.UTC) - dt.timedelta(seconds=seconds)).isoformat()


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
    """Let the simulated unit of the record come back as a live source."""
    channels = tuple(e.channel for e in simulated if isinstance(e, ChannelDeclared))

    def make(spec: SourceSpec, base: Path) -> Source:
        return Stream(channels) if spec.scheme == "simulator" else make_source(spec, base)

    monkeypatch.setattr(opening, "make_source", make)


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
        assert resumed.away_s == pytest.approx(away_s, abs=2.0)
        assert resumed.t == pytest.approx(last_t + away_s, abs=2.0)
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
    assert resumed.away_s == pytest.approx(7.0, abs=2.0)
    check_replay(path)


def test_a_finished_or_simulated_session_cannot_be_gone_on_with(
    tmp_path: Path, simulated: list[Event], live_again: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.session"
    cut(simulated, 100, path, ago(400.0))
    monkeypatch.undo()
    with pytest.raises(RecordError, match="brings its own time and cannot be gone on with"):
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


@pytest.mark.parametrize("speed", [None, 200.0])
def test_the_same_seed_gives_the_same_session_at_any_speed(
    tmp_path: Path, simulated: list[Event], speed: float | None
) -> None:
    opened = open_new(demo(300), tmp_path, record=tmp_path, speed=speed, attendant=Pilot())
    play(opened)
    (path,) = tmp_path.iterdir()
    made = [e for e in events_of(path)[1:] if e.t < 299.0 and not isinstance(e, SessionStopped)]
    whole = [e for e in simulated[1:] if e.t < 299.0]
    assert lines_of(made) == lines_of(whole)


def test_another_seed_gives_another_session(tmp_path: Path, simulated: list[Event]) -> None:
    play(open_new(demo(20, seed=8), tmp_path, record=tmp_path, speed=None))
    (path,) = tmp_path.iterdir()
    made = [e.value for e in events_of(path) if isinstance(e, Reading)]
    assert made != [e.value for e in simulated if isinstance(e, Reading)][: len(made)]


def test_a_replay_ends_as_the_record_did(tmp_path: Path, simulated: list[Event]) -> None:
    path = tmp_path / "a.session"
    cut(simulated, 300, path, ago(400.0))
    told: list[Event] = []
    opened = open_replay(path, speed=None, listeners=[told.append])
    assert opened.session.replayed
    assert opened.session.record_path is None
    play(opened)
    (stopped,) = [e for e in told if isinstance(e, SessionStopped)]
    assert (stopped.outcome, stopped.reason) == (
        Outcome.ABANDONED,
        "the record ends here without an end",
    )
    writer, t = SessionWriter.resume(path)
    writer.close(SessionStopped(t=t, outcome=Outcome.FAILED, reason="invented"))
    told.clear()
    play(open_replay(path, speed=None, listeners=[told.append]))
    (stopped,) = [e for e in told if isinstance(e, SessionStopped)]
    assert (stopped.outcome, stopped.reason) == (Outcome.FAILED, "invented")


def test_a_verdict_that_was_changed_is_found(tmp_path: Path, simulated: list[Event]) -> None:
    rows = list(simulated)
    index = next(i for i, e in enumerate(rows) if isinstance(e, Advice) and e.figures)
    advice = rows[index]
    assert isinstance(advice, Advice)
    figures = {key: value + 1e-12 * abs(value) for key, value in advice.figures.items()}
    rows[index] = replace(advice, figures=figures)
    path = tmp_path / "a.session"
    cut(rows, len(rows) - 2, path, ago(400.0))
    comparison = VerdictComparison(path)
    play(open_replay(path, speed=None, listeners=[comparison]))
    (difference,) = comparison.differences()
    assert "recorded" in difference
    assert "replayed" in difference


def test_a_verdict_that_was_left_out_is_found(tmp_path: Path, simulated: list[Event]) -> None:
    index = next(i for i, e in enumerate(simulated) if isinstance(e, Advice) and e.t > 100.0)
    path = tmp_path / "a.session"
    cut([*simulated[:index], *simulated[index + 1 :]], 3500, path, ago(400.0))
    comparison = VerdictComparison(path)
    play(open_replay(path, speed=None, listeners=[comparison]))
    assert comparison.differences()
    # The same for the last verdict, with readings after it that prove it was left out.
    verdicts = [i for i, e in enumerate(simulated) if isinstance(e, VerdictEvent)]
    late = tmp_path / "late.session"
    last = verdicts[-3]
    cut([*simulated[:last], *simulated[last + 1 :]], last + 19, late, ago(400.0))
    comparison = VerdictComparison(late)
    play(open_replay(late, speed=None, listeners=[comparison]))
    assert comparison.differences()


def test_a_recording_that_leaps_years_is_not_ticked_through(
    tmp_path: Path, simulated: list[Event]
) -> None:
    path = tmp_path / "a.session"
    far = Mark(t=1e12, kind=MarkKind.NOTE, text="later")
    cut([*simulated[:200], far], 201, path, ago(400.0))
    play(open_replay(path, speed=None))


def test_fold_ticks_up_to_an_event_but_not_while_the_program_was_away() -> None:
    def fold() -> Fold:
        return Fold(Assistant(demo(), SessionMode.FIELD))

    through = fold()
    first = through.reach(1.0)
    assert [type(v).__name__ for v in first] == ["Advice"]
    assert through.reach(0.5) == ()
    assert fold().take(SessionResumed(t=40.0)) == ()
    taken = fold().take(Mark(t=40.0, kind=MarkKind.NOTE))
    assert taken[0] == first[0]
    assert fold().reach(LONGEST_SILENCE_S + 1.0) == ()


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
    named = tmp_path / "deep" / "er" / "my.session"
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
