"""Put a session together: from a job file, from an interrupted session file, from a record."""

import datetime as dt
import re
import uuid
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.stages.beginning import opening_marks
from chargeassist.model.build import software
from chargeassist.model.errors import ConfigError, RecordError, SourceError
from chargeassist.model.events import (
    ClockSet,
    Event,
    Outcome,
    SessionMode,
    SessionResumed,
    SessionStarted,
    SessionStopped,
    VerdictEvent,
)
from chargeassist.model.job import Job, SourceSpec
from chargeassist.physics.table import table_hash
from chargeassist.session.before import WentBefore
from chargeassist.session.clock import utc_now
from chargeassist.session.compare import is_closing
from chargeassist.session.fold import Fold
from chargeassist.session.pilot import Attendant
from chargeassist.session.plugins import make_source
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.record.package import open_record
from chargeassist.session.record.reader import RecordReader
from chargeassist.session.record.store import SUFFIX, SessionWriter
from chargeassist.session.runner import Listener, Session
from chargeassist.session.source import Source, check_together
from chargeassist.session.whole_file import expect_folder

RECORDS_FOLDER = user_data_path("chargeassist") / "sessions"
"""Where session files go unless another place is named."""
RECORDING = "recording"
"""Scheme of addresses that name a record."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A session ready to run, and the first event of its record."""

    session: Session
    started: SessionStarted


def started_now(job: Job, mode: SessionMode) -> SessionStarted:
    """Return the first event of a session that starts now."""
    return SessionStarted(
        t=0.0,
        session_id=uuid.uuid4().hex,
        started_utc=utc_now().isoformat(timespec="milliseconds"),
        software=software(),
        table_hash=table_hash(),
        mode=mode,
        job=job_to_json(job),
    )


def open_new(
    job: Job,
    base: Path,
    *,
    record: Path | None = None,
    speed: float | None = 1.0,
    listeners: Sequence[Listener] = (),
    attendant: Attendant | None = None,
) -> Opened:
    """Return a new session for `job`, recorded; one that plays a recording is a replay and is not.

    Parameters
    ----------
    job : Job
    base : Path
        Folder that relative paths in the job's addresses start from.
    record : Path, optional
        The session file to make, or a folder to make it in; `RECORDS_FOLDER` otherwise.
    speed : float or None
        Of a simulator or a recording; None for as fast as possible.
    listeners : sequence of callables
    attendant : Attendant or None

    Raises
    ------
    ConfigError, SourceError, RecordError
        If the job, one of its sources or the record cannot be used.
    """
    sources = [make_source(spec, base) for spec in job.sources]
    check_together(sources)
    if any(spec.scheme == RECORDING for spec in job.sources):
        return _open_played(job, sources[0], record, speed, listeners)
    simulated = any(source.simulated for source in sources)
    mode = SessionMode.SIMULATED if simulated else SessionMode.FIELD
    assistant = Assistant(job, mode)
    started = started_now(job, mode)
    path = record_path(job, started, record)
    _make_folder(path, record)
    writer = SessionWriter.create(path, started, base)
    try:
        session = Session(
            assistant,
            sources,
            recorder=writer,
            speed=speed,
            opening=opening_marks(job),
            listeners=listeners,
            attendant=attendant,
        )
    except BaseException:
        writer.abandon()
        raise
    return Opened(session, started)


def open_resumed(path: Path, *, listeners: Sequence[Listener] = ()) -> Opened:
    """Return the interrupted session of the file `path`, ready to be resumed.

    Raises
    ------
    RecordError
        If the session is finished or held by another program, was made from a simulator or a
        recording (which begin anew), or the file is damaged.
    """
    with open_record(path) as record:
        started, job, base = record.started, record.job, record.job_folder or Path.cwd()
    sources = [make_source(spec, base) for spec in job.sources]
    timed = [source for source in sources if source.brings_time]
    if timed:
        raise RecordError(
            f"{path}: {timed[0].name!r} brings its own time and cannot be resumed; "
            "start a new session"
        )
    # Held before it is read: nobody else writes into it between the two.
    writer, _ = SessionWriter.resume(path)
    try:
        assistant = Assistant(job, started.mode)
        with open_record(path) as record:
            last_t, unrecorded, set_s = _fold(record, Fold(assistant))
            known = frozenset(record.channels)
        away_s = None if set_s is None else _away_s(started, last_t + set_s)
        start_t = last_t + (away_s or 0.0)
        session = Session(
            assistant,
            sources,
            recorder=writer,
            opening=(SessionResumed(t=start_t, away_s=away_s),),
            before=WentBefore(start_t=start_t, declared=known, unrecorded=unrecorded),
            listeners=listeners,
        )
    except BaseException:
        writer.abandon()
        raise
    return Opened(session, started)


