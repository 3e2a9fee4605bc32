"""A standing test by typed readings: what it waits for, what it asks for, what it says."""

from enum import Enum, auto

from chargeassist.guide.stages.hand_sets import PIPES, HandSets
from chargeassist.guide.stages.leak_figures import leak_figures
from chargeassist.guide.stages.nitrogen import ROOM_K, figures_of, judged, settle_s, told_verdict
from chargeassist.guide.stages.stage import Instruction, StageRow, reading_withdrawn, say, typed
from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, CheckJudged, Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.standing_by_hand import HandReading, judge_by_hand
from chargeassist.physics.tightness import Tightness, TightVerdict
from chargeassist.physics.tightness_settings import TightnessSettings

_OF_INSTRUMENTS = (LimitKey.TIGHTNESS_GAUGE_BY_HAND, LimitKey.TIGHTNESS_THERMOMETER)
"""Limits of error that count where the job declares none of the gauge and thermometer read."""


class Phase(Enum):
    """How far the readings of an undecided test have come."""

    BEGIN_LACKS = auto()  # no reading at the begin of the hold
    HOLDS = auto()  # nothing has to be read now
    END_LACKS = auto()  # the hold is over, and was not read at its end
    UNDECIDED = auto()  # ... and was, but the readings decide nothing yet


