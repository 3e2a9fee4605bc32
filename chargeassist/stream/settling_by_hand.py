"""Settling by hand: what readings taken a minute apart prove.

A probe shows every second whether the reading moves; a gauge and a thermometer read by eye show it
once a minute, with scatter. How much is still to come follows from a fit to the readings of the
last minutes. It assumes the longest time constant such a circuit has, because such a change hides
most. The reading has settled if no more than the settled band can still come, at k = 2.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.stream.settling import SETTLED_SLOPE_K_PER_S

LEAST_READINGS = round(USUAL[LimitKey.HAND_READINGS].value_si)
LEAST_SPAN_S = USUAL[LimitKey.HAND_SPAN].value_si
"""Number of readings needed, and least time from the first to the last [s], unless the job's limits
say otherwise."""

SLOWEST_S = 180.0
"""Longest time constant of a charge step [s]: the slowest of the benchmark's transients."""

KEEPS = 1.5
"""A verdict stands until more than this multiple of the limit may still come, so that one reading
at the edge does not withdraw it [1]. Chosen on the benchmark's transients."""


@dataclass(frozen=True, slots=True)
class HandValue:
    """The judged value from one reading of both instruments.

    Attributes
    ----------
    t : float
        When it was read: halfway between the two readings [s].
    value_k : float
        [K].
    scatter_k : float
        Standard deviation from reading by eye [K].
    """

    t: float
    value_k: float
    scatter_k: float


@dataclass(frozen=True, slots=True)
class HandProof:
    """What the readings of the last minutes prove.

    Attributes
    ----------
    readings : int
        Their number.
    span_s : float
        Time from the first to the last [s].
    value_k, u_k : float
        The value at the last reading and its standard uncertainty from scatter alone [K].
    remaining_k, remaining_u_k : float
        Change still to come with the longest time constant, and its standard uncertainty [K].
    slope_k_per_s : float
        Of the straight line through the readings [K/s].
    """

    readings: int
    span_s: float
    value_k: float
    u_k: float
    remaining_k: float
    remaining_u_k: float
    slope_k_per_s: float

    @property
    def most_k(self) -> float:
        """Most that may still come, at k = 2 [K]."""
        return abs(self.remaining_k) + 2.0 * self.remaining_u_k

    def combined_k(self, expanded_k: float) -> float:
        """Return the expanded uncertainty (k = 2) of the settled value [K].

        Parameters
        ----------
        expanded_k : float
            That of the instruments (k = 2) [K].

        Notes
        -----
        Root of the sum of squares of instruments, scatter of the eye and the change still to come
        (JCGM 100:2008, 5.1.2). The last is a known effect that is not corrected for, and counts
        with its full size (F.2.4.5).
        """
        to_come = math.hypot(self.remaining_k, self.remaining_u_k)
        return 2.0 * math.hypot(expanded_k / 2.0, self.u_k, to_come)


def prove(
    values: Sequence[HandValue], least: int = LEAST_READINGS, span_s: float = LEAST_SPAN_S
) -> HandProof | None:
    """Return the proof of the stretch of newest readings that leaves least to come.

    Parameters
    ----------
    values : sequence of HandValue
        Since the last change, in the order of their times.
    least : int
        Readings that are needed, three or more.
    span_s : float
        Least time from the first of them to the last [s].

    Returns
    -------
    HandProof or None
        None if there are too few readings.

    Notes
    -----
    Least squares of ``v = level + r exp(-(t - t_last) / tau)`` with tau the slowest: r is what is
    still to come. A faster change leaves less for the same readings; a slower one is weather. The
    scatter is that of the eye or of the residuals, whichever is larger, so that a stretch that
    reaches back into a faster change proves less.
    """
    found = [
        _fit(values[first:])
        for first in range(len(values) - least + 1)
        if values[-1].t - values[first].t >= span_s
    ]
    return min(found, key=lambda proof: proof.most_k, default=None)


def _fit(values: Sequence[HandValue]) -> HandProof:
    n, last_t = len(values), values[-1].t
    levers = [math.exp((last_t - each.t) / SLOWEST_S) for each in values]
    mean_x = sum(levers) / n
    mean_v = sum(each.value_k for each in values) / n
    sum_xx = sum((x - mean_x) ** 2 for x in levers)
    moved = [(x - mean_x, each.value_k - mean_v) for x, each in zip(levers, values, strict=True)]
    size = sum(dx * dv for dx, dv in moved) / sum_xx
    left = sum((dv - size * dx) ** 2 for dx, dv in moved)
    eye_k = math.sqrt(sum(each.scatter_k**2 for each in values) / n)
    seen_k = math.sqrt(left / (n - 2))
    u_k = max(eye_k, seen_k)
    mean_t = sum(each.t for each in values) / n
    slope = sum((e.t - mean_t) * (e.value_k - mean_v) for e in values) / sum(
        (each.t - mean_t) ** 2 for each in values
    )
    return HandProof(
        readings=n,
        span_s=last_t - values[0].t,
        value_k=mean_v + size * (1.0 - mean_x),
        u_k=u_k * math.sqrt(1.0 / n + (1.0 - mean_x) ** 2 / sum_xx),
        remaining_k=-size,
        remaining_u_k=u_k / math.sqrt(sum_xx),
        slope_k_per_s=slope,
    )


class HandSettling:
    """Judges the value read by hand; one per session.

    Parameters
    ----------
    band_k : float
        Remaining change that still counts as settled [K].
    least : int
    span_s : float
        As for `prove`.

    Attributes
    ----------
    least : int
        Readings that are needed.
    values : list of HandValue
        Since the last change.
    proof : HandProof or None
        What the newest of them prove; None while there are too few.
    settled : bool
    unannounced : bool
        Whether the last change was noticed, by a reading far from those before it, and not told.
    """

    def __init__(
        self, band_k: float, least: int = LEAST_READINGS, span_s: float = LEAST_SPAN_S
    ) -> None:
        self._band_k = band_k
        self.least = least
        self._span_s = span_s
        self._before: tuple[list[HandValue], HandProof | None, bool, bool] | None = None
        self.restart()

    def restart(self) -> None:
        """Forget every reading: something has changed."""
        self.values: list[HandValue] = []
        self.proof: HandProof | None = None
        self.settled = False
        self.unannounced = False
        self._before = None

    def add(self, value: HandValue) -> None:
        """Take the next reading, later than the last."""
        self._before = (self.values, self.proof, self.settled, self.unannounced)
        values, proof = self.values, self.proof
        if proof is not None and self.settled:
            off_k = abs(value.value_k - proof.value_k)
            if off_k > max(2.0 * self._band_k, 4.0 * math.hypot(value.scatter_k, proof.u_k)):
                values, self.settled, self.unannounced = [], False, True
        self.values = [*values, value]
        self.proof = prove(self.values, self.least, self._span_s)
        slack = KEEPS if self.settled else 1.0
        self.settled = (
            self.proof is not None
            and self.proof.most_k <= slack * self._band_k
            and abs(self.proof.slope_k_per_s) <= slack * SETTLED_SLOPE_K_PER_S
        )
        if self.settled:
            self.unannounced = False

    def correct(self, value: HandValue) -> None:
        """Replace the newest reading, which was read or typed wrong."""
        if self._before is not None:
            self.values, self.proof, self.settled, self.unannounced = self._before
        self.add(value)
