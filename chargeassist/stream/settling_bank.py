"""The bank of hypotheses: which transient is going on, and how much of it is still to come."""

import math
from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chargeassist.stream.settling_noise import NoiseFilter, NoiseLaw, Ripple
from chargeassist.stream.settling_plant import PlantMemory
from chargeassist.stream.settling_shapes import shape_bank

Floats = NDArray[np.float64]

LAW_FLOOR = -4.0
"""A noise law is never written off beyond this [log]."""

HISTORY = 450
"""Bins kept for judging a transient anew [-]."""

LEARN_AGE_S = 60.0
"""A step watched for less than this teaches nothing about the plant [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BankSettings:
    """Tunables of the bank; SettlingDetector documents them."""

    step_sd_k: float = 1.6
    level_walk: float = 1.8e-3
    drift_sd_k_per_min: float = 0.01
    temper: float = 1.5
    outlier_z: float = 3.5
    adapt: float = 0.02
    laws: tuple[tuple[float, float], ...] = ((0.65, 12.0),)
    watch_every_s: float = 8.0
    watch_slots: int = 12
    watch_sd_k: float = 1.0
    plant_share: float = 0.3
    first_noise: float = 2.0
    looseness: float = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class _Snapshot:
    """The bank as it stood at one time, enough to go back and judge anew."""

    t: float
    onset_t: float
    ripple: Ripple | None
    states: list[tuple[list[float], list[list[float]]]]
    response: Floats
    weights: Floats
    change: Floats
    change_var: Floats
    evidence: Floats | None


class TransientBank:
    """Weighs every shape against the readings since the last disturbance.

    For each noise law and each shape the size of the change is solved for exactly (it enters
    linearly); shapes and laws are averaged with their posterior weights.
    """

    def __init__(self, settings: BankSettings) -> None:
        self.settings = settings
        self.shapes = shape_bank()
        self.filters = [
            NoiseFilter(
                NoiseLaw(coloured_share=share, memory_s=memory_s),
                level_walk=settings.level_walk,
                drift_sd=settings.drift_sd_k_per_min / 60.0,
            )
            for share, memory_s in settings.laws
        ]
        m = self.shapes.log_prior.size
        self.m = m
        self.slots = settings.watch_slots
        n_law, columns = len(self.filters), m + 2 * self.slots
        self._v0 = (settings.step_sd_k * self.shapes.size_factor) ** 2
        self._iv0 = 1.0 / self._v0
        self.response = np.zeros((5, n_law, columns))
        self.sgg = np.zeros((n_law, columns))
        self.sgy = np.zeros((n_law, columns))
        self.base = [0.0] * n_law
        self.law_log = [0.0] * n_law
        self.plant = PlantMemory(share=settings.plant_share)
        self.prior_log = self.plant.log_prior()
        self._evidence: Floats | None = None
        self.t: float | None = None
        self.onset_t = 0.0
        self.weights = np.exp(self.prior_log)[None, :] * np.full((n_law, 1), 1.0 / n_law)
        self.change = np.zeros((n_law, m))
        self.change_var = np.tile(self._v0, (n_law, 1))
        self.best = [int(self.prior_log.argmax())] * n_law
        self._diffs: deque[float] = deque(maxlen=40)
        self._y_last = 0.0
        self._started = 0
        # Watch for changes nobody announced: slots of candidate onsets.
        self.slot_t = np.full(self.slots, np.inf)
        self.slot_next = 0
        self.watch_t = -math.inf
        self.snapshots: list[_Snapshot | None] = [None] * self.slots
        self.ripple: Ripple | None = None
        self.history: list[tuple[float, float]] = []
        self._mark: _Snapshot | None = None
        self._sure: _Snapshot | None = None
        self._sure_history: list[tuple[float, float]] = []
        self._replaying = False

    # ------------------------------------------------------------------ one reading
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
            self.history.append((t, y))
            self._sure_history.append((t, y))
            if len(self._sure_history) > HISTORY:
                self._sure, self._sure_history = None, []
            if len(self.history) > 2 * HISTORY:
                del self.history[:HISTORY]
                self._mark = None
        shapes, m = self.shapes, self.m
        age = t - self.onset_t
        column = np.empty(m + 2 * self.slots)
        column[:m] = 1.0 - shapes.at(age)
        since = np.clip(t - self.slot_t, 0.0, 1e4)
        column[m : m + self.slots] = 1.0 - np.exp(since * (-1.0 / 45.0))
        b = since * (-1.0 / 40.0)
        column[m + self.slots :] = 1.0 - np.exp(b) * (1.0 - b)
        x = self.response
        moves = [f.predict(dt) for f in self.filters]
        x[0] += dt * x[1]
        x[2] *= np.array([mv[0] for mv in moves])[:, None]
        ripple = self.ripple
        nu_g = column - x[0] - x[2]
        if ripple is not None:
            _, co, si = moves[0]
            x3 = co * x[3] + si * x[4]
            x[4] = co * x[4] - si * x[3]
            x[3] = x3
            nu_g -= x3
        n_law = len(self.filters)
        gains = np.empty((5, n_law))
        inv_s = np.empty(n_law)
        nu_y = np.empty(n_law)
        resid = np.empty(n_law)
        inv_eff = np.empty(n_law)
        limit = self.settings.outlier_z**2
        for j, f in enumerate(self.filters):
            fx = f.x
            nu = f.innovation(y)
            k = self.best[j]
            g = float(nu_g[j, k])
            r = nu - float(self.change[j, k]) * g
            extra = g * g * float(self.change_var[j, k])
            s0, part = f.spread()
            s0 += extra
            z2 = r * r / s0
            excess = 1.0
            if z2 > limit:
                excess = 1.0 + (r * r / limit - s0) / part
            gain, s = f.gain(excess)
            for i in range(5):
                fx[i] += gain[i] * nu
            gains[:, j] = gain
            inv_s[j] = 1.0 / s
            nu_y[j] = nu
            resid[j] = r
            inv_eff[j] = 1.0 / (s + extra)
            self.base[j] -= 0.5 * (math.log(s) + nu * nu / s)
            if not self._replaying:
                grown = f.var * (1.0 + self.settings.adapt * (min(z2, 9.0) - 1.0))
                f.var = min(max(grown, 1e-4), 2.0)
        x += gains[:, :, None] * nu_g
        weighted = nu_g * inv_s[:, None]
        self.sgg[:, :m] += (nu_g * weighted)[:, :m]
        self.sgy[:, :m] += (weighted * nu_y[:, None])[:, :m]
        late = nu_g[:, m:] * inv_eff[:, None]
        self.sgg[:, m:] += nu_g[:, m:] * late
        self.sgy[:, m:] += late * resid[:, None]
        self._weigh()

    def _weigh(self) -> None:
        m = self.m
        lam = self._iv0 + self.sgg[:, :m]
        sgy = self.sgy[:, :m]
        change = sgy / lam
        base = np.array(self.base)
        data = 0.5 * (sgy * change - np.log(lam * self._v0)) + (base - base.max())[:, None]
        log_w = data * (1.0 / self.settings.temper) + np.array(self.law_log)[:, None]
        self._evidence = log_w
        log_w = log_w + self.prior_log
        log_w -= log_w.max()
        w = np.exp(log_w)
        w /= w.sum()
        self.weights = w
        self.change = change
        self.change_var = 1.0 / lam
        self.best = [int(k) for k in w.argmax(axis=1)]

    def _begin(self, t: float, y: float) -> None:
        self.t = self.onset_t = t
        self._y_last = y
        for f in self.filters:
            f.start(y, 0.25)
        self._mark = self._sure = self._snapshot(t)

    def _first_noise(self, y: float, dt: float) -> None:
        if dt < 12.0:
            self._diffs.append((y - self._y_last) ** 2)
            self._started += 1
        self._y_last = y
        if self._started == 12:
            guess = max(self.settings.first_noise * sorted(self._diffs)[7], 4e-4)
            for f in self.filters:
                f.var = guess

    # ------------------------------------------------------------------ disturbances
    def fold(self) -> None:
        """Take what has happened of the transient into the level; keep the uncertainty."""
        if self.t is None:
            return
        m = self.m
        part = 1.0 - self.shapes.at(self.t - self.onset_t)
        for j, f in enumerate(self.filters):
            w = self.weights[j]
            total = float(w.sum())
            if total < 1e-12:
                w = np.exp(self.prior_log)
                total = float(w.sum())
            w = w / total
            z = -self.response[:, j, :m]
            z[0] += part
            d, v = self.change[j], self.change_var[j]
            mean = [float((w * zi * d).sum()) for zi in z]
            second = w * (v + d * d)
            for i in range(5):
                for k in range(i, 5):
                    f.p[i][k] += float((second * z[i] * z[k]).sum()) - mean[i] * mean[k]
                f.x[i] += mean[i]

    def open(self, t: float, *, sure: bool = True) -> None:
        """Start a new transient at time t [s] from the present level.

        ``sure`` tells a disturbance somebody announced from one the watch believes in.
        """
        self._learn()
        self.fold()
        self.onset_t = t
        self.history = []
        self._clear()
        self._mark = self._snapshot(t if self.t is None else self.t)
        if sure:
            self._sure, self._sure_history = self._mark, []

    def _clear(self) -> None:
        """Forget the evidence of the present transient."""
        self.response[:] = 0.0
        self.sgg[:] = 0.0
        self.sgy[:] = 0.0
        self.base = [0.0] * len(self.filters)
        self.slot_t[:] = np.inf
        self.slot_next = 0
        self.watch_t = self.onset_t if self.t is None else self.t
        self.change = np.zeros_like(self.change)
        self.change_var = np.tile(self._v0, (len(self.filters), 1))
        self._weigh()

    def reopen(self, slot: int) -> None:
        """Go back to a slot of the watch, start a new transient there and judge anew."""
        snapshot = self.snapshots[slot]
        if snapshot is None:
            return
        later = [b for b in self.history if b[0] > snapshot.t]
        for f, state in zip(self.filters, snapshot.states, strict=True):
            f.put_state(state)
            if snapshot.ripple is not self.ripple:
                f.set_ripple(self.ripple)
        self.response[:, :, : self.m] = snapshot.response
        self.weights, self.change = snapshot.weights, snapshot.change
        self.change_var, self._evidence = snapshot.change_var, snapshot.evidence
        self.t, self.onset_t = snapshot.t, snapshot.onset_t
        self.open(snapshot.t, sure=False)
        self._replay(later)
        self.history = later

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
            states=[f.copy_state() for f in self.filters],
            response=self.response[:, :, : self.m].copy(),
            weights=self.weights,
            change=self.change,
            change_var=self.change_var,
            evidence=self._evidence,
        )

    def _learn(self) -> None:
        if self.t is None or self._evidence is None or self.t - self.onset_t < LEARN_AGE_S:
            return
        quiet = self.shapes.size_factor < 1.0
        if float(self.weights[:, quiet].sum()) > 0.5:
            return
        top = self._evidence.max()
        by_law = self.weights.sum(axis=1)
        keep = np.maximum(np.log(np.maximum(by_law / float(by_law.max()), 1e-9)), LAW_FLOOR)
        self.law_log = [float(v) for v in keep]
        self.plant.learn(np.log(np.exp(np.maximum(self._evidence - top, -600.0)).sum(axis=0)))
        self.prior_log = self.plant.log_prior()

    def set_ripple(self, ripple: Ripple | None) -> None:
        """Follow valve hunting, or no longer (None); the present transient is judged anew."""
        self.ripple = ripple
        # Ripple not yet recognised looks like unannounced changes: go back behind those.
        mark, bins = self._mark, self.history
        if self._sure is not None:
            mark, bins = self._sure, self._sure_history
        if ripple is None or mark is None:
            for f in self.filters:
                f.set_ripple(ripple)
            self.response[3:] = 0.0
            return
        for f, state in zip(self.filters, mark.states, strict=True):
            f.put_state(state)
            f.set_ripple(ripple)
        self.t, self.onset_t = mark.t, mark.onset_t
        self._mark, self.history = mark, list(bins)
        self._clear()
        self._replay(self.history)

    @property
    def hunting_period_s(self) -> float | None:
        """Period of the valve's hunting [s]; None when there is none."""
        return None if self.ripple is None else self.ripple.period_s

    # ------------------------------------------------------------------ the watch
    def watch(self, t: float) -> tuple[float, int]:
        """Return (log odds, slot) of the likeliest change nobody announced."""
        if t - self.watch_t >= self.settings.watch_every_s:
            self._start_slot(t)
        m, n = self.m, self.slots
        v = self.settings.watch_sd_k**2
        j = int(self.weights.sum(axis=1).argmax())
        gg, gy = self.sgg[j, m:], self.sgy[j, m:]
        llr = 0.5 * (gy * gy / (1.0 / v + gg) - np.log(1.0 + v * gg))
        k = int(llr.argmax())
        return float(llr[k]), k % n

    def _start_slot(self, t: float) -> None:
        k = self.slot_next
        m, n = self.m, self.slots
        self.slot_next = (k + 1) % n
        self.watch_t = t
        self.slot_t[k] = t
        self.snapshots[k] = self._snapshot(t)
        for c in (m + k, m + n + k):
            self.response[:, :, c] = 0.0
            self.sgg[:, c] = 0.0
            self.sgy[:, c] = 0.0

    # ------------------------------------------------------------------ what it says
    def chance_inside(self, band_k: float) -> float:
        """Return the probability that what is still to come stays inside +-band_k [-]."""
        if self.t is None:
            return 0.0
        reach = self.shapes.reach_at(self.t - self.onset_t)
        e = self.change * reach
        sd = np.sqrt(self.change_var) * reach * math.sqrt(2.0) + 1e-9
        up = ((band_k - e) / sd).ravel()
        down = ((band_k + e) / sd).ravel()
        w = self.weights.ravel()
        chance = 0.0
        erf = math.erf
        for k in np.flatnonzero(w > 1e-4).tolist():
            chance += float(w[k]) * 0.5 * (erf(float(up[k])) + erf(float(down[k])))
        return chance

    def slope_k_per_s(self) -> float:
        """Return the present slope of the transient [K/s]."""
        if self.t is None:
            return 0.0
        slope = self.shapes.slope_per_s(self.t - self.onset_t)
        return -float((self.weights * self.change * slope).sum())

    def remaining(self) -> tuple[float, float]:
        """Return mean and standard deviation of what is still to come [K]."""
        if self.t is None:
            return 0.0, math.inf
        g = self.shapes.at(self.t - self.onset_t)
        e = self.change * g
        mean = float((self.weights * e).sum())
        second = float((self.weights * (e * e + self.change_var * g * g)).sum())
        return mean, math.sqrt(max(second - mean * mean, 0.0))
