"""What the line of a standing pressure test is fitted by, and how its readings are smoothed."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def columns(times: FloatArray, moved: FloatArray, shares: FloatArray) -> FloatArray:
    """Return what the compensated pressure is fitted by, shape (n, 3 + temperatures).

    Parameters
    ----------
    times : ndarray, shape (n,)
        [s].
    moved : ndarray, shape (n, temperatures)
        Pipes, then ambient if there is one, less their reference [K].
    shares : ndarray, shape (pipes,)
        Of the volume, at each pipe [1].

    Notes
    -----
    A constant, the time, and what is not known (coefficients of known width): gas that did not
    follow, other shares of the volume than assumed, gas at the air's temperature.
    """
    mean = moved[:, : len(shares)] @ shares
    span = times[-1] - times[0]
    return np.column_stack(
        [np.ones_like(times), (times - times[0]) / span, mean, moved - mean[:, None]]
    )


def smoothed(values: FloatArray) -> FloatArray:
    """Return each column's running straight line over a sixth of its length, shape (n, m)."""
    n = len(values)
    reach = max(n // 12, 2)
    out = np.empty_like(values)
    for i in range(n):
        low, high = max(i - reach, 0), min(i + reach + 1, n)
        x = np.arange(low, high, dtype=np.float64) - 0.5 * (low + high - 1)
        part = values[low:high]
        slope = (x @ part) / (x @ x)
        out[i] = part.mean(axis=0) + slope * (i - 0.5 * (low + high - 1))
    return out
