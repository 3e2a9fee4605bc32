"""The channels beside each other: slots of their means, and who moved while who kept still."""

import math
from collections.abc import Mapping
from typing import Final

from chargeassist.model.channels import Channel, Role
from chargeassist.stream.probe_watch import SLOT_S, SLOTS, STANDS_HZ, ProbeWatch

QUIET_SI: Final = {
    Role.LIQUID_PRESSURE: 50e3,
    Role.SUCTION_PRESSURE: 25e3,
    Role.OUTDOOR_AIR_TEMPERATURE: 1.0,
    Role.COMPRESSOR_FREQUENCY: 0.5,
    Role.CYLINDER_MASS: 0.015,
}
QUIET_CURRENT_SHARE: Final = 0.03
QUIET_CURRENT_A: Final = 0.15
"""A circuit whose readings range over less than this in the window keeps still: gusts of wind move
saturation temperatures by less than 1 K, and a clamp that lets go moves by more than 2."""


DISTURBED_S: Final = 240.0
"""For this long after a charge step or another change [s] pipes move for good reason."""

PARTNER: Final = {
    Role.LIQUID_TEMPERATURE: Role.LIQUID_PRESSURE,
    Role.SUCTION_TEMPERATURE: Role.SUCTION_PRESSURE,
    Role.DISCHARGE_TEMPERATURE: Role.LIQUID_PRESSURE,
}

FAR_WINDOW_S: Final = 300.0
FAR_K: Final = {Role.SUCTION_TEMPERATURE: 5.5, Role.DISCHARGE_TEMPERATURE: 12.0}
FAR_SLOTS: Final = 12
FAR_UNSEEN_K: Final = 8.0
FAR_SHARE: Final = 0.25
FAR_PRESSURE_PA: Final = 25e3
FAR_FOLLOWS: Final = 0.6
FAR_CURRENT_SHARE: Final = 0.1
LEAST_SUPERHEAT_K: Final = 3.0
"""No charge step lets a suction line warm or a discharge line cool by this much [K], and by this
share of the way to outdoor air, within `FAR_WINDOW_S` [s], while the frequency keeps still: a
superheat that rises takes the discharge line with it, by more than `FAR_FOLLOWS` of its way, and
the suction pressure, by more than `FAR_PRESSURE_PA`. Without a frequency the amps must keep within
`FAR_CURRENT_SHARE`. Without a discharge probe it takes `FAR_UNSEEN_K`.
A discharge line that cools with hardly any superheat left is cooled by liquid. Set on 150 simulated
sessions of sound probes, in which neither moved half as far like that."""

LIQUID_K: Final = 3.0
LIQUID_SHARE: Final = 0.4
LIQUID_FOLLOWS: Final = 0.12
PRESSURE_PER_K: Final = 0.026
"""A liquid line that comes nearer to outdoor air by this much [K], and by this share of its way, in
`FAR_WINDOW_S` has more liquid behind it, and the condenser is hotter by a fifth of that at least:
where it stays, to `LIQUID_FOLLOWS` of it, the clamp has let go. No clamp moves the suction pressure
by more than `FAR_PRESSURE_PA`: a valve that is freed does, and cools the line as well. A kelvin of
condensing temperature is this part of the gauge pressure [1/K]: 0.0235 to 0.0285 for R-22, R-32,
R-407C, R-410A and R-454B from 30 to 50 °C, by the program's own table. On 14 simulated sessions of
sound probes, with steps of 5 % of the plate, no line came so far."""

PAST_AIR_K: Final = 0.5
"""A clamp that has let go may read past outdoor air by this [K]: both probes have their error."""

APART_S: Final = 40.0
"""Between the three means that a time constant is taken from [s]."""

ONE_WAY_K: Final = 0.1
"""Going one way: by so much from one slot to the next [K], more than the noise of a mean."""

