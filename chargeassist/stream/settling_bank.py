"""The bank of hypotheses: which transient is under way, and how much of it is still to come."""

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
"""Divides the evidence of each reading, because noise is not exactly as modelled [-]."""

OUTLIER_Z: Final = 3.5
"""A reading further off than this many standard deviations counts less [-]."""

FIRST_NOISE: Final = 2.0
"""First guess of the noise variance, as a multiple of an upper quantile of squared differences [-];
rather too large than too small."""

ADAPT: Final = 0.04
"""Rate at which the noise variance is learnt after that, per bin [-]. Half of it is more exact but
needs longer to correct a high first guess; verdicts then come 3 to 5 s later."""

WATCH_EVERY_S: Final = 8.0
WATCH_SLOTS: Final = 12
WATCH_SD_K: Final = 1.0
"""Spacing [s] and number of the candidate onsets of changes nobody announced, and the usual size
of such a change [K]."""

LEAST_VAR: Final = 1.0e-4
LARGEST_VAR: Final = 2.0
"""Bounds of the learnt noise variance of one bin [K^2]."""

HISTORY: Final = 450
"""Number of bins kept to judge a transient again."""

QUIET_STEP: Final = 0.25
LEARN_AGE_S: Final = 60.0
"""A step teaches nothing if it changed nothing with more than this probability [-], or was watched
for less than `LEARN_AGE_S` [s]."""

LOOK_EVERY: Final = 3
YOUNG_S: Final = 40.0
"""The hypotheses are weighed at every `LOOK_EVERY`-th reading while no verdict depends on it, and
at each one up to an age of `YOUNG_S` [s]."""

GUESSING_S: Final = 20.0
"""Up to this age no shape fits yet, and the misfit is not counted [s]."""


class TransientBank:
    """Weighs every shape against the readings since the last disturbance.

    For each shape the size of the change is solved for exactly, because it enters linearly; the
    shapes are averaged with their posterior weights.

    Parameters
    ----------
    plant_share : float
        Prior probability that steps of one job follow the same shape; 0 disables learning [-].

    Attributes
    ----------
    t, onset_t : float
        Time of the last reading (None before the first) and of the last disturbance [s].
    eager : bool
        Whether to weigh the hypotheses at every reading; else at every third.
    responses : Responses
        Responses of the noise filter to each shape, creep and candidate onset.
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
        # Sums of squares since the onset: residuals of the likeliest hypothesis, and differences.
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
        """Take one bin mean.

        Parameters
        ----------
        t, y : float
            Time [s] and mean [K].
        white_var : float
            Variance of the white part of its noise [K^2]; NaN while it is not known.
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
        """The posterior of the hypotheses, given the readings so far."""
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
        """Drop results that are out of date."""
        self._belief = self._slope = self._remaining = None

    @property
    def fresh(self) -> bool:
        """Whether the last reading has been weighed, not only gathered."""
        return self._unseen == 0

    def _look(self) -> None:
        # Reading `belief` in between must change nothing later; only this method does.
        self._best = self.belief.best
        self._unseen = 0

    def _expects(self, lever: Floats) -> tuple[float, float]:
        """Return the likeliest hypothesis' part of a reading [K] and its variance [K^2]."""
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
        """Residuals of the likeliest hypothesis over successive differences, as mean squares [-].

        About 1 while the readings follow a shape, 2 and more while they do not.
        """
        return self._rest2 / self._diff2 if self._diff2 > 0.0 else 0.0

    def _begin(self, t: float, y: float) -> None:
        self.t = self.onset_t = t
        self._y_last = y
        self.noise.start(y, 0.25)
        self._mark = self._sure = self._snapshot(t)

    def fold(self) -> None:
        """Move the part of the transient that has happened into the level, with its uncertainty."""
        if self.t is None:
            return
        # Without hunting, leave its two states out.
        states = 3 if self.ripple is None else 5
        z = -self.responses.response[:states, : self.own]
        z[0] += 1.0 - self.shapes.at(self.t - self.onset_t)
        self.noise.take_in(*self.belief.moments(z))

    def open(self, t: float, *, sure: bool = True, teach: bool = True, start: bool = False) -> None:
        """Start a new transient from the present level.

        Parameters
        ----------
        t : float
            When it starts [s].
        sure : bool
            Whether it was announced, not only noticed.
        teach : bool
            Whether the transient so far has a shape worth learning.
        start : bool
            Whether it is a start of the unit, or a change of frequency.
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
        """Use the shapes and priors of a start, or of a charge step."""
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
        """Go back to a candidate onset, start a transient there and replay what came since."""
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
        """Follow valve hunting, or stop (None); the present transient is then judged again."""
        self.ripple = ripple
        # Unrecognised hunting looks like unannounced changes: go back to before those.
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
        # Readings that wander count less.
        self.responses.start_slot(k, t, 1.0 / self._wander.factor)

    def chance_inside(self, band_k: float) -> float:
        """Return the probability that the change still to come stays inside +-band_k [-]."""
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
