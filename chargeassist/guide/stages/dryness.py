"""Dryness: the pull-down, watched for water and ice, then a rise test that names its cause."""

import math
from collections.abc import Mapping

from chargeassist.guide.stages.dryness_marks import OTHERS, mark_of
from chargeassist.guide.stages.dryness_readings import coldest_k, is_near_limit, vacuum_pa
from chargeassist.guide.stages.hand_vacuum import (
    OF_HAND,
    HandVacuum,
    figures_of,
    gauge_by_eye,
    probe_gauge,
    pull_figures,
    rising_by_hand,
    typed_vacuum,
)
from chargeassist.guide.stages.missing import lacking
from chargeassist.guide.stages.stage import (
    CurveStart,
    Instruction,
    Instruments,
    NextMark,
    PlotKind,
    StagePlot,
    StageRow,
    StageStep,
    reading_withdrawn,
    say,
)
from chargeassist.model.channels import Channel, Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    Action,
    CheckJudged,
    CheckResult,
    Mark,
    MarkKind,
    Stage,
)
from chargeassist.model.job import Job
from chargeassist.model.limits import Limit, LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.pull_down import PullDown, PullDownWatch, PullState
from chargeassist.physics.rise_settings import RiseSettings
from chargeassist.physics.rise_test import Rise, RiseTest, RiseVerdict
from chargeassist.physics.vacuum_gauge import GaugeLimits
from chargeassist.stream.facts import Facts

_RESULT = {
    RiseVerdict.DRY_TIGHT: (CheckResult.PASS, "found_dry"),
    RiseVerdict.MOIST: (CheckResult.FAIL, "found_moist"),
    RiseVerdict.LEAK: (CheckResult.FAIL, "found_leak"),
    RiseVerdict.BOTH: (CheckResult.FAIL, "found_both"),
}


