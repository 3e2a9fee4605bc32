"""Tightness by hand: gauge and pipe temperatures are read and typed.

Raise and question are the same as with probes. The hold of a step is over when the pressure was
read again after it. The standing test rests on a reading at its beginning, one at its end, and
those in between.
"""

from chargeassist.guide.stages.hand_sets import PIPES, HandSets
from chargeassist.guide.stages.leak_figures import leak_figures
from chargeassist.guide.stages.missing import lacking
from chargeassist.guide.stages.nitrogen import (
    ALWAYS_TOLD,
    BEGIN_DRYNESS,
    MENDED,
    OPEN,
    ROOM_K,
    SHUT,
    VENTED,
    figures_of,
    highest_pa_gauge,
    judged,
    limit_rows,
    new_raise,
    settle_s,
)
from chargeassist.guide.stages.stage import (
    CurveStart,
    NextMark,
    PlotKind,
    StagePlot,
    StageRow,
    StageStep,
    say,
    typed,
)
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, Advice, CheckJudged, Mark, MarkKind, Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.staged_raise import RaiseState, RaiseStep
from chargeassist.physics.standing_by_hand import HandReading, judge_by_hand
from chargeassist.physics.tightness import Tightness, TightVerdict
from chargeassist.physics.tightness_settings import TightnessSettings
from chargeassist.stream.facts import Facts

Said = tuple[Advice, NextMark | None]
"""An instruction, and the mark that tells it was done."""


