"""The target of the judged value: the job's own number, or one that moves with the weather.

The target superheat of a fixed orifice is looked up by the air entering both coils. Both are
averaged over a minute first, so that a gust does not move the target under the technician's hands.
"""

import math
from collections.abc import Mapping
from typing import Final

from chargeassist.model.channels import Channel, Role
from chargeassist.model.entries import Entry
from chargeassist.model.job import Job, Target
from chargeassist.model.limits import LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.physics.moist_air import wet_bulb_of_probes
from chargeassist.physics.target_superheat import BASIS, WEAK_BELOW_K, target_superheat
from chargeassist.physics.uncertainty import expanded_from_half_width
from chargeassist.stream.entered import TypedNumbers
from chargeassist.stream.facts import Entered, Measured, TargetFacts, fixed_target
from chargeassist.stream.windows import ChannelWindow

AVERAGED_OVER_S: Final = 60.0
"""Time constant of the mean of the air temperatures [s]. Common practice, no published source."""

LOOKED_UP_EVERY_S: Final = 5.0
"""The table is looked up this often [s]; the air does not change faster than that."""

_AIR: Final = (
    Role.OUTDOOR_AIR_TEMPERATURE,
    Role.RETURN_AIR_WET_BULB,
    Role.RETURN_AIR_TEMPERATURE,
    Role.RETURN_AIR_HUMIDITY,
)

_TYPED: Final = (Role.OUTDOOR_AIR_TEMPERATURE, Role.RETURN_AIR_WET_BULB)


