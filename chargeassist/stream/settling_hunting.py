"""Valve hunting: the period of a limit cycle, read off a record of one channel."""

import math
from collections import deque

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_PERIODS_S: Floats = np.geomspace(24.0, 145.0, 37)
_SPAN_S = 360.0
_LOOK_EVERY_S = 16.0
_WITNESS_LOST_S = 20.0


class HuntingFinder:
    """Looks for one dominant period in the last minutes of a channel.

    Parameters
    ----------
    share : float
        Part of the detrended variance one period must explain to count as hunting [-].
    keep_share : float
        The same, once hunting has been found [-].
    amplitude_k : float
        Smallest amplitude that counts [K].
    """

    def __init__(
        self, *, share: float = 0.4, keep_share: float = 0.25, amplitude_k: float = 0.2
    ) -> None:
        self._share = share
        self._keep_share = keep_share
        self._amplitude_k = amplitude_k
        self._record: deque[tuple[float, float]] = deque()
        self._single = False

    def push(self, t: float, value: float) -> None:
        """Add one bin mean; two close neighbours are kept as one."""
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
        """Return (period [s], amplitude [K]) or None.

        Parameters
        ----------
        onset_t : float
            Time of the last disturbance [s]: its transient is no oscillation.
        known_s : float or None
            Period found before, if any [s].
        """
        n = len(self._record)
        if n < 16:
            return None
        data = np.array(self._record)
        t = data[:, 0] - data[0, 0]
        span = float(t[-1])
        if span < 60.0:
            return None
        y = data[:, 1] - float(data[:, 1].sum()) / n
        x = t / span * 2.0 - 1.0
        basis = [np.ones(n), x, x * x, x * x * x]
        since = data[:, 0] - onset_t
        if float(since[-1]) > 10.0 and float(since[0]) < 0.0:
            after = np.maximum(since, 0.0)
            basis += [1.0 - np.exp(-after / 15.0), 1.0 - np.exp(-after / 50.0)]
        phase = (2.0 * math.pi) * t[None, :] / _PERIODS_S[:, None]
        c, s = np.cos(phase), np.sin(phase)
        ortho: list[Floats] = []
        for column in basis:
            for q in ortho:
                column = column - float((q * column).sum()) * q
            norm = math.sqrt(float((column * column).sum()))
            if norm > 1e-3:
                ortho.append(column / norm)
        # What trend and transient could explain is taken out of the waves too: else a long period
        # comes out short.
        for q in ortho:
            y = y - float((q * y).sum()) * q
        total = float((y * y).sum())
        if total <= 1e-9:
            return None
        # Only products of the waves are wanted, so what trend and transient explain is taken off
        # those; einsum keeps to its own loops, whatever linear-algebra library there is.
        q = np.array(ortho)
        cq, sq = np.einsum("ij,kj->ik", c, q), np.einsum("ij,kj->ik", s, q)
        cc = np.einsum("ij,ij->i", c, c) - (cq * cq).sum(axis=1)
        ss = np.einsum("ij,ij->i", s, s) - (sq * sq).sum(axis=1)
        cs = np.einsum("ij,ij->i", c, s) - (cq * sq).sum(axis=1)
        cy, sy = np.einsum("ij,j->i", c, y), np.einsum("ij,j->i", s, y)
        det = np.maximum(cc * ss - cs * cs, 1e-9 * n * n)
        ca, sa = (ss * cy - cs * sy) / det, (cc * sy - cs * cy) / det
        power = ca * cy + sa * sy
        # A wave that trend and transient can mimic almost wholly proves nothing.
        power = np.where(det > 0.02 * n * n, power, 0.0)
        k = int(power.argmax())
        if known_s is not None:
            near = np.where(np.abs(np.log(_PERIODS_S / known_s)) < 0.2, power, 0.0)
            if float(near.max()) > 0.6 * float(power[k]):
                k = int(near.argmax())
        top = float(power[k])
        amplitude = math.hypot(float(ca[k]), float(sa[k]))
        share = self._share if known_s is None else self._keep_share
        if top < share * total or amplitude < self._amplitude_k:
            return None
        period = float(_PERIODS_S[k])
        if 0 < k < _PERIODS_S.size - 1:
            left, right = float(power[k - 1]), float(power[k + 1])
            bend = left - 2.0 * top + right
            if bend < 0.0 < min(left, right):
                shift = min(max(0.5 * (left - right) / bend, -0.5), 0.5)
                period *= float(_PERIODS_S[1] / _PERIODS_S[0]) ** shift
        return period, amplitude


class HuntingWatch:
    """Looks for hunting now and then: in the witness if it is there, else in the reading."""

    def __init__(self) -> None:
        self.own = HuntingFinder()
        self.witness = HuntingFinder()
        self._due = -math.inf

    def is_due(self, t: float) -> bool:
        """Return whether it is time to look again."""
        if t < self._due:
            return False
        self._due = t + _LOOK_EVERY_S
        return True

    def find(
        self, t: float, onset_t: float, *, known_s: float | None
    ) -> tuple[float, float] | None:
        """Return (period [s], amplitude [K]) or None; see HuntingFinder.find."""
        finder = self.witness if t - self.witness.last_t < _WITNESS_LOST_S else self.own
        return finder.find(onset_t, known_s=known_s)
