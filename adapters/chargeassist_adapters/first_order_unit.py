"""The first-order unit of ``simulator:?...``: plant, probes, and the faults of its address."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.units import Quantity, Reference, find_unit, parse
from chargeassist.plant.first_order import FirstOrderPlant
from chargeassist.plant.probes import PROBE_MODELS, Probe
from chargeassist.plant.settings import PlantSettings

_FAULTS: Final = ("loose_clamp@600s", "frequency_drop@900s", "dropout@500s-530s")
_DROP_HZ: Final = 45.0
_DROP_LASTS_S: Final = 60.0
_LOOSE_LAG_S: Final = 70.0
_LOOSE_SHARE: Final = 0.35  # of the pipe in what a loose clamp feels; the rest is outdoor air


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What goes wrong and when [s]; infinite for never."""

    loose_clamp_t: float = math.inf
    frequency_drop_t: float = math.inf
    dropouts: tuple[tuple[float, float], ...] = ()

    def silent(self, t: float) -> bool:
        """Return whether nothing is heard at `t`."""
        return any(begin <= t < end for begin, end in self.dropouts)


class FirstOrderUnit:
    """A first-order plant with its probes.

    Parameters
    ----------
    settings : PlantSettings
    channels : tuple of Channel
    faults : Faults
    """

    def __init__(
        self, settings: PlantSettings, channels: tuple[Channel, ...], faults: Faults
    ) -> None:
        self.settings = settings
        self._channels = channels
        self._faults = faults
        self._plant = FirstOrderPlant(settings)
        self._probes = {c.name: _probe(c, settings.seed) for c in channels}

    def run_until(self, t: float) -> None:
        """Let the plant live until `t` [s], each fault taking effect at its own time."""
        drop_t = self._faults.frequency_drop_t
        if drop_t <= t:
            self._plant.run_until(drop_t)
            self._plant.command_frequency(_DROP_HZ)
            back_t = drop_t + _DROP_LASTS_S
            if back_t <= t:
                self._plant.run_until(back_t)
                self._plant.command_frequency()
        self._plant.run_until(t)

    def act(self, mark: Mark) -> None:
        """Open or shut the cylinder valve; other marks do nothing."""
        if mark.kind is MarkKind.STEP_BEGUN:
            self._plant.begin_step(mark.mass_kg)
        elif mark.kind is MarkKind.STEP_ENDED:
            self._plant.end_step(mark.mass_kg)

    def truth(self) -> Mapping[str, float]:
        """Return what is so now: subcooling, superheat and the charge; see `SimulatedUnit`."""
        plant = self._plant
        return {
            "subcooling_k": plant.subcooling_k,
            "superheat_k": plant.superheat_k,
            "frequency_hz": plant.frequency_hz,
            "circuit_kg": plant.circuit_kg,
        }

    def read(self, t: float, dt_s: float) -> Mapping[str, float]:
        """Return what the channels read at `t`; see `SimulatedUnit`."""
        truth = dict(self._plant.truth())
        loose = t >= self._faults.loose_clamp_t
        shown: dict[str, float] = {}
        for channel in self._channels:
            true_si = truth[channel.role]
            lag_s = None
            if channel.role is Role.LIQUID_TEMPERATURE and loose:
                air_k = truth[Role.OUTDOOR_AIR_TEMPERATURE]
                true_si = _LOOSE_SHARE * true_si + (1.0 - _LOOSE_SHARE) * air_k
                lag_s = _LOOSE_LAG_S
            if channel.reference is Reference.GAUGE:
                true_si -= self.settings.station_pa_abs
            probe = self._probes[channel.name]
            probe.follow(true_si, dt_s, lag_s)
            shown[channel.name] = probe.read()
        return {} if self._faults.silent(t) else shown


def refuse_uncounted(channel: Channel) -> None:
    """Raise ConfigError for a pressure that says neither gauge nor absolute."""
    if channel.quantity is Quantity.PRESSURE and channel.reference is None:
        raise ConfigError(
            f"simulator: channel {channel.name!r}: the unit {channel.unit!r} does not say gauge "
            f"or absolute; write for example psig or psia"
        )


def _probe(channel: Channel, seed: int) -> Probe:
    model = PROBE_MODELS[channel.role]
    if channel.resolution_si is not None:
        model = replace(model, resolution_si=channel.resolution_si)
    refuse_uncounted(channel)
    # Seeded by role, so that leaving one probe out does not change the noise of the others.
    zero_si = find_unit(channel.unit, channel.quantity).to_si(0.0)
    return Probe(model, f"probe {seed} {channel.role.value}", zero_si)


def parse_faults(text: str) -> Faults:
    """Return the faults of an address, such as "loose_clamp@600s,dropout@500s-530s".

    Raises
    ------
    ConfigError
        One is not known, or its time cannot be used.
    """
    loose_t = drop_t = math.inf
    dropouts: list[tuple[float, float]] = []
    for part in text.split(","):
        kind, _, when = part.strip().partition("@")
        begin, _, end = when.partition("-")
        if kind == "none" and not when:
            continue
        if kind == "loose_clamp" and not end:
            loose_t = _time(part, begin)
        elif kind == "frequency_drop" and not end:
            drop_t = _time(part, begin)
        elif kind == "dropout" and end:
            silence = _time(part, begin), _time(part, end)
            if silence[0] >= silence[1]:
                raise ConfigError(f"simulator: fault: {part.strip()!r} ends before it begins")
            dropouts.append(silence)
        else:
            raise ConfigError(
                f"simulator: fault: {part.strip()!r} is not known; expected none or some of "
                f"{', '.join(_FAULTS)}"
            )
    return Faults(loose_clamp_t=loose_t, frequency_drop_t=drop_t, dropouts=tuple(dropouts))


def _time(part: str, text: str) -> float:
    try:
        return parse(text, Quantity.DURATION)
    except ConfigError as exc:
        raise ConfigError(f"simulator: fault: {part.strip()!r}: {exc}") from exc
