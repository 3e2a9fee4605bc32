"""Raising the nitrogen in stages, with a hold at each, never above what the weakest side may see.

Stages, holds and the highest pressure are limits that are passed in. In print, as examples of how
far sources differ: 0.3 MPa for 3 min, 1.5 MPa for 3 min, 4.3 MPa for 24 h (a heat-pump maker);
5-bar steps to 35 bar (another); 10 psig with soap, then steps of 10 % above 100 psig (UFGS 15652A).
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from chargeassist.model.errors import ConfigError
from chargeassist.model.stage_plan import PressureStep
from chargeassist.model.values import NoValue


class RaiseState(StrEnum):
    """Where the raise stands; the values are fit for a screen."""

    RAISE = "raise to the next stage"
    HOLD = "hold"
    FALLS = "falls during the hold: find the leak before raising"
    TOO_HIGH = "above the highest pressure allowed: vent down now"
    DONE = "all stages held"


@dataclass(frozen=True, slots=True, kw_only=True)
class RaiseStep:
    """The state of the raise at one moment.

    Attributes
    ----------
    state : RaiseState
    index : int
        Of the stage that is raised to or held; the last one when done.
    stage : PressureStep
    remaining_s : float
        Of its hold [s].
    fall_pa : float
        Below the highest reading of this hold [Pa].
    """

    state: RaiseState
    index: int
    stage: PressureStep
    remaining_s: float
    fall_pa: float


class StagedRaise:
    """The stages one after the other; feed it each tick.

    Parameters
    ----------
    stages : tuple of PressureStep
        Rising.
    highest_pa_gauge : float
        Lowest of what plate, instructions and code allow for the sides under pressure [Pa gauge].
    tolerance_pa : float
        How far below a stage's pressure still counts as being there [Pa].
    fall_pa : float
        A fall by more than this during a short hold is one that temperature does not explain [Pa].

    Raises
    ------
    ConfigError
        No stages, stages that do not rise, one above the highest pressure, or one without source.
    """

    def __init__(
        self,
        stages: tuple[PressureStep, ...],
        *,
        highest_pa_gauge: float,
        tolerance_pa: float,
        fall_pa: float,
    ) -> None:
        if not stages:
            raise ConfigError("a staged raise needs at least one stage")
        last = 0.0
        for stage in stages:
            if not last < stage.pressure_pa_gauge < math.inf:
                raise ConfigError("the stages of a raise must rise from above 0 Pa gauge")
            if not 0.0 <= stage.hold_s < math.inf:
                raise ConfigError(f"expected a hold of 0 s or more, came {stage.hold_s:g} s")
            if not stage.source.strip():
                raise ConfigError("a stage of the raise needs its source")
            last = stage.pressure_pa_gauge
        if not last <= highest_pa_gauge < math.inf:
            raise ConfigError(
                f"expected stages up to {highest_pa_gauge / 1e6:.3g} MPa gauge, the highest "
                f"allowed, came one of {last / 1e6:.3g} MPa gauge; read the plate of both sides"
            )
        if not (tolerance_pa >= 0.0 and fall_pa > 0.0):
            raise ConfigError("expected a tolerance of zero or more and a fall above zero")
        self.stages = stages
        self.highest_pa_gauge = highest_pa_gauge
        self._tolerance_pa = tolerance_pa
        self._fall_pa = fall_pa
        self._index = 0
        self._reached_t: float | None = None
        self._top = 0.0
        self._done = False

    def reopen(self) -> None:
        """Note that nitrogen flows again: the last stage is not reached until it is read there."""
        if self._done:
            self._done, self._reached_t = False, None

    def look_again(self, pressure_pa_gauge: float) -> None:
        """Let the last stage be reached no longer if the pressure has left it [Pa gauge].

        To be called until the standing test begins; what it loses then is the test's to say.
        """
        least_pa = self.stages[-1].pressure_pa_gauge - self._tolerance_pa - self._fall_pa
        if pressure_pa_gauge < least_pa:
            self.reopen()

    def update(self, t: float, pressure_pa_gauge: float) -> RaiseStep | NoValue:
        """Take in one tick and return what to do.

        Parameters
        ----------
        t : float
            [s].
        pressure_pa_gauge : float
            [Pa gauge].
        """
        if not math.isfinite(pressure_pa_gauge):
            return NoValue("no pressure to raise by")
        stage = self.stages[self._index]
        if pressure_pa_gauge > self.highest_pa_gauge:
            return self._step(RaiseState.TOO_HIGH, t, 0.0)
        if self._done:
            return self._step(RaiseState.DONE, t, 0.0)
        if self._reached_t is None:
            if pressure_pa_gauge < stage.pressure_pa_gauge - self._tolerance_pa:
                return self._step(RaiseState.RAISE, t, 0.0)
            self._reached_t, self._top = t, pressure_pa_gauge
        self._top = max(self._top, pressure_pa_gauge)
        fall = self._top - pressure_pa_gauge
        if pressure_pa_gauge < stage.pressure_pa_gauge - self._tolerance_pa - self._fall_pa:
            # Let out, or lost: the hold begins anew when the pressure is back.
            self._reached_t = None
            return self._step(RaiseState.FALLS, t, fall)
        if fall > self._fall_pa:
            self._reached_t, self._top = t, pressure_pa_gauge
            return self._step(RaiseState.FALLS, t, fall)
        if t - self._reached_t < stage.hold_s:
            return self._step(RaiseState.HOLD, t, fall)
        if self._index + 1 == len(self.stages):
            self._done = True
            return self._step(RaiseState.DONE, t, fall)
        self._index += 1
        self._reached_t = None
        return self._step(RaiseState.RAISE, t, fall)

    def _step(self, state: RaiseState, t: float, fall: float) -> RaiseStep:
        stage = self.stages[self._index]
        remaining = stage.hold_s
        if self._reached_t is not None:
            remaining = max(stage.hold_s - (t - self._reached_t), 0.0)
        return RaiseStep(
            state=state,
            index=self._index,
            stage=stage,
            remaining_s=0.0 if self._done else remaining,
            fall_pa=fall,
        )
