"""Valve hunting: finds the period of a limit cycle in a record of one channel."""

import math
from collections import deque
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_PERIODS_S: Floats = np.geomspace(24.0, 145.0, 37)
_SPAN_S = 360.0
_LOOK_EVERY_S = 16.0
_TURNS = 2.0
"""Least number of periods in the record [-]; a start's overshoot makes one."""
_WITNESS_LOST_S = 20.0

SHARE, KEEP_SHARE = 0.4, 0.25
"""Share of the detrended variance that one period must explain to be found, and to be kept [-]."""

AMPLITUDE_K: Final = 0.3
YOUNG_AMPLITUDE_K: Final = 0.2
"""Smallest amplitude that counts in a long record and in a short one [K]. Subcooling swings about
half as far as superheat, so `AMPLITUDE_K` is half the settled band there. A short record may hold
hunting whose periods have not been seen in full yet; taking a smaller wave for hunting delays
verdicts on starts."""

LONG_S: Final = 300.0
"""A record of this length is long [s]: it holds two of every period that is searched."""

_sum = np.add.reduce


class _Times:
    """The parts of a search that depend on the times alone: waves, and what a trend leaves of them.

    Parameters
    ----------
    t : ndarray, shape (n,)
        Times since the first reading [s].
    """

    def __init__(self, t: Floats) -> None:
        self.t = t
        phase = (2.0 * math.pi) * t[None, :] / _PERIODS_S[:, None]
        self.c: Floats = np.cos(phase)
        self.s: Floats = np.sin(phase)
        x = t / float(t[-1]) * 2.0 - 1.0
        self.trend = _orthonormal([np.ones(t.size), x, x * x, x * x * x], [])
        c, s = self.c, self.s
        products = np.array([np.einsum("ij,ij->i", *pair) for pair in ((c, c), (s, s), (c, s))])
        self.products: Floats = products - self.explained(self.trend)

    def explained(self, columns: list[Floats]) -> Floats:
        """Return the part of cos², sin² and cos sin that the columns explain, shape (3, periods).

        Only these products are needed, so the explained part is subtracted from them. einsum uses
        its own loops, so the result does not depend on a linear-algebra library.
        """
        q = np.array(columns)
        cq, sq = np.einsum("ij,kj->ik", self.c, q), np.einsum("ij,kj->ik", self.s, q)
        return np.array([_sum(pair, axis=1) for pair in (cq * cq, sq * sq, cq * sq)])


def _orthonormal(columns: list[Floats], beside: list[Floats]) -> list[Floats]:
    """Return each column less its projections on `beside` and the columns before it, normalised."""
    found: list[Floats] = []
    for column in columns:
        for q in (*beside, *found):
            column = column - float(_sum(q * column)) * q
        norm = math.sqrt(float(_sum(column * column)))
        if norm > 1e-3:
            found.append(column / norm)
    return found


class _Waves:
    """Waves at some times, with the parts that trend and transient explain.

    Parameters
    ----------
    t : ndarray, shape (n,)
        Times since the first reading [s].
    since : ndarray, shape (n,), or None
        Times since a disturbance within the record [s]; its transient is no oscillation.
    known : _Waves or None
        Waves of an earlier search; reused if the times are the same.
    """

    def __init__(self, t: Floats, since: Floats | None, known: "_Waves | None") -> None:
        times = known.times if known is not None and np.array_equal(t, known.t) else _Times(t)
        self.times: _Times = times
        self.t: Floats = t
        self.since = since
        self.c, self.s = times.c, times.s
        products, explained = times.products, times.trend
        if since is not None:
            after = np.maximum(since, 0.0)
            columns = [1.0 - np.exp(-after / 15.0), 1.0 - np.exp(-after / 50.0)]
            transient = _orthonormal(columns, explained)
            if transient:
                products = products - times.explained(transient)
                explained = explained + transient
        self.explained: Floats = np.array(explained)
        self.cc, self.ss, self.cs = products
        least = float(t.size * t.size)
        self.det: Floats = np.maximum(self.cc * self.ss - self.cs * self.cs, 1e-9 * least)
        # A wave that trend and transient can almost mimic proves nothing.
        self.proves = (self.det > 0.02 * least) & (float(t[-1]) / _TURNS >= _PERIODS_S)

    def are_of(self, t: Floats, since: Floats | None) -> bool:
        """Return whether these waves belong to these times."""
        if t.size != self.t.size or (since is None) is not (self.since is None):
            return False
        if since is not None and self.since is not None and since[0] != self.since[0]:
            return False  # with the same first element, all of it would be equal
        return bool((t == self.t).all())


