"""The whole computation as one fold: input events in, verdict events out, a snapshot at any time.

A tick fires at each whole processing period, before any event at or after it, live and in replay
alike (`tick_times`). This is why a replay gives the verdicts of the live run bit for bit.
"""

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import replace
from math import inf

from chargeassist.guide import by_hand
from chargeassist.guide.ahead import ahead
from chargeassist.guide.attention import Attention
from chargeassist.guide.beside import of_the_job, of_the_reading, over_rated
from chargeassist.guide.cautions import CautionLog
from chargeassist.guide.charging import Findings, advise
from chargeassist.guide.conditions import Condition, condition_limits, conditions, unmet_keys
from chargeassist.guide.crosscheck import CrossCheck, cross_check
from chargeassist.guide.fault_cautions import fault_cautions
from chargeassist.guide.fault_watch import FaultWatch
from chargeassist.guide.guards import FloodingWatch
from chargeassist.guide.instrument_checks import InstrumentChecks
from chargeassist.guide.snapshot import Caution, Snapshot
from chargeassist.guide.stages.choice import GUIDES, RUNNING_STAGES, TESTS, known_stage, next_stage
from chargeassist.guide.stages.course import CourseLog, after, skipped
from chargeassist.guide.stages.final_reading import FinalReading
from chargeassist.guide.stages.stage import NextMark, StageGuide, StageStep
from chargeassist.guide.stages.unit_checks import UnitChecks
from chargeassist.guide.standing import tellable
from chargeassist.guide.tick_times import LATEST_T, TickTimes
from chargeassist.guide.told_apart import differs
from chargeassist.guide.trouble import Trouble
from chargeassist.model.events import (
    Action,
    Advice,
    CheckJudged,
    InputEvent,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
    SessionResumed,
    SessionStopped,
    Stage,
    StageChanged,
    VerdictEvent,
)
from chargeassist.model.job import Job
from chargeassist.model.reading_run import ReadingRun
from chargeassist.stream.facts import Facts
from chargeassist.stream.processor import Processor
from chargeassist.stream.read_times import ReadTimes
from chargeassist.stream.windows import LARGEST_SI

NOTES_KEPT = 200
"""The newest notes that a snapshot shows."""


