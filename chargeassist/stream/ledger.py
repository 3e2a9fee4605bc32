"""Charge steps: begun and ended by mark, or seen on the cylinder scale.

A step's amount is what the technician says, else what the scale lost. A scale that loses mass while
no step is open opens one by itself, so that refrigerant added without a key press is not missed.
"""

from collections import deque
from dataclasses import replace

from chargeassist.model.events import Mark, MarkKind, StepRecorded
from chargeassist.model.mark_event import RECOVERED
from chargeassist.stream.facts import ChargeStep, OpenStep
from chargeassist.stream.recent import HighestOfRecent, span

REST_TICKS = 6
STILL_KG = 0.004
"""The scale rests when it stays within this [kg] for this many ticks. Assumption, like all here."""

FALL_KG = 0.012
FALL_TICKS = 2
"""A scale this far below its rest [kg] for this many ticks means that refrigerant flows."""

RESTS_KEPT_TICKS = 120
"""The scale is compared with the highest of this many rests, so that slow losses, a few grams at a
time with a rest after each, add up to a fall."""

READ_AFTER_END_TICKS = 3
"""The scale is read this many ticks after the valve was shut, when the hose has emptied; a slow one
at its first reading from then on."""

STILL_TICKS_TO_END = 10
"""A step that the scale began ends once the scale has been still for this many ticks."""

LEAST_MASS_TO_LEARN_KG = 0.015
"""From less [kg] no gain is learnt: the noise of two settled readings would dominate it."""

LEAST_VALUE_TO_LEARN_K = 1.0
"""Below this value [K] the line may hold both liquid and vapour, and the gain says nothing about
later steps."""

KEEPS_LEVEL = frozenset({"hold_missing", "no_signal", "clamp_settles"})
"""Causes that end a settled reading although it has not moved, as far as is known."""

LIFTED_KG = 0.5
"""A change from one tick to the next [kg] that no hose can pass: the cylinder was moved."""

LIFT_BEGINS_TICKS = 6
"""A step that the scale began so few ticks before the cylinder was moved was the lifting itself."""

DOUBLE_PRESS_S = 5.0
"""An end this soon [s] after the last is the same key pressed twice."""

CORRECTS_S = 30.0
"""An amount said this soon [s] after a step ended by itself belongs to that step."""

LARGEST_SAID_KG = 1000.0
"""A larger amount [kg] is a slip and counts as not said."""


