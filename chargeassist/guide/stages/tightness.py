"""Tightness: nitrogen raised in steps, then a standing test that tells temperature from a leak."""

import math
from collections.abc import Mapping
from dataclasses import replace

from chargeassist.guide.stages.leak_figures import leak_figures
from chargeassist.guide.stages.missing import lacking
from chargeassist.guide.stages.nitrogen import (
    ALWAYS_TOLD,
    BEGIN_DRYNESS,
    MENDED,
    NOISE_PA,
    OPEN,
    ROOM_K,
    SHUT,
    VENTED,
    Supply,
    drift,
    figures_of,
    highest_pa_gauge,
    judged,
    limit_rows,
    new_raise,
    settle_s,
    steps_too_coarse,
    told_verdict,
)
from chargeassist.guide.stages.stage import (
    CurveStart,
    Instruction,
    Instruments,
    PlotKind,
    StagePlot,
    StageRow,
    StageStep,
    say,
)
from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import (
    Action,
    CheckJudged,
    Mark,
    MarkKind,
    Stage,
)
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import SEA_LEVEL_PA_ABS
from chargeassist.physics.staged_raise import RaiseState, RaiseStep
from chargeassist.physics.tightness import Tightness, TightnessTest, TightVerdict
from chargeassist.physics.tightness_settings import TightnessSettings
from chargeassist.stream.facts import Facts

_KNOWN_PA = 1e9
"""A fitted change is smaller than this once there is one [Pa]; before, it is not a number."""

_PIPES = (Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE)
_GAUGES = (Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE)

_TOUCHED = frozenset(
    {MarkKind.NITROGEN_ON, MarkKind.NITROGEN_OFF, MarkKind.VENTED, MarkKind.LEAK_MENDED}
)
"""Marks after which the pressure is another one."""


