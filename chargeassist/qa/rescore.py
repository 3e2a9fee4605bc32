"""Compute a record's verdicts again from its raw readings, with today's software.

The moments that an audit or a report asks about (steps, verdicts, the end) are kept on the way,
each with the picture the program had then.
"""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.final_reading import CHECK, HELD
from chargeassist.guide.tick_times import LONGEST_SILENCE_S
from chargeassist.model.channels import Channel
from chargeassist.model.errors import RecordDamagedError
from chargeassist.model.events import (
    ChannelDeclared,
    CheckJudged,
    Event,
    Mark,
    MarkKind,
    Reading,
    SessionResumed,
    SessionStarted,
    SessionStopped,
    Stage,
    StageChanged,
    StepRecorded,
    VerdictEvent,
)
from chargeassist.model.job import Job
from chargeassist.model.reading_run import ReadingRun
from chargeassist.session.compare import Closing
from chargeassist.session.fold import Fold
from chargeassist.session.record.reader import RecordReader
from chargeassist.stream.facts import ChargeStep, Facts

Watch = Callable[[Snapshot], None]

_STEP_MARKS = frozenset({MarkKind.STEP_BEGUN, MarkKind.STEP_ENDED})


@dataclass(frozen=True, slots=True)
class Moment:
    """What the program knew when something happened.

    Attributes
    ----------
    event : Mark or VerdictEvent or SessionStopped
        For a mark `snapshot` is the picture before it, else after.
    snapshot : Snapshot or None
        None before the first tick.
    """

    event: Mark | VerdictEvent | SessionStopped
    snapshot: Snapshot | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rescored:
    """One session, computed again.

    Attributes
    ----------
    recorded, made : tuple of VerdictEvent
        Verdicts as they stand in the record, and as they come out now.
    recorded_at : tuple of Snapshot or None
        What today's software knew when each recorded verdict was given.
    moments : tuple of Moment
        Of marks of steps, of the verdicts made, and of the end; in order.
    marks : tuple of Mark
    last : Snapshot or None
        The picture at the end.
    readings : int
    """

    started: SessionStarted
    stopped: SessionStopped | None
    job: Job
    channels: tuple[Channel, ...]
    recorded: tuple[VerdictEvent, ...]
    made: tuple[VerdictEvent, ...]
    recorded_at: tuple[Snapshot | None, ...]
    moments: tuple[Moment, ...]
    marks: tuple[Mark, ...]
    last: Snapshot | None
    readings: int


def rescore(record: RecordReader, watch: Watch | None = None) -> Rescored:
    """Return the session of `record`, computed again.

    Parameters
    ----------
    record : RecordReader
    watch : callable, optional
        Shown the picture of each second on the way.

    Raises
    ------
    RecordError
        Where the record cannot be read.
    ConfigError
        If today's software cannot judge its job.
    """
    events = record.runs() if watch is None else record.events()
    return rescore_events(events, record.job, watch)


def rescore_events(
    events: Iterator[Event | ReadingRun], job: Job, watch: Watch | None = None
) -> Rescored:
    """Return the session that `events` are, computed again; raises like `rescore`.

    Readings may come in runs, but `watch` is not shown the seconds inside a run.
    """
    return _Rescoring(job, watch).run(events)


