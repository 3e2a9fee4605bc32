"""The bank of hypotheses: which transient is going on, and how much of it is still to come."""

import math
from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargeassist.stream.settling_noise import NoiseFilter, Ripple
from chargeassist.stream.settling_plant import PlantMemory
from chargeassist.stream.settling_settings import BankSettings
from chargeassist.stream.settling_shapes import shape_bank

Floats = NDArray[np.float64]

LEAST_VAR = 1.0e-4
LARGEST_VAR = 2.0
"""Bounds of the learnt noise variance of one bin [K^2]."""

HISTORY = 450
"""Bins kept for judging a transient anew [-]."""

QUIET_STEP, LEARN_AGE_S = 0.25, 60.0
"""A step this likely to have changed nothing, or watched for less [s], teaches nothing."""

# The reductions themselves: the method `sum` goes through a wrapper that costs as much as they do.
_sum, _max = np.add.reduce, np.maximum.reduce

_WATCH_RATES: Floats = np.array([[-1.0 / 45.0], [-1.0 / 40.0]])
_ROOT_2 = math.sqrt(2.0)
_STARTS_FLAT: Floats = np.array([[0.0], [1.0]])
_ERF_AT: Floats = np.arange(-1000, 1001, dtype=np.float64) * 0.004
_ERF: Floats = np.array([math.erf(z) for z in _ERF_AT.tolist()])


@dataclass(frozen=True, slots=True, eq=False)
class _Snapshot:
    """The bank as it stood at one time, enough to go back and judge anew."""

    t: float
    onset_t: float
    ripple: Ripple | None
    state: tuple[list[float], list[list[float]]]
    response: Floats
    weights: Floats
    change: Floats
    change_var: Floats
    evidence: Floats | None