COMES_FROM_K: Final = 0.8
COMES_WITHIN_S: Final = 240.0
COMES_K: Final = 3.0
COMES_STEP_S: Final = 30.0
COMES_RATIO: Final[tuple[float, ...]] = (0.3, 0.95)
COMES_PRESSURE_PA: Final = 15e3
"""A clamp put on the suction line late read outdoor air until then, to within `COMES_FROM_K` and at
most `COMES_WITHIN_S` ago [s], and goes to its pipe in one curve: what it moves in half a minute is
`COMES_RATIO` of what it moved in the half minute before, both together are at least `COMES_K` [K],
and the suction pressure stays within `COMES_PRESSURE_PA`. A step moves that line, too, but begins
and ends at once. Set on 14 simulated sessions of sound probes; assumption."""

MUST_FOLLOW: Final[Mapping[Role, tuple[tuple[Role, float], ...]]] = {
    Role.LIQUID_PRESSURE: (
        (Role.COMPRESSOR_FREQUENCY, 5.0),
        (Role.LIQUID_TEMPERATURE, 3.0),
        (Role.COMPRESSOR_CURRENT, 1.5),
    ),
    Role.SUCTION_PRESSURE: ((Role.COMPRESSOR_FREQUENCY, 5.0), (Role.SUCTION_TEMPERATURE, 5.0)),
    Role.LIQUID_TEMPERATURE: ((Role.COMPRESSOR_FREQUENCY, 5.0), (Role.LIQUID_PRESSURE, 120e3)),
    Role.SUCTION_TEMPERATURE: ((Role.COMPRESSOR_FREQUENCY, 5.0), (Role.SUCTION_PRESSURE, 60e3)),
    Role.DISCHARGE_TEMPERATURE: ((Role.COMPRESSOR_FREQUENCY, 5.0), (Role.LIQUID_PRESSURE, 150e3)),
    Role.COMPRESSOR_CURRENT: ((Role.COMPRESSOR_FREQUENCY, 5.0), (Role.LIQUID_PRESSURE, 150e3)),
}
"""If the neighbour moved by this much, the channel must have shown it [SI]."""

COARSEST_SI: Final = {
    Role.LIQUID_PRESSURE: 10e3,
    Role.SUCTION_PRESSURE: 10e3,
    Role.LIQUID_TEMPERATURE: 0.6,
    Role.SUCTION_TEMPERATURE: 0.6,
    Role.DISCHARGE_TEMPERATURE: 1.2,
    Role.COMPRESSOR_CURRENT: 0.2,
}
"""A probe with larger steps may rightly not show what its neighbours do."""