class _Rescoring:
    def __init__(self, job: Job, watch: Watch | None) -> None:
        self._job = job
        self._watch = watch
        self._watched_t = 0.0
        self._recorded: list[VerdictEvent] = []
        self._recorded_at: list[Snapshot | None] = []
        self._made: list[VerdictEvent] = []
        self._moments: list[Moment] = []
        self._marks: list[Mark] = []
        self._channels: dict[str, Channel] = {}
        self._readings = 0
        self._closing = Closing()

    def run(self, events: Iterator[Event | ReadingRun]) -> Rescored:
        """Fold all of them."""
        started = next(events, None)
        if not isinstance(started, SessionStarted):
            raise RecordDamagedError("expected the start of a session as the first row, got none")
        assistant = Assistant(self._job, started.mode, replayed=True)
        fold = Fold(assistant)
        fold.take(started)
        stopped = None
        last_counted: tuple[VerdictEvent, ...] = ()
        before_t = last_t = verdict_t = 0.0
        for event in events:
            counted = self._closing.take(event)
            if isinstance(event, SessionStopped):
                last_counted = counted  # known after the end, which gives it
            else:
                self._recorded += counted
            if isinstance(event, ReadingRun):
                before_t, last_t = (last_t, *event.times)[-2:]
                self._look(fold, assistant, event.times[0])
                self._readings += len(event)
                for verdicts in fold.steps(event):
                    self._keep(verdicts, assistant)
                continue
            if isinstance(event, VerdictEvent):
                verdict_t = event.t
                continue
            before_t, last_t = last_t, event.t
            if not isinstance(event, SessionResumed):
                self._watch_silence(fold, assistant, before_t, event.t)
            self._look(fold, assistant, event.t)
            if isinstance(event, SessionResumed):
                # Before the program went away it had ticked as far as its last verdict.
                self._keep(fold.reach(verdict_t), assistant)
            elif isinstance(event, SessionStopped):
                stopped = event
            self._note(event, assistant)
            self._keep(fold.take(event), assistant)
            if self._watch is not None and event.t >= self._watched_t + 1.0:
                self._watched_t = event.t
                snapshot = assistant.snapshot()
                if snapshot is not None:
                    self._watch(snapshot)
        if stopped is None:
            self._look(fold, assistant, verdict_t)
            self._keep(fold.reach(verdict_t), assistant)
            self._cut(before_t)
        else:
            self._moments.append(Moment(stopped, assistant.snapshot()))
            self._recorded += last_counted
            self._recorded_at += [assistant.snapshot() for _ in last_counted]
        return Rescored(
            started=started,
            stopped=stopped,
            job=self._job,
            channels=tuple(self._channels.values()),
            recorded=tuple(self._recorded),
            made=tuple(self._made),
            recorded_at=tuple(self._recorded_at),
            moments=tuple(self._moments),
            marks=tuple(self._marks),
            last=assistant.snapshot(),
            readings=self._readings,
        )

    def _watch_silence(
        self, fold: Fold, assistant: Assistant, after_t: float, until_t: float
    ) -> None:
        """Show what the program knew while nothing arrived, as between readings that are typed."""
        if self._watch is None or until_t - after_t > LONGEST_SILENCE_S:
            return
        t = after_t + 1.0
        while t < until_t:
            due = [e for e in self._recorded[len(self._recorded_at) :] if e.t <= t]
            for event in due:
                self._keep(fold.reach(event.t), assistant)
                self._recorded_at.append(assistant.snapshot())
            self._keep(fold.reach(t), assistant)
            snapshot = assistant.snapshot()
            if snapshot is not None:
                self._watch(snapshot)
            self._watched_t = t
            t += 1.0

    def _look(self, fold: Fold, assistant: Assistant, until_t: float) -> None:
        """Keep what is known at the recorded verdicts that came since the last input.

        They are reached tick by tick, but never past the next input: what a record claims as the
        time of a verdict decides nothing.
        """
        for event in self._recorded[len(self._recorded_at) :]:
            if event.t <= until_t:
                self._keep(fold.reach(event.t), assistant)
            self._recorded_at.append(assistant.snapshot())

    def _note(self, event: Event, assistant: Assistant) -> None:
        if isinstance(event, Mark):
            self._marks.append(event)
            if event.kind in _STEP_MARKS:
                self._moments.append(Moment(event, assistant.snapshot()))
        elif isinstance(event, ChannelDeclared):
            self._channels[event.channel.name] = event.channel
        elif isinstance(event, Reading):
            self._readings += 1

    def _keep(self, verdicts: tuple[VerdictEvent, ...], assistant: Assistant) -> None:
        if not verdicts:
            return
        snapshot = assistant.snapshot()
        for verdict in verdicts:
            self._made.append(verdict)
            self._moments.append(Moment(verdict, snapshot))

    def _cut(self, certain_t: float) -> None:
        """Forget the last verdicts, which an interruption kept out of the record."""
        known = len(self._recorded)
        self._made = [
            verdict
            for number, verdict in enumerate(self._made)
            if number < known or verdict.t <= certain_t
        ]


def started_at(started: SessionStarted) -> dt.datetime | None:
    """Return when a session began, in UTC; None where the record has no readable time."""
    try:
        begun = dt.datetime.fromisoformat(started.started_utc)
        return begun.astimezone(dt.UTC) if begun.tzinfo is not None else None
    except (ValueError, OverflowError):  # no time, or one at an end of the calendar
        return None


def final_reading(session: Rescored) -> CheckJudged | None:
    """Return the final reading the job was closed with; None where none stood at its end."""
    newest = next(
        (
            event
            for event in reversed(session.made)
            if isinstance(event, CheckJudged) and event.check == CHECK
        ),
        None,
    )
    return newest if newest is not None and newest.cause in HELD else None


def settled_facts(session: Rescored) -> Facts | None:
    """Return what was known when the charge had its last settled value; None before the first tick.

    At the end of the session, as a rule. Where the unit was stopped after a final reading had
    stood nothing is settled any more, and it is that reading.
    """
    last = None if session.last is None else session.last.facts
    if last is not None and last.settled is not None:
        return last
    final = final_reading(session)
    stood = next((m.snapshot for m in session.moments if m.event is final), None)
    return last if final is None or stood is None else stood.facts


def steps_recorded(session: Rescored) -> tuple[StepRecorded, ...]:
    """Return the charge steps the recomputed ledger holds, in order, each as last amended."""
    latest = {e.number: e for e in session.made if isinstance(e, StepRecorded)}
    return tuple(latest[number] for number in sorted(latest))


def charge_steps(session: Rescored) -> tuple[ChargeStep, ...]:
    """Return the steps of the charge; what is weighed in goes in at once, the unit at rest."""
    ledger = () if session.last is None else session.last.facts.ledger
    changes = [event for event in session.made if isinstance(event, StageChanged)]

    def stage_at(t: float) -> Stage | None:
        return next((each.stage for each in reversed(changes) if each.t <= t), None)

    return tuple(step for step in ledger if stage_at(step.begun_t) is not Stage.WEIGH_IN)