class HuntingFinder:
    """Finds one dominant period in the last minutes of a channel."""

    def __init__(self) -> None:
        self._record: deque[tuple[float, float]] = deque()
        self._single = False
        self._waves: _Waves | None = None

    def push(self, t: float, value: float) -> None:
        """Add one bin mean [s], [K]; two close neighbours are merged."""
        record = self._record
        if self._single and t - record[-1][0] < 3.5:
            t0, value0 = record.pop()
            record.append((0.5 * (t0 + t), 0.5 * (value0 + value)))
            self._single = False
        else:
            record.append((t, value))
            self._single = True
        while t - record[0][0] > _SPAN_S:
            record.popleft()

    @property
    def last_t(self) -> float:
        """Time of the last bin [s]; minus infinity before the first."""
        return self._record[-1][0] if self._record else -math.inf

    def find(self, onset_t: float, *, known_s: float | None) -> tuple[float, float] | None:
        """Return (period [s], amplitude [K]); None if nothing hunts.

        Parameters
        ----------
        onset_t : float
            Time of the last disturbance [s]; its transient is no oscillation.
        known_s : float or None
            Period found before, if any [s].
        """
        n = len(self._record)
        if n < 16:
            return None
        times = np.array([t for t, _ in self._record])
        t = times - times[0]
        span = float(t[-1])
        if span < 60.0:
            return None
        values = np.array([value for _, value in self._record])
        y = values - float(_sum(values)) / n
        since = times - onset_t
        inside = float(since[-1]) > 10.0 and float(since[0]) < 0.0
        waves = self._waves_at(t, since if inside else None)
        # The part that trend and transient could explain is removed from the waves too; otherwise a
        # long period would come out too short.
        q = waves.explained
        y -= np.einsum("i,ij->j", np.einsum("ij,j->i", q, y), q)
        total = float(_sum(y * y))
        if total <= 1e-9:
            return None
        cc, ss, cs, det = waves.cc, waves.ss, waves.cs, waves.det
        cy, sy = np.einsum("ij,j->i", waves.c, y), np.einsum("ij,j->i", waves.s, y)
        ca, sa = (ss * cy - cs * sy) / det, (cc * sy - cs * cy) / det
        power = ca * cy + sa * sy
        power *= waves.proves
        k = int(power.argmax())
        if known_s is not None:
            near = np.where(np.abs(np.log(_PERIODS_S / known_s)) < 0.2, power, 0.0)
            if float(near.max()) > 0.6 * float(power[k]):
                k = int(near.argmax())
        top = float(power[k])
        amplitude = math.hypot(float(ca[k]), float(sa[k]))
        share = SHARE if known_s is None else KEEP_SHARE
        long = span >= LONG_S
        least_k = AMPLITUDE_K if long else YOUNG_AMPLITUDE_K
        if top < share * total or amplitude < least_k:
            return None
        # If the longest wave fits best, an even longer one would fit better: that is the bend of a
        # transient.
        if long and known_s is None and k + 1 == _PERIODS_S.size:
            return None
        period = float(_PERIODS_S[k])
        if 0 < k < _PERIODS_S.size - 1:
            left, right = float(power[k - 1]), float(power[k + 1])
            bend = left - 2.0 * top + right
            if bend < 0.0 < min(left, right):
                shift = min(max(0.5 * (left - right) / bend, -0.5), 0.5)
                period *= float(_PERIODS_S[1] / _PERIODS_S[0]) ** shift
        return period, amplitude

    def _waves_at(self, t: Floats, since: Floats | None) -> _Waves:
        """Return the waves of these times; they repeat once the record is full."""
        waves = self._waves
        if waves is None or not waves.are_of(t, since):
            waves = self._waves = _Waves(t, since, waves)
        return waves


class HuntingSearch:
    """Looks for hunting from time to time: in the witness if there is one, else in the reading."""

    def __init__(self) -> None:
        self.own = HuntingFinder()
        self.witness = HuntingFinder()
        self._due = -math.inf

    def is_due(self, t: float) -> bool:
        """Return whether it is time to look again at t [s]."""
        if t < self._due:
            return False
        self._due = t + _LOOK_EVERY_S
        return True

    def find(
        self, t: float, onset_t: float, *, known_s: float | None
    ) -> tuple[float, float] | None:
        """Return (period [s], amplitude [K]) or None; see `HuntingFinder.find`."""
        finder = self.witness if t - self.witness.last_t < _WITNESS_LOST_S else self.own
        return finder.find(onset_t, known_s=known_s)
