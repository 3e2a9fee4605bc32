"""The model of a reading apart from the transient: level, drift, coloured noise, hunting.

A Kalman filter with five states: level B with a slow drift b, coloured noise c with a memory of
some seconds, and an oscillator (r1, r2) at the hunting period. Its gains do not depend on the
readings, so the same filter whitens the readings and every hypothetical transient alike (the
"augmented" filter of P. de Jong, The diffuse Kalman filter, Annals of Statistics 19, 1991; from
memory). It uses plain floats on purpose: for five states they are faster than array calls, and the
result does not depend on a linear-algebra library.
"""

import math
from collections import deque
from typing import Final

MEMORY_S: Final = 12.0
"""Correlation time of coloured noise [s]; rather long, so that the proof is never too sure."""
COLOURED_LEAST: Final = 0.5
COLOURED_MOST: Final = 0.9
"""Bounds of the coloured share of a bin's noise variance [-]. With 0.3 and 0.95 synthetic sessions
are no better, and more charge steps of the physical plant are called settled too early, because
gusts are slower than any noise of a probe."""
COLOURED_FIRST: Final = 0.75
"""Coloured share until the single readings have shown how white they are [-]."""
LEVEL_WALK: Final = 1.8e-3
"""Random walk of the settled level, for drifting weather [K/sqrt(s)]."""
DRIFT_SD: Final = 0.01 / 60.0
"""Usual steady drift (standard deviation) [K/s]."""
LOOSENESS: Final = 0.3
"""How loosely an oscillation keeps its amplitude and phase [-]."""
FIRST_VAR: Final = 0.05
"""Noise variance of a bin before the first guess [K^2]."""
WANDER_OVER: Final = 4
"""Number of residuals in a sum: with four bins of four seconds, gusts differ most from noise."""
WANDER_MEMORY: Final = 0.05
"""How quickly the wander is learnt, per bin [-]."""
WANDER_MOST: Final = 4.0
WANDER_CAP: Final = 9.0
"""Largest wander, and largest value of a single sum [-], so that a change does not pass for
wander."""
_FIRST_DIFFS: Final = 12
_FIRST_WITHIN_S: Final = 12.0
"""The first guess uses so many differences, of bins no further apart than this [s]."""


class Ripple:
    """An oscillator at the hunting period.

    Attributes
    ----------
    period_s : float
        Period [s].
    amplitude_k : float
        Amplitude of the witness [K]; the judged channel swings less.
    """

    __slots__ = ("amplitude_k", "period_s")

    def __init__(self, period_s: float, amplitude_k: float) -> None:
        self.period_s = period_s
        self.amplitude_k = amplitude_k

    def move(self, dt: float) -> tuple[float, float, float]:
        """Return damped cosine and sine of the turn in dt [s], and the added variance [K^2]."""
        w = 2.0 * math.pi * dt / self.period_s
        rho = math.exp(-dt / (6.0 * self.period_s))
        forget = 1.0 - math.exp(-dt / (3.0 * self.period_s))
        loose = LOOSENESS * self.amplitude_k
        return rho * math.cos(w), rho * math.sin(w), 0.5 * loose * loose * forget


