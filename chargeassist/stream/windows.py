"""One channel over time: the robust mean of each processing period, age, and change per minute.

Windows are recomputed from their values, never updated by running sums: removing old values from
sums of squares loses every digit at 2.4 MPa ± 1 Pa.
"""

import math
import statistics
from collections import deque
from collections.abc import Sequence

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.events import Reading
from chargeassist.model.units import Quantity
from chargeassist.stream.facts import ChannelFacts, ChannelState

SLOPE_WINDOW_S = 60.0
"""A slope is that of the last minute [s]."""

SLOPE_EVERY_TICKS = 4
"""Periods that make one point of a slope; it is computed as often."""

LEAST_POINTS = 5
"""Of fewer points no slope is told."""


ALLOWED_SI_PER_S = {
    Quantity.PRESSURE: 7000.0 / 60.0,
    Quantity.TEMPERATURE: 0.15 / 60.0,
    Quantity.CURRENT: 0.1 / 60.0,
    Quantity.FREQUENCY: 0.5 / 60.0,
    Quantity.MASS: 0.005 / 60.0,
    Quantity.FRACTION: 0.01 / 60.0,
    Quantity.VOLTAGE: 2.0 / 60.0,
}
"""Change that a channel may show and still be called settled: 7 kPa, 0.15 K, 0.1 A, 0.5 Hz, 5 g,
1 % of humidity, 2 V a minute. For the channels table only (common practice, no published source);
whether *the judged value* has settled is decided by `chargeassist.stream.settling` alone."""

OUTLIER_FLOOR_SI = {
    Quantity.PRESSURE: 3000.0,
    Quantity.TEMPERATURE: 0.3,
    Quantity.CURRENT: 0.1,
    Quantity.FREQUENCY: 0.5,
    Quantity.MASS: 0.005,
    Quantity.FRACTION: 0.02,
    Quantity.VOLTAGE: 2.0,
}
"""Distance from the median below which no sample is an outlier: a few steps of a coarse probe."""

LEAP_SI = {Quantity.PRESSURE: 500e3, Quantity.TEMPERATURE: 15.0}
"""No circuit changes by this much from one period to the next; where it seems to, the next period
decides. Two lines that ran together look like that: 3 and 340.2 arrive as 3340.2. Amps, frequency
and volts do leap (common practice, no published source)."""

LARGEST_SI = 1e12
"""No probe of the trade shows more in any SI unit; a reading beyond it is a broken transmission,
and sums of such readings would overflow."""

_GOOD = Quality.GOOD
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
    # Where all lie within the floor of each other, none lies further from their median.
    if len(samples) < 3 or max(samples) - min(samples) <= floor:
        return sum(samples) / len(samples)
    middle = statistics.median(samples)
    spread = statistics.median([abs(x - middle) for x in samples])
    limit = max(_OUTLIER_SIGMAS * _MAD_TO_SIGMA * spread, floor)
    kept = [x for x in samples if abs(x - middle) <= limit]
    return sum(kept) / len(kept)


def slope_per_s(points: Sequence[tuple[float, float]]) -> float | None:
    """Return the least-squares slope of (t [s], value) points, or None below `LEAST_POINTS`."""
    n = len(points)
    if n < LEAST_POINTS:
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


def slope_every_ticks(period_s: float) -> int:
    """Return how many periods of this length make one point of a slope.

    Long ones make fewer, so that the last minute always holds points enough.
    """
    return max(1, min(SLOPE_EVERY_TICKS, int(SLOPE_WINDOW_S / (LEAST_POINTS * period_s))))


