"""Tightness by hand: gauge and pipe temperatures are read and typed.

Raise and question are the same as with probes. The hold of a step is over when the pressure was
read again after it. The standing test rests on a reading at its beginning, one at its end, and
those in between.
"""

from collections.abc import Sequence

from chargeassist.guide.stages.hand_sets import PIPES, HandSets
from chargeassist.guide.stages.missing import lacking
from chargeassist.guide.stages.nitrogen import (
    ALWAYS_TOLD,
    BEGIN_DRYNESS,
    OPEN,
    VENTED,
    Supply,
    highest_pa_gauge,
    limit_rows,
)
from chargeassist.guide.stages.raise_by_hand import RaiseByHand
from chargeassist.guide.stages.stage import (
    CurveStart,
    Instruction,
    NextMark,
    PlotKind,
    StagePlot,
    StageRow,
    StageStep,
    say,
    typed,
    withdraw,
)
from chargeassist.guide.stages.standing_by_hand import StandingByHand
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, Mark, MarkKind, Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.stream.facts import Facts


class TightnessByHand:
    """Guides raise and standing test by typed readings.

    The state is what the technician told of the supply (`Supply`), the raise, and the standing
    test: there is one from the supply shut at the top until nitrogen flows again, a leak was
    mended, or the circuit was vented without a verdict that it is tight.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._steps = job.stages.tightness.steps
        self._together = job.limit_or_usual(LimitKey.TYPED_TOGETHER)
        self._sets = HandSets(self._together.value_si)
        self._supply = Supply.SHUT
        self._raise = RaiseByHand(job)
        self._test: StandingByHand | None = None
        self._raise_from_t = 0.0
        self._curve = CurveStart()

    @property
    def has_readings(self) -> bool:
        """Whether anything was typed."""
        return self._sets.has_readings

    def begin(self, t: float) -> None:
        """Nothing begins by itself."""

    def take(self, mark: Mark) -> None:
        """Take a typed reading, or a mark of the supply, the vent or a mended leak."""
        self._sets.take(mark)
        before, self._supply = self._supply, self._supply.after(mark.kind)
        match mark.kind:
            case MarkKind.NITROGEN_ON:
                self._test = None
                if before is Supply.LET_OUT:
                    self._raise, self._raise_from_t = RaiseByHand(self._job), mark.t
                else:
                    self._raise.open(mark.t)
            case MarkKind.NITROGEN_OFF:
                self._shut(mark.t)
            case MarkKind.VENTED if self._is_tight:
                pass  # the test is over; its verdict stays
            case MarkKind.VENTED | MarkKind.LEAK_MENDED:
                self._test = None
                self._raise, self._raise_from_t = RaiseByHand(self._job), mark.t
            case MarkKind.WITHDRAWN if self._test is not None:
                self._test.judge_again()
            case _:
                pass

    def _shut(self, t: float) -> None:
        if not self._raise.at_top:
            self._raise.shut(t)
        elif self._test is None:
            self._test = StandingByHand(self._job, self._sets, t)
        else:
            self._test.shut_again(t)

    @property
    def _is_tight(self) -> bool:
        return self._test is not None and self._test.is_tight

    def tick(self, facts: Facts) -> StageStep:
        """Return what to do or type next, with what the readings say."""
        live_pa = facts.live(Role.LIQUID_PRESSURE)
        live_pa = facts.live(Role.SUCTION_PRESSURE) if live_pa is None else live_pa
        self._follow(facts, live_pa)
        pressure_pa = self._sets.pressure_pa if live_pa is None else live_pa
        advice, mark = self._advise(facts.t, pressure_pa, by_probe=live_pa is not None)
        entries = [typed(Entry.TEST_PRESSURE)] if live_pa is None else []
        entries += [typed(entry) for entry, role in PIPES.items() if facts.live(role) is None]
        return StageStep(
            advice=advice,
            rows=tuple(self._rows(pressure_pa)),
            checks=() if self._test is None else self._test.judge(facts.t),
            next_mark=mark,
            other_marks=(*entries, *ALWAYS_TOLD, *self._withdrawable(entries)),
            plot=self._plot(facts.t, pressure_pa, by_probe=live_pa is not None),
        )

    def _follow(self, facts: Facts, live_pa: float | None) -> None:
        """Take in what was typed, and the pressure if a probe tells it [Pa gauge]."""
        pressures = [(each.t, each.value_si) for each in self._sets.sort_in(facts, live_pa)]
        if live_pa is not None:
            pressures = [(facts.t, live_pa)]
        if self._sets.changed and live_pa is None:
            self._follow_again()
        elif self._supply is not Supply.LET_OUT:
            for t, pressure_pa in pressures:
                if self._test is None:
                    self._raise.look_again(pressure_pa)
                self._raise.follow(t, pressure_pa)
        if self._test is not None:
            self._test.feed(facts.t, facts.station_pa_abs)

    def _follow_again(self) -> None:
        """Follow the raise by the readings that stand; without the top there is no test."""
        self._sets.changed = False
        self._raise.again(self._sets.pressures_from(self._raise_from_t))
        if self._test is not None:
            self._test.judge_again()
            beyond = self._raise.at_top or self._raise.is_too_high
            if not beyond and not self._test.reopened:
                self._test = None

    def _withdrawable(self, entries: Sequence[NextMark]) -> list[NextMark]:
        asked = [each.entry for each in entries if each.entry is not None]
        return [withdraw(entry) for entry in asked if entry in self._sets.typed]

    def _plot(self, t: float, pressure_pa: float | None, *, by_probe: bool) -> StagePlot | None:
        if pressure_pa is None:
            return None
        kind, lines = PlotKind.STANDING, {}
        if self._test is None:
            kind = PlotKind.RAISE
            lines = {f"step {n}": step.pressure_pa_gauge for n, step in enumerate(self._steps, 1)}
        since_t, read = self._curve.since_t(kind, t), None
        if not by_probe:
            from_t = self._raise_from_t if self._test is None else self._test.from_t
            read = self._sets.pressures_from(from_t)
            since_t = min([since_t, *(at for at, _ in read)])
        return StagePlot(kind=kind, value=pressure_pa, since_t=since_t, typed=read, lines=lines)

    def _advise(self, t: float, pressure_pa: float | None, *, by_probe: bool) -> Instruction:
        found = lacking(self._job, Stage.TIGHTNESS)
        lacks = [lack.what for lack in found if lack.needed]
        if lacks:
            return say(t, Action.FIX_FIRST, "tightness_missing", subject="; ".join(lacks)), None
        if self._supply is Supply.LET_OUT:
            if self._is_tight:
                return say(t, Action.DO, "tightness_over"), BEGIN_DRYNESS
            first_pa = self._steps[0].pressure_pa_gauge
            return say(t, Action.DO, "nitrogen_raise_by_hand", {"pressure_pa": first_pa}), OPEN
        if self._raise.is_too_high:
            figures = {"value_pa": pressure_pa or 0.0, "limit_pa": highest_pa_gauge(self._job)}
            return say(t, Action.FIX_FIRST, "nitrogen_too_high", figures), VENTED
        if self._test is not None:
            return self._test.advise(t, by_probe=by_probe)
        read = None if by_probe else typed(Entry.TEST_PRESSURE)
        return self._raise.advise(t, self._supply, pressure_pa, read)

    def _rows(self, pressure_pa: float | None) -> list[StageRow]:
        rows = self._step_rows()
        if pressure_pa is not None:
            rows.append(StageRow(key="test_pressure", figures={"value_pa": pressure_pa}))
        if self._test is not None:
            rows += self._test.rows()
        many = self._job.limit_or_usual(LimitKey.TIGHTNESS_READINGS)
        return rows + limit_rows(self._job, many, self._together)

    def _step_rows(self) -> list[StageRow]:
        at = self._raise.at
        rows = []
        for number, step in enumerate(self._steps):
            last = step is self._steps[-1]
            below = self._raise.at_top or (at is not None and number < at.index)
            now = number == (0 if at is None else at.index)
            done = self._is_tight if last else below
            rows.append(
                StageRow(
                    key="standing_step" if last else "raise_step",
                    figures={"pressure_pa": step.pressure_pa_gauge, "hold_s": step.hold_s},
                    state="done" if done else "now" if now else "open",
                    source=step.source,
                )
            )
        return rows


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