class NoiseFilter:
    """Level, drift, coloured noise and hunting of one channel.

    Attributes
    ----------
    var : float
        Noise variance of a bin, white and coloured [K^2].
    coloured_share : float
        Coloured share of it [-].
    x, p : list
        Mean, of length 5, and covariance, 5 by 5, of the states; of p only the upper triangle is
        kept up to date.
    ripple : Ripple or None
        The hunting that is followed.
    """

    __slots__ = ("coloured_share", "p", "ripple", "var", "x")

    floor_var = 4.0e-4

    def __init__(self) -> None:
        self.coloured_share = COLOURED_FIRST
        self.x = [0.0] * 5
        self.p = [[0.0] * 5 for _ in range(5)]
        self.p[1][1] = DRIFT_SD * DRIFT_SD
        self.var = FIRST_VAR
        self.ripple: Ripple | None = None

    def colour(self, white_var: float) -> None:
        """Set the coloured share from the known white variance of a bin [K^2]."""
        share = 1.0 - white_var / self.var
        self.coloured_share = min(max(share, COLOURED_LEAST), COLOURED_MOST)

    def start(self, value: float, sd: float) -> None:
        """Set the level to a first reading with its standard deviation [K]."""
        self.x[0] = value
        self.p[0][0] = sd * sd
        self.p[2][2] = self.coloured_share * self.var

    def copy_state(self) -> tuple[list[float], list[list[float]]]:
        """Return a copy of mean and covariance."""
        return self.x[:], [row[:] for row in self.p]

    def put_state(self, state: tuple[list[float], list[list[float]]]) -> None:
        """Restore a copied mean and covariance."""
        self.x = state[0][:]
        self.p = [row[:] for row in state[1]]

    def take_in(self, mean: list[float], second: list[list[float]]) -> None:
        """Add a quantity with these first and second moments to the first states."""
        for i in range(len(mean)):
            for k in range(i, len(mean)):
                self.p[i][k] += second[i][k] - mean[i] * mean[k]
            self.x[i] += mean[i]

    def set_ripple(self, ripple: Ripple | None) -> None:
        """Switch the oscillator on from rest, or off (None)."""
        self.ripple = ripple
        sd = 0.0 if ripple is None else 0.7 * ripple.amplitude_k
        self.x[3] = self.x[4] = 0.0
        for i in range(5):
            self.p[i][3] = self.p[i][4] = self.p[3][i] = self.p[4][i] = 0.0
        self.p[3][3] = self.p[4][4] = sd * sd

    def predict(self, dt: float) -> tuple[float, float, float]:
        """Predict dt [s] ahead; return (memory factor, cosine, sine) for the response columns."""
        x, p = self.x, self.p
        ripple = self.ripple
        fc = math.exp(-dt / MEMORY_S)
        x[0] += dt * x[1]
        x[2] *= fc
        p0, p1, p2 = p[0], p[1], p[2]
        p0[0] += dt * (2.0 * p0[1] + dt * p1[1]) + LEVEL_WALK * LEVEL_WALK * dt
        p0[1] += dt * p1[1]
        p0[2] = fc * (p0[2] + dt * p1[2])
        p1[2] *= fc
        p2[2] = fc * fc * p2[2] + self.coloured_share * self.var * (1.0 - fc * fc)
        if ripple is None:
            return fc, 1.0, 0.0
        co, si, q = ripple.move(dt)
        x[3], x[4] = co * x[3] + si * x[4], co * x[4] - si * x[3]
        p3, p4 = p[3], p[4]
        a, b = p0[3] + dt * p1[3], p0[4] + dt * p1[4]
        p0[3], p0[4] = co * a + si * b, co * b - si * a
        a, b = p1[3], p1[4]
        p1[3], p1[4] = co * a + si * b, co * b - si * a
        a, b = fc * p2[3], fc * p2[4]
        p2[3], p2[4] = co * a + si * b, co * b - si * a
        a, b, c = p3[3], p3[4], p4[4]
        p3[3] = co * co * a + 2.0 * co * si * b + si * si * c + q
        p4[4] = si * si * a - 2.0 * co * si * b + co * co * c + q
        p3[4] = (co * co - si * si) * b + co * si * (c - a)
        return fc, co, si

    def innovation(self, y: float) -> float:
        """Return the reading less its prediction [K]."""
        x = self.x
        return y - x[0] - x[2] - x[3]

    def spread(self) -> tuple[float, float]:
        """Return the variance of the next innovation, and the reading's part of it [K^2]."""
        p = self.p
        p0, p2 = p[0], p[2]
        r = self.var * (1.0 - self.coloured_share) + self.floor_var
        return p0[0] + p2[2] + p[3][3] + 2.0 * (p0[2] + p0[3] + p2[3]) + r, r

    def take(self, innovation: float, excess: float) -> tuple[list[float], float]:
        """Take one reading; return the gain of each state and the innovation's variance [K^2].

        ``excess`` multiplies the measurement variance of an outlier [-].
        """
        p0, p1, p2, p3, p4 = self.p
        r = (self.var * (1.0 - self.coloured_share) + self.floor_var) * excess
        g0, g1, g2 = p0[0] + p0[2], p0[1] + p1[2], p0[2] + p2[2]
        if self.ripple is None:
            s = g0 + g2 + r
            k0, k1, k2 = g0 / s, g1 / s, g2 / s
            k3 = k4 = 0.0
        else:
            g0 += p0[3]
            g1 += p1[3]
            g2 += p2[3]
            g3 = p0[3] + p2[3] + p3[3]
            g4 = p0[4] + p2[4] + p3[4]
            s = g0 + g2 + g3 + r
            k0, k1, k2, k3, k4 = g0 / s, g1 / s, g2 / s, g3 / s, g4 / s
            p0[3] -= k0 * g3
            p0[4] -= k0 * g4
            p1[3] -= k1 * g3
            p1[4] -= k1 * g4
            p2[3] -= k2 * g3
            p2[4] -= k2 * g4
            p3[3] -= k3 * g3
            p3[4] -= k3 * g4
            p4[4] -= k4 * g4
        p0[0] -= k0 * g0
        p0[1] -= k0 * g1
        p0[2] -= k0 * g2
        p1[1] -= k1 * g1
        p1[2] -= k1 * g2
        p2[2] -= k2 * g2
        gain = [k0, k1, k2, k3, k4]
        for i in range(5):
            self.x[i] += gain[i] * innovation
        return gain, s