class ChannelWindow:
    """The live state of one channel.

    Parameters
    ----------
    channel : Channel
    stagger : int
        Spreads the points of the slopes of many channels over the ticks.
    every_ticks : int
        Periods that make one point of its slope.

    Attributes
    ----------
    value : float or None
        At the last tick: the newest period's mean if it was no older than the channel allows; the
        one before while a leap has not been seen twice.
    new : float or None
        Mean of the period the last tick closed; None if it had no samples, or leapt.
    samples : list of float
        Live ones of the period that is open; `Processor.take_run` adds to it.
    last_t : float
        When the newest live sample came [s]; minus infinity before that.
    """

    def __init__(
        self, channel: Channel, stagger: int = 0, every_ticks: int = SLOPE_EVERY_TICKS
    ) -> None:
        self.channel = channel
        self.value: float | None = None
        self.new: float | None = None
        self._floor = max(
            OUTLIER_FLOOR_SI.get(channel.quantity, 0.0), 2.0 * (channel.resolution_si or 0.0)
        )
        self._allowed = ALLOWED_SI_PER_S.get(channel.quantity, 0.0)
        self._leap = LEAP_SI.get(channel.quantity, math.inf)
        self._doubted = False
        self._max_age_s = channel.max_age_s
        self.samples: list[float] = []
        self.last_t = -math.inf
        self._last_bad: tuple[float, Quality] | None = None
        self._mean: float | None = None
        self._block_t = 0.0
        self._block: list[float] = []
        self._every_ticks = every_ticks
        self._countdown = 1 + stagger % every_ticks
        self._points: deque[tuple[float, float]] = deque()
        # Blocks of which no point was made yet, with their mean times: nobody has looked.
        self._blocks: deque[tuple[float, list[float]]] = deque()
        self._slope: float | None = None
        self._slope_known = True

    def take(self, reading: Reading) -> bool:
        """Take one reading of this channel; return whether it is live: good, and no wild number."""
        value = reading.value
        if reading.quality is _GOOD and -LARGEST_SI <= value <= LARGEST_SI:
            self.take_live(reading.t, value)
            return True
        wild = not -LARGEST_SI <= value <= LARGEST_SI
        self._last_bad = (reading.t, Quality.RANGE if wild else reading.quality)
        return False

    def take_live(self, t: float, value: float) -> None:
        """Take one reading that is known to be live."""
        self.samples.append(value)
        self.last_t = t

    def tick(self, t: float) -> None:
        """Close the period that ends at `t` [s]."""
        samples = self.samples
        if samples:
            mean = samples[0] if len(samples) == 1 else robust_mean(samples, self._floor)
            samples.clear()
            before = self.value
            if before is not None and not self._doubted and abs(mean - before) > self._leap:
                self._doubted = True  # the next one tells, whatever it is
                self.new = None
            else:
                self._doubted = False
                self._mean = self.new = mean
                self._block_t += t
                self._block.append(mean)
        else:
            self.new = None
        self.value = self._mean if t - self.last_t <= self._max_age_s else None
        self._countdown -= 1
        if self._countdown == 0:
            self._countdown = self._every_ticks
            self._close_block(t)

    def _close_block(self, t: float) -> None:
        """Keep the last few periods as one point of the slope."""
        block, oldest_t = self._block, t - SLOPE_WINDOW_S
        if block:
            self._blocks.append((self._block_t / len(block), block))
            self._block_t = 0.0
            self._block = []
        points, blocks = self._points, self._blocks  # every block is newer than any point
        while points and points[0][0] < oldest_t:
            points.popleft()
        while blocks and blocks[0][0] < oldest_t:
            blocks.popleft()
        self._slope_known = False

    def _slope_now(self) -> float | None:
        """Return the slope, computed when it is looked at and new points have come."""
        if not self._slope_known:
            for t, block in self._blocks:  # the mean of each, without a wild one
                self._points.append((t, robust_mean(block, self._floor)))
            self._blocks.clear()
            self._slope = slope_per_s(self._points)
            self._slope_known = True
        return self._slope

    def facts(self, t: float) -> ChannelFacts:
        """Return the channel's line of the facts at `t` [s], the time of the last tick."""
        heard = self.last_t > -math.inf
        age = max(0.0, t - self.last_t) if heard else None
        if self.value is None:
            return ChannelFacts(
                channel=self.channel,
                age_s=age,
                allowed_si_per_s=self._allowed,
                why=self._why(t, age),
            )
        slope = self._slope_now()
        moving = slope is None or abs(slope) > self._allowed
        return ChannelFacts(
            channel=self.channel,
            value_si=self.value,
            age_s=age,
            slope_si_per_s=slope,
            allowed_si_per_s=self._allowed,
            state=ChannelState.MOVING if moving else ChannelState.SETTLED,
            why="",
        )

    def _why(self, t: float, age: float | None) -> str:
        if self._last_bad is not None and t - self._last_bad[0] <= self._max_age_s:
            if self._last_bad[1] is Quality.RETAINED:
                return "last known value only"
            return "out of the probe's range"
        return "nothing yet" if age is None else f"nothing for {age:.0f} s"


class PairedMeans:
    """Means of two channels over the same time: each value is used once, and never alone."""

    def __init__(self) -> None:
        self._one: list[float] = []
        self._other: list[float] = []

    def take(self, one: ChannelWindow, other: ChannelWindow) -> tuple[float, float] | None:
        """Return both means of the periods since the last pair [SI], None until both have one.

        Called once a tick, after both windows were ticked. What one channel gathered while the
        other was silent is dropped: it has no partner in time.
        """
        ones, others = self._one, self._other
        if one.value is None or other.value is None:
            ones.clear()
            others.clear()
            return None
        if not ones and not others and one.new is not None and other.new is not None:
            return one.new, other.new  # both are as quick as the ticks
        if one.new is not None:
            ones.append(one.new)
        if other.new is not None:
            others.append(other.new)
        if not ones or not others:
            return None
        means = sum(ones) / len(ones), sum(others) / len(others)
        ones.clear()
        others.clear()
        return means