class Ledger:
    """The charge steps of one session.

    Parameters
    ----------
    weighed_in_kg : float
        In the circuit before the session [kg].
    """

    def __init__(self, weighed_in_kg: float) -> None:
        self._weighed_in_kg = weighed_in_kg
        self.steps: tuple[ChargeStep, ...] = ()
        self._total_kg = weighed_in_kg
        self._scale: deque[float] = deque(maxlen=STILL_TICKS_TO_END)
        self._rest_kg: float | None = None
        self._rests = HighestOfRecent(RESTS_KEPT_TICKS)
        self._falls = 0
        self._silent = False
        self._heard_ticks = 0  # in a row, the last one included
        self._begun_t: float | None = None
        self._baseline_kg: float | None = None
        self._by_scale = False
        self._ticks_open = 0
        self._ending: tuple[Mark, int] | None = None
        self._base: tuple[float, float, int] | None = None
        self._settled_k: float | None = None

    @property
    def is_open(self) -> bool:
        """Whether a step is in progress."""
        return self._begun_t is not None

    @property
    def total_kg(self) -> float:
        """Weighed in before plus every step whose mass is known [kg]."""
        return self._total_kg

    def open_step(self) -> OpenStep | None:
        """Return the step in progress, or None."""
        if self._begun_t is None:
            return None
        so_far = None
        if self._baseline_kg is not None and self._scale:
            so_far = max(0.0, self._baseline_kg - self._scale[-1])
        lost = so_far is not None and self._silent
        return OpenStep(begun_t=self._begun_t, so_far_kg=so_far, scale_lost=lost)

    def take(self, mark: Mark) -> tuple[StepRecorded, ...]:
        """Hear a mark; return the steps it completed, or the one it gave its amount to, if any.

        An end that nobody began is a step of its own, unless it repeats the last one, or says the
        amount that a step lacks. What was recovered, told while the scale under the cylinder comes
        to rest, is that step only where the scale shows that nothing went in; else one after it.
        """
        found: list[StepRecorded | None] = []
        if mark.kind is MarkKind.STEP_BEGUN:
            found = [self._hear_begun(mark)]
        elif mark.kind is MarkKind.STEP_ENDED:
            found = [self._end_before(mark), self._hear_ended(mark)]
        return tuple(step for step in found if step is not None)

    def _end_before(self, mark: Mark) -> StepRecorded | None:
        """Record the step that waits for its scale where `mark` tells of another, a recovery."""
        out = mark.text == RECOVERED if mark.mass_kg is None else mark.mass_kg < 0.0
        if self._ending is None or not out:
            return None
        gone_kg = self._lost_kg(list(self._scale)[-1:])
        if gone_kg is None or gone_kg < FALL_KG:
            return None
        return self._record(mark.t, self._ending[0].t, gone_kg, "scale")

    def _hear_begun(self, mark: Mark) -> StepRecorded | None:
        if self._ending is not None:  # the next step begins before the scale came to rest
            newest = list(self._scale)
            done = self._end_by_scale(mark.t, self._ending[0].t, newest[-1:])
            self._begin(mark.t, by_scale=False)
            self._baseline_kg = newest[-1]
            return done
        if self._begun_t is None:
            self._begin(mark.t, by_scale=False)
        self._by_scale = False  # the technician takes over a step the scale has seen
        return None

    def _hear_ended(self, mark: Mark) -> StepRecorded | None:
        said_kg = mark.mass_kg
        if said_kg is not None and not abs(said_kg) <= LARGEST_SAID_KG:
            said_kg = None
        # No scale of a cylinder that is charged from shows what nobody weighed as it came out.
        came_out = said_kg is None and mark.text == RECOVERED
        if self._ending is not None:
            if said_kg is None and not came_out:
                return None
            ended_t = self._ending[0].t
            return self._record(mark.t, ended_t, said_kg, "technician", came_out=came_out)
        if self._begun_t is None:
            if self.steps:
                last = self.steps[-1]
                since_s = mark.t - last.ended_t
                again = said_kg in (None, last.mass_kg) and came_out in (False, last.came_out)
                if since_s <= DOUBLE_PRESS_S and again:
                    return None
                step = None if said_kg is None else self._meant(said_kg, since_s)
                if said_kg is not None and step is not None:
                    return self._amend(mark.t, step, said_kg)
            self._begun_t = mark.t
            self._baseline_kg = self._rest_kg
        by_scale = said_kg is None and not came_out
        if by_scale and self._baseline_kg is not None and self._scale:
            self._ending = (mark, READ_AFTER_END_TICKS)
            return None
        return self._record(mark.t, mark.t, said_kg, "technician", came_out=came_out)

    def _meant(self, said_kg: float, since_s: float) -> ChargeStep | None:
        """Return the step an amount belongs to that is said with no step open; None for a new one.

        What was recovered is no correction of what was added.
        """
        out = said_kg < 0.0
        last = self.steps[-1]
        same_way = last.came_out is out if last.mass_kg is None else last.mass_kg * said_kg >= 0.0
        if since_s <= CORRECTS_S and same_way:
            return last
        lacking = (step for step in reversed(self.steps) if step.mass_kg is None)
        return next((step for step in lacking if step.came_out is out), None)

    def _amend(self, t: float, told: ChargeStep, mass_kg: float) -> StepRecorded:
        """Give a step the amount that was said after it."""
        mass_kg = round(mass_kg, 5)
        if self._base is not None and self._base[2] >= told.number:
            level_k, total_kg, steps = self._base
            self._base = (level_k, total_kg + mass_kg - (told.mass_kg or 0.0), steps)
        step = replace(
            told, mass_kg=mass_kg, measured_by="technician", gain_k_per_kg=None, gain_over_kg=None
        )
        self._keep((*self.steps[: told.number - 1], step, *self.steps[told.number :]))
        return _recorded(t, step)

    def tick(self, t: float, scale_kg: float | None, *, heard: bool = True) -> StepRecorded | None:
        """Follow the scale at tick `t` [s]; return the step this completed, if any.

        Parameters
        ----------
        t : float
        scale_kg : float or None
            What the cylinder weighs now [kg]; None without signal.
        heard : bool
            Whether that was read anew: a scale is not still because it says nothing.
        """
        self._silent = scale_kg is None
        self._heard_ticks = self._heard_ticks + 1 if heard else 0
        if scale_kg is None:
            if self._ending is not None:  # the scale died while we waited for it to come to rest
                mark, _ = self._ending
                return self._record(t, mark.t, None, "technician")
            return None
        if self._scale and abs(scale_kg - self._scale[-1]) > LIFTED_KG:
            done = self._cylinder_moved(t)
            if done is not None:
                return done
        self._scale.append(scale_kg)
        recent = list(self._scale)
        if self._ending is not None:
            mark, left = self._ending
            if left > 1 or not heard:
                self._ending = (mark, left - 1)
                return None
            return self._end_by_scale(t, mark.t, recent)
        if self._begun_t is not None:
            self._ticks_open += 1
            still = len(recent) == STILL_TICKS_TO_END and span(recent) <= STILL_KG
            if self._by_scale and still and heard:
                done = self._record(t, t, self._lost_kg(recent), "scale")
                # Where it rests now is where a fall that goes on slowly is counted from.
                self._rest_kg = self._newest_kg(recent)
                self._rests.add(self._rest_kg)
                return done
            return None
        self._watch_rest(t, recent, scale_kg)
        return None

    def _end_by_scale(self, t: float, ended_t: float, recent: list[float]) -> StepRecorded | None:
        """Record the step that was told to be over, unless nobody began it and nothing flowed."""
        lost_kg = self._lost_kg(recent)
        if self._begun_t == ended_t and lost_kg is not None and abs(lost_kg) <= STILL_KG:
            self._begun_t = self._baseline_kg = self._ending = None
            return None
        return self._record(t, ended_t, lost_kg, "scale")

    def settled(self, value_k: float, *, teaches: bool = True) -> None:
        """Hear the settled judged value [K], again and again while it stays settled.

        With `teaches` false it is no level: no gain is learnt up to it or from it.
        """
        self._settled_k = value_k
        if self._begun_t is not None:
            return
        if self.steps and self.steps[-1].after_k is None:
            last = replace(self.steps[-1], after_k=value_k)
            learnt = self._learn(value_k) if teaches else None
            if learnt is not None:
                last = replace(last, gain_k_per_kg=learnt[0], gain_over_kg=learnt[1])
            self._keep((*self.steps[:-1], last))
        # What comes next is learnt from here, so that no step is learnt from twice.
        self._base = (value_k, self.total_kg, len(self.steps)) if teaches else None

    def unsettled(self, cause: str) -> None:
        """Hear that the settled value is lost for a reason other than a charge step.

        Where the value left its level by itself, no later step is learnt from there.
        """
        self._settled_k = None
        by_step = self._base is not None and self._base[2] < len(self.steps)  # told at its end
        if cause not in KEEPS_LEVEL and not by_step:
            self._base = None

    def probe_changed(self) -> None:
        """Hear of another probe, or one put right: levels before compare with none after it."""
        self._settled_k = self._base = None
        if self.steps:
            self._keep((*self.steps[:-1], replace(self.steps[-1], probe_changed=True)))

    def _learn(self, after_k: float) -> tuple[float, float] | None:
        """Return the gain [K/kg] since the last settled level and the mass it was learnt over."""
        if self._base is None:
            return None
        before_k, before_kg, before_steps = self._base
        mass_kg = self.total_kg - before_kg
        known = all(step.mass_kg is not None for step in self.steps[before_steps:])
        teaches = (
            known
            and abs(mass_kg) >= LEAST_MASS_TO_LEARN_KG
            and min(before_k, after_k) >= LEAST_VALUE_TO_LEARN_K
        )
        return ((after_k - before_k) / mass_kg, mass_kg) if teaches else None

    def _keep(self, steps: tuple[ChargeStep, ...]) -> None:
        self.steps = steps
        self._total_kg = self._weighed_in_kg + sum([step.mass_kg or 0.0 for step in steps])

    def _begin(self, t: float, *, by_scale: bool) -> None:
        self._begun_t = t
        self._by_scale = by_scale
        self._ticks_open = 0
        self._baseline_kg = self._rests.highest if by_scale else self._rest_kg
        if self._baseline_kg is None and self._scale:
            self._baseline_kg = self._scale[-1]

    def _record(
        self,
        t: float,
        ended_t: float,
        mass_kg: float | None,
        measured_by: str,
        *,
        came_out: bool = False,
    ) -> StepRecorded:
        begun_t = self._begun_t if self._begun_t is not None else ended_t
        before = self._settled_k
        number = len(self.steps) + 1
        if mass_kg is not None:
            mass_kg = round(mass_kg, 5)
        step = ChargeStep(
            number=number,
            mass_kg=mass_kg,
            begun_t=begun_t,
            ended_t=ended_t,
            measured_by=measured_by,
            before_k=before,
            came_out=came_out,
        )
        self._keep((*self.steps, step))
        self._begun_t = None
        self._baseline_kg = None
        self._by_scale = False
        self._ending = None
        self._settled_k = None
        self._rest_kg = None
        self._rests.clear()
        self._falls = 0
        self._scale.clear()
        return _recorded(t, step)

    def _cylinder_moved(self, t: float) -> StepRecorded | None:
        """Forget what the scale showed before the cylinder was lifted, exchanged or put down."""
        done = None
        before_kg = list(self._scale)
        if self._ending is not None:
            done = self._record(t, self._ending[0].t, self._lost_kg(before_kg), "scale")
        elif self._by_scale:
            if self._ticks_open > LIFT_BEGINS_TICKS:
                done = self._record(t, t, self._lost_kg(before_kg), "scale")
            else:
                self._begun_t = None
                self._by_scale = False
        self._baseline_kg = None
        self._rest_kg = None
        self._rests.clear()
        self._falls = 0
        self._scale.clear()
        return done

    def _lost_kg(self, recent: list[float]) -> float | None:
        return None if self._baseline_kg is None else self._baseline_kg - self._newest_kg(recent)

    def _newest_kg(self, recent: list[float]) -> float:
        """Return what the scale reads now: the mean of the last ticks that were read anew [kg]."""
        newest = recent[-max(1, min(self._heard_ticks, READ_AFTER_END_TICKS)) :]
        return sum(newest) / len(newest)

    def _watch_rest(self, t: float, recent: list[float], scale_kg: float) -> None:
        highest_kg = self._rests.highest
        if highest_kg is not None and scale_kg < highest_kg - FALL_KG:
            self._falls += 1
            if self._falls >= FALL_TICKS:
                self._begin(t, by_scale=True)
            return
        self._falls = 0
        newest = recent[-REST_TICKS:]
        if len(newest) == REST_TICKS and span(newest) <= STILL_KG:
            self._rest_kg = sum(newest) / REST_TICKS
            self._rests.add(self._rest_kg)


def _recorded(t: float, step: ChargeStep) -> StepRecorded:
    return StepRecorded(
        t=t,
        number=step.number,
        mass_kg=step.mass_kg,
        begun_t=step.begun_t,
        ended_t=step.ended_t,
        measured_by=step.measured_by,
    )
