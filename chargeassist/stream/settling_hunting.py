"""Valve hunting: the period of a limit cycle, read off a record of one channel."""

import math
from collections import deque

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_PERIODS_S: Floats = np.geomspace(25.0, 140.0, 28)


class HuntingFinder:
    """Looks for one dominant period in the last minutes of a channel.

    Parameters
    ----------
    span_s : float
        Length of the record looked at [s].
    share : float
        Part of the detrended variance one period must explain to count as hunting [-].
    amplitude_k : float
        Smallest amplitude that counts [K].
    """

    def __init__(
        self, *, span_s: float = 240.0, share: float = 0.4, amplitude_k: float = 0.2
    ) -> None:
        self._span_s = span_s
        self._share = share
        self._amplitude_k = amplitude_k
        self._record: deque[tuple[float, float]] = deque()

    def push(self, t: float, value: float) -> None:
        """Add one bin mean."""
        record = self._record
        record.append((t, value))
        while t - record[0][0] > self._span_s:
            record.popleft()

    def __len__(self) -> int:
        return len(self._record)

    def find(self, onset_t: float) -> tuple[float, float] | None:
        """Return (period [s], amplitude [K]) or None.

        Parameters
        ----------
        onset_t : float
            Time of the last disturbance [s]: its transient is no oscillation.
        """
        n = len(self._record)
        if n < 25:
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
        ortho: list[Floats] = []
        for column in basis:
            for q in ortho:
                column = column - float((q * column).sum()) * q
            norm = math.sqrt(float((column * column).sum()))
            if norm > 1e-6 * n:
                ortho.append(column / norm)
        for q in ortho:
            y = y - float((q * y).sum()) * q
        total = float((y * y).sum())
        if total <= 1e-12:
            return None
        phase = (2.0 * math.pi) * t[None, :] / _PERIODS_S[:, None]
        c = (np.cos(phase) * y).sum(axis=1)
        s = (np.sin(phase) * y).sum(axis=1)
        power = 2.0 * (c * c + s * s) / n
        k = int(power.argmax())
        amplitude = math.sqrt(2.0 * float(power[k]) / n)
        if float(power[k]) < self._share * total or amplitude < self._amplitude_k:
            return None
        return float(_PERIODS_S[k]), amplitude
