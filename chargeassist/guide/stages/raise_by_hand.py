"""The raise of nitrogen as followed by gauge readings that are typed now and then."""

import math
from collections.abc import Iterable
from dataclasses import replace

from chargeassist.guide.stages.nitrogen import (
    MENDED,
    OPEN,
    SHUT,
    Supply,
    new_raise,
)
from chargeassist.guide.stages.stage import Instruction, NextMark, say
from chargeassist.model.events import Action
from chargeassist.model.job import Job
from chargeassist.model.values import NoValue
from chargeassist.physics.staged_raise import RaiseState, RaiseStep


class RaiseByHand:
    """One raise, from its first step to the top.

    Between two readings nobody knows the pressure, so a hold is over when its time has passed and
    the pressure was read again. The hold counts from the reading that reached the step, or from the
    moment the supply was shut after it: what flows in hides what flows out.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._steps = job.stages.tightness.steps
        self._raise = new_raise(job)
        self._hold_from_t: float | None = None
        self._opened_t = math.inf
        self.at: RaiseStep | None = None
        """Where it stood at the newest reading; None before the first."""

    @property
    def at_top(self) -> bool:
        """Whether the pressure of the standing test is there."""
        return self.at is not None and self.at.state is RaiseState.DONE

    @property
    def is_too_high(self) -> bool:
        """Whether the newest reading is above the most the circuit may be brought to."""
        return self.at is not None and self.at.state is RaiseState.TOO_HIGH

    def shut(self, t: float) -> None:
        """Note that the supply was shut at `t` [s]."""
        if self._hold_from_t is not None:
            self._hold_from_t = t

    def open(self, t: float) -> None:
        """Note that the supply was opened at `t` [s]: what was at the top has to be read anew."""
        if self.at_top:
            self._opened_t = t
            self._reopen()

    def _reopen(self) -> None:
        if self._raise is not None and self.at is not None and self.at_top:
            self._raise.reopen()
            self.at = replace(self.at, state=RaiseState.RAISE)

    def follow(self, t: float, pressure_pa: float) -> None:
        """Take in a reading [Pa gauge] of the time `t` [s]."""
        now = NoValue("no steps") if self._raise is None else self._raise.update(t, pressure_pa)
        if isinstance(now, NoValue):
            return
        before, self.at = self.at, now
        if now.state is not RaiseState.HOLD:
            self._hold_from_t = None
        elif self._hold_from_t is None or before is None or before.index != now.index:
            self._hold_from_t = t

    def look_again(self, pressure_pa: float) -> None:
        """Let the top be reached no longer if a reading [Pa gauge] has left it before the test."""
        if self._raise is not None:
            self._raise.look_again(pressure_pa)

    def again(self, pressures: Iterable[tuple[float, float]]) -> None:
        """Follow from the beginning: times [s] and readings [Pa gauge] that still stand."""
        before, hold_from_t = self.at, self._hold_from_t
        self._raise, self.at, self._hold_from_t = new_raise(self._job), None, None
        opened = False
        for t, pressure_pa in pressures:
            if t >= self._opened_t and not opened:
                opened = True
                self._reopen()
            self.follow(t, pressure_pa)
        if self._opened_t < math.inf and not opened:
            self._reopen()
        same = before is not None and self.at is not None and before.index == self.at.index
        if same and self._hold_from_t is not None and hold_from_t is not None:
            self._hold_from_t = hold_from_t

    def advise(
        self, t: float, supply: Supply, pressure_pa: float | None, read: NextMark | None
    ) -> Instruction:
        """Return what to do next.

        Parameters
        ----------
        t : float
            [s].
        supply : Supply
        pressure_pa : float or None
            To be shown [Pa gauge].
        read : NextMark or None
            The mark that asks for the pressure; None if a probe tells it.
        """
        step = self._steps[0] if self.at is None else self._steps[self.at.index]
        figures = {"pressure_pa": step.pressure_pa_gauge, "hold_s": step.hold_s}
        if pressure_pa is not None:
            figures["value_pa"] = pressure_pa
        if self.at is None or self.at.state is RaiseState.RAISE:
            if supply is not Supply.OPEN:
                return say(t, Action.DO, "nitrogen_raise_by_hand", figures), OPEN
            return say(t, Action.DO, "nitrogen_reached", figures), read or SHUT
        match self.at.state:
            case RaiseState.HOLD if supply is Supply.OPEN:
                figures["seconds_s"] = step.hold_s
                return say(t, Action.DO, "nitrogen_step", figures), SHUT
            case RaiseState.HOLD:
                return self._holding(t, step.hold_s, figures, read)
            case RaiseState.FALLS:
                figures["fall_pa"] = self.at.fall_pa
                return say(t, Action.FIX_FIRST, "nitrogen_falls", figures), MENDED
            case _:
                return say(t, Action.DO, "nitrogen_shut", figures), SHUT

    def _holding(
        self, t: float, hold_s: float, figures: dict[str, float], read: NextMark | None
    ) -> Instruction:
        left_s = hold_s - (t - (self._hold_from_t or t))
        figures["seconds_s"] = max(left_s, 0.0)
        if left_s > 0.0:
            return say(t, Action.WAIT, "nitrogen_hold", figures), None
        return say(t, Action.DO, "read_after_hold", figures), read