class DrynessGuide:
    """Guides evacuation and rise test.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._target = job.limit(LimitKey.VACUUM_TARGET)
        self._limit = job.limit(LimitKey.VACUUM_RISE_LIMIT)
        self._time = job.limit(LimitKey.VACUUM_RISE_TIME)
        self._skip = job.limit_or_usual(LimitKey.VACUUM_EQUALISATION)
        self._deepens = job.limit_or_usual(LimitKey.VACUUM_DEEPENS)
        self._steady = job.limit_or_usual(LimitKey.VACUUM_STEADY_RISE)
        self._stall = job.limit_or_usual(LimitKey.VACUUM_STALL)
        self._many = job.limit_or_usual(LimitKey.VACUUM_READINGS)
        self._gauge_by_eye = gauge_by_eye(job)
        self._by_eye = tuple(job.limit_or_usual(key) for key in OF_HAND)
        self._instruments = Instruments()
        self._channels: Mapping[Role, Channel] = {}
        self._pump = self._nitrogen = self._filled = False
        self._open = True
        self._hand = HandVacuum()
        self._by_hand = False
        self._watch: PullDownWatch | None = None
        self._pull: PullDown | None = None
        self._rise_test: RiseTest | None = None
        self._rise: Rise | None = None
        self._said: tuple[RiseVerdict, CheckResult] | None = None
        self._lowest: float | None = None
        self._breaks = 0
        self._curve = CurveStart()
        self._reopened = self._near = False

    def begin(self, t: float) -> None:
        """Do nothing: the stage goes on where it was left."""

    def take(self, mark: Mark) -> None:
        """Take a mark of pump, valve, nitrogen or a typed vacuum."""
        self._hand.take(mark)
        match mark.kind:
            case MarkKind.PUMP_ON:
                self._pump, self._filled = True, self._filled and not self._open
                self._restart(mark.t)
            case MarkKind.PUMP_OFF:
                self._pump = False
            case MarkKind.OIL_CHANGED:
                self._pull = self._watch = None  # with dry oil it may pull deeper
            case MarkKind.VALVE_SHUT:
                self._open = False
                self._begin_rise(mark.t)
            case MarkKind.VALVE_OPENED:
                self._open, self._filled = True, False
                self._restart(mark.t)
            case MarkKind.NITROGEN_ON:
                self._nitrogen = self._filled = True
                self._breaks += 1
                self._restart(mark.t)
            case MarkKind.NITROGEN_OFF:
                self._nitrogen = False
            case MarkKind.LEAK_MENDED:
                self._restart(mark.t)
                self._filled = True
            case MarkKind.WITHDRAWN if mark.text == Entry.VACUUM:
                self._judge_again()

    def _judge_again(self) -> None:
        """Judge anew by the readings that stand."""
        self._reopened = self._said is not None
        self._watch = self._pull = None
        if self._rise_test is not None:
            self._begin_rise(self._rise_test.isolated_t)
        self._hand.again()
        self._lowest = min((value for _, value in self._hand.kept), default=None)

    def tick(self, facts: Facts) -> StageStep:
        """Return the next instruction, with what the gauge shows."""
        self._channels = self._instruments.of(facts)
        vacuum = vacuum_pa(facts)
        typed = self._hand.tick()
        by_hand = vacuum is None and (Role.VACUUM not in self._channels or self._hand.has_readings)
        if by_hand is not self._by_hand:
            self._by_hand = by_hand
            self._watch = None
            if self._rise_test is not None:
                self._begin_rise(self._rise_test.isolated_t)
        coldest = coldest_k(self._job, facts)
        for at, value in typed if by_hand else () if vacuum is None else ((facts.t, vacuum),):
            self._follow(at, value, coldest)
        if by_hand:
            vacuum = self._hand.newest
        advice, mark = self._advise(facts.t, vacuum)
        return StageStep(
            advice=advice,
            rows=tuple(self._rows(vacuum)),
            checks=self._judge(facts.t),
            next_mark=mark,
            other_marks=(typed_vacuum(), *OTHERS, *self._hand.withdrawable) if by_hand else OTHERS,
            plot=self._plot(facts.t, vacuum),
        )

    def _plot(self, t: float, vacuum: float | None) -> StagePlot | None:
        if vacuum is None:
            return None
        if self._rise_test is not None:
            kind, named = PlotKind.RISE, {"limit": self._limit}
        else:
            kind, named = PlotKind.PULL_DOWN, {"target": self._target}
        lines = {name: limit.value_si for name, limit in named.items() if limit is not None}
        water = None if self._pull is None else self._pull.water_pa_abs
        if water is not None and kind is PlotKind.PULL_DOWN:
            lines["water boils"] = water
        since_t, read = self._curve.since_t(kind, t), None
        if self._by_hand:
            read = self._hand.read_standing
            since_t = min([since_t, *(at for at, _ in read)])
        return StagePlot(kind=kind, value=vacuum, since_t=since_t, typed=read, lines=lines)

    def _follow(self, t: float, vacuum: float, coldest: float | None) -> None:
        self._lowest = vacuum if self._lowest is None else min(self._lowest, vacuum)
        if self._rise_test is not None:
            rise = self._rise_test.update(t, vacuum, coldest)
            if not isinstance(rise, NoValue):
                self._rise = rise
        elif self._target is not None and self._pump and self._open and not self._filled:
            if self._watch is None:
                self._watch = PullDownWatch(
                    self._target.value_si,
                    GaugeLimits(),
                    by_hand=self._by_hand,
                    stall_share=self._stall.value_si,
                )
            self._pull = self._watch.update(t, vacuum, coldest)

    def _restart(self, t: float) -> None:
        self._rise_test, self._rise, self._pull, self._said = None, None, None, None
        self._hand.restart(t)
        self._watch = None
        self._near = False

    def _begin_rise(self, t: float) -> None:
        self._restart(t)
        if self._filled or self._limit is None or self._time is None:
            return
        self._rise_test = RiseTest(
            RiseSettings(
                limit_pa_abs=self._limit.value_si,
                hold_s=self._time.value_si,
                gauge=self._gauge_by_eye
                if self._by_hand
                else probe_gauge(self._channels.get(Role.VACUUM)),
                skip_s=min(self._skip.value_si, 0.5 * self._time.value_si),
                by_hand=self._by_hand,
                leak_pa_per_s=self._steady.value_si * self._limit.value_si / self._time.value_si,
            ),
            t,
        )

    def _advise(self, t: float, vacuum: float | None) -> Instruction:
        found = lacking(self._job, Stage.DRYNESS, self._channels.values())
        lacks = [lack.what for lack in found if lack.needed]
        if lacks:
            cause = "dryness_missing"
            return say(t, Action.FIX_FIRST, cause, subject="; ".join(lacks)), None
        if self._nitrogen:
            return say(t, Action.DO, "break_with_nitrogen"), mark_of(MarkKind.NITROGEN_OFF)
        if self._filled and (self._pump or not self._open):
            return say(t, Action.DO, "pull_again"), mark_of(MarkKind.VALVE_OPENED)
        if self._rise_test is not None:
            return self._rising(t, vacuum)
        if not self._pump:
            return say(t, Action.DO, "start_pump"), mark_of(MarkKind.PUMP_ON)
        if not self._open:
            return say(t, Action.DO, "pull_again"), mark_of(MarkKind.VALVE_OPENED)
        return self._pulling(t, vacuum)

    def _pulling(self, t: float, vacuum: float | None) -> Instruction:
        if vacuum is None or self._pull is None:
            return self._no_vacuum(t)
        pull = self._pull
        read = typed_vacuum() if self._by_hand else None
        figures = {"value_pa": vacuum, "target_pa": self._value(self._target)}
        figures |= pull_figures(pull, by_hand=self._by_hand)
        shut = mark_of(MarkKind.VALVE_SHUT)
        match pull.state:
            case PullState.DEEP if self._still_deepens(pull):
                # A circuit isolated at the first touch of the target still holds its moisture.
                return say(t, Action.WAIT, "deepening", figures), read
            case PullState.DEEP:
                return say(t, Action.DO, "isolate", figures), shut
            case PullState.WATER | PullState.ICE:
                cause = "water_boils" if pull.state is PullState.WATER else "ice_in_circuit"
                return say(t, Action.DO, cause, figures), shut
            case PullState.STALLED:
                return say(t, Action.DO, "pull_stalled", figures), shut
            case _:
                return say(t, Action.WAIT, "pulling", figures), read

    def _still_deepens(self, pull: PullDown) -> bool:
        return pull.fall_per_min is None or pull.fall_per_min > self._deepens.value_si

    def _no_vacuum(self, t: float) -> Instruction:
        if not self._by_hand:
            return say(t, Action.WAIT, "no_vacuum_yet"), None
        return say(t, Action.DO, "read_vacuum"), typed_vacuum()

    def _rising(self, t: float, vacuum: float | None) -> Instruction:
        rise, test = self._rise, self._rise_test
        if rise is not None and rise.falls and rise.verdict is RiseVerdict.NOT_YET:
            return say(t, Action.FIX_FIRST, "vacuum_falls", {"value_pa": vacuum or 0.0}), mark_of(
                MarkKind.VALVE_SHUT
            )
        if self._by_hand and test is not None:
            undecided = rise is None or rise.verdict is RiseVerdict.NOT_YET
            if undecided:
                declared = self._job.stages.dryness.gauge_accuracy is not None
                many = self._many.value_si if declared else 0.0
                return rising_by_hand(t, test, rise, self._hand.newest_t, many)
        if rise is None or vacuum is None:
            return self._no_vacuum(t)
        figures = figures_of(rise) | {"value_pa": vacuum, "limit_pa": self._value(self._limit)}
        match rise.verdict:
            case RiseVerdict.DRY_TIGHT:
                weigh = NextMark(
                    kind=MarkKind.STAGE_BEGUN, text=Stage.WEIGH_IN.value, label="begin the weigh-in"
                )
                return say(t, Action.DO, "dry", figures), weigh
            case RiseVerdict.MOIST | RiseVerdict.BOTH:
                cause = "moist" if rise.verdict is RiseVerdict.MOIST else "moist_and_leaking"
                return say(t, Action.DO, cause, figures), mark_of(MarkKind.NITROGEN_ON)
            case RiseVerdict.LEAK:
                return say(t, Action.FIX_FIRST, "vacuum_leak", figures), mark_of(
                    MarkKind.LEAK_MENDED
                )
            case _:
                return say(t, Action.WAIT, "rising", figures, subject=rise.reason), None

    def _judge(self, t: float) -> tuple[CheckJudged, ...]:
        rise = self._rise
        reopened, self._reopened = self._reopened, False
        if rise is None or rise.verdict is RiseVerdict.NOT_YET:
            return (reading_withdrawn(t, Stage.DRYNESS, "vacuum_rise"),) if reopened else ()
        result, cause = _RESULT[rise.verdict]
        if self._rise_test is not None:
            self._near = self._near or is_near_limit(rise, self._rise_test.settings)
        if result is CheckResult.PASS and (self._near or not self._is_certain):
            result = CheckResult.PASS_NOT_CERTAIN
        if rise.verdict is RiseVerdict.MOIST and self._near:
            result = CheckResult.FAIL_NOT_CERTAIN
        if self._said == (rise.verdict, result):
            return ()
        self._said = (rise.verdict, result)
        figures = figures_of(rise) | {
            "limit_pa": self._value(self._limit),
            "breaks": float(self._breaks),
        }
        if self._lowest is not None:
            figures["lowest_pa"] = self._lowest
        if self._by_hand and self._rise_test is not None:
            figures["readings"] = float(self._rise_test.readings)
            figures["not_counted"] = float(self._rise_test.not_counted)
        limits = (self._target, self._limit, self._time)
        cited = dict.fromkeys(limit.citation for limit in limits if limit is not None)
        cited[f"left out at the start: {self._skip.citation}"] = None
        cited[f"what counts as a steady rise: {self._steady.citation}"] = None
        if self._by_hand:
            cited |= dict.fromkeys(limit.told for limit in self._by_eye)
        return (
            CheckJudged(
                t=t,
                stage=Stage.DRYNESS,
                check="vacuum_rise",
                result=result,
                cause=cause,
                figures=figures,
                sources=tuple(cited),
            ),
        )

    @property
    def _is_certain(self) -> bool:
        """Whether gauge and number of readings allow a pass without doubt."""
        if self._by_hand:
            count = 0 if self._rise_test is None else self._rise_test.readings
            return (
                count >= self._many.value_si and self._job.stages.dryness.gauge_accuracy is not None
            )
        gauge = self._channels.get(Role.VACUUM)
        return gauge is not None and gauge.accuracy is not None

    def _rows(self, vacuum: float | None) -> list[StageRow]:  # limits last: they may be cut
        rows = []
        if vacuum is not None:
            rows.append(StageRow(key="vacuum", figures={"value_pa": vacuum}, state="now"))
        water = None if self._pull is None else self._pull.water_pa_abs
        if water is not None:
            rows.append(StageRow(key="water", figures={"value_pa": water}))
        if self._breaks:
            rows.append(StageRow(key="breaks", figures={"count": float(self._breaks)}))
        rise = self._rise
        if rise is not None and not math.isnan(rise.dry_probability):
            rows.append(
                StageRow(
                    key="rise_odds",
                    figures=figures_of(rise),
                    state={
                        RiseVerdict.NOT_YET: "",
                        RiseVerdict.DRY_TIGHT: "pass",
                    }.get(rise.verdict, "fail"),
                )
            )
        for key, limit in (
            ("vacuum_target", self._target),
            ("rise_limit", self._limit),
            ("rise_time", self._time),
        ):
            if limit is not None:
                figures = {"value": limit.value_si}
                rows.append(StageRow(key=key, figures=figures, source=limit.citation))
        for key, each in (
            ("rise_skip", self._skip),
            ("vacuum_deepens", self._deepens),
            ("vacuum_steady_rise", self._steady),
            ("vacuum_stall", self._stall),
            *((limit.key.value, limit) for limit in self._by_eye if self._by_hand),
        ):
            figures = {"value": each.value_si}
            rows.append(StageRow(key=key, figures=figures, subject=each.note, source=each.citation))
        return rows

    @staticmethod
    def _value(limit: Limit | None) -> float:
        return 0.0 if limit is None else limit.value_si
