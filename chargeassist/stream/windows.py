"""One channel over time: the robust mean of each processing period, age, and change per minute.

Windows are recomputed from their values, never updated by running sums: removing old values from
sums of squares loses every digit at 2.4 MPa ± 1 Pa.
"""

import statistics
from collections import deque
from collections.abc import Sequence

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.events import Reading
from chargeassist.model.units import Quantity
from chargeassist.stream.facts import ChannelFacts, ChannelState

SLOPE_WINDOW_S = 60.0
SLOPE_EVERY_TICKS = 4
"""Periods that make one point of a slope; it is computed as often."""


ALLOWED_SI_PER_S = {
    Quantity.PRESSURE: 7000.0 / 60.0,
    Quantity.TEMPERATURE: 0.15 / 60.0,
    Quantity.CURRENT: 0.1 / 60.0,
    Quantity.FREQUENCY: 0.5 / 60.0,
    Quantity.MASS: 0.005 / 60.0,
}
"""Change that a channel may show and still be called settled: 7 kPa, 0.15 K, 0.1 A, 0.5 Hz, 5 g a
minute. For the channels table only (common practice, no published source); whether *subcooling*
has settled is decided by `chargeassist.stream.settling` alone."""

OUTLIER_FLOOR_SI = {
    Quantity.PRESSURE: 3000.0,
    Quantity.TEMPERATURE: 0.3,
    Quantity.CURRENT: 0.1,
    Quantity.FREQUENCY: 0.5,
    Quantity.MASS: 0.005,
}
"""Distance from the median below which no sample is an outlier: a few steps of a coarse probe."""

LARGEST_SI = 1e12
"""No probe of the trade shows more in any SI unit; a reading beyond it is a broken transmission,
and sums of such readings would overflow."""

_MAD_TO_SIGMA = 1.4826
_OUTLIER_SIGMAS = 4.0


def robust_mean(samples: list[float], floor: float) -> float:
    """Return the mean of `samples` without those far from their median.

    Parameters
    ----------
    samples : list of float, shape (n,), n >= 1
    floor : float
        Distance from the median that is always allowed, in the unit of the samples. Without it
        a quantised probe, whose median absolute deviation is 0, would lose its second-most value.

    Returns
    -------
    float
        Mean of the samples within 4 robust standard deviations (1.4826 x median absolute
        deviation) of the median.

    References
    ----------
    .. [1] Rousseeuw P. J., Croux C. (1993) Alternatives to the median absolute deviation, Journal
       of the American Statistical Association 88, 1273-1283 (the factor 1.4826).
    """
    if len(samples) < 3:
        return sum(samples) / len(samples)
    middle = statistics.median(samples)
    spread = statistics.median([abs(x - middle) for x in samples])
    limit = max(_OUTLIER_SIGMAS * _MAD_TO_SIGMA * spread, floor)
    kept = [x for x in samples if abs(x - middle) <= limit]
    return sum(kept) / len(kept)


def slope_per_s(points: Sequence[tuple[float, float]]) -> float | None:
    """Return the least-squares slope of (t [s], value) points, or None below 5 points."""
    n = len(points)
    if n < 5:
        return None
    # Counted from the first point: the sums stay small, so their differences keep their digits.
    t0, y0 = points[0]
    sum_t = sum_y = sum_tt = sum_ty = 0.0
    for t, y in points:
        t -= t0
        y -= y0
        sum_t += t
        sum_y += y
        sum_tt += t * t
        sum_ty += t * y
    var_t = sum_tt - sum_t * sum_t / n
    if var_t <= 0.0:
        return None
    return (sum_ty - sum_t * sum_y / n) / var_t