def open_replay(
    path: Path, *, speed: float | None = 1.0, listeners: Sequence[Listener] = ()
) -> Opened:
    """Return a session that plays the record at `path` again; nothing is recorded.

    Parameters
    ----------
    path : Path
        A session file or a Data Package folder.
    speed : float or None
        None for as fast as possible.
    listeners : sequence of callables

    Raises
    ------
    RecordError, SourceError
        If the record cannot be read.
    """
    with open_record(path) as record:
        started, job, stopped = record.started, record.job, record.stopped
        ticked = _ticked(record)
    interrupted = Outcome.ABANDONED, "the record ends here without an end"
    session = Session(
        Assistant(job, started.mode, replayed=True),
        [recorded_source(path)],
        speed=speed,
        before=WentBefore(ticked=ticked),
        ends_as=interrupted if stopped is None else (stopped.outcome, stopped.reason),
        listeners=listeners,
    )
    return Opened(session, started)


def _open_played(
    job: Job,
    source: Source,
    record: Path | None,
    speed: float | None,
    listeners: Sequence[Listener],
) -> Opened:
    """Return a session that judges a recording by another job; it must not pass for a new one."""
    if record is not None:
        raise ConfigError("a recording is played again, not recorded again; leave out the record")
    started = getattr(source, "started", None)
    if not isinstance(started, SessionStarted):
        raise SourceError(f"source {source.name!r} does not say what it plays")
    # The speed of the address stands unless another one is asked for.
    pace = getattr(source, "speed", speed) if speed == 1.0 else speed
    assistant = Assistant(job, started.mode, replayed=True)
    return Opened(Session(assistant, [source], speed=pace, listeners=listeners), started)


def recorded_source(path: Path) -> Source:
    """Return the source that delivers the record at `path` again."""
    spec = SourceSpec(name="recording", url=f"{RECORDING}:{path.resolve()}")
    return make_source(spec, Path.cwd())


def record_path(job: Job, started: SessionStarted, wanted: Path | None) -> Path:
    """Return the session file to make: `wanted`, or a name made from time and job in a folder."""
    if wanted is not None and wanted.suffix == SUFFIX:
        return wanted
    folder = RECORDS_FOLDER if wanted is None else wanted
    slug = re.sub(r"[^a-z0-9]+", "-", job.name.lower()).strip("-")[:40] or "job"
    stamp = re.sub(r"[^0-9]", "", started.started_utc[:19])
    return folder / f"{stamp[:8]}-{stamp[8:]}-{slug}-{started.session_id[:4]}{SUFFIX}"


def _make_folder(path: Path, wanted: Path | None) -> None:
    """Make the folder that records go to: the usual one, or the one that is asked for."""
    if wanted is not None:
        expect_folder(wanted)
    try:
        path.parent.mkdir(parents=wanted is None, exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"{path.parent}: expected a folder, or a place where one can be made: {error.strerror}"
        ) from error


def _fold(record: RecordReader, fold: Fold) -> tuple[float, tuple[VerdictEvent, ...], float | None]:
    """Fold a record's events into an assistant.

    Returns
    -------
    last_t : float
        Latest time in the record [s].
    unrecorded : tuple of VerdictEvent
        Verdicts of the last input that the interruption kept out of the record.
    set_s : float or None
        By how much the wall clock was set forward while the session ran [s]; None where it was set
        while nobody looked, so that session time and wall clock have nothing in common any more.
    """
    last_t = 0.0
    set_s: float | None = 0.0
    made: deque[VerdictEvent] = deque()
    told: Event | None = None
    for event in record.events():
        last_t = max(last_t, event.t)
        if isinstance(event, SessionResumed) and event.away_s is None:
            set_s = None
        if isinstance(event, ClockSet) and set_s is not None:
            set_s += event.step_s
        if isinstance(event, VerdictEvent):
            made += fold.reach(event.t)
            if made and not is_closing(event, told):
                made.popleft()
        elif not isinstance(event, SessionStarted | SessionStopped):
            # What is left over here another version of the program did not find worth a verdict.
            made.clear()
            told = event
            made += fold.take(event)
    return last_t, tuple(made), set_s


def _ticked(record: RecordReader) -> tuple[float, ...]:
    """Return the time of the last verdict before each interruption of `record` [s]."""
    ticked: list[float] = []
    verdict_t = 0.0
    for event in record.events():
        if isinstance(event, VerdictEvent):
            verdict_t = event.t
        elif isinstance(event, SessionResumed):
            ticked.append(verdict_t)
    return (*ticked, verdict_t) if record.stopped is None else tuple(ticked)


def _away_s(started: SessionStarted, last_wall_s: float) -> float | None:
    """Return how long ago the last recorded event was, by the wall clock, or None if it lies.

    `last_wall_s` is what the wall clock had gone on by since the start when it was recorded [s].
    """
    try:
        begun = dt.datetime.fromisoformat(started.started_utc)
        away_s = (utc_now() - begun).total_seconds() - last_wall_s
    except (ValueError, TypeError):  # no date, or one without its zone
        return None
    return round(away_s, 3) if away_s >= 0.0 else None