class ProbeNeighbours:
    """All channels of a session in step: one mean each for every slot of `SLOT_S`.

    Parameters
    ----------
    idle_a : float
        Below this current the compressor stands [A].

    Attributes
    ----------
    watches : dict of str to ProbeWatch
        By channel name, in the order of declaration.
    by_role : dict of Role to ProbeWatch
    disturbed_t : float
        When a charge step or another change was last told of [s].
    superheat_k : float or None
        As it is now [K].
    """

    def __init__(self, idle_a: float) -> None:
        self._idle_a = idle_a
        self.watches: dict[str, ProbeWatch] = {}
        self.by_role: dict[Role, ProbeWatch] = {}
        self.disturbed_t = -math.inf
        self.superheat_k: float | None = None
        self._index = 0
        self._filled = 0

    def declare(self, channel: Channel) -> ProbeWatch:
        """Take a channel in; declared again, it starts anew. The first of a role stands for it."""
        watch = ProbeWatch(channel)
        self.watches[channel.name] = watch
        known = self.by_role.get(channel.role)
        if known is None or known.channel.name == channel.name:
            self.by_role[channel.role] = watch
        return watch

    def close_slot(self, t: float) -> None:
        """Keep every channel's mean of the slot that ends at `t` [s]."""
        self._index = (self._index + 1) % SLOTS
        self._filled = min(self._filled + 1, SLOTS)
        for watch in self.watches.values():
            watch.close_slot(t, self._index)

    def left_behind(self, watch: ProbeWatch) -> bool:
        """Whether neighbours moved since the last change by what this probe would have to show."""
        role = watch.channel.role
        if not watch.samples:  # out of its range since the beginning: no value to stand still
            return False
        if role not in MUST_FOLLOW or watch.step_si > COARSEST_SI[role]:
            return False
        back = min(int((watch.last_t - watch.same_t) / SLOT_S), self._filled - 1)
        for neighbour, needed in MUST_FOLLOW[role]:
            other = self.by_role.get(neighbour)
            if other is None:
                continue
            span = self.span(other, back)
            if span is not None and span >= needed:
                return True
        return False

    def alone(self, t: float, watch: ProbeWatch, window_s: float) -> bool:
        """Whether the circuit kept still, as far as it is seen, while this channel moved."""
        if t - self.disturbed_t < DISTURBED_S or self._stands():
            return False
        slots = int(window_s / SLOT_S)
        partner = self.by_role.get(PARTNER[watch.channel.role])
        if partner is None or not self._still(partner, slots):
            return False
        for role in (
            Role.LIQUID_PRESSURE,
            Role.SUCTION_PRESSURE,
            Role.COMPRESSOR_CURRENT,
            Role.COMPRESSOR_FREQUENCY,
            Role.OUTDOOR_AIR_TEMPERATURE,
        ):
            other = self.by_role.get(role)
            if other is not None and not self._still(other, slots):
                return False
        scale = self.by_role.get(Role.CYLINDER_MASS)
        return scale is None or self._still(scale, int(DISTURBED_S / SLOT_S))

    def far_alone(self, watch: ProbeWatch, air_k: float) -> float | None:
        """Return where a line was before it went farther toward the air than any step takes it [K].

        None unless it did. It holds whatever was told of charge steps.
        """
        role = watch.channel.role
        if role is Role.LIQUID_TEMPERATURE:
            return self._liquid_alone(watch)
        if role not in FAR_K or self._stands():
            return None
        was, now = self._mean(watch, FAR_WINDOW_S), self._mean(watch, 0.0)
        if was is None or now is None:
            return None
        change, gap = now - was, air_k - was
        discharge = self._change(Role.DISCHARGE_TEMPERATURE)
        needed = FAR_K[role]
        if role is Role.SUCTION_TEMPERATURE and discharge is None:
            needed = FAR_UNSEEN_K
        if change * gap <= 0.0 or abs(change) < max(needed, FAR_SHARE * abs(gap)):
            return None
        if abs(change) > abs(gap) + PAST_AIR_K or not self._frequency_kept(FAR_WINDOW_S):
            return None
        sign = math.copysign(1.0, change)
        if role is Role.SUCTION_TEMPERATURE:
            pressure = self._change(Role.SUCTION_PRESSURE)
            alone = pressure is not None and abs(pressure) <= FAR_PRESSURE_PA
            follows = discharge
        else:
            alone = self.superheat_k is not None and self.superheat_k >= LEAST_SUPERHEAT_K
            follows = self._change(Role.SUCTION_TEMPERATURE)
        followed = follows is not None and sign * follows > FAR_FOLLOWS * abs(change)
        return was if alone and not followed else None

    def _liquid_alone(self, watch: ProbeWatch) -> float | None:
        """Return where the liquid line was before it cooled without the pressure; None if not."""
        if self._stands() or not self._frequency_kept(FAR_WINDOW_S):
            return None
        amps = self.by_role.get(Role.COMPRESSOR_CURRENT)
        drawn = None if amps is None else self.span(amps, int(FAR_WINDOW_S / SLOT_S))
        quiet_a = 0.0 if amps is None else FAR_CURRENT_SHARE * abs(amps.last_si)
        if drawn is not None and drawn > max(QUIET_CURRENT_A, quiet_a):
            return None
        suction_pa = self._change(Role.SUCTION_PRESSURE)
        if suction_pa is not None and abs(suction_pa) > FAR_PRESSURE_PA:
            return None
        pressure = self.by_role.get(Role.LIQUID_PRESSURE)
        air = self.by_role.get(Role.OUTDOOR_AIR_TEMPERATURE)
        if pressure is None or air is None:
            return None
        was, now = self._mean(watch, FAR_WINDOW_S), self._mean(watch, 0.0)
        air_was, air_now = self._mean(air, FAR_WINDOW_S), self._mean(air, 0.0)
        high_was, high_now = self._mean(pressure, FAR_WINDOW_S), self._mean(pressure, 0.0)
        if was is None or now is None or air_was is None or air_now is None:
            return None
        if high_was is None or high_now is None or high_was <= 0.0:
            return None
        gap, nearer = was - air_was, (was - air_was) - (now - air_now)
        if nearer < max(LIQUID_K, LIQUID_SHARE * gap) or nearer > gap + PAST_AIR_K:
            return None
        warmer = (high_now / high_was - 1.0) / PRESSURE_PER_K - (air_now - air_was)
        return was if abs(warmer) <= LIQUID_FOLLOWS * nearer else None

    def comes_in(self, watch: ProbeWatch, air_k: float, share: float = 1.0) -> bool:
        """Whether the suction line leaves the outdoor air as a clamp does that was just put on.

        It holds whatever was told of charge steps; `share` is the part of `COMES_K` that will do.
        """
        if watch.channel.role is not Role.SUCTION_TEMPERATURE or self._stands():
            return False
        pressure = self.by_role.get(Role.SUCTION_PRESSURE)
        if pressure is None or not self._frequency_kept(2.0 * COMES_STEP_S):
            return False
        was, is_now = self.back(pressure, 2.0 * COMES_STEP_S), self.back(pressure, 0.0)
        if was is None or is_now is None or abs(is_now - was) > COMES_PRESSURE_PA:
            return False
        # The same curve ten seconds ago: a step's beginning bends like that for a moment only.
        if not all(self._dies_away(watch, ago_s, share) for ago_s in (0.0, 2.0 * SLOT_S)):
            return False
        past = (self.back(watch, SLOT_S * k) for k in range(int(COMES_WITHIN_S / SLOT_S)))
        return any(value is not None and abs(value - air_k) <= COMES_FROM_K for value in past)

    def _dies_away(self, watch: ProbeWatch, ago_s: float, share: float) -> bool:
        first, second, third = (self.back(watch, ago_s + k * COMES_STEP_S) for k in (2.0, 1.0, 0.0))
        if first is None or second is None or third is None:
            return False
        early, late = second - first, third - second
        least, most = COMES_RATIO
        return abs(third - first) >= share * COMES_K and least <= late / (early or math.inf) <= most

    def _change(self, role: Role) -> float | None:
        """Return by how much a channel differs from what it was `FAR_WINDOW_S` ago [SI]."""
        other = self.by_role.get(role)
        if other is None:
            return None
        was, now = self._mean(other, FAR_WINDOW_S), self._mean(other, 0.0)
        return None if was is None or now is None else now - was

    def _mean(self, watch: ProbeWatch, seconds_s: float) -> float | None:
        """Return the mean of the minute that ended `seconds_s` ago: valve swings are shorter."""
        first = int(seconds_s / SLOT_S)
        if first + FAR_SLOTS > self._filled:
            return None
        values = [watch.slots[(self._index - k) % SLOTS] for k in range(first, first + FAR_SLOTS)]
        known = [value for value in values if value is not None]
        return math.fsum(known) / FAR_SLOTS if len(known) == FAR_SLOTS else None

    def _frequency_kept(self, window_s: float) -> bool:
        slots = int(window_s / SLOT_S)
        for role in (Role.COMPRESSOR_FREQUENCY, Role.COMPRESSOR_CURRENT):
            other = self.by_role.get(role)
            span = None if other is None else self.span(other, slots)
            if other is not None and span is not None:
                least = QUIET_SI[role] if role is Role.COMPRESSOR_FREQUENCY else QUIET_CURRENT_A
                share = 0.0 if role is Role.COMPRESSOR_FREQUENCY else FAR_CURRENT_SHARE
                return span <= max(least, share * abs(other.last_si))
        return False

    def _stands(self) -> bool:
        """Whether the compressor stands, and every pipe goes to the air around it by itself."""
        frequency = self.by_role.get(Role.COMPRESSOR_FREQUENCY)
        if frequency is not None and not math.isnan(frequency.last_si):
            return frequency.last_si < STANDS_HZ
        amps = self.by_role.get(Role.COMPRESSOR_CURRENT)
        return amps is not None and amps.last_si < self._idle_a

    def _still(self, watch: ProbeWatch, slots: int) -> bool:
        span = self.span(watch, slots)
        if span is None:
            # A silent scale does not hide a step that was told of; a silent pressure hides all.
            return watch.channel.role is Role.CYLINDER_MASS
        role = watch.channel.role
        if role is Role.COMPRESSOR_CURRENT:
            return span <= max(QUIET_CURRENT_A, QUIET_CURRENT_SHARE * abs(watch.last_si))
        return span <= max(QUIET_SI[role], 3.0 * (watch.channel.resolution_si or 0.0))

    def undisturbed(self, since_t: float) -> bool:
        """Whether nothing was told of since then [s], and the compressor runs."""
        return self.disturbed_t < since_t and not self._stands()

    def beside_air_k(self, watch: ProbeWatch, window_s: float) -> float:
        """Return how far a line has gone beside outdoor air in the window [K]; 0 if not known."""
        air = self.by_role.get(Role.OUTDOOR_AIR_TEMPERATURE)
        if air is None:
            return 0.0
        now, was = self.back(watch, 0.0), self.back(watch, window_s)
        air_now, air_was = self.back(air, 0.0), self.back(air, window_s)
        if now is None or was is None or air_now is None or air_was is None:
            return 0.0
        return (now - was) - (air_now - air_was)

    def one_way_s(self, watch: ProbeWatch, change: float) -> float:
        """Return for how long a channel has gone the way of `change` without a rest [s]."""
        count, newer = 0, self.back(watch, 0.0)
        while newer is not None and count < SLOTS:
            older = self.back(watch, SLOT_S * (count + 1))
            if older is None or (newer - older) * change < ONE_WAY_K * abs(change):
                break
            count, newer = count + 1, older
        return SLOT_S * count

    def time_constant_s(self, watch: ProbeWatch) -> float | None:
        """Return the time constant of an exponential through three means, `APART_S` apart [s]."""
        points = [self.back(watch, back_s) for back_s in (2.0 * APART_S, APART_S, 0.0)]
        first, second, third = points
        if first is None or second is None or third is None:
            return None
        early, late = second - first, third - second
        if early * late <= 0.0 or abs(late) >= abs(early):
            return None
        return -APART_S / math.log(late / early)

    def moved(self, watch: ProbeWatch, by: float, *windows_s: float) -> bool:
        """Whether the newest mean is `by` or more [SI] away from one of those `windows_s` ago."""
        now = self.back(watch, 0.0)
        if now is None:
            return False
        for window_s in windows_s:
            was = self.back(watch, window_s)
            if was is not None and not -by < now - was < by:
                return True
        return False

    def forget(self, watch: ProbeWatch) -> None:
        """Compare nothing any more with what a channel read until now."""
        watch.slots[:] = [None] * SLOTS

    def back(self, watch: ProbeWatch, seconds_s: float) -> float | None:
        """Return the mean of the slot `seconds_s` ago [SI]; None where there is none."""
        slots = int(seconds_s / SLOT_S)
        if slots >= self._filled:
            return None
        return watch.slots[(self._index - slots) % SLOTS]

    def span(self, watch: ProbeWatch, slots: int) -> float | None:
        """Return largest less smallest of the newest slots [SI]; None if one is missing."""
        count = min(slots + 1, SLOTS)
        if count > self._filled:
            return None
        values = [watch.slots[self._index - k] for k in range(count)]
        known = [value for value in values if value is not None]
        return max(known) - min(known) if len(known) == count else None
