"""The bank of hypotheses: which transient is going on, and how much of it is still to come."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from chargeassist.stream.settling_noise import FirstNoise, NoiseFilter, Ripple, Wander
from chargeassist.stream.settling_plant import PlantMemory
from chargeassist.stream.settling_posterior import Posterior, SizePriors, weigh
from chargeassist.stream.settling_responses import Responses
from chargeassist.stream.settling_shapes import shape_bank
from chargeassist.stream.settling_snapshot import Snapshot

Floats = NDArray[np.float64]

STEP_SD_K: Final = 1.6
"""Usual size of a change (standard deviation) [K]."""

CREEP_SD_K: Final = 0.6
"""Usual size of a slow creep that may lie beneath it (standard deviation) [K]."""

TEMPER: Final = 1.2
"""Divides the evidence of each reading, for noise that is not quite as modelled [-]."""

OUTLIER_Z: Final = 3.5
"""A reading further off than this many standard deviations counts as less sure [-]."""

FIRST_NOISE: Final = 2.0
"""First guess of the noise variance over an upper quantile of squared differences [-]: too much
rather than too little, until the readings have shown."""

ADAPT: Final = 0.04
"""How quickly the noise variance is learnt after that, per bin [-]. Half of it finds the variance
more exactly and is later rid of too high a first guess: later by 3 to 5 s in all."""

WATCH_EVERY_S: Final = 8.0
WATCH_SLOTS: Final = 12
WATCH_SD_K: Final = 1.0
"""Spacing [s] and number of the candidate onsets of changes nobody announced, and the usual size
of such a change [K]."""

LEAST_VAR: Final = 1.0e-4
LARGEST_VAR: Final = 2.0
"""Bounds of the learnt noise variance of one bin [K^2]."""

HISTORY: Final = 450
"""Bins kept for judging a transient anew [-]."""

QUIET_STEP: Final = 0.25
LEARN_AGE_S: Final = 60.0
"""A step this likely to have changed nothing, or watched for less [s], teaches nothing."""

LOOK_EVERY: Final = 3
YOUNG_S: Final = 40.0
"""Readings between two looks where nothing hangs on them; each is looked at up to this age [s]."""

GUESSING_S: Final = 20.0
"""Up to this age every shape misses the readings [s]."""


class TransientBank:
    """Weighs every shape against the readings since the last disturbance.

    For each shape the size of the change is solved for exactly, because it enters linearly; the
    shapes are averaged with their posterior weights.

    Parameters
    ----------
    plant_share : float
        First guess that steps of one job follow the same shape; 0 switches learning off [-].

    Attributes
    ----------
    t, onset_t : float
        Time of the last reading (None before the first) and of the last disturbance [s].
    eager : bool
        Whether to weigh the hypotheses at each reading; else only at each third.
    responses : Responses
        What the noise filter makes of each shape, creep and candidate onset.
    """

    def __init__(self, *, plant_share: float) -> None:
        self.shapes = shape_bank()
        self.plant = PlantMemory(share=plant_share)
        self.noise = NoiseFilter()
        self.m = self.shapes.size_factor.size
        self.own = self.shapes.remaining.shape[1]
        change_sd_k = STEP_SD_K * self.shapes.size_factor
        self._sizes = SizePriors(change_sd_k**2, CREEP_SD_K**2)
        self.responses = Responses(self.m, self.own - self.m, WATCH_SLOTS)
        self._use(start=False)
        self.t: float | None = None
        self.onset_t = 0.0
        self._belief: Posterior | None = None
        self._slope: float | None = None
        self._remaining: tuple[float, float] | None = None
        self._best = self.belief.best
        self.eager, self._unseen = True, 0
        self._first_noise = FirstNoise(FIRST_NOISE, 4.0 * LEAST_VAR)
        self._wander = Wander()
        self._y_last = 0.0
        # What the likeliest hypothesis left of the readings since the onset, and their steps.
        self._rest2 = self._diff2 = 0.0
        # Watch for changes nobody announced: slots of candidate onsets.
        self._slot_next = 0
        self._slot_due = -math.inf
        self._snapshots: list[Snapshot | None] = [None] * WATCH_SLOTS
        self.ripple: Ripple | None = None
        # Readings since the last onset, and since the last one that was announced.
        self._history: list[tuple[float, float]] = []
        self._mark: Snapshot | None = None
        self._sure: Snapshot | None = None
        self._sure_history: list[tuple[float, float]] = []
        self._replaying = False

    def step(self, t: float, y: float, white_var: float) -> None:
        """Take one bin mean at time t [s], y [K], whose noise is white to this variance [K^2].

        The variance is NaN while it is not known.
        """
        if self.t is None:
            self._begin(t, y)
            return
        dt = t - self.t
        if dt <= 0.0:
            return
        self._anew()
        self.t = t
        if not self._replaying:
            guess = self._first_noise.take(y - self._y_last, dt)
            self.noise.var = guess or self.noise.var
            if not math.isnan(white_var):
                self.noise.colour(white_var)
            self._history.append((t, y))
            self._sure_history.append((t, y))
            if len(self._sure_history) > HISTORY:
                self._sure, self._sure_history = None, []
            if len(self._history) > 2 * HISTORY:
                del self._history[:HISTORY]
                self._mark = None
        self.onset_t = min(self.onset_t, t)
        noise, swings = self.noise, self.ripple is not None
        moves = noise.predict(dt)
        left = self.shapes.at(t - self.onset_t)
        expected = self.responses.expect(t, dt, left, moves, swings=swings)
        # Judge the reading by the likeliest hypothesis: outliers count less, the noise is learnt.
        innovation = noise.innovation(y)
        told, unsure = self._expects(expected)
        rest = innovation - told
        spread, reading_var = noise.spread()
        z2 = rest * rest / (spread + unsure)
        limit = OUTLIER_Z * OUTLIER_Z
        excess = 1.0
        if z2 > limit:
            excess += (rest * rest / limit - spread - unsure) / reading_var
        gain, s = noise.take(innovation, excess)
        if t - self.onset_t > GUESSING_S:
            self._rest2 += rest * rest * spread / (spread + unsure)
            self._diff2 += (y - self._y_last) ** 2
        self._y_last = y
        if not self._replaying:
            grown = noise.var * (1.0 + ADAPT * (min(z2, 9.0) - 1.0))
            noise.var = min(max(grown, LEAST_VAR), LARGEST_VAR)
            self._wander.take(rest, spread + unsure)
        followed = gain if swings else gain[:3]
        self.responses.take(followed, innovation, s, rest, s + unsure)
        self._unseen += 1
        if self.eager or self._unseen >= LOOK_EVERY or t - self.onset_t < YOUNG_S:
            self._look()

    @property
    def belief(self) -> Posterior:
        """What the readings say of each hypothesis by now."""
        if self._belief is None:
            m, own, sums = self.m, self.own, self.responses
            self._belief = weigh(
                (sums.gg[:m], sums.gy[:m]),
                (sums.gg[m:own], sums.gy[m:own]),
                sums.cross,
                self._sizes,
                self.prior_log,
                TEMPER,
            )
        return self._belief

    def _anew(self) -> None:
        """Drop what was worked out from the readings so far."""
        self._belief = self._slope = self._remaining = None

    @property
    def fresh(self) -> bool:
        """Whether the last reading has been weighed, not only gathered."""
        return self._unseen == 0

    def _look(self) -> None:
        # Who reads `belief` in between must not change what comes later: only this does.
        self._best = self.belief.best
        self._unseen = 0

    def _expects(self, lever: Floats) -> tuple[float, float]:
        """Return what the likeliest hypothesis adds to a reading [K], and its variance [K^2]."""
        row, shape = self._best
        sums, sizes = self.responses, self._sizes
        own, gy = lever.item(shape), sums.gy.item(shape)
        information = sums.gg.item(shape) + 1.0 / sizes.change_var.item(shape)
        size, var = gy / information, 1.0 / information
        if not row:
            return own * size, own * own * var
        k, shared = self.m + row - 1, sums.cross.item(row - 1, shape)
        lean = shared * var
        slow = lever.item(k) - lean * own
        schur = sums.gg.item(k) + 1.0 / sizes.creep_var - shared * lean
        creep = (sums.gy.item(k) - lean * gy) / schur
        return own * size + slow * creep, own * own * var + slow * slow / schur

    @property
    def misfit(self) -> float:
        """Variance of what the likeliest hypothesis leaves over that of successive differences [-].

        About 1 while the readings follow one of the shapes, 2 and more while they do not.
        """
        return self._rest2 / self._diff2 if self._diff2 > 0.0 else 0.0

    def _begin(self, t: float, y: float) -> None:
        self.t = self.onset_t = t
        self._y_last = y
        self.noise.start(y, 0.25)
        self._mark = self._sure = self._snapshot(t)

    def fold(self) -> None:
        """Take what has happened of the transient into the level; keep the uncertainty."""
        if self.t is None:
            return
        # Without hunting its two states stay out of it.
        states = 3 if self.ripple is None else 5
        z = -self.responses.response[:states, : self.own]
        z[0] += 1.0 - self.shapes.at(self.t - self.onset_t)
        self.noise.take_in(*self.belief.moments(z))

    def open(self, t: float, *, sure: bool = True, teach: bool = True, start: bool = False) -> None:
        """Start a new transient at time t [s] from the present level.

        ``sure`` tells a disturbance somebody announced from one the watch believes in; ``teach``
        is False where the transient so far had no shape worth remembering, ``start`` tells of a
        start or another frequency.
        """
        if teach:
            self._learn()
        self.fold()
        self._use(start=start)
        self.onset_t = t
        self._history = []
        self._clear()
        self._mark = self._snapshot(t if self.t is None else self.t)
        if sure:
            self._sure, self._sure_history = self._mark, []

    def _use(self, *, start: bool) -> None:
        """Take up what is known beforehand of a start, or of a charge step."""
        self._start = start
        self.shapes = shape_bank(start=start)
        self.prior_log = self.plant.log_prior(start=start)

    def _clear(self) -> None:
        """Forget the evidence of the present transient."""
        self.responses.clear()
        self._rest2 = self._diff2 = 0.0
        self._wander.begin()
        self._slot_next = 0
        self._slot_due = (self.onset_t if self.t is None else self.t) + WATCH_EVERY_S
        self._anew()
        self._look()

    def reopen(self, slot: int) -> None:
        """Go back to a slot of the watch, start a new transient there and judge anew."""
        snapshot = self._snapshots[slot]
        if snapshot is None:
            return
        later = [b for b in self._history if b[0] > snapshot.t]
        self.noise.put_state(snapshot.state)
        if snapshot.ripple is not self.ripple:
            self.noise.set_ripple(self.ripple)
        self.responses.put(snapshot.response, snapshot.sums)
        self._anew()
        self.t, self.onset_t = snapshot.t, snapshot.onset_t
        self.open(snapshot.t, sure=False)
        self._replay(later)
        self._history = later

    def _replay(self, bins: list[tuple[float, float]]) -> None:
        self._replaying = True
        for t, y in bins:
            self.step(t, y, math.nan)
        self._replaying = False

    def _snapshot(self, t: float) -> Snapshot:
        response, sums = self.responses.copy()
        return Snapshot(
            t=t,
            onset_t=self.onset_t,
            start=self._start,
            ripple=self.ripple,
            state=self.noise.copy_state(),
            response=response,
            sums=sums,
        )

    def _learn(self) -> None:
        if self.t is None or self.t - self.onset_t < LEARN_AGE_S:
            return
        if float(self.belief.weights[0][self.shapes.size_factor < 1.0].sum()) > QUIET_STEP:
            return
        self.plant.learn(self.belief.evidence)

    def set_ripple(self, ripple: Ripple | None) -> None:
        """Follow valve hunting, or no longer (None); the present transient is judged anew."""
        self.ripple = ripple
        # Ripple not yet recognised looks like unannounced changes: go back behind those.
        mark, bins = self._mark, self._history
        if self._sure is not None:
            mark, bins = self._sure, self._sure_history
        if ripple is None or mark is None:
            self.noise.set_ripple(ripple)
            self.responses.response[3:] = 0.0
            return
        self.noise.put_state(mark.state)
        self.noise.set_ripple(ripple)
        self.t, self.onset_t = mark.t, mark.onset_t
        self._mark, self._history = mark, list(bins)
        self._use(start=mark.start)
        self._clear()
        self._replay(self._history)

    def watch(self, t: float) -> tuple[float, int]:
        """Return (log odds, slot) of the likeliest change nobody announced."""
        if t >= self._slot_due:
            self._start_slot(t)
        return self.responses.likeliest_onset(WATCH_SD_K * WATCH_SD_K)

    def _start_slot(self, t: float) -> None:
        k = self._slot_next
        self._slot_next = (k + 1) % WATCH_SLOTS
        self._slot_due = t + WATCH_EVERY_S
        self._snapshots[k] = self._snapshot(t)
        # What a reading is worth from here on: one that wanders is worth less.
        self.responses.start_slot(k, t, 1.0 / self._wander.factor)

    def chance_inside(self, band_k: float) -> float:
        """Return the probability that what is still to come stays inside +-band_k [-]."""
        if self.t is None:
            return 0.0
        reach = self.shapes.reach_at(self.t - self.onset_t)
        return self.belief.chance_inside(band_k, reach[: self.m], reach[self.m :])

    def slope_k_per_s(self) -> float:
        """Return the present slope of the transient [K/s]."""
        if self.t is None:
            return 0.0
        if self._slope is None:
            slope = self.shapes.slope_per_s(self.t - self.onset_t)
            self._slope = -self.belief.mean_of(slope[: self.m], slope[self.m :])
        return self._slope

    def remaining(self) -> tuple[float, float]:
        """Return mean and standard deviation of what is still to come [K]."""
        if self.t is None:
            return 0.0, math.inf
        if self._remaining is None:
            g = self.shapes.at(self.t - self.onset_t)
            self._remaining = self.belief.remaining(g[: self.m], g[self.m :])
        return self._remaining
