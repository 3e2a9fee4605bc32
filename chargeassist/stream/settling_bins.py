"""From raw samples to short means: the settling detector's front end."""

JUMP_K, WITNESS_JUMP_K = 2.5, 6.0
"""A value further than this from those before it is a bad contact's [K]; superheat swings more."""

HELD_BACK = 3
"""So many in a row are held back at the most: after that it has moved [-]."""

LARGEST_K = 1.0e4
"""A reading beyond this is no temperature difference; it counts as missing [K]."""


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
    """

    __slots__ = (
        "_count",
        "_interval_s",
        "_jump_k",
        "_level",
        "_refused",
        "_sum",
        "_sum_t",
        "_t_open",
        "last_t",
        "width_s",
    )

    def __init__(self, width_s: float, *, jump_k: float = JUMP_K) -> None:
        self.width_s = width_s
        self._jump_k = jump_k
        self._level: float | None = None
        self._refused = 0
        self._interval_s = 0.0
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
        self.last_t = t
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
        """Close the open bin early; return it, or None when it is empty."""
        n = self._count
        if n == 0:
            return None
        done = (self._sum_t / n, self._sum / n, n)
        self._sum = self._sum_t = 0.0
        self._count = 0
        return done
