"""Valve hunting: finds the period of a limit cycle in a record of one channel.

What a disturbance does is no oscillation. While refrigerant flows, superheat falls by two or three
kelvin and returns when the valve is shut: one wave of the step's length. So the transients of every
disturbance within the record are taken out, not only that of the last.
"""

import math
from collections import deque
from collections.abc import Sequence
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

TRANSIENT_TAUS_S: Final[tuple[float, ...]] = (15.0, 50.0)
"""Time constants of what a disturbance may do to the witness [s]."""

TOO_NEW_S: Final = 10.0
APART_S: Final = 8.0
ONSETS_KEPT: Final = 8
"""A disturbance newer than `TOO_NEW_S` [s] shows too little to be taken out; of two closer than
`APART_S` [s] the later stands for both; at most `ONSETS_KEPT` are remembered."""

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
    """Waves at some times, with the parts that trend and transients explain.

    Parameters
    ----------
    t : ndarray, shape (n,)
        Times since the first reading [s].
    onsets : tuple of float
        Disturbances within the record, since its first reading [s]; their transients are no
        oscillation.
    known : _Waves or None
        Waves of an earlier search; reused if the times are the same.
    """

    def __init__(self, t: Floats, onsets: tuple[float, ...], known: "_Waves | None") -> None:
        times = known.times if known is not None and np.array_equal(t, known.t) else _Times(t)
        self.times: _Times = times
        self.t: Floats = t
        self.onsets = onsets
        self.c, self.s = times.c, times.s
        products, explained = times.products, times.trend
        columns = [
            1.0 - np.exp(-np.maximum(t - onset, 0.0) / tau_s)
            for onset in onsets
            for tau_s in TRANSIENT_TAUS_S
        ]
        transients = _orthonormal(columns, explained)
        if transients:
            products = products - times.explained(transients)
            explained = explained + transients
        self.explained: Floats = np.array(explained)
        self.cc, self.ss, self.cs = products
        least = float(t.size * t.size)
        self.det: Floats = np.maximum(self.cc * self.ss - self.cs * self.cs, 1e-9 * least)
        # A wave that trend and transients can almost mimic proves nothing.
        whole = float(t[-1]) / _TURNS >= _PERIODS_S
        self.mimicked = whole & (self.det <= 0.02 * least)
        self.proves = whole & ~self.mimicked

    def are_of(self, t: Floats, onsets: tuple[float, ...]) -> bool:
        """Return whether these waves belong to these times."""
        return onsets == self.onsets and np.array_equal(t, self.t)


class HuntingFinder:
    """Finds one dominant period in the last minutes of a channel."""

    def __init__(self) -> None:
        self._record: deque[tuple[float, float]] = deque()
        self._single = False
        self._waves: _Waves | None = None
        self._known_k = AMPLITUDE_K

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

    def find(
        self, onsets_t: Sequence[float], *, known_s: float | None
    ) -> tuple[float, float] | None:
        """Return (period [s], amplitude [K]); None if nothing hunts.

        Parameters
        ----------
        onsets_t : sequence of float
            Times of the disturbances [s]; their transients are no oscillation. Those outside the
            record do not count.
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
        begin_t, newest_t = float(times[0]), float(times[-1]) - TOO_NEW_S
        inside = tuple(each - begin_t for each in onsets_t if begin_t < each < newest_t)
        waves = self._waves_at(t, inside)
        if known_s is not None and waves.mimicked[np.abs(np.log(_PERIODS_S / known_s)).argmin()]:
            # Where steps follow each other closely, slow hunting is neither proven nor disproven.
            return known_s, self._known_k
        # The part that trend and transients could explain is removed from the waves too; otherwise
        # a long period would come out too short.
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
        # transient. A period known before may have grown to there as the bend came into the record.
        if long and k + 1 == _PERIODS_S.size:
            return None
        period = float(_PERIODS_S[k])
        if 0 < k < _PERIODS_S.size - 1:
            left, right = float(power[k - 1]), float(power[k + 1])
            bend = left - 2.0 * top + right
            if bend < 0.0 < min(left, right):
                shift = min(max(0.5 * (left - right) / bend, -0.5), 0.5)
                period *= float(_PERIODS_S[1] / _PERIODS_S[0]) ** shift
        self._known_k = amplitude
        return period, amplitude

    def _waves_at(self, t: Floats, onsets: tuple[float, ...]) -> _Waves:
        """Return the waves of these times; they repeat once the record is full."""
        waves = self._waves
        if waves is None or not waves.are_of(t, onsets):
            waves = self._waves = _Waves(t, onsets, waves)
        return waves


class HuntingSearch:
    """Looks for hunting from time to time: in the witness if there is one, else in the reading."""

    def __init__(self) -> None:
        self.own = HuntingFinder()
        self.witness = HuntingFinder()
        self._due = -math.inf
        self._announced: deque[float] = deque(maxlen=ONSETS_KEPT)

    def disturbed(self, t: float) -> None:
        """Take an announced disturbance at t [s]: its transient stays none as the record ages."""
        self._announced.append(t)

    def is_due(self, t: float) -> bool:
        """Return whether it is time to look again at t [s]."""
        if t < self._due:
            return False
        self._due = t + _LOOK_EVERY_S
        return True

    def find(
        self, t: float, onset_t: float, *, known_s: float | None
    ) -> tuple[float, float] | None:
        """Return (period [s], amplitude [K]) or None; see `HuntingFinder.find`.

        ``onset_t`` is the last disturbance [s], announced or noticed.
        """
        onsets_t: list[float] = []
        for each in sorted({*self._announced, onset_t}, reverse=True):
            if not onsets_t or onsets_t[-1] - each > APART_S:
                onsets_t.append(each)
        finder = self.witness if t - self.witness.last_t < _WITNESS_LOST_S else self.own
        return finder.find(onsets_t[::-1], known_s=known_s)
