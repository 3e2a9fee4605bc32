"""The simulator: a plant that answers to the technician, behind the same door as real probes.

No wire: readings come from `chargeassist.plant`, seeded, with their own time. Same address, same
seed and the same marks at the same times give the same readings bit for bit, at any speed.

The address names a scenario: a whole unit in a file, or one of those shipped (``chargeassist
simulate --list``); without one it is the demonstration. Every option may be left out::

    simulator:dirty-condenser?seed=3
    simulator:path/to/scenario.toml?rate=1Hz&length=40min
    simulator:?seed=1
    simulator:nitrogen-tight+vacuum-dry+millrace-lane-library   # a whole job: see simulated_job

``seed`` is that of gusts and noise, ``rate`` of the samples, 0.1 to 20 Hz, and after ``length`` the
source ends by itself; the scenario says the usual ones (a whole job: 24 h). Options may also stand
in the source's table of the job file, as text. A source does not see the job: a job that names a
scenario should be of the scenario's refrigerant and plate.

The technician's marks work the unit: see `chargeassist_adapters.simulated_unit`, and before
charging `chargeassist_adapters.simulated_stage`.
"""

import itertools
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

from chargeassist.model.channels import Channel
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark
from chargeassist.model.job import SourceSpec
from chargeassist.model.units import Quantity, parse
from chargeassist.plant.errors import PlantLimitError
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.scenario.stage import StageUnit
from chargeassist.session.source import Clock, Sink, TruthListener
from chargeassist_adapters.address import read_options
from chargeassist_adapters.simulated_job import WholeJob, channels_of, described
from chargeassist_adapters.simulated_stage import stage_unit
from chargeassist_adapters.simulated_unit import HEARD, PhysicalUnit, SimulatedUnit

DEMONSTRATION: Final = "millrace-lane-library"
OPTIONS: Final = {
    "seed": "of gusts and noise, a whole number",
    "rate": "of the samples, 0.1 to 20 Hz",
    "length": "after which it ends by itself, 1 s to 24 h",
}
"""Of the address; all else about the unit is in its scenario."""
_LONGEST_S: Final = 24.0 * 3600.0


class SimulatorSource:
    """A simulated unit with its probes; see the module for the address.

    Parameters
    ----------
    name : str
    channels : tuple of Channel
    unit : SimulatedUnit
    period_s : float
        Between two samples of each channel [s].
    length_s : float
        After this it ends by itself [s].
    """

    def __init__(
        self,
        name: str,
        channels: tuple[Channel, ...],
        unit: SimulatedUnit,
        *,
        period_s: float = 1.0,
        length_s: float = 2700.0,
    ) -> None:
        self._name = name
        self._channels = channels
        self._unit = unit
        self._period_s = period_s
        self._length_s = length_s
        self._marks: list[Mark] = []
        self._truth_listeners: list[TruthListener] = []

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> "SimulatorSource":
        """Return a simulator for `spec`; a relative path of a scenario starts at `base`.

        Raises
        ------
        ConfigError
            An option is not known or its value cannot be used, or there is no such scenario.
        """
        place, _, query = spec.url.partition(":")[2].partition("?")
        texts = read_options(spec, query, OPTIONS)
        seed = _whole(texts["seed"]) if "seed" in texts else None
        names = place.split("+") if place.strip("/") else [DEMONSTRATION]
        try:
            parts = tuple(find_scenario(name, base, seed) for name in names)
        except ConfigError as error:
            raise ConfigError(f"simulator: {error}") from error
        period_s = 1.0 / _between(
            texts, "rate", Quantity.FREQUENCY, (0.1, 20.0), "0.1 to 20 Hz", 1.0
        )
        length_s = _between(
            texts,
            "length",
            Quantity.DURATION,
            (1.0, _LONGEST_S),
            "1 s to 24 h",
            # A job is over when somebody says so: none of its circuits hurries the other.
            parts[0].lasts_s if len(parts) == 1 else _LONGEST_S,
        )
        roles = {role for part in parts for role in described(part).probes.models}
        channels = tuple(p.channel for p in spec.probes)
        for channel in channels:
            _refuse_uncounted(channel)
            if channel.role not in roles:
                raise ConfigError(
                    f"simulator: {'+'.join(names)}: the scenario has no probe {channel.role.value}"
                )
        channels = channels or tuple(
            replace(channel, max_age_s=max(channel.max_age_s, 3.0 * period_s))
            for channel in channels_of(parts, spec.name)
        )
        one = described(parts[0])
        unit: SimulatedUnit
        if len(parts) > 1:
            unit = WholeJob(parts, channels)
        elif isinstance(one, StageUnit):
            unit = stage_unit(one, channels)
        else:
            unit = PhysicalUnit(one, channels)
        return cls(spec.name, channels, unit, period_s=period_s, length_s=length_s)

    @property
    def name(self) -> str:
        """Name of the source in events."""
        return self._name

    @property
    def channels(self) -> tuple[Channel, ...]:
        """Those of the job's probes, or the scenario's when the job names none."""
        return self._channels

    @property
    def brings_time(self) -> bool:
        """Its readings carry their own time."""
        return True

    @property
    def simulated(self) -> bool:
        """All of it is computed."""
        return True

    def technician(self, mark: Mark) -> None:
        """Keep a mark until the plant's time has come to it."""
        if mark.kind in HEARD:
            self._marks.append(mark)

    def tell_truth(self, listener: TruthListener) -> None:
        """Tell `listener` at each period what is so; see `chargeassist.session.source`."""
        self._truth_listeners.append(listener)

    async def run(self, sink: Sink, clock: Clock) -> None:
        """Deliver every channel at each whole period, from 0 until the length is reached."""
        for k in itertools.count():
            t = k * self._period_s
            if t > self._length_s:
                return
            await clock.sleep_until(t)
            try:
                self._live_until(t)
            except PlantLimitError as error:
                sink.lost(str(error))
                return
            for listener in self._truth_listeners:
                listener(t, self._unit.truth())
            self._deliver(sink, t)

    def _live_until(self, t: float) -> None:
        """Let the unit live until `t`, each mark taking effect at its own time."""
        due = sorted((m for m in self._marks if m.t <= t), key=lambda mark: mark.t)
        self._marks = [m for m in self._marks if m.t > t]
        for mark in due:
            self._unit.run_until(mark.t)
            self._unit.act(mark)
        self._unit.run_until(t)

    def _deliver(self, sink: Sink, t: float) -> None:
        shown = self._unit.read(t, self._period_s if t > 0.0 else 0.0)
        for channel in self._channels:
            value = shown.get(channel.name)
            if value is not None:
                sink.reading(channel.name, value, t=t, quality=channel.quality_of(value))


def _refuse_uncounted(channel: Channel) -> None:
    if channel.quantity is Quantity.PRESSURE and channel.counted_from is None:
        raise ConfigError(
            f"simulator: channel {channel.name!r}: the unit {channel.unit!r} does not say gauge "
            f"or absolute; write for example psig or psia"
        )


def _between(
    texts: Mapping[str, str],
    key: str,
    quantity: Quantity,
    bounds: tuple[float, float],
    said: str,
    default: float,
) -> float:
    if key not in texts:
        return default
    try:
        value = parse(texts[key], quantity)
    except ConfigError as exc:
        raise ConfigError(f"simulator: {key}: {exc}") from exc
    if not bounds[0] <= value <= bounds[1]:
        raise ConfigError(f"simulator: {key}: expected {said}, came {texts[key]!r}")
    return value


def _whole(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 17):
        raise ConfigError(f"simulator: seed: expected a whole number from 0, came {text!r}")
    return int(text)
