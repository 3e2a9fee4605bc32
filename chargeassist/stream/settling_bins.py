"""From raw samples to short means: the settling detector's front end."""

import math
from typing import Final

JUMP_K, WITNESS_JUMP_K = 2.5, 6.0
"""A value further than this from the level is taken for a bad contact [K]; superheat swings
more."""

HELD_BACK = 3
"""At most so many values in a row are held back; after that the reading has really moved."""

LARGEST_K = 1.0e4
"""A reading beyond this is no temperature difference; it counts as missing [K]."""

BEND_WITHIN_S: Final = 8.0
"""Samples further apart than this are not compared for noise [s]."""

WHITE_MEMORY: Final = 0.03
WHITE_CAP: Final = 9.0
"""Rate at which the noise of single samples is learnt, per bin [-]. A bin counts for at most
`WHITE_CAP` times the present value [-], so that a change does not pass for noise."""

QUANTUM_VAR: Final = 1.0e-4
"""Noise that is always possible [K^2], so that the estimate can rise again after a constant
reading."""


class BinMean:
    """Mean over short bins of an irregular stream, with a guard against single spikes.

    Parameters
    ----------
    width_s : float
        Length of a bin [s]; a stream slower than that gives one bin per sample.
    jump_k : float
        A sample further than this from the running level is held back [K], up to `HELD_BACK` in
        a row.

    Attributes
    ----------
    last_t : float or None
        Time of the last sample that was taken [s].
    white_var : float
        Variance of the white part of a sample's noise [K^2], from second differences, which a slope
        does not affect (T. Gasser, L. Sroka, C. Jennen-Steinmetz, Residual variance and residual
        pattern in nonlinear regression, Biometrika 73, 1986; from memory). NaN before the first bin
        of three samples.
    """

    __slots__ = (
        "_before",
        "_bends",
        "_bends2",
        "_count",
        "_interval_s",
        "_jump_k",
        "_last",
        "_learnt",
        "_level",
        "_refused",
        "_sum",
        "_sum_t",
        "_t_open",
        "last_t",
        "white_var",
        "width_s",
    )

    def __init__(self, width_s: float, *, jump_k: float = JUMP_K) -> None:
        self.width_s = width_s
        self._jump_k = jump_k
        self._level: float | None = None
        self._refused = 0
        self._interval_s = 0.0
        self._last = self._before = math.nan
        self._bends2, self._bends, self._learnt = 0.0, 0, 0
        self.white_var = math.nan
        self.last_t: float | None = None
        self._sum = self._sum_t = 0.0
        self._count = 0
        self._t_open = 0.0

    def push(self, t: float, value: float | None) -> tuple[float, float, int] | None:
        """Take one sample; return (mean time [s], mean, samples) when a bin is complete."""
        if value is None or not -LARGEST_K < value < LARGEST_K:
            return None
        level = self._level
        if level is None:
            self._level = value
        elif abs(value - level) > self._jump_k and self._refused < HELD_BACK:
            self._refused += 1
            return None
        else:
            self._refused = 0
            self._level = level + 0.3 * (value - level)
        if self.last_t is not None:
            step = min(t - self.last_t, 10.0)
            # The interval only decides whether another sample still fits into the bin.
            self._interval_s = (
                step if self._interval_s == 0.0 else 0.8 * self._interval_s + 0.2 * step
            )
            if step > BEND_WITHIN_S:
                self._last = math.nan
            bend = value - 2.0 * self._last + self._before
            if bend == bend:  # not NaN: three samples close together
                self._bends2 += bend * bend
                self._bends += 1
            self._before = self._last
        self.last_t, self._last = t, value
        done: tuple[float, float, int] | None = None
        if self._count and t - self._t_open >= self.width_s:
            done = self.flush()
        if not self._count:
            self._t_open = t
        self._sum += value
        self._sum_t += t
        self._count += 1
        next_open_s = t - self._t_open + self._interval_s
        if done is None and self._interval_s > 0.0 and next_open_s >= 0.9 * self.width_s:
            done = self.flush()
        return done

    def flush(self) -> tuple[float, float, int] | None:
        """Close the open bin and return it; None if it is empty."""
        n = self._count
        if n == 0:
            return None
        done = (self._sum_t / n, self._sum / n, n)
        self._sum = self._sum_t = 0.0
        self._count = 0
        if self._bends:
            self._learn_white()
        return done

    def _learn_white(self) -> None:
        # A second difference of white noise has six times its variance.
        found = self._bends2 / self._bends / 6.0
        self._bends2, self._bends = 0.0, 0
        self._learnt += 1
        if self._learnt == 1:
            self.white_var = found
            return
        most = WHITE_CAP * self.white_var + QUANTUM_VAR
        gain = max(1.0 / self._learnt, WHITE_MEMORY)
        self.white_var += gain * (min(found, most) - self.white_var)