class FirstNoise:
    """Guesses the noise variance from an upper quantile of the first squared differences.

    Parameters
    ----------
    share : float
        The guess as a multiple of that quantile [-].
    least_var : float
        Least guess [K^2].
    """

    __slots__ = ("_diffs", "_least_var", "_share")

    def __init__(self, share: float, least_var: float) -> None:
        self._share, self._least_var = share, least_var
        self._diffs: list[float] = []

    def take(self, step_k: float, dt: float) -> float | None:
        """Take the difference of two bins [K], [s]; return the guess [K^2] once, else None."""
        diffs = self._diffs
        if len(diffs) == _FIRST_DIFFS or dt >= _FIRST_WITHIN_S:
            return None
        diffs.append(step_k * step_k)
        if len(diffs) < _FIRST_DIFFS:
            return None
        return max(self._share * sorted(diffs)[7], self._least_var)


class Wander:
    """Learns how much more the readings wander than the noise filter assumes.

    Gusts and a busy valve move the level itself for half a minute and back. Several residuals in a
    row then have the same sign. The variance of their sum, over that of white innovations, says how
    little a change of the level means.
    """

    __slots__ = ("_last", "_ratio")

    def __init__(self) -> None:
        self._last: deque[float] = deque(maxlen=WANDER_OVER)
        self._ratio = 1.0

    def begin(self) -> None:
        """Start a new sum, for another transient."""
        self._last.clear()

    def take(self, rest_k: float, var: float) -> None:
        """Take the residual of the likeliest hypothesis [K] and its variance [K^2]."""
        z = rest_k / math.sqrt(var)
        last = self._last
        last.append(min(max(z, -3.0), 3.0))
        if len(last) == WANDER_OVER:
            total = sum(last)
            ratio = min(total * total / WANDER_OVER, WANDER_CAP)
            self._ratio += WANDER_MEMORY * (ratio - self._ratio)

    @property
    def factor(self) -> float:
        """Variance of the wander over that of white innovations, 1 or more [-]."""
        return min(max(self._ratio, 1.0), WANDER_MOST)
