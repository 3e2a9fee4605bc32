"""One channel as its probe's health sees it: the same work for each sample, whatever came before.

Samples wait to be looked at once a slot: one loop over a few costs half as much as taking them one
by one.
"""

import math
from typing import Final

from chargeassist.model.channels import Channel, Role
from chargeassist.model.units import Quantity

SPACING_S: Final = 0.75
"""Samples closer than this to the last one looked at are passed over [s]: what a probe's health
needs is in one sample a second, and a fast probe must not cost more than a slow one."""

SLOT_S: Final = 5.0
"""A mean is kept for every slot of this length [s]."""

SLOTS: Final = 84
"""Slots kept: seven minutes."""

SIGMA_PER_SECOND_DIFFERENCE: Final = math.sqrt(math.pi / 2.0) / math.sqrt(6.0)
"""Standard deviation of white noise over the mean size of its second differences: the second
difference of n has variance (1 + 4 + 1) n^2, and the mean size of a normal number is sqrt(2 / pi)
of its standard deviation."""

FAST_SAMPLES: Final = 32.0
SLOW_SAMPLES: Final = 600.0
"""Samples over which the present noise is averaged, and over which the usual noise follows it."""

FEWEST_SAMPLES: Final = 120
"""Fewer samples do not tell the usual noise."""

CAP: Final = 8.0
"""A second difference counts as no more than this many times the usual noise."""

STANDSTILL_SAMPLES: Final = 20
"""From so many equal samples on nothing is learnt of the usual noise."""

STUCK_SAMPLES: Final = 60
STUCK_RUNS: Final = 12
STUCK_SIGMA_STEPS: Final = 0.35
STUCK_CHANGES: Final = 20.0
"""Noise of s steps changes the shown value with a chance of 2 (1 - Phi(1 / (2 s))) at least,
wherever the true value lies between two steps. A run in which so many changes were due is no
chance. Probes quieter than 0.35 steps may rightly stand still for long, and how quiet they are
cannot be read off their steps; they are judged by their neighbours alone."""

NOISE_FLOOR_SI: Final = {
    Quantity.PRESSURE: 1000.0,
    Quantity.TEMPERATURE: 0.03,
    Quantity.CURRENT: 0.03,
    Quantity.FREQUENCY: 0.1,
    Quantity.MASS: 0.001,
    Quantity.FRACTION: 0.01,
    Quantity.VOLTAGE: 1.0,
}
"""Noise below this is not worth a word [Pa, K, A, Hz, kg, 1, V]. Common practice, no published
source."""

_PIPE: Final = frozenset(
    {Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE, Role.DISCHARGE_TEMPERATURE}
)

PIPE_K_PER_S: Final = 10.0
"""A clamp whose lag is 8 s, put on a pipe 40 K away, moves 5 K/s at first; a pipe itself changes
far more slowly. Common practice, no published source; a pipe sensor may take up to 90 s to its
rated accuracy (California RA3.2.2.2.2, 2013)."""

AIR_K_PER_S: Final = 5.0
"""A thermometer in the air follows a door or a hand more slowly. Common practice, no published
source."""

PRESSURE_PA_PER_S: Final = 1.5e6
"""A compressor start takes seconds to build its head; a hose opened to a circuit is faster, and is
no reading of the running unit. Common practice, no published source."""

FREQUENCY_HZ_PER_S: Final = 30.0
"""Drives change more slowly, except when they stop. Common practice, no published source."""

_POSSIBLE: Final = {
    Quantity.PRESSURE: (-106e3, 15e6),
    Quantity.TEMPERATURE: (200.0, 480.0),
    Quantity.CURRENT: (-1.0, 1000.0),
    Quantity.FREQUENCY: (-1.0, 1000.0),
    Quantity.MASS: (-1000.0, 1000.0),
    Quantity.FRACTION: (-0.02, 1.05),
    Quantity.VOLTAGE: (-1.0, 1500.0),
}
"""Used where the channel declares no range: what no probe of this trade can read [SI]."""

STANDS_HZ: Final = 1.0
"""A compressor that has stopped shows less [Hz]."""