class TightnessByProbes:
    """Guides raise and standing test by probes.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._gauge = job.limit_or_usual(LimitKey.TIGHTNESS_GAUGE)
        self._thermometer = job.limit_or_usual(LimitKey.TIGHTNESS_THERMOMETER)
        self._atmosphere = job.limit_or_usual(LimitKey.TIGHTNESS_ATMOSPHERE)
        self._steps = job.stages.tightness.steps
        self._instruments = Instruments()
        self._channels: Mapping[Role, Channel] = {}
        self._supply = Supply.SHUT
        self._raise = new_raise(self._job)
        self._raised: RaiseStep | NoValue | None = None
        self._fell: RaiseStep | None = None
        self._lowest_pa = math.inf
        self._test: TightnessTest | None = None
        self._gauge_role = Role.LIQUID_PRESSURE
        self._pipes: tuple[Role, ...] = ()
        self._silent: tuple[Role, ...] = ()
        self._with_air = False
        self._by_barometer = False
        self._found: Tightness | None = None
        self._said: TightVerdict | None = None
        self._temps_k: dict[Role, float] = {}
        self._curve = CurveStart()
        self._station_pa = SEA_LEVEL_PA_ABS

    def begin(self, t: float) -> None:
        """Nothing begins by itself."""

    def take(self, mark: Mark) -> None:
        """Take a mark of the supply, the vent or a mended leak."""
        before, self._supply = self._supply, self._supply.after(mark.kind)
        if mark.kind in _TOUCHED:
            self._fell, self._lowest_pa = None, math.inf
        match mark.kind:
            case MarkKind.NITROGEN_ON:
                self._flows_from(before)
            case MarkKind.NITROGEN_OFF:
                self._drop_test()  # the standing test begins with the supply shut
            case MarkKind.VENTED if self._said is TightVerdict.TIGHT:
                pass  # the test is over; its verdict stays
            case MarkKind.VENTED | MarkKind.LEAK_MENDED:
                self._drop_test()
                self._raise = new_raise(self._job)

    def tick(self, facts: Facts) -> StageStep:
        """Return the next instruction, with what the test says."""
        self._channels = self._instruments.of(facts)
        pressure = self._pressure(facts)
        self._silent = self._silent_probes(facts)
        self._station_pa = facts.station_pa_abs
        if pressure is not None and self._raise is not None:
            self._follow(pressure, facts)
        advice, mark = self._too_high(facts) or self._advise(facts.t, pressure)
        return StageStep(
            advice=advice,
            rows=tuple(self._rows(pressure)),
            checks=self._judge(facts.t),
            next_mark=mark,
            other_marks=ALWAYS_TOLD,
            plot=self._plot(pressure, facts),
        )

    def _drop_test(self) -> None:
        self._test, self._found, self._said = None, None, None
        self._silent = ()

    def _flows_from(self, before: Supply) -> None:
        """Note that nitrogen flows; `before` is where it was until now."""
        self._drop_test()
        if before is Supply.LET_OUT:
            self._raise = new_raise(self._job)
        elif self._raise is not None:
            self._raise.reopen()

    def _follow(self, pressure: float, facts: Facts) -> None:
        self._see_flow(pressure)
        if self._raise is None or self._supply is Supply.LET_OUT:
            return
        if self._test is None:
            self._raise.look_again(pressure)
        self._raised = raised = self._raise.update(facts.t, pressure)
        self._see_fall(raised)
        at_top = isinstance(raised, RaiseStep) and raised.state is RaiseState.DONE
        if self._test is None and at_top and self._supply is not Supply.OPEN:
            self._test = self._new_test(pressure, facts)
        if self._test is not None:
            self._feed(pressure, facts)

    def _see_flow(self, pressure: float) -> None:
        """See that nitrogen flows although nobody told so: what no warmth explains came in."""
        standing = self._test is not None and self._supply is not Supply.LET_OUT
        if self._supply is Supply.OPEN or standing:
            return
        self._lowest_pa = min(self._lowest_pa, pressure)
        share = self._job.limit_or_usual(LimitKey.TIGHTNESS_FALL).value_si
        if pressure > self._lowest_pa + share * self._steps[-1].pressure_pa_gauge:
            before, self._supply = self._supply, Supply.OPEN
            self._lowest_pa = math.inf
            self._flows_from(before)

    def _see_fall(self, raised: RaiseStep | NoValue) -> None:
        """Keep a fall in a short hold in mind until something is told, or a whole hold stands."""
        if not isinstance(raised, RaiseStep):
            return
        if raised.state is RaiseState.FALLS:
            self._fell = raised
        elif self._fell is not None and (
            raised.state is RaiseState.DONE or raised.index != self._fell.index
        ):
            self._fell = None

    def _new_test(self, pressure: float, facts: Facts) -> TightnessTest | None:
        self._pipes = tuple(role for role in _PIPES if facts.live(role) is not None)
        self._gauge_role = next(role for role in _GAUGES if facts.live(role) is not None)
        self._with_air = facts.live(Role.OUTDOOR_AIR_TEMPERATURE) is not None
        if not self._pipes:
            return None
        plan = self._job.stages.tightness
        pipes = [self._channels.get(role) for role in self._pipes]
        gauge = self._channels.get(self._gauge_role)
        drift_pa, drift_k = drift(self._job, gauge, pipes, pressure)
        self._by_barometer = _barometer_reads(facts)
        return TightnessTest(
            TightnessSettings(
                hold_s=self._steps[-1].hold_s,
                settle_s=settle_s(self._job),
                leak_pa_per_s=None if plan.leak_pa_per_h is None else plan.leak_pa_per_h / 3600.0,
                pressure_drift_half_width_pa=drift_pa,
                temp_drift_half_width_k=drift_k,
                station_half_width_pa=self._station_half_width_pa(facts),
                pressure_noise_pa=NOISE_PA,
            ),
            facts.t,
        )

    def _feed(self, pressure: float, facts: Facts) -> None:
        temps = [facts.live(role) for role in self._pipes]
        known = [temp for temp in temps if temp is not None]
        air = facts.live(Role.OUTDOOR_AIR_TEMPERATURE) if self._with_air else None
        if self._test is None or self._silent:
            return
        self._temps_k = dict(zip(self._pipes, known, strict=True))
        # A barometer that falls silent has watched up to then only; one that begins late, not since
        # the test began.
        station_pa = self._station_half_width_pa(facts)
        if station_pa != self._test.settings.station_half_width_pa:
            self._test.settings = replace(self._test.settings, station_half_width_pa=station_pa)
        found = self._test.update(facts.t, pressure + facts.station_pa_abs, known, air)
        if not isinstance(found, NoValue):
            self._found = found

    def _station_half_width_pa(self, facts: Facts) -> float:
        """Return what the atmosphere may have changed unseen since the test began [Pa]."""
        if self._by_barometer and _barometer_reads(facts):
            return 0.0
        return self._atmosphere.value_si

    @property
    def _declared(self) -> bool:
        judged = (self._channels.get(role) for role in (self._gauge_role, *self._pipes))
        return all(channel is not None and channel.accuracy is not None for channel in judged)

    def _pressure(self, facts: Facts) -> float | None:
        """Return the pressure of the circuit [Pa gauge], in a standing test by its own gauge.

        Two gauges differ by more than a leak may take, so that none stands in for the other.
        """
        gauges = _GAUGES if self._test is None else (self._gauge_role,)
        return next((pa for pa in map(facts.live, gauges) if pa is not None), None)

    def _silent_probes(self, facts: Facts) -> tuple[Role, ...]:
        """Return the probes the standing test cannot do without that do not read now."""
        if self._test is None:
            return ()
        needed = [self._gauge_role, *self._pipes]
        needed += [Role.OUTDOOR_AIR_TEMPERATURE] if self._with_air else []
        return tuple(role for role in needed if facts.live(role) is None)

    def _too_high(self, facts: Facts) -> Instruction | None:
        """Return that nitrogen has to be let out, whatever was told of the supply; None if not."""
        known = [pa for pa in map(facts.live, _GAUGES) if pa is not None]
        if not known or self._raise is None or known[0] <= self._raise.highest_pa_gauge:
            return None
        figures = {"value_pa": known[0], "limit_pa": highest_pa_gauge(self._job)}
        return say(facts.t, Action.FIX_FIRST, "nitrogen_too_high", figures), VENTED

    def _advise(self, t: float, pressure: float | None) -> Instruction:
        found = lacking(self._job, Stage.TIGHTNESS, self._channels.values())
        lacks = [lack.what for lack in found if lack.needed]
        if lacks:
            return say(t, Action.FIX_FIRST, "tightness_missing", subject="; ".join(lacks)), None
        if self._supply is Supply.LET_OUT:
            if self._said is TightVerdict.TIGHT:
                return say(t, Action.DO, "tightness_over"), BEGIN_DRYNESS
            first = self._steps[0].pressure_pa_gauge
            return say(t, Action.DO, "nitrogen_raise", {"pressure_pa": first}), OPEN
        if self._silent:
            names = " and ".join(role.label for role in self._silent)
            return say(t, Action.FIX_FIRST, "standing_unread", subject=names), None
        if pressure is None or not isinstance(self._raised, RaiseStep):
            return say(t, Action.WAIT, "tightness_no_signal"), None
        if self._test is not None:
            return self._standing(t)
        return self._raising(t, self._raised, pressure)

    def _raising(self, t: float, raised: RaiseStep, pressure: float) -> Instruction:
        figures = {"pressure_pa": raised.stage.pressure_pa_gauge, "value_pa": pressure}
        if self._fell is not None:
            figures["fall_pa"] = self._fell.fall_pa
            return say(t, Action.FIX_FIRST, "nitrogen_falls", figures), MENDED
        match raised.state:
            case RaiseState.RAISE:
                mark = SHUT if self._supply is Supply.OPEN else OPEN
                return say(t, Action.DO, "nitrogen_raise", figures), mark
            case RaiseState.HOLD:
                figures["seconds_s"] = raised.remaining_s
                if self._supply is Supply.OPEN:
                    return say(t, Action.DO, "nitrogen_step", figures), SHUT
                return say(t, Action.WAIT, "nitrogen_hold", figures), None
            case _ if self._supply is not Supply.OPEN:  # a test would have begun
                names = " and ".join(role.label for role in _PIPES if role in self._channels)
                return say(t, Action.FIX_FIRST, "standing_unread", subject=names), None
            case _:
                return say(t, Action.DO, "nitrogen_shut", figures), SHUT

    def _standing(self, t: float) -> Instruction:
        found = self._found
        if found is None:
            return say(t, Action.WAIT, "tightness_no_signal"), None
        figures = self._figures(found)
        if found.verdict is TightVerdict.NOT_YET:
            return say(t, Action.WAIT, "standing", figures, subject=found.reason), None
        return told_verdict(t, found, figures)

    def _judge(self, t: float) -> tuple[CheckJudged, ...]:
        found = self._found
        if found is None or found.verdict in {TightVerdict.NOT_YET, self._said}:
            return ()
        self._said = found.verdict
        figures = self._figures(found)
        coarse = steps_too_coarse(self._job, self._channels.get(self._gauge_role))
        certain = self._declared and not coarse
        assumed = () if self._declared else (self._gauge.told, self._thermometer.told)
        return (judged(t, found, figures, self._job, certain=certain, assumed=assumed),)

    def _rows(self, pressure: float | None) -> list[StageRow]:
        rows = []
        at = self._raised.index if isinstance(self._raised, RaiseStep) else 0
        done = isinstance(self._raised, RaiseStep) and self._raised.state is RaiseState.DONE
        for number, step in enumerate(self._steps):
            last = step is self._steps[-1]
            passed = number < at or (last and self._said is TightVerdict.TIGHT)
            now = number == at or (last and done)
            state = "done" if passed else "now" if now else "open"
            figures = {"pressure_pa": step.pressure_pa_gauge, "hold_s": step.hold_s}
            rows.append(
                StageRow(
                    key="standing_step" if last else "raise_step",
                    figures=figures,
                    state=state,
                    source=step.source,
                )
            )
        if pressure is not None:
            rows.append(StageRow(key="test_pressure", figures={"value_pa": pressure}))
        if self._found is not None:
            rows.append(StageRow(key="compensated", figures=self._figures(self._found)))
            rows.append(
                StageRow(
                    key="smallest_leak",
                    figures=self._figures(self._found),
                    state="fail" if self._found.verdict is TightVerdict.FALLING else "",
                )
            )
        return rows + limit_rows(self._job)

    def _figures(self, found: Tightness) -> dict[str, float]:
        """Return the figures of a result, with its leak if the circuit's volume is known."""
        pipes_k = [self._temps_k[role] for role in self._pipes if role in self._temps_k]
        temp_k = sum(pipes_k) / len(pipes_k) if pipes_k else ROOM_K
        return figures_of(found) | leak_figures(self._job, found, temp_k, self._station_pa)

    def _plot(self, pressure: float | None, facts: Facts) -> StagePlot | None:
        found = self._found if self._test is not None else None
        kind = PlotKind.RAISE if found is None else PlotKind.STANDING
        if pressure is None:
            return None
        since_t = self._curve.since_t(kind, facts.t)
        if found is None:
            steps = {f"step {n}": step.pressure_pa_gauge for n, step in enumerate(self._steps, 1)}
            return StagePlot(kind=kind, value=pressure, since_t=since_t, lines=steps)
        value = found.compensated_pa_abs - facts.station_pa_abs
        lines = {}
        if abs(found.change_pa) < _KNOWN_PA:
            start = value - found.change_pa
            lines = {"start": start, "less U": start - found.expanded_pa}
        return StagePlot(kind=kind, value=value, beside=pressure, since_t=since_t, lines=lines)


def _barometer_reads(facts: Facts) -> bool:
    """Return whether the station pressure is what a barometer reads now."""
    return any(
        item.channel.role is Role.BAROMETER and item.value_si == facts.station_pa_abs
        for item in facts.channels
    )
