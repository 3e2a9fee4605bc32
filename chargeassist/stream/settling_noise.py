"""What a reading does besides the transient: level, drift, coloured noise, hunting.

A five-state Kalman filter: level B with a slow drift b, noise c that forgets in a few seconds,
and an oscillator (r1, r2) at the hunting period. Its gains do not depend on the readings, so
the same filter whitens the readings and every hypothetical transient alike (the "augmented"
filter of P. de Jong, The diffuse Kalman filter, Annals of Statistics 19, 1991; from memory).
Plain floats on purpose: five states are quicker by hand than through array calls, and the
result does not depend on a linear-algebra library.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class NoiseLaw:
    """One guess at the noise: how much of its variance is coloured, and how long it remembers.

    Attributes
    ----------
    coloured_share : float
        Part of the variance of a bin that is coloured [-].
    memory_s : float
        Correlation time of that part [s].
    """

    coloured_share: float
    memory_s: float


class NoiseFilter:
    """Level, drift, coloured noise and hunting of one channel.

    Parameters
    ----------
    law : NoiseLaw
        How the noise is split.
    level_walk : float
        Random walk of the level [K/sqrt(s)].
    drift_sd : float
        Prior standard deviation of the drift [K/s].
    """

    __slots__ = ("law", "level_walk", "p", "period_s", "ripple_k", "var", "x")

    floor_var = 4.0e-4

    def __init__(self, law: NoiseLaw, *, level_walk: float, drift_sd: float) -> None:
        self.law = law
        self.level_walk = level_walk
        self.x = [0.0] * 5
        self.p = [[0.0] * 5 for _ in range(5)]
        self.p[1][1] = drift_sd * drift_sd
        self.var = 0.05
        self.period_s = 0.0
        self.ripple_k = 0.0

    def start(self, value: float, sd: float) -> None:
        """Place the level at a first reading [K] with a standard deviation [K]."""
        self.x[0] = value
        self.p[0][0] = sd * sd
        self.p[2][2] = self.law.coloured_share * self.var

    def copy_state(self) -> tuple[list[float], list[list[float]]]:
        """Return a copy of mean and covariance."""
        return self.x[:], [row[:] for row in self.p]

    def hunt(self, period_s: float, amplitude_k: float) -> None:
        """Switch the oscillator on, change its period, or switch it off (period 0)."""
        if period_s > 0.0 and self.period_s == 0.0:
            self.p[3][3] = self.p[4][4] = 0.5 * amplitude_k * amplitude_k
        elif period_s == 0.0 and self.period_s > 0.0:
            self.x[3] = self.x[4] = 0.0
            for i in range(5):
                self.p[i][3] = self.p[i][4] = self.p[3][i] = self.p[4][i] = 0.0
        self.period_s = period_s
        self.ripple_k = amplitude_k

    def predict(self, dt: float) -> tuple[float, float, float]:
        """Move on by dt [s]; return (memory factor, cosine, sine) to move a response column."""
        x, p, law = self.x, self.p, self.law
        fc = math.exp(-dt / law.memory_s)
        co = si = 0.0
        x[0] += dt * x[1]
        x[2] *= fc
        p0, p1, p2 = p[0], p[1], p[2]
        p0[0] += dt * (2.0 * p0[1] + dt * p1[1]) + self.level_walk * self.level_walk * dt
        p0[1] += dt * p1[1]
        p0[2] = fc * (p0[2] + dt * p1[2])
        p1[2] *= fc
        p2[2] = fc * fc * p2[2] + law.coloured_share * self.var * (1.0 - fc * fc)
        if self.period_s > 0.0:
            w = 2.0 * math.pi * dt / self.period_s
            rho = math.exp(-dt / (6.0 * self.period_s))
            co, si = rho * math.cos(w), rho * math.sin(w)
            x[3], x[4] = co * x[3] + si * x[4], co * x[4] - si * x[3]
            p3, p4 = p[3], p[4]
            a, b = p0[3] + dt * p1[3], p0[4] + dt * p1[4]
            p0[3], p0[4] = co * a + si * b, co * b - si * a
            a, b = p1[3], p1[4]
            p1[3], p1[4] = co * a + si * b, co * b - si * a
            a, b = fc * p2[3], fc * p2[4]
            p2[3], p2[4] = co * a + si * b, co * b - si * a
            a, b, c = p3[3], p3[4], p4[4]
            forget = 1.0 - math.exp(-dt / (3.0 * self.period_s))
            q = 0.045 * self.ripple_k * self.ripple_k * forget
            p3[3] = co * co * a + 2.0 * co * si * b + si * si * c + q
            p4[4] = si * si * a - 2.0 * co * si * b + co * co * c + q
            p3[4] = (co * co - si * si) * b + co * si * (c - a)
        return fc, co, si

    def gain(self, excess: float = 1.0) -> tuple[list[float], float]:
        """Return the gain (5 numbers) and the variance of the innovation [K^2]; update P.

        ``excess`` widens the measurement variance of a reading that looks like an outlier.
        """
        p = self.p
        r = (self.var * (1.0 - self.law.coloured_share) + self.floor_var) * excess
        p0, p1, p2, p3, p4 = p
        h0 = p0[0] + p0[2] + p0[3]
        h1 = p0[1] + p1[2] + p1[3]
        h2 = p0[2] + p2[2] + p2[3]
        h3 = p0[3] + p2[3] + p3[3]
        h4 = p0[4] + p2[4] + p3[4]
        s = h0 + h2 + h3 + r
        k0, k1, k2, k3, k4 = h0 / s, h1 / s, h2 / s, h3 / s, h4 / s
        p0[0] -= k0 * h0
        p0[1] -= k0 * h1
        p0[2] -= k0 * h2
        p1[1] -= k1 * h1
        p1[2] -= k1 * h2
        p2[2] -= k2 * h2
        if self.period_s > 0.0:
            p0[3] -= k0 * h3
            p0[4] -= k0 * h4
            p1[3] -= k1 * h3
            p1[4] -= k1 * h4
            p2[3] -= k2 * h3
            p2[4] -= k2 * h4
            p3[3] -= k3 * h3
            p3[4] -= k3 * h4
            p4[4] -= k4 * h4
        return [k0, k1, k2, k3, k4], s

    def spread(self) -> float:
        """Return the variance of the next innovation without updating anything [K^2]."""
        p = self.p
        s = p[0][0] + p[2][2] + p[3][3] + 2.0 * (p[0][2] + p[0][3] + p[2][3])
        return s + self.var * (1.0 - self.law.coloured_share) + self.floor_var