class StandingByHand:
    """One standing test, from the supply shut at the top until the circuit is filled anew.

    At first the heat of filling has to go (`_warm_until_t`). Then readings are asked for as `Phase`
    tells, until they decide. Everything follows from the readings since the supply was shut, but
    for `is_tight`: that is the verdict that was reported last.

    Parameters
    ----------
    job : Job
        With steps; the last one is the test.
    sets : HandSets
        What is typed, already put together.
    from_t : float
        When the supply was shut [s].
    """

    def __init__(self, job: Job, sets: HandSets, from_t: float) -> None:
        self._job = job
        self._sets = sets
        self._from_t = from_t
        self._hold_s = job.stages.tightness.steps[-1].hold_s
        self._settle_s = settle_s(job)
        self._together = job.limit_or_usual(LimitKey.TYPED_TOGETHER)
        self._settings = _settings(job)
        self._readings: list[HandReading] = []
        self._found: Tightness | None = None
        self._reported: tuple[TightVerdict, int] | None = None
        """Verdict, and on how many readings, of the last event."""
        self.reopened = False
        """Whether a verdict was reported that stands no longer."""
        self._station_pa = 0.0

    @property
    def from_t(self) -> float:
        """When the supply was shut [s]."""
        return self._from_t

    @property
    def is_tight(self) -> bool:
        """Whether the circuit was last reported as tight."""
        return self._reported is not None and self._reported[0] is TightVerdict.TIGHT

    def shut_again(self, t: float) -> None:
        """Note that the supply was shut once more at `t` [s]: readings before do not count."""
        self._from_t = t
        self._reported = None

    def judge_again(self) -> None:
        """Let the last verdict stand no longer: a reading that it may rest on was wrong."""
        self.reopened = self.reopened or self._reported is not None
        self._reported = None

    def feed(self, t: float, station_pa_abs: float) -> None:
        """Judge what was read up to `t` [s], if that is new."""
        readings = self._sets.readings(t, self._from_t + self._settle_s, station_pa_abs)
        if readings == self._readings:
            return
        self._readings, self._station_pa = readings, station_pa_abs
        found = judge_by_hand(readings, self._settings, self._from_t, t)
        self._found = None if isinstance(found, NoValue) else found

    @property
    def _verdict(self) -> Tightness | None:
        """What was found, once it decides."""
        undecided = self._found is None or self._found.verdict is TightVerdict.NOT_YET
        return None if undecided else self._found

    @property
    def _due_t(self) -> float:
        """When the reading at the end is due [s]; a late first reading puts it off."""
        due_t = self._from_t + self._hold_s
        if self._readings:
            due_t = max(due_t, self._readings[0].t + self._hold_s - self._settle_s)
        return due_t

    @property
    def _warm_until_t(self) -> float:
        return self._from_t + self._settle_s

    def _phase(self, t: float) -> Phase:
        over = t >= self._due_t
        if over and (not self._readings or self._readings[-1].t < self._due_t):
            return Phase.END_LACKS
        if not self._readings:
            return Phase.BEGIN_LACKS
        return Phase.UNDECIDED if over and self._found is not None else Phase.HOLDS

    def advise(self, t: float, *, by_probe: bool) -> Instruction:
        """Return what to read next, or what was found; `by_probe` if a probe tells the pressure."""
        if t < self._warm_until_t:
            left_s = self._warm_until_t - t
            return say(t, Action.WAIT, "warm_from_filling", {"seconds_s": left_s}), None
        if self._verdict is not None:
            return told_verdict(t, self._verdict, self._figures(self._verdict) | self._count())
        between = Entry.LIQUID_PIPE if by_probe else Entry.TEST_PRESSURE
        match self._phase(t):
            case Phase.BEGIN_LACKS:
                entry = self._next_of_reading(t, self._warm_until_t, by_probe=by_probe)
                return self._ask(t, "read_begin", entry)
            case Phase.END_LACKS:
                entry = self._next_of_reading(t, self._due_t, by_probe=by_probe)
                return self._ask(t, "read_end", entry)
            case Phase.HOLDS:
                return self._ask_second_pipe(t) or self._wait(t, between)
            case Phase.UNDECIDED:
                reason = "" if self._found is None else self._found.reason
                return self._wait(t, between, reason)

    def _ask(self, t: float, cause: str, entry: Entry) -> Instruction:
        figures = self._progress(t) | {"together_s": self._together.value_si}
        return say(t, Action.DO, cause, figures, subject=entry.label), typed(entry)

    def _ask_second_pipe(self, t: float) -> Instruction | None:
        """Ask for the other pipe of the first reading, while it can still join it.

        One pipe does not stand for the circuit.
        """
        newest, pipe = self._sets.open_set(t), self._second_pipe(t)
        if newest is None or pipe is None or len(self._readings) > 1:
            return None
        figures = {"seconds_s": newest.t + self._together.value_si - t}
        return say(t, Action.DO, "read_second", figures, subject=pipe.label), typed(pipe)

    def _wait(self, t: float, between: Entry, reason: str = "") -> Instruction:
        """Wait; a reading in between is invited, so that the key takes one."""
        advice = say(t, Action.WAIT, "standing_by_hand", self._progress(t), subject=reason)
        return advice, typed(self._second_pipe(t) or between)

    def _second_pipe(self, t: float) -> Entry | None:
        """Return the pipe that the newest reading lacks, while it can still join it."""
        newest = self._sets.open_set(t)
        lacks = [] if newest is None else newest.lacks()
        return lacks[0] if lacks else None

    def _next_of_reading(self, t: float, from_t: float, *, by_probe: bool) -> Entry:
        """Return what a reading from `from_t` [s] on still lacks: its pressure, or a pipe."""
        pipes = list(PIPES)
        if self._readings:
            # The pipes of the first reading: others say nothing of a change.
            pipes = self._sets.pipes_at(self._readings[0].t) or pipes
        begun = self._sets.open_set(t, from_t)
        if begun is None:
            return pipes[0] if by_probe else Entry.TEST_PRESSURE
        lacks = begun.lacks(pipes)
        return lacks[0] if lacks else Entry.TEST_PRESSURE

    def judge(self, t: float) -> tuple[CheckJudged, ...]:
        """Return the verdict as an event, if it or the number of its readings is new."""
        found, count = self._verdict, len(self._readings)
        reopened, self.reopened = self.reopened, False
        if found is None and reopened:
            return (reading_withdrawn(t, Stage.TIGHTNESS, "standing_pressure"),)
        if found is None or self._reported == (found.verdict, count):
            return ()
        self._reported = (found.verdict, count)
        job, plan = self._job, self._job.stages.tightness
        declared = plan.gauge_accuracy is not None and plan.thermometer_accuracy is not None
        many = job.limit_or_usual(LimitKey.TIGHTNESS_READINGS)
        assumed = [self._together.told, many.told]
        if not declared:
            assumed += [job.limit_or_usual(key).told for key in _OF_INSTRUMENTS]
        return (
            judged(
                t,
                found,
                self._figures(found),
                job,
                certain=declared and count >= many.value_si,
                readings=count,
                assumed=tuple(assumed),
            ),
        )

    def rows(self) -> list[StageRow]:
        """Return the number of readings, and what they say."""
        rows = [StageRow(key="hand_readings", figures=self._count())]
        if self._found is not None:
            figures = self._figures(self._found)
            state = "fail" if self._found.verdict is TightVerdict.FALLING else ""
            rows.append(StageRow(key="compensated", figures=figures))
            rows.append(StageRow(key="smallest_leak", figures=figures, state=state))
        return rows

    def _count(self) -> dict[str, float]:
        return {"readings": float(len(self._readings))}

    def _progress(self, t: float) -> dict[str, float]:
        """Return the figures of an undecided test."""
        known = {} if self._found is None else figures_of(self._found)
        return known | self._count() | {"seconds_s": max(self._due_t - t, 0.0)}

    def _figures(self, found: Tightness) -> dict[str, float]:
        """Return the figures of a result, with its leak if the circuit's volume is known."""
        temps_k = self._readings[-1].pipe_temps_k
        mean_k = sum(temps_k) / len(temps_k)
        return figures_of(found) | leak_figures(self._job, found, mean_k, self._station_pa)


def _settings(job: Job) -> TightnessSettings:
    """Return what the readings are judged by."""
    plan, step = job.stages.tightness, job.stages.tightness.steps[-1]
    gauge, thermometer = plan.gauge_accuracy, plan.thermometer_accuracy
    pressure_pa = step.pressure_pa_gauge
    usual_gauge, usual_thermometer = (job.limit_or_usual(key) for key in _OF_INSTRUMENTS)
    return TightnessSettings(
        hold_s=step.hold_s,
        settle_s=settle_s(job),
        leak_pa_per_s=None if plan.leak_pa_per_h is None else plan.leak_pa_per_h / 3600.0,
        pressure_drift_half_width_pa=usual_gauge.value_si * pressure_pa
        if gauge is None
        else gauge.half_width(pressure_pa),
        temp_drift_half_width_k=usual_thermometer.value_si
        if thermometer is None
        else thermometer.half_width(ROOM_K),
        station_half_width_pa=job.limit_or_usual(LimitKey.TIGHTNESS_ATMOSPHERE).value_si,
    )