class TightnessByHand:
    """Guides raise and standing test by typed readings.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._steps = job.stages.tightness.steps
        self._together = job.limit_or_usual(LimitKey.TYPED_TOGETHER)
        self._together_s = self._together.value_si
        self._atmosphere_pa = job.limit_or_usual(LimitKey.TIGHTNESS_ATMOSPHERE).value_si
        self._gauge = job.limit_or_usual(LimitKey.TIGHTNESS_GAUGE_BY_HAND)
        self._thermometer = job.limit_or_usual(LimitKey.TIGHTNESS_THERMOMETER)
        self._many = job.limit_or_usual(LimitKey.TIGHTNESS_READINGS)
        self._settle_s = settle_s(job) if self._steps else 0.0
        self._sets = HandSets(self._together_s)
        self._open = self._vented = False
        self._raise = new_raise(job)
        self._raised: RaiseStep | None = None
        self._reached_t: float | None = None
        self._stands_t: float | None = None
        self._readings: list[HandReading] = []
        self._found: Tightness | None = None
        self._said: tuple[TightVerdict, int] | None = None
        self._tight = False
        self._station_pa = 0.0
        self._curve = CurveStart()

    @property
    def has_readings(self) -> bool:
        """Whether anything was typed."""
        return self._sets.newest is not None or bool(self._sets.sets)

    def begin(self, t: float) -> None:
        """Nothing begins by itself."""

    def take(self, mark: Mark) -> None:
        """Take a typed reading, or a mark of the supply, the vent or a mended leak."""
        self._sets.take(mark)
        match mark.kind:
            case MarkKind.NITROGEN_ON:
                self._open, self._vented = True, False
                self._drop_test()
            case MarkKind.NITROGEN_OFF:
                self._open = False
                if self._at_top:
                    self._stands_t = mark.t
                elif self._reached_t is not None:
                    self._reached_t = mark.t  # the hold begins when nothing flows in any more
            case MarkKind.VENTED | MarkKind.LEAK_MENDED:
                self._open = False
                self._vented = mark.kind is MarkKind.VENTED
                if mark.kind is MarkKind.LEAK_MENDED or not self._tight:
                    self._drop_test()
                    self._raise, self._raised, self._reached_t = new_raise(self._job), None, None
            case _:
                pass

    def _drop_test(self) -> None:
        self._stands_t, self._found, self._said = None, None, None
        self._tight = False
        self._readings = []

    @property
    def _at_top(self) -> bool:
        return self._raised is not None and self._raised.state is RaiseState.DONE

    def tick(self, facts: Facts) -> StageStep:
        """Return what to do or type next, with what the readings say."""
        t = facts.t
        live = facts.live(Role.LIQUID_PRESSURE)
        live = facts.live(Role.SUCTION_PRESSURE) if live is None else live
        pressures = self._sets.tick(facts, live)
        for at, value in pressures if live is None else ((t, live),):
            self._follow(at, value)
        if self._stands_t is not None:
            self._feed(t, facts)
        newest = self._sets.newest
        shown = live if live is not None else None if newest is None else newest[1]
        advice, mark = self._advise(t, shown, by_probe=live is not None)
        entries = [typed(Entry.TEST_PRESSURE)] if live is None else []
        entries += [typed(entry) for entry, role in PIPES.items() if facts.live(role) is None]
        return StageStep(
            advice=advice,
            rows=tuple(self._rows(shown)),
            checks=self._judge(t),
            next_mark=mark,
            other_marks=(*entries, *ALWAYS_TOLD),
            plot=self._plot(t, shown),
        )

    def _plot(self, t: float, pressure: float | None) -> StagePlot | None:
        if pressure is None:
            return None
        kind = PlotKind.RAISE if self._stands_t is None else PlotKind.STANDING
        lines = {f"step {n}": step.pressure_pa_gauge for n, step in enumerate(self._steps, 1)}
        if kind is PlotKind.STANDING:
            lines = {}
        return StagePlot(
            kind=kind, value=pressure, since_t=self._curve.since_t(kind, t), lines=lines
        )

    def _follow(self, t: float, pressure: float) -> None:
        if self._raise is None or self._vented:
            return
        before = None if self._raised is None else self._raised.index
        found = self._raise.update(t, pressure)
        if isinstance(found, NoValue):
            return
        self._raised = found
        if found.state is RaiseState.HOLD and (self._reached_t is None or before != found.index):
            self._reached_t = t
        elif found.state is not RaiseState.HOLD:
            self._reached_t = None

    def _feed(self, t: float, facts: Facts) -> None:
        stands_t = self._stands_t or 0.0
        readings = self._sets.readings(t, stands_t + self._settle_s, facts.station_pa_abs)
        if readings == self._readings:
            return
        self._readings = readings
        plan, pressure = self._job.stages.tightness, self._steps[-1].pressure_pa_gauge
        gauge, thermometer = plan.gauge_accuracy, plan.thermometer_accuracy
        settings = TightnessSettings(
            hold_s=self._steps[-1].hold_s,
            settle_s=self._settle_s,
            leak_pa_per_s=None if plan.leak_pa_per_h is None else plan.leak_pa_per_h / 3600.0,
            pressure_drift_half_width_pa=self._gauge.value_si * pressure
            if gauge is None
            else gauge.half_width(pressure),
            temp_drift_half_width_k=self._thermometer.value_si
            if thermometer is None
            else thermometer.half_width(ROOM_K),
            station_half_width_pa=self._atmosphere_pa,
        )
        found = judge_by_hand(readings, settings, stands_t, t)
        self._found = None if isinstance(found, NoValue) else found
        self._station_pa = facts.station_pa_abs

    def _advise(self, t: float, pressure: float | None, *, by_probe: bool) -> Said:
        found = lacking(self._job, Stage.TIGHTNESS)
        lacks = [lack.what for lack in found if lack.needed]
        if lacks:
            return say(t, Action.FIX_FIRST, "tightness_missing", subject="; ".join(lacks)), None
        if self._vented and self._tight:
            return say(t, Action.DO, "tightness_over"), BEGIN_DRYNESS
        if self._vented:
            first = self._steps[0].pressure_pa_gauge
            return say(t, Action.DO, "nitrogen_raise_by_hand", {"pressure_pa": first}), OPEN
        raised = self._raised
        if raised is not None and raised.state is RaiseState.TOO_HIGH:
            figures = {"value_pa": pressure or 0.0, "limit_pa": highest_pa_gauge(self._job)}
            return say(t, Action.FIX_FIRST, "nitrogen_too_high", figures), VENTED
        if self._stands_t is not None:
            return self._standing(t, self._stands_t, by_probe=by_probe)
        return self._raising(t, raised, pressure, by_probe=by_probe)

    def _raising(
        self, t: float, raised: RaiseStep | None, pressure: float | None, *, by_probe: bool
    ) -> Said:
        step = self._steps[0] if raised is None else self._steps[raised.index]
        figures = {"pressure_pa": step.pressure_pa_gauge, "hold_s": step.hold_s}
        if pressure is not None:
            figures["value_pa"] = pressure
        read = None if by_probe else typed(Entry.TEST_PRESSURE)
        if raised is None or raised.state is RaiseState.RAISE:
            if not self._open:
                return say(t, Action.DO, "nitrogen_raise_by_hand", figures), OPEN
            return say(t, Action.DO, "nitrogen_reached", figures), read or SHUT
        match raised.state:
            case RaiseState.HOLD:
                if self._open:  # what flows in hides what flows out
                    figures["seconds_s"] = step.hold_s
                    return say(t, Action.DO, "nitrogen_step", figures), SHUT
                left_s = step.hold_s - (t - (self._reached_t or t))
                figures["seconds_s"] = max(left_s, 0.0)
                if left_s > 0.0:
                    return say(t, Action.WAIT, "nitrogen_hold", figures), None
                return say(t, Action.DO, "read_after_hold", figures), read
            case RaiseState.FALLS:
                figures["fall_pa"] = raised.fall_pa
                return say(t, Action.FIX_FIRST, "nitrogen_falls", figures), MENDED
            case _:
                return say(t, Action.DO, "nitrogen_shut", figures), SHUT

    def _standing(self, t: float, stands_t: float, *, by_probe: bool) -> Said:
        hold_s = self._steps[-1].hold_s
        left_s = stands_t + self._settle_s - t
        if left_s > 0.0:
            return say(t, Action.WAIT, "warm_from_filling", {"seconds_s": left_s}), None
        found = self._found
        if found is not None and found.verdict is not TightVerdict.NOT_YET:
            return self._verdict(t, found)
        due_t = stands_t + hold_s
        if self._readings:
            due_t = max(due_t, self._readings[0].t + hold_s - self._settle_s)
        figures = {"readings": float(len(self._readings)), "seconds_s": max(due_t - t, 0.0)}
        if found is not None:
            figures = figures_of(found) | figures
        over = t >= due_t
        asked = "end" if over else "begin"
        if not self._readings or (over and self._readings[-1].t < due_t):
            from_t = due_t if over else stands_t + self._settle_s
            entry = self._wanted(t, from_t, by_probe=by_probe)
            figures["together_s"] = self._together_s
            return say(t, Action.DO, f"read_{asked}", figures, subject=entry.label), typed(entry)
        second = self._second_pipe(t)
        if over and found is not None:
            return say(t, Action.WAIT, "standing_by_hand", figures, subject=found.reason), (
                second or typed(Entry.TEST_PRESSURE if not by_probe else Entry.LIQUID_PIPE)
            )
        if second is not None and len(self._readings) <= 1 and second.entry is not None:
            # One pipe does not stand for the circuit: ask while both still make one reading.
            figures = {"seconds_s": self._sets.sets[-1].t + self._together_s - t}
            return say(t, Action.DO, "read_second", figures, subject=second.entry.label), second
        # A reading in between is invited, so the key takes one.
        between = typed(Entry.LIQUID_PIPE if by_probe else Entry.TEST_PRESSURE)
        return say(t, Action.WAIT, "standing_by_hand", figures), second or between

    def _wanted(self, t: float, from_t: float, *, by_probe: bool) -> Entry:
        """Return what a reading from `from_t` [s] on still lacks: its pressure, or a pipe."""
        last = self._sets.sets[-1] if self._sets.sets else None
        pipes = list(PIPES)
        if self._readings:
            # The pipes of the first reading: others say nothing of a change.
            first_t = self._readings[0].t
            first = {pipe for each in self._sets.sets if each.t == first_t for pipe in each.pipes}
            pipes = [pipe for pipe in PIPES if pipe in first] or pipes
        if last is None or last.t < from_t or t - last.t > self._together_s:
            return pipes[0] if by_probe else Entry.TEST_PRESSURE
        missing = [pipe for pipe in pipes if pipe not in last.pipes]
        return missing[0] if missing else Entry.TEST_PRESSURE

    def _second_pipe(self, t: float) -> NextMark | None:
        """Return the mark for the other pipe while it can still join the newest reading."""
        last = self._sets.sets[-1] if self._sets.sets else None
        if last is None or t - last.t > self._together_s:
            return None
        missing = [pipe for pipe in PIPES if pipe not in last.pipes]
        return typed(missing[0]) if missing else None

    def _verdict(self, t: float, found: Tightness) -> Said:
        figures = self._figures(found) | {"readings": float(len(self._readings))}
        match found.verdict:
            case TightVerdict.TIGHT:
                cause = "tight" if abs(found.change_pa) <= found.expanded_pa else "tight_doubted"
                return say(t, Action.DO, cause, figures), VENTED
            case TightVerdict.FALLING:
                return say(t, Action.FIX_FIRST, "leaking", figures), MENDED
            case _:
                return say(t, Action.FIX_FIRST, "rising_alone", figures), MENDED

    def _figures(self, found: Tightness) -> dict[str, float]:
        """Return the figures of a result, with its leak if the circuit's volume is known."""
        temps_k = self._readings[-1].pipe_temps_k
        mean_k = sum(temps_k) / len(temps_k)
        return figures_of(found) | leak_figures(self._job, found, mean_k, self._station_pa)

    def _judge(self, t: float) -> tuple[CheckJudged, ...]:
        found, count = self._found, len(self._readings)
        if found is None or found.verdict is TightVerdict.NOT_YET:
            return ()
        if self._said == (found.verdict, count):
            return ()
        self._said = (found.verdict, count)
        self._tight = found.verdict is TightVerdict.TIGHT
        plan = self._job.stages.tightness
        declared = plan.gauge_accuracy is not None and plan.thermometer_accuracy is not None
        by_hand = (self._together.told, self._many.told)
        assumed = by_hand if declared else (*by_hand, self._gauge.told, self._thermometer.told)
        certain = declared and count >= self._many.value_si
        figures = self._figures(found)
        return (
            judged(t, found, figures, self._job, certain=certain, readings=count, assumed=assumed),
        )

    def _rows(self, pressure: float | None) -> list[StageRow]:
        rows = []
        at = -1 if self._raised is None else self._raised.index
        for number, step in enumerate(self._steps):
            last = step is self._steps[-1]
            passed = self._tight if last else number < at or self._at_top
            state = "done" if passed else "now" if number == max(at, 0) else "open"
            rows.append(
                StageRow(
                    key="standing_step" if last else "raise_step",
                    figures={"pressure_pa": step.pressure_pa_gauge, "hold_s": step.hold_s},
                    state=state,
                    source=step.source,
                )
            )
        if pressure is not None:
            rows.append(StageRow(key="test_pressure", figures={"value_pa": pressure}))
        if self._stands_t is not None:
            count = {"readings": float(len(self._readings))}
            rows.append(StageRow(key="hand_readings", figures=count))
        if self._found is not None:
            falling = self._found.verdict is TightVerdict.FALLING
            figures = self._figures(self._found)
            rows.append(StageRow(key="compensated", figures=figures))
            rows.append(
                StageRow(key="smallest_leak", figures=figures, state="fail" if falling else "")
            )
        return rows + limit_rows(self._job, self._many, self._together)


def is_by_hand(facts: Facts, *, has_readings: bool) -> bool:
    """Return whether the circuit under nitrogen is read by hand.

    It is if a probe for pressure or pipes is missing, or is silent and somebody types instead.
    """
    roles = {item.channel.role for item in facts.channels}
    pressure = (Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE)
    pipes = tuple(PIPES.values())
    if not (roles.intersection(pressure) and roles.intersection(pipes)):
        return True
    silent = all(facts.live(role) is None for role in pressure) or all(
        facts.live(role) is None for role in pipes
    )
    return silent and has_readings