class Assistant:
    """Folds a session's input events into verdicts.

    Parameters
    ----------
    job : Job
    mode : SessionMode
    replayed : bool
        Whether the events come from a record; shown, but without effect on verdicts.

    Raises
    ------
    ConfigError
        If the job's refrigerant or altitude cannot be used.
    """

    def __init__(self, job: Job, mode: SessionMode, *, replayed: bool = False) -> None:
        self.job = job
        self.mode = mode
        self.replayed = replayed
        self._processor = Processor(job)
        self._times = TickTimes(job.processing.period_s)
        self._stage = Stage.RUN_UP
        self._said: Advice | None = None
        self._advice: Advice | None = None
        self._trouble = Trouble()
        self._notes: tuple[tuple[float, str], ...] = ()
        self._finished = False
        self._facts: Facts | None = None
        self._condition_limits = condition_limits(job)
        self._conditions: tuple[Condition, ...] = ()
        self._faults = FaultWatch(job)
        self._attention = Attention(job)
        self._flooding = FloodingWatch(job)
        self._cross_check: CrossCheck | None = None
        self._guides: dict[Stage, StageGuide] = {}
        self._unit_checks = UnitChecks(job)
        self._instrument_checks = InstrumentChecks(job)
        self._final = FinalReading(job)
        self._course = CourseLog()
        self._steps_before = 0
        self._stage_step: StageStep | None = None
        self._checks: dict[tuple[Stage, str], CheckJudged] = {}
        self._caution_log = CautionLog(job)
        self._read_times = ReadTimes()

    def refusal(self, mark: Mark) -> str:
        """Return why a mark would not count, as one clause; empty if it would."""
        return self._read_times.refusal(mark)

    def step(self, event: InputEvent) -> tuple[VerdictEvent, ...]:
        """Take one input event and return the verdicts it leads to, in order.

        Events must come in order of time. One with an earlier time than the last is taken at the
        time of the last, as the session's intake does.
        """
        times = self._times
        if isinstance(event, Reading) and times.heard_t <= event.t < times.next_t:
            # Most events by far: a reading inside the present period.
            times.heard_t = event.t
            self._processor.take_reading(event)
            return ()
        t = times.ordered(event.t)
        if t != event.t:
            event = replace(event, t=t)
        verdicts: tuple[VerdictEvent, ...] = ()
        if not isinstance(event, SessionResumed):
            verdicts = self.advance(t)
        if isinstance(event, SessionResumed) or times.is_silence(t):
            self._leap(t)
        times.heard_t = t
        if isinstance(event, Mark) and not self._read_times.take(event):
            return verdicts
        self._processor.take(event)
        if not isinstance(event, Reading):
            self._attention.call()
            self._note(event)
        if isinstance(event, Mark):
            verdicts += self._take_mark(event)
        if isinstance(event, SessionStopped) and self._stage is not Stage.CLOSE_OUT:
            verdicts += (StageChanged(t=t, stage=Stage.CLOSE_OUT),)
            self._stage = Stage.CLOSE_OUT
        return verdicts

    def steps(self, run: ReadingRun) -> Iterator[tuple[VerdictEvent, ...]]:
        """Take consecutive readings and yield the verdicts they lead to.

        The verdicts are those of `step` for each reading. They are yielded as soon as a tick gives
        some, and `snapshot` then shows that tick; readings after it are taken when the next
        verdicts are asked for.
        """
        if not run.is_plain(LARGEST_SI):
            yield from filter(None, map(self.step, run))
            return
        own, times, at, end = self._times, run.times, 0, len(run)
        while at < end:
            t = times[at]
            if t >= own.next_t and not own.is_silence(t) and t <= LATEST_T:
                verdicts = self.advance(t)
                if verdicts:
                    yield verdicts
            if own.heard_t <= t < own.next_t:
                upto = bisect_left(times, own.next_t, at, end)
                self._processor.take_run(run, at, upto)
                own.heard_t = times[upto - 1]
                at = upto
            else:  # back in time, or after a silence too long to tick through
                verdicts = self.step(run.reading(at))
                if verdicts:
                    yield verdicts
                at += 1

    def advance(self, t: float) -> tuple[VerdictEvent, ...]:
        """Fire every tick up to and including `t` [s] and return their verdicts."""
        verdicts: list[VerdictEvent] = []
        for tick in self._times.due(t):
            verdicts += self._tick(tick)
        for tick in self._times.due_seldom(t):
            self._processor.restart(tick)
            verdicts += self._tick(tick)
        return tuple(verdicts)

    @property
    def pictured(self) -> tuple[float, bool]:
        """Time of the last tick [s], and whether the session ended; they date `snapshot`."""
        return -inf if self._facts is None else self._facts.t, self._finished

    def snapshot(self) -> Snapshot | None:
        """Return the snapshot of the last tick; None before the first."""
        facts, advice = self._facts, self._advice
        if facts is None or advice is None:
            return None
        self._processor.describe_channels()  # a snapshot outlives its tick
        return Snapshot(
            t=facts.t,
            job=self.job,
            mode=self.mode,
            replayed=self.replayed,
            stage=self._stage,
            facts=facts,
            advice=advice,
            cautions=self._cautions(facts),
            sources=self._trouble.sources,
            notes=self._notes,
            finished=self._finished,
            conditions=self._conditions_at(facts) if self._conditions else (),
            diagnosis=self._faults.diagnosis,
            fault=self._faults.fault,
            hunting=self._faults.hunting,
            standing=self._faults.standing,
            cross_check=self._cross_check,
            ahead=ahead(self.job, facts) if advice.action is Action.WAIT else None,
            stage_step=self._stage_step,
            checks=tuple(self._checks.values()),
            tellable=self._tellable(facts) if self._stage in RUNNING_STAGES else (),
            unread=self._caution_log.unread,
            hazards=self._caution_log.met,
            next_mark=(
                self._unit_checks.next_mark(advice)
                or by_hand.asked_mark(self.job, facts, advice)
                or self._final.next_mark
                or by_hand.next_mark(facts, due=self._final.unread)
            )
            if self._stage in RUNNING_STAGES
            else None,
            courses=self._course.stages,
        )

    def _take_mark(self, mark: Mark) -> tuple[VerdictEvent, ...]:
        """Begin the stage a mark names, or pass the mark to the present stage."""
        self._faults.take(mark)
        self._instrument_checks.take(mark)
        self._caution_log.take(mark)
        skip = skipped(mark)
        if skip is not None and not self._finished:
            told = self._keep((self._course.skip(*skip, mark.t),))
            following = after(skip[0], self._stage)
            return told if following is None else (*told, *self._begin(following, mark.t))
        if mark.kind is not MarkKind.STAGE_BEGUN:
            guide = self._guides.get(self._stage)
            if guide is not None:
                guide.take(mark)
            elif self._stage in RUNNING_STAGES:
                self._unit_checks.take(mark)
            return ()
        stage = known_stage(mark.text)
        return () if stage is None or self._finished else self._begin(stage, mark.t)

    def _begin(self, stage: Stage, t: float) -> tuple[VerdictEvent, ...]:
        """Begin a stage at `t` [s], or begin it again."""
        again = self._course.begin(stage, t)
        if stage in GUIDES:
            if stage not in self._guides or (again and stage in TESTS):
                self._guides[stage] = GUIDES[stage](self.job)  # a test begins anew
            if stage is not self._stage:
                self._guides[stage].begin(t)
        self._processor.run(t, running=stage in RUNNING_STAGES)
        self._steps_before = self._processor.steps  # weighed in: no step of the charging
        if stage is self._stage:
            return ()
        left = self._keep(self._final.left(t)) if stage is Stage.CLOSE_OUT else ()
        self._stage = stage
        return (*left, StageChanged(t=t, stage=stage))

    def _tick(self, t: float) -> list[VerdictEvent]:
        facts, changes = self._processor.tick(t)
        verdicts: list[VerdictEvent] = list(changes)
        verdicts += self._keep(self._instrument_checks.tick(facts, self._stage))
        guide = self._guides.get(self._stage)
        if guide is not None:
            verdicts += self._stage_tick(guide, facts)
            return verdicts
        self._stage_step = None
        self._facts = facts
        verdicts += self._faults.tick(facts)
        flooding_s = self._flooding.lasts_s(facts)
        close = flooding_s > 0.0 or self._unit_checks.heat.waits
        if self._attention.is_due(facts, self._faults, self._advice, close=close):
            verdicts += self._look(facts, flooding_s)
        return verdicts

    def _look(self, facts: Facts, flooding_s: float) -> list[VerdictEvent]:
        """Judge conditions, advise, and make the checks beside the charge of a running unit."""
        self._conditions = self._conditions_at(facts)
        if self._faults.diagnosis is None:
            self._cross_check = None
        elif self._faults.ranked_t == facts.t:
            self._cross_check = cross_check(self.job, facts)
        findings = Findings(
            conditions=self._conditions,
            cure=self._faults.cure,
            diagnosis=self._faults.diagnosis,
            fault=self._faults.fault,
            drift=self._faults.drift,
            standing=self._faults.standing,
            cylinder=self._instrument_checks.cylinder_for(facts),
            hold_expired=self._processor.hold_expired,
            flooding_s=flooding_s,
        )
        advice = advise(self.job, facts, self._advice, findings)
        final = self._keep(self._final.tick(facts, advice, self._cross_check))
        beside = {**self._final.figures, **by_hand.figures(facts)}
        if self._final.stands:
            beside |= by_hand.beside_final(facts, due=self._final.unread)
        if beside:
            advice = replace(advice, figures={**advice.figures, **beside})
        self._advice = advice
        verdicts: list[VerdictEvent] = []
        if self._said is None or differs(advice, self._said):
            self._said = advice
            verdicts.append(advice)
        stage = next_stage(self._stage, facts, advice, self._steps_before)
        if stage is not self._stage:
            self._stage = stage
            self._course.reach(stage)
            verdicts.append(StageChanged(t=facts.t, stage=stage))
        self._caution_log.tick(facts.t, stage, advice)
        verdicts += final
        if stage in RUNNING_STAGES:
            verdicts += self._keep(self._unit_checks.tick(facts, stage))
        return verdicts

    def _conditions_at(self, facts: Facts) -> tuple[Condition, ...]:
        """Return the conditions by these facts; a snapshot makes them anew at each tick."""
        unmet, balance = unmet_keys(self._conditions), self._unit_checks.heat.found
        return conditions(self.job, facts, unmet, balance, self._condition_limits)

    def _keep(self, checks: tuple[CheckJudged, ...]) -> tuple[CheckJudged, ...]:
        """Store each check as the newest of its kind, and return them."""
        self._course.judge(checks)
        for check in checks:
            self._checks[check.stage, check.check] = check
        return checks

    def _stage_tick(self, guide: StageGuide, facts: Facts) -> list[VerdictEvent]:
        """Take the advice of the present stage; nothing of a running unit is judged meanwhile."""
        self._conditions, self._cross_check = (), None
        self._faults.forget()
        self._flooding.forget()
        step = self._caution_log.guarded(guide.tick(facts), facts.t, self._stage)
        others = self._instrument_checks.marks(facts)
        if others:
            step = replace(step, other_marks=(*step.other_marks, *others))
        self._facts, self._advice, self._stage_step = facts, step.advice, step
        verdicts: list[VerdictEvent] = list(self._keep(step.checks))
        if self._said is None or differs(step.advice, self._said):
            self._said = step.advice
            verdicts.append(step.advice)
        return verdicts

    def _leap(self, t: float) -> None:
        """Pass over the time until `t` [s], of which nothing is known."""
        self._times.leap(t)
        self._processor.restart(t, unseen_s=t - self._times.heard_t)
        self._flooding.forget()

    def _note(self, event: InputEvent) -> None:
        match event:
            case Mark(kind=MarkKind.NOTE):
                self._notes = (*self._notes[-(NOTES_KEPT - 1) :], (event.t, event.text))
            case SessionStopped():
                self._finished = True
            case _:
                self._trouble.take(event)

    def _tellable(self, facts: Facts) -> tuple[NextMark, ...]:
        """Return what can be entered beside the charge: of the unit first, then of the probes."""
        probes = self._instrument_checks
        others = (*self._unit_checks.tellable(facts), *tellable(facts))
        return (*probes.marks(facts), *by_hand.told_first(facts, others), *probes.entries(facts))

    def _cautions(self, facts: Facts) -> tuple[Caution, ...]:
        """Return the cautions beside the instruction."""
        running = self._stage in RUNNING_STAGES
        return (
            *of_the_job(self.job, facts, running=running),
            *of_the_reading(self._conditions, facts, self._cross_check),
            *over_rated(self._unit_checks.over_rated_load(facts) if running else None),
            *fault_cautions(self._faults, facts.t),
            *self._instrument_checks.cautions,
            *self._trouble.cautions(facts.t),
        )