class TransientBank:
    """Weighs every shape against the readings since the last disturbance.

    For each shape the size of the change is solved for exactly, because it enters linearly; the
    shapes are averaged with their posterior weights.

    Attributes
    ----------
    t, onset_t : float
        Time of the last reading (None before the first) and of the last disturbance [s].
    weights : ndarray, shape (m,)
        Posterior weight of each shape [-].
    change, change_var : ndarray, shape (m,)
        Size of the whole change under each shape, mean [K] and variance [K^2].
    response : ndarray, shape (5, m + 2 slots)
        What the noise filter makes of each shape: the states it would show for a change of 1 K.
    """

    def __init__(self, settings: BankSettings) -> None:
        self.settings = settings
        self.shapes = shape_bank()
        self.plant = PlantMemory(share=settings.plant_share)
        self.noise = NoiseFilter(
            coloured_share=settings.coloured_share,
            memory_s=settings.memory_s,
            level_walk=settings.level_walk,
            drift_sd=settings.drift_sd_k_per_min / 60.0,
        )
        m = self.shapes.log_prior.size
        self.m = m
        self.slots = settings.watch_slots
        columns = m + 2 * self.slots
        self._v0: Floats = (settings.step_sd_k * self.shapes.size_factor) ** 2
        self._iv0: Floats = 1.0 / self._v0
        self.response = np.zeros((5, columns))
        self._rows = tuple(self.response)
        self._column = np.empty(columns)
        self._sgg = np.zeros(columns)
        self._sgy = np.zeros(columns)
        self.prior_log = self.plant.log_prior()
        self._evidence: Floats | None = None
        self.t: float | None = None
        self.onset_t = 0.0
        self.weights: Floats = np.exp(self.prior_log)
        self.change: Floats = np.zeros(m)
        self.change_var: Floats = self._v0
        self._best = int(self.prior_log.argmax())
        self._diffs: deque[float] = deque(maxlen=12)
        self._y_last = 0.0
        # Watch for changes nobody announced: slots of candidate onsets.
        self._slot_t = np.full(self.slots, np.inf)
        self._slot_next = 0
        self._slot_due = -math.inf
        self._snapshots: list[_Snapshot | None] = [None] * self.slots
        self.ripple: Ripple | None = None
        # Readings since the last onset, and since the last one that was announced.
        self._history: list[tuple[float, float]] = []
        self._mark: _Snapshot | None = None
        self._sure: _Snapshot | None = None
        self._sure_history: list[tuple[float, float]] = []
        self._replaying = False

    def step(self, t: float, y: float) -> None:
        """Take one bin mean at time t [s], y [K]."""
        if self.t is None:
            self._begin(t, y)
            return
        dt = t - self.t
        if dt <= 0.0:
            return
        self.t = t
        if not self._replaying:
            self._first_noise(y, dt)
            self._history.append((t, y))
            self._sure_history.append((t, y))
            if len(self._sure_history) > HISTORY:
                self._sure, self._sure_history = None, []
            if len(self._history) > 2 * HISTORY:
                del self._history[:HISTORY]
                self._mark = None
        m, column = self.m, self._column
        self.onset_t = min(self.onset_t, t)
        np.subtract(1.0, self.shapes.at(t - self.onset_t), out=column[:m])
        # Each candidate onset has a quick response and one that starts flat.
        since = np.maximum(t - self._slot_t, 0.0) * _WATCH_RATES
        left = np.exp(since)
        left *= 1.0 - since * _STARTS_FLAT
        np.subtract(1.0, left.ravel(), out=column[m:])
        x = self.response
        level, drift, coloured, _, _ = self._rows
        noise = self.noise
        memory, co, si = noise.predict(dt)
        level += dt * drift
        coloured *= memory
        expected = column - level
        expected -= coloured
        if self.ripple is not None:
            x3 = co * x[3] + si * x[4]
            x[4] = co * x[4] - si * x[3]
            x[3] = x3
            expected -= x3
        # Judge the reading by the likeliest shape: an outlier counts less, the noise is learnt.
        best = self._best
        lever = float(expected[best])
        innovation = noise.innovation(y)
        rest = innovation - float(self.change[best]) * lever
        unsure = lever * lever * float(self.change_var[best])
        spread, reading_var = noise.spread()
        z2 = rest * rest / (spread + unsure)
        limit = self.settings.outlier_z**2
        excess = 1.0
        if z2 > limit:
            excess += (rest * rest / limit - spread - unsure) / reading_var
        gain, s = noise.take(innovation, excess)
        if not self._replaying:
            grown = noise.var * (1.0 + self.settings.adapt * (min(z2, 9.0) - 1.0))
            noise.var = min(max(grown, LEAST_VAR), LARGEST_VAR)
        # Without hunting its two rows stay as they are.
        rows = 3 if self.ripple is None else 5
        x[:rows] += np.array(gain[:rows])[:, None] * expected
        weighted = expected * (1.0 / s)
        weighted[m:] *= s / (s + unsure)
        expected *= weighted
        self._sgg += expected
        weighted[:m] *= innovation
        weighted[m:] *= rest
        self._sgy += weighted
        self._weigh()

    def _weigh(self) -> None:
        m = self.m
        lam = self._iv0 + self._sgg[:m]
        sgy = self._sgy[:m]
        change = sgy / lam
        # The readings' own likelihood is common to all shapes and drops out.
        evidence = sgy * change
        evidence -= np.log(lam * self._v0)
        evidence *= 0.5 / self.settings.temper
        self._evidence = evidence
        w = evidence + self.prior_log
        w -= _max(w)
        np.exp(w, out=w)
        w /= _sum(w)
        self.weights = w
        self.change = change
        self.change_var = 1.0 / lam
        self._best = int(w.argmax())

    def _begin(self, t: float, y: float) -> None:
        self.t = self.onset_t = t
        self._y_last = y
        self.noise.start(y, 0.25)
        self._mark = self._sure = self._snapshot(t)

    def _first_noise(self, y: float, dt: float) -> None:
        """Guess the noise from the first differences, in their upper middle."""
        if len(self._diffs) == 12:
            return
        if dt < 12.0:
            self._diffs.append((y - self._y_last) ** 2)
        self._y_last = y
        if len(self._diffs) == 12:
            guess = self.settings.first_noise * sorted(self._diffs)[7]
            self.noise.var = max(guess, 4.0 * LEAST_VAR)

    def fold(self) -> None:
        """Take what has happened of the transient into the level; keep the uncertainty."""
        if self.t is None:
            return
        noise, w, d = self.noise, self.weights, self.change
        z = -self.response[:, : self.m]
        z[0] += 1.0 - self.shapes.at(self.t - self.onset_t)
        mean = [float((w * row * d).sum()) for row in z]
        second = w * (self.change_var + d * d)
        for i in range(5):
            for k in range(i, 5):
                noise.p[i][k] += float((second * z[i] * z[k]).sum()) - mean[i] * mean[k]
            noise.x[i] += mean[i]

    def open(self, t: float, *, sure: bool = True) -> None:
        """Start a new transient at time t [s] from the present level.

        ``sure`` tells a disturbance somebody announced from one the watch believes in.
        """
        self._learn()
        self.fold()
        self.onset_t = t
        self._history = []
        self._clear()
        self._mark = self._snapshot(t if self.t is None else self.t)
        if sure:
            self._sure, self._sure_history = self._mark, []

    def _clear(self) -> None:
        """Forget the evidence of the present transient."""
        self.response[:] = 0.0
        self._sgg[:] = 0.0
        self._sgy[:] = 0.0
        self._slot_t[:], self._slot_next = np.inf, 0
        now = self.onset_t if self.t is None else self.t
        self._slot_due = now + self.settings.watch_every_s
        self._weigh()

    def reopen(self, slot: int) -> None:
        """Go back to a slot of the watch, start a new transient there and judge anew."""
        snapshot = self._snapshots[slot]
        if snapshot is None:
            return
        later = [b for b in self._history if b[0] > snapshot.t]
        self.noise.put_state(snapshot.state)
        if snapshot.ripple is not self.ripple:
            self.noise.set_ripple(self.ripple)
        self.response[:, : self.m] = snapshot.response
        self.weights, self.change = snapshot.weights, snapshot.change
        self.change_var, self._evidence = snapshot.change_var, snapshot.evidence
        self.t, self.onset_t = snapshot.t, snapshot.onset_t
        self.open(snapshot.t, sure=False)
        self._replay(later)
        self._history = later

    def _replay(self, bins: list[tuple[float, float]]) -> None:
        self._replaying = True
        for t, y in bins:
            self.step(t, y)
        self._replaying = False

    def _snapshot(self, t: float) -> _Snapshot:
        return _Snapshot(
            t=t,
            onset_t=self.onset_t,
            ripple=self.ripple,
            state=self.noise.copy_state(),
            response=self.response[:, : self.m].copy(),
            weights=self.weights,
            change=self.change,
            change_var=self.change_var,
            evidence=self._evidence,
        )

    def _learn(self) -> None:
        if self.t is None or self._evidence is None or self.t - self.onset_t < LEARN_AGE_S:
            return
        if float(self.weights[self.shapes.size_factor < 1.0].sum()) > QUIET_STEP:
            return
        self.plant.learn(self._evidence)
        self.prior_log = self.plant.log_prior()

    def set_ripple(self, ripple: Ripple | None) -> None:
        """Follow valve hunting, or no longer (None); the present transient is judged anew."""
        self.ripple = ripple
        # Ripple not yet recognised looks like unannounced changes: go back behind those.
        mark, bins = self._mark, self._history
        if self._sure is not None:
            mark, bins = self._sure, self._sure_history
        if ripple is None or mark is None:
            self.noise.set_ripple(ripple)
            self.response[3:] = 0.0
            return
        self.noise.put_state(mark.state)
        self.noise.set_ripple(ripple)
        self.t, self.onset_t = mark.t, mark.onset_t
        self._mark, self._history = mark, list(bins)
        self._clear()
        self._replay(self._history)

    def watch(self, t: float) -> tuple[float, int]:
        """Return (log odds, slot) of the likeliest change nobody announced."""
        if t >= self._slot_due:
            self._start_slot(t)
        m, n = self.m, self.slots
        v = self.settings.watch_sd_k**2
        gg, gy = self._sgg[m:], self._sgy[m:]
        odds = gy * gy
        odds /= 1.0 / v + gg
        odds -= np.log(1.0 + v * gg)
        k = int(odds.argmax())
        return 0.5 * float(odds[k]), k % n

    def _start_slot(self, t: float) -> None:
        k = self._slot_next
        m, n = self.m, self.slots
        self._slot_next = (k + 1) % n
        self._slot_due = t + self.settings.watch_every_s
        self._slot_t[k] = t
        self._snapshots[k] = self._snapshot(t)
        for c in (m + k, m + n + k):
            self.response[:, c] = self._sgg[c] = self._sgy[c] = 0.0

    def chance_inside(self, band_k: float) -> float:
        """Return the probability that what is still to come stays inside +-band_k [-]."""
        if self.t is None:
            return 0.0
        reach = self.shapes.reach_at(self.t - self.onset_t)
        e = np.abs(self.change * reach)
        sd = np.sqrt(self.change_var)
        sd *= reach
        sd *= _ROOT_2
        sd += 1e-9
        room = (band_k - e) / sd
        w = self.weights
        certain = room > 3.0
        chance = float(_sum(w[certain]))
        open_ = (w > 2e-4) & ~certain
        w = w[open_]
        if not w.size:
            return chance
        near, far = room[open_], (band_k + e[open_]) / sd[open_]
        sides = np.interp(near, _ERF_AT, _ERF) + np.interp(far, _ERF_AT, _ERF)
        return chance + 0.5 * float(_sum(w * sides))

    def slope_k_per_s(self) -> float:
        """Return the present slope of the transient [K/s]."""
        if self.t is None:
            return 0.0
        slope = self.shapes.slope_per_s(self.t - self.onset_t)
        return -float(_sum(self.weights * self.change * slope))

    def remaining(self) -> tuple[float, float]:
        """Return mean and standard deviation of what is still to come [K]."""
        if self.t is None:
            return 0.0, math.inf
        g = self.shapes.at(self.t - self.onset_t)
        e, v = self.change * g, self.change_var * g * g
        mean = float(_sum(self.weights * e))
        second = float(_sum(self.weights * (e * e + v)))
        return mean, math.sqrt(max(second - mean * mean, 0.0))