class ChannelWindow:
    """The live state of one channel.

    Parameters
    ----------
    channel : Channel
    stagger : int
        Spreads the slope computations of many channels over the ticks.
    """

    def __init__(self, channel: Channel, stagger: int = 0) -> None:
        self.channel = channel
        self._floor = max(
            OUTLIER_FLOOR_SI.get(channel.quantity, 0.0), 2.0 * (channel.resolution_si or 0.0)
        )
        self._allowed = ALLOWED_SI_PER_S.get(channel.quantity, 0.0)
        self._samples: list[float] = []
        self._last_t: float | None = None
        self._last_bad: tuple[float, Quality] | None = None
        self._value: float | None = None
        self._block: list[tuple[float, float]] = []
        self._history: deque[tuple[float, float]] = deque()
        self._slope: float | None = None
        self._countdown = 1 + stagger % SLOPE_EVERY_TICKS
        self._fresh: list[float] = []

    def take(self, reading: Reading) -> None:
        """Take one reading of this channel; only good ones count as live."""
        if not abs(reading.value) <= LARGEST_SI:
            self._last_bad = (reading.t, Quality.RANGE)
        elif reading.quality is Quality.GOOD:
            self._samples.append(reading.value)
            self._last_t = reading.t
        else:
            self._last_bad = (reading.t, reading.quality)

    def tick(self, t: float) -> None:
        """Close the period that ends at `t` [s]."""
        if self._samples:
            mean = robust_mean(self._samples, self._floor)
            self._samples = []
            self._value = mean
            self._fresh.append(mean)
            self._block.append((t, mean))
        self._countdown -= 1
        if self._countdown <= 0:
            self._countdown = SLOPE_EVERY_TICKS
            self._close_block(t)

    def _close_block(self, t: float) -> None:
        """Take the mean of the last few periods as one point of the slope, and compute it."""
        history, block = self._history, self._block
        if block:
            n = len(block)
            history.append((sum(at for at, _ in block) / n, sum(v for _, v in block) / n))
            block.clear()
        while history and history[0][0] < t - SLOPE_WINDOW_S:
            history.popleft()
        self._slope = slope_per_s(history)

    def live(self, t: float) -> float | None:
        """Return the newest period's mean if it is no older than the channel allows, else None."""
        if self._last_t is None or t - self._last_t > self.channel.max_age_s:
            return None
        return self._value

    @property
    def has_fresh(self) -> bool:
        """Whether a period with samples was closed since the last `drain`."""
        return bool(self._fresh)

    def drain(self) -> float:
        """Return the mean of the periods closed since the last call, and forget them.

        Raises
        ------
        ValueError
            If there is none (`has_fresh` is False).
        """
        if not self._fresh:
            raise ValueError("no period with samples since the last drain")
        mean = sum(self._fresh) / len(self._fresh)
        self._fresh.clear()
        return mean

    def forget_fresh(self) -> None:
        """Drop what `drain` would return, when it is too old to be used."""
        self._fresh.clear()

    def facts(self, t: float) -> ChannelFacts:
        """Return the channel's line of the facts at `t` [s]."""
        value = self.live(t)
        age = None if self._last_t is None else max(0.0, t - self._last_t)
        if value is None:
            return ChannelFacts(
                channel=self.channel,
                age_s=age,
                allowed_si_per_s=self._allowed,
                why=self._why(t, age),
            )
        slope = self._slope
        moving = slope is None or abs(slope) > self._allowed
        return ChannelFacts(
            channel=self.channel,
            value_si=value,
            age_s=age,
            slope_si_per_s=slope,
            allowed_si_per_s=self._allowed,
            state=ChannelState.MOVING if moving else ChannelState.SETTLED,
            why="",
        )

    def _why(self, t: float, age: float | None) -> str:
        if self._last_bad is not None and t - self._last_bad[0] <= self.channel.max_age_s:
            if self._last_bad[1] is Quality.RETAINED:
                return "last known value only"
            return "out of the probe's range"
        return "nothing yet" if age is None else f"nothing for {age:.0f} s"


def span(values: list[float]) -> float:
    """Return largest less smallest of `values`; 0 for fewer than two."""
    return max(values) - min(values) if len(values) > 1 else 0.0