class TargetWatch:
    """Follows the target of one job.

    Parameters
    ----------
    target : Target
    entered : TypedNumbers, optional
        What the technician typed: a wet bulb nobody measures counts for as long as it says.
    typed_half_width_k : float
        Limits of an air temperature that was typed, plus or minus [K].
    weak_below_k : float
        Outdoor air below which the table is weak, which is said with its target [K].
    """

    def __init__(
        self,
        target: Target,
        entered: TypedNumbers | None = None,
        *,
        typed_half_width_k: float = USUAL[LimitKey.TYPED_AIR_ACCURACY].value_si,
        weak_below_k: float = WEAK_BELOW_K,
    ) -> None:
        self._typed_half_width_k, self._weak_below_k = typed_half_width_k, weak_below_k
        self._entered = TypedNumbers() if entered is None else entered
        self._target = target
        self._means: dict[Role, float] = {}
        self._ticked_t: float | None = None
        self._looked_t = -math.inf
        self._typed: Entered | None = None
        self._outdoor_typed = False
        self._moves = target.fixed_k is None
        self._now = NoValue("no air temperatures yet") if self._moves else fixed_target(target)

    @classmethod
    def of(cls, job: Job, entered: TypedNumbers) -> "TargetWatch":
        """Return the watch of a job, by its limits."""
        return cls(
            job.target,
            entered,
            typed_half_width_k=job.limit_si(LimitKey.TYPED_AIR_ACCURACY),
            weak_below_k=job.limit_si(LimitKey.SUPERHEAT_OUTDOOR_LOW),
        )

    def tick(
        self,
        t: float,
        live: Mapping[Role, float],
        windows: Mapping[Role, ChannelWindow],
        station_pa_abs: float,
    ) -> TargetFacts | NoValue:
        """Return the target at `t` [s], or why there is none.

        Parameters
        ----------
        t : float
        live : mapping of Role to float
            What each probe reads now [SI].
        windows : mapping of Role to ChannelWindow
            Of the probes that are there.
        station_pa_abs : float
            For the wet bulb from dry bulb and humidity [Pa].
        """
        if not self._moves:
            return self._now
        passed_s = 0.0 if self._ticked_t is None else t - self._ticked_t
        self._ticked_t = t
        part = -math.expm1(-max(0.0, passed_s) / AVERAGED_OVER_S)
        means = self._means
        changed = False
        for role in _AIR:
            value = live.get(role)
            if (value is None) is (role in means):
                changed = True
            if value is None:
                means.pop(role, None)
            else:
                mean = means.get(role, value)
                means[role] = mean + part * (value - mean)
        if changed or not 0.0 <= t - self._looked_t < LOOKED_UP_EVERY_S:
            self._looked_t = t
            channels = {role: window.channel for role, window in windows.items()}
            outdoor = windows.get(Role.OUTDOOR_AIR_TEMPERATURE)
            self._outdoor_typed = outdoor is None or outdoor.value is None
            self._typed = self._entered.fresh(Entry.RETURN_WET_BULB, t)
            self._now = self._look_up(channels, station_pa_abs)
        return self._now

    def _look_up(
        self, channels: Mapping[Role, Channel], station_pa_abs: float
    ) -> TargetFacts | NoValue:
        outdoor = self._mean(Role.OUTDOOR_AIR_TEMPERATURE, channels)
        if isinstance(outdoor, NoValue):
            return outdoor
        told = self._wet_bulb(channels, station_pa_abs)
        if isinstance(told, NoValue):
            return told
        wet_bulb, told_by = told
        found = target_superheat(outdoor.value_k, wet_bulb.value_k, self._weak_below_k)
        if isinstance(found, NoValue):
            return found
        if found.value_k < self._target.floor_k:
            return NoValue(
                "the table asks for less superheat than protects the compressor (superheat_low); "
                "weigh the charge in"
            )
        expanded_k = None
        if outdoor.expanded_k is not None and wet_bulb.expanded_k is not None:
            expanded_k = found.expanded_k(outdoor.expanded_k, wet_bulb.expanded_k)
        return TargetFacts(
            value_k=found.value_k,
            tolerance_k=self._target.tolerance_k,
            expanded_k=expanded_k,
            basis=BASIS,
            outdoor_k=outdoor.value_k,
            wet_bulb_k=wet_bulb.value_k,
            wet_bulb_told_by=told_by,
            caution=found.caution,
            floor_k=self._target.floor_k,
        )

    def _mean(self, role: Role, channels: Mapping[Role, Channel]) -> Measured | NoValue:
        value = self._means.get(role)
        if value is None:
            if role in _TYPED and role not in channels:
                return NoValue(f"the job has no {role.label} probe: type what it is")
            if role not in channels:
                return NoValue(f"the job has no {role.label} probe")
            return NoValue(f"no signal from {role.label}")
        channel = channels.get(role)
        half_width: float | None = self._typed_half_width_k
        # A typed number stands in for a silent probe, whose accuracy is not that of the number.
        typed = role is Role.OUTDOOR_AIR_TEMPERATURE and self._outdoor_typed
        if channel is not None and not typed:
            half_width = channel.half_width(value)
        return Measured(
            value_k=value,
            expanded_k=None if half_width is None else expanded_from_half_width(half_width),
        )

    def _wet_bulb(
        self, channels: Mapping[Role, Channel], station_pa_abs: float
    ) -> tuple[Measured, str] | NoValue:
        """Return the wet bulb of the return air and who told it; a probe before what was typed."""
        probe = self._mean(Role.RETURN_AIR_WET_BULB, channels)
        if isinstance(probe, Measured):
            return probe, "probe"
        dry = self._mean(Role.RETURN_AIR_TEMPERATURE, channels)
        humidity = self._mean(Role.RETURN_AIR_HUMIDITY, channels)
        if isinstance(dry, Measured) and isinstance(humidity, Measured):
            found = wet_bulb_of_probes(
                dry.value_k,
                humidity.value_k,  # a share
                station_pa_abs,
                dry_bulb_expanded_k=dry.expanded_k,
                humidity_expanded=humidity.expanded_k,
            )
            if isinstance(found, NoValue):
                return found
            value_k, expanded_k = found
            return Measured(value_k=value_k, expanded_k=expanded_k), "dry bulb and humidity"
        if self._typed is not None:
            typed = Measured(
                value_k=self._typed.value_si,
                expanded_k=expanded_from_half_width(self._typed_half_width_k),
            )
            return typed, "typed in this session"
        typed_k = self._target.return_wet_bulb_k
        # It was read before the session: what was typed since, though too old by now, is newer.
        if typed_k is not None and Entry.RETURN_WET_BULB not in self._entered.newest:
            typed = Measured(
                value_k=typed_k, expanded_k=expanded_from_half_width(self._typed_half_width_k)
            )
            return typed, f"typed: {self._target.return_wet_bulb_source}"
        if Role.RETURN_AIR_WET_BULB not in channels and Role.RETURN_AIR_HUMIDITY in channels:
            return humidity if isinstance(humidity, NoValue) else NoValue(_reason(dry))
        return probe


def _reason(value: Measured | NoValue) -> str:
    return value.reason if isinstance(value, NoValue) else "no return air"