def jump_limits(role: Role) -> tuple[float, float]:
    """Return (largest rate [SI/s], what is allowed beside it [SI]); infinite where none holds.

    Current jumps when a compressor starts, and a scale when a hand touches the cylinder.
    """
    if role in _PIPE:
        return PIPE_K_PER_S, 2.0
    if role.quantity is Quantity.TEMPERATURE:
        return AIR_K_PER_S, 2.0
    if role in {Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE}:
        return PRESSURE_PA_PER_S, 100e3
    if role is Role.COMPRESSOR_FREQUENCY:
        return FREQUENCY_HZ_PER_S, 5.0
    return math.inf, math.inf


class ProbeWatch:
    """What is kept of one channel.

    Parameters
    ----------
    channel : Channel

    Attributes
    ----------
    samples : int
        Looked at so far.
    same_samples : int
        The newest value has come this often again.
    same_t : float
        When it came first [s].
    longest_same : int
        Longest earlier run of equal values.
    out_samples : int
        Newest samples outside the range, in a row.
    out_t, out_si : float
        First of them [s], and the newest value [SI].
    jumps : int
        Changes faster than possible, in all; `jump_t`, `jump_si`, `jump_si_per_s` of the newest.
    waiting : list of (float, float)
        Time [s] and value [SI] of samples nobody has looked at; `Processor.take_run` adds to it.
    slots : list of float or None, length SLOTS
        Mean of each slot [SI]; `ProbeNeighbours` knows which is the newest.
    fast_sigma, slow_sigma : float
        White noise of the last half minute or so, and as it usually is [SI].
    noise_ratio : float
        The present noise over what is usual, at the last slot; 0 while that is not known.

    Notes
    -----
    All others are as of the last `look`.
    """

    __slots__ = (
        "_allowed", "_before_out_t", "_cap", "_difference", "_fast", "_floor", "_high", "_last",
        "_last_t", "_low", "_may_stop", "_new", "_rate", "_slot_n", "_slot_sum", "channel",
        "fast_sigma", "jump_si", "jump_si_per_s", "jump_t", "jumps", "longest_same",
        "noise_ratio", "out_samples", "out_si", "out_t", "same_samples", "same_t", "samples",
        "slots", "slow_sigma", "smallest_step", "waiting",
    )  # fmt: skip

    def __init__(self, channel: Channel) -> None:
        self.channel = channel
        possible = _POSSIBLE.get(channel.quantity, (-math.inf, math.inf))
        self._low = possible[0] if channel.low_si is None else channel.low_si
        self._high = possible[1] if channel.high_si is None else channel.high_si
        self._rate, self._allowed = jump_limits(channel.role)
        self._may_stop = channel.role is Role.COMPRESSOR_FREQUENCY  # at once, and rightly so
        self._floor = max(
            NOISE_FLOOR_SI.get(channel.quantity, 0.0), 0.75 * (channel.resolution_si or 0.0)
        )
        self._last = math.nan
        self._last_t = self._before_out_t = -math.inf
        self._difference = 0.0
        self._fast = 0.0
        self._cap = math.inf
        self._new = 0
        self._slot_sum = 0.0
        self._slot_n = 0
        self.samples = 0
        self.same_samples = 0
        self.same_t = -math.inf
        self.longest_same = 0
        self.smallest_step = math.inf
        self.out_samples = 0
        self.out_t = -math.inf
        self.out_si = math.nan
        self.jumps = 0
        self.jump_t = -math.inf
        self.jump_si = 0.0
        self.jump_si_per_s = 0.0
        self.fast_sigma = 0.0
        self.slow_sigma = 0.0
        self.noise_ratio = 0.0
        self.slots: list[float | None] = [None] * SLOTS
        self.waiting: list[tuple[float, float]] = []

    def take(self, t: float, value: float) -> None:
        """Take one sample; times must not go back."""
        self.waiting.append((t, value))

    def look(self) -> None:
        """Look at the samples that wait, in order."""
        waiting = self.waiting
        if not waiting:
            return
        low, high, cap = self._low, self._high, self._cap
        last, last_t, before = self._last, self._last_t, self._difference
        samples, same_samples, same_t = self.samples, self.same_samples, self.same_t
        fast, slot_sum, slot_n, new = self._fast, self._slot_sum, self._slot_n, self._new
        for t, value in waiting:
            dt = t - last_t
            if dt < SPACING_S:
                continue
            last_t = t
            if not low <= value <= high:
                self._count_out(t, value, t - dt)
                continue
            if self.out_samples:
                dt = t - self._before_out_t  # it had that long to change
                self.out_samples = 0
            difference = value - last
            last = value
            new += 1
            slot_sum += value
            slot_n += 1
            if samples == 0:
                samples = 1
                same_t = t
                continue
            if difference == 0.0:
                same_samples += 1
                size = before
            else:
                if same_samples:
                    if same_samples > self.longest_same:
                        self.longest_same = same_samples
                    same_samples = 0
                same_t = t
                step = difference if difference > 0.0 else -difference
                if step > self._allowed and step > self._allowed + self._rate * dt:
                    slot_sum -= value  # a wild sample must not pull a whole slot with it
                    slot_n -= 1
                    if not self._may_stop or abs(value) >= STANDS_HZ:
                        self._count_jump(t, difference, dt)
                # Rounding makes equal grid steps differ in the last digits: half is near enough.
                elif step < 0.5 * self.smallest_step:
                    self.smallest_step = step
                size = difference - before
            before = difference
            samples += 1
            if size < 0.0:
                size = -size
            fast += ((cap if size > cap else size) - fast) / FAST_SAMPLES
        waiting.clear()
        self._last, self._last_t, self._difference = last, last_t, before
        self.samples, self.same_samples, self.same_t = samples, same_samples, same_t
        self._fast, self._slot_sum, self._slot_n, self._new = fast, slot_sum, slot_n, new
        self.fast_sigma = fast * SIGMA_PER_SECOND_DIFFERENCE

    def _count_jump(self, t: float, difference: float, dt: float) -> None:
        self.jumps += 1
        self.jump_t = t
        self.jump_si = difference
        self.jump_si_per_s = difference / dt

    def _count_out(self, t: float, value: float, before_t: float) -> None:
        if self.out_samples == 0:
            self.out_t = t
            self._before_out_t = before_t
        self.out_samples += 1
        self.out_si = value

    def out_of_range(self, t: float, value: float) -> None:
        """Take a sample that the source or the declared range rules out, one a second at most."""
        self.look()
        if t - self._last_t < SPACING_S:
            return
        self._count_out(t, value, self._last_t)
        self._last_t = t

    def forget_jumps(self) -> None:
        """Tell of no jump until now any more."""
        self.look()
        self.jump_t = -math.inf

    @property
    def last_t(self) -> float:
        """When the newest sample was looked at [s]."""
        return self._last_t

    @property
    def last_si(self) -> float:
        """The newest value inside the range [SI]; NaN before the first."""
        return self._last

    @property
    def noise_floor(self) -> float:
        """Noise that is usual for any probe of this kind and resolution [SI]."""
        return self._floor

    @property
    def step_si(self) -> float:
        """Smallest step of the probe: declared, or the smallest seen [SI]."""
        return self.channel.resolution_si or self.smallest_step

    @property
    def stands_beyond_chance(self) -> bool:
        """Whether a probe as noisy as this one cannot stand still for so long."""
        if (
            self.same_samples < STUCK_SAMPLES
            or self.same_samples <= STUCK_RUNS * self.longest_same
            or self.slow_sigma < STUCK_SIGMA_STEPS * self.step_si
        ):
            return False
        changes = math.erfc(0.5 * self.step_si / self.slow_sigma / math.sqrt(2.0))
        return self.same_samples * changes >= STUCK_CHANGES

    def close_slot(self, t: float, index: int) -> None:
        """Look, and keep the mean of the slot that ends at `t` [s] under `index`."""
        self.look()
        if self._slot_n:
            self.slots[index] = self._slot_sum / self._slot_n
            self._slot_sum = 0.0
            self._slot_n = 0
        elif t - self._last_t <= self.channel.max_age_s and self.out_samples == 0:
            self.slots[index] = self.slots[index - 1]
        else:
            self.slots[index] = None
        self._learn()

    def _learn(self) -> None:
        """Let the usual noise follow the present one, but neither a fault nor a standstill."""
        new, self._new = self._new, 0
        present, usual, floor = self.fast_sigma, self.slow_sigma, self._floor
        known = self.samples >= FEWEST_SAMPLES
        if not known:
            usual = present
        elif self.same_samples < STANDSTILL_SAMPLES and present <= 2.0 * (
            usual if usual > floor else floor
        ):
            usual += (present - usual) * min(new / SLOW_SAMPLES, 0.5)
        self.slow_sigma = usual
        level = usual if usual > floor else floor
        self._cap = CAP * level / SIGMA_PER_SECOND_DIFFERENCE
        self.noise_ratio = present / level if known else 0.0
