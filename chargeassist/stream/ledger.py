"""Charge steps: begun and ended by mark, or seen on the cylinder scale.

A step's amount is what the technician says, else what the scale lost. A scale that loses mass while
no step is open opens one by itself, so that refrigerant added without a key press is not missed.
"""

from collections import deque
from dataclasses import replace

from chargeassist.model.events import Mark, MarkKind, StepRecorded
from chargeassist.stream.facts import ChargeStep, OpenStep
from chargeassist.stream.windows import span

REST_TICKS = 6
STILL_KG = 0.004
FALL_KG = 0.012
FALL_TICKS = 2
READ_AFTER_END_TICKS = 3
STILL_TICKS_TO_END = 10
LEAST_MASS_TO_LEARN_KG = 0.015
LEAST_SUBCOOLING_TO_LEARN_K = 1.0
"""Below this the liquid line may hold vapour and the gain says nothing about later steps."""


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
        self._scale: deque[float] = deque(maxlen=STILL_TICKS_TO_END)
        self._rest_kg: float | None = None
        self._falls = 0
        self._begun_t: float | None = None
        self._baseline_kg: float | None = None
        self._by_scale = False
        self._ending: tuple[Mark, int] | None = None
        self._base: tuple[float, float, int] | None = None
        self._settled_k: float | None = None

    @property
    def total_kg(self) -> float:
        """Weighed in before plus every step whose mass is known [kg]."""
        return self._weighed_in_kg + sum(step.mass_kg or 0.0 for step in self.steps)

    def open_step(self) -> OpenStep | None:
        """Return the step in progress, or None."""
        if self._begun_t is None:
            return None
        so_far = None
        if self._baseline_kg is not None and self._scale:
            so_far = max(0.0, self._baseline_kg - self._scale[-1])
        return OpenStep(begun_t=self._begun_t, so_far_kg=so_far)

    def take(self, mark: Mark) -> StepRecorded | None:
        """Hear a mark; return the step it completed, if it completed one at once."""
        if mark.kind is MarkKind.STEP_BEGUN and self._begun_t is None:
            self._begin(mark.t, by_scale=False)
        elif mark.kind is MarkKind.STEP_BEGUN and self._by_scale:
            self._by_scale = False  # the technician takes over a step the scale has seen
        elif mark.kind is MarkKind.STEP_ENDED and self._ending is None:
            if self._begun_t is None:
                self._begun_t = mark.t
                self._baseline_kg = self._rest_kg if mark.mass_kg is None else None
            if mark.mass_kg is None and self._baseline_kg is not None and self._scale:
                self._ending = (mark, READ_AFTER_END_TICKS)
                return None
            by = "technician"
            return self._record(mark.t, mark.t, mark.mass_kg, by)
        return None

    def tick(self, t: float, scale_kg: float | None) -> StepRecorded | None:
        """Follow the scale at tick `t` [s]; return the step this completed, if any.

        Parameters
        ----------
        t : float
        scale_kg : float or None
            What the cylinder weighs now [kg]; None without signal.
        """
        if scale_kg is None:
            if self._ending is not None:  # the scale died while we waited for it to come to rest
                mark, _ = self._ending
                return self._record(t, mark.t, None, "technician")
            return None
        self._scale.append(scale_kg)
        recent = list(self._scale)
        if self._ending is not None:
            mark, left = self._ending
            if left > 1:
                self._ending = (mark, left - 1)
                return None
            return self._record(t, mark.t, self._lost_kg(recent), "scale")
        if self._begun_t is not None:
            still = len(recent) == STILL_TICKS_TO_END and span(recent) <= STILL_KG
            if self._by_scale and still:
                return self._record(t, t, self._lost_kg(recent), "scale")
            return None
        self._watch_rest(t, recent, scale_kg)
        return None

    def settled(self, subcooling_k: float) -> None:
        """Hear the settled subcooling [K], again and again while it stays settled."""
        self._settled_k = subcooling_k
        if self._begun_t is not None or not self.steps:
            return
        last = self.steps[-1]
        if last.after_k is None:
            gain = self._learn(subcooling_k)
            self.steps = (
                *self.steps[:-1],
                replace(last, after_k=subcooling_k, gain_k_per_kg=gain),
            )

    def unsettled(self) -> None:
        """Hear that subcooling left its settled value for a reason other than a charge step."""
        self._settled_k = None

    def _learn(self, after_k: float) -> float | None:
        if self._base is None:
            return None
        before_k, before_kg, before_steps = self._base
        mass_kg = self.total_kg - before_kg
        known = all(step.mass_kg is not None for step in self.steps[before_steps:])
        teaches = (
            known
            and abs(mass_kg) >= LEAST_MASS_TO_LEARN_KG
            and min(before_k, after_k) >= LEAST_SUBCOOLING_TO_LEARN_K
        )
        return (after_k - before_k) / mass_kg if teaches else None

    def _begin(self, t: float, *, by_scale: bool) -> None:
        self._begun_t = t
        self._by_scale = by_scale
        self._baseline_kg = self._rest_kg
        if self._baseline_kg is None and self._scale:
            self._baseline_kg = self._scale[-1]

    def _record(
        self, t: float, ended_t: float, mass_kg: float | None, measured_by: str
    ) -> StepRecorded:
        begun_t = self._begun_t if self._begun_t is not None else ended_t
        before = self._settled_k
        if before is not None:
            self._base = (before, self.total_kg, len(self.steps))
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
        )
        self.steps = (*self.steps, step)
        self._begun_t = None
        self._baseline_kg = None
        self._by_scale = False
        self._ending = None
        self._settled_k = None
        self._rest_kg = None
        self._falls = 0
        self._scale.clear()
        return StepRecorded(
            t=t,
            number=number,
            mass_kg=mass_kg,
            begun_t=begun_t,
            ended_t=ended_t,
            measured_by=measured_by,
        )

    def _lost_kg(self, recent: list[float]) -> float | None:
        if self._baseline_kg is None:
            return None
        newest = recent[-READ_AFTER_END_TICKS:]
        return self._baseline_kg - sum(newest) / len(newest)

    def _watch_rest(self, t: float, recent: list[float], scale_kg: float) -> None:
        if self._rest_kg is not None and scale_kg < self._rest_kg - FALL_KG:
            self._falls += 1
            if self._falls >= FALL_TICKS:
                self._begin(t, by_scale=True)
            return
        self._falls = 0
        newest = recent[-REST_TICKS:]
        if len(newest) == REST_TICKS and span(newest) <= STILL_KG:
            self._rest_kg = sum(newest) / REST_TICKS
