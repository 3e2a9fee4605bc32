"""The simulator: a plant that answers to the technician, behind the same door as real probes.

No wire: readings come from `chargeassist.plant`, seeded, with their own time. Same address, same
seed and the same marks at the same times give the same readings bit for bit, at any speed.

Address, every option with its default::

    simulator:?seed=1&charge=1.90kg&plate=2.30kg&refrigerant=R-32&frequency=72Hz
        &start_frequency=30Hz&outdoor=24°C&altitude=210m&rate=1Hz&length=45min&fault=none

Options may also stand in the source's table of the job file, as text. A source does not see the
job: a job that simulates another unit spells refrigerant, charges, frequency and altitude here
again. The defaults are those of the demo job. ``barometer=98.8kPaa`` replaces ``altitude``.

Faults, several joined by commas:

=====================================  ===========================================================
``loose_clamp@600s``                   the liquid line clamp lets go and drifts to outdoor air
``frequency_drop@900s``                the compressor falls to 45 Hz, 60 s later it is told back
``dropout@500s-530s``                  every channel is silent, with no word about it
=====================================  ===========================================================

A scenario is a whole unit in a file, or one of those shipped (``chargeassist simulate --list``)::

    simulator:dirty-condenser
    simulator:path/to/scenario.toml?seed=3

The technician's marks work the plant: ``step_begun`` opens the cylinder valve (with a mass, for
exactly that much), ``step_ended`` shuts it; a negative mass recovers. A scenario's unit answers to
more of them, see `chargeassist_adapters.simulated_unit`; before charging there are others, see
`chargeassist_adapters.simulated_stage`.
"""

import itertools
import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final
from urllib.parse import parse_qsl

from chargeassist.model.channels import Accuracy, Channel, Quality, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark
from chargeassist.model.job import SourceSpec
from chargeassist.model.units import (
    Quantity,
    Reference,
    parse,
    parse_pressure,
)
from chargeassist.plant.physical import PlantLimitError
from chargeassist.plant.settings import PlantSettings
from chargeassist.session.scenario import ScenarioUnit, find_scenario
from chargeassist.session.source import Clock, Sink, TruthListener
from chargeassist_adapters.first_order_unit import (
    FirstOrderUnit,
    parse_faults,
    refuse_uncounted,
)
from chargeassist_adapters.simulated_stage import stage_unit
from chargeassist_adapters.simulated_unit import HEARD, PhysicalUnit, SimulatedUnit

_DEFAULTS: Final = {
    "seed": "1",
    "charge": "1.90 kg",
    "plate": "2.30 kg",
    "refrigerant": "R-32",
    "frequency": "72 Hz",
    "start_frequency": "30 Hz",
    "outdoor": "24 °C",
    "altitude": "210 m",
    "barometer": "",
    "rate": "1 Hz",
    "length": "45 min",
    "fault": "none",
}
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
        place = spec.url.partition(":")[2].partition("?")[0]
        if place.strip("/"):
            return cls._of_scenario(spec, place, base)
        texts = _options(spec, _DEFAULTS)
        settings = PlantSettings(
            refrigerant=texts["refrigerant"],
            plate_kg=_number(texts, "plate", Quantity.MASS),
            charge_kg=_number(texts, "charge", Quantity.MASS),
            required_hz=_number(texts, "frequency", Quantity.FREQUENCY),
            start_hz=_number(texts, "start_frequency", Quantity.FREQUENCY),
            outdoor_k=_number(texts, "outdoor", Quantity.TEMPERATURE),
            altitude_m=_number(texts, "altitude", Quantity.LENGTH),
            barometer_pa_abs=_barometer(texts["barometer"]),
            seed=_whole(texts, "seed"),
        )
        rate_hz = _number(texts, "rate", Quantity.FREQUENCY)
        if not 0.1 <= rate_hz <= 20.0:
            raise ConfigError(f"simulator: rate: expected 0.1 to 20 Hz, came {texts['rate']!r}")
        length_s = _number(texts, "length", Quantity.DURATION)
        if not 0.0 < length_s <= _LONGEST_S:
            raise ConfigError(
                f"simulator: length: expected more than 0 and up to 24 h, came {texts['length']!r}"
            )
        channels = tuple(p.channel for p in spec.probes)
        channels = channels or default_channels(spec.name, 1.0 / rate_hz)
        unit = FirstOrderUnit(settings, channels, parse_faults(texts["fault"]))
        return cls(spec.name, channels, unit, period_s=1.0 / rate_hz, length_s=length_s)

    @classmethod
    def _of_scenario(cls, spec: SourceSpec, place: str, base: Path) -> "SimulatorSource":
        texts = _options(spec, {"seed": ""})
        seed = _whole(texts, "seed") if texts["seed"] else None
        try:
            scenario = find_scenario(place, base, seed)
        except ConfigError as error:
            raise ConfigError(
                f"simulator: {error}; or options after a question mark, as in simulator:?seed=1"
            ) from error
        described = scenario.unit or scenario.stage_unit
        if described is None:
            return cls.from_spec(replace(scenario.job.sources[0], probes=spec.probes), base)
        channels = tuple(p.channel for p in spec.probes)
        for channel in channels:
            refuse_uncounted(channel)
            if channel.role not in described.probes.models:
                raise ConfigError(
                    f"simulator: {place}: the scenario has no probe {channel.role.value}"
                )
        channels = channels or described.probes.channels(spec.name)
        unit: SimulatedUnit
        if isinstance(described, ScenarioUnit):
            unit = PhysicalUnit(described, channels)
        else:
            unit = stage_unit(described, channels)
        return cls(spec.name, channels, unit, length_s=scenario.lasts_s)

    @property
    def name(self) -> str:
        """Name of the source in events."""
        return self._name

    @property
    def channels(self) -> tuple[Channel, ...]:
        """Those of the job's probes, or the demo's nine when the job names none."""
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
                sink.reading(channel.name, value, t=t, quality=_quality(channel, value))


def default_channels(source: str, period_s: float = 1.0) -> tuple[Channel, ...]:
    """Return the demo's probes: declared limits are those of good field probes (assumption).

    Parameters
    ----------
    source : str
        Name of the source that feeds them.
    period_s : float
        Between samples; a channel is called stale after three, but not before 10 s [s].
    """
    tenth_psi = 689.4757293168361
    tenth_f = 1.0 / 18.0
    clamp = (233.15, 398.15)
    rows: tuple[tuple[Role, str, Accuracy, tuple[float, float], float], ...] = (
        (Role.LIQUID_PRESSURE, "psig", Accuracy(absolute_si=7e3), (-1e5, 5.516e6), tenth_psi),
        (Role.LIQUID_TEMPERATURE, "°F", Accuracy(absolute_si=0.3), clamp, tenth_f),
        (Role.SUCTION_PRESSURE, "psig", Accuracy(absolute_si=7e3), (-1e5, 3.447e6), tenth_psi),
        (Role.SUCTION_TEMPERATURE, "°F", Accuracy(absolute_si=0.3), clamp, tenth_f),
        (Role.DISCHARGE_TEMPERATURE, "°F", Accuracy(absolute_si=1.0), (233.15, 423.15), tenth_f),
        (Role.OUTDOOR_AIR_TEMPERATURE, "°F", Accuracy(absolute_si=0.5), (233.15, 343.15), tenth_f),
        (Role.COMPRESSOR_CURRENT, "A", Accuracy(relative=0.01), (0.0, 60.0), 0.01),
        (Role.COMPRESSOR_FREQUENCY, "Hz", Accuracy(absolute_si=0.1), (0.0, 200.0), 0.1),
        (Role.CYLINDER_MASS, "kg", Accuracy(absolute_si=0.002), (0.0, 60.0), 0.001),
    )
    return tuple(
        Channel(
            name=role.value,
            role=role,
            unit=unit,
            reference=Reference.GAUGE if role.quantity is Quantity.PRESSURE else None,
            accuracy=accuracy,
            low_si=span[0],
            high_si=span[1],
            resolution_si=resolution_si,
            max_age_s=max(10.0, 3.0 * period_s),
            source=source,
        )
        for role, unit, accuracy, span, resolution_si in rows
    )


def _quality(channel: Channel, value: float) -> Quality:
    low = -math.inf if channel.low_si is None else channel.low_si
    high = math.inf if channel.high_si is None else channel.high_si
    return Quality.GOOD if low <= value <= high else Quality.RANGE


def _options(spec: SourceSpec, defaults: Mapping[str, str]) -> dict[str, str]:
    """Return every option as text: defaults, then the address, then the job file's table."""
    query = spec.url.partition(":")[2].partition("?")[2]
    try:
        pairs = parse_qsl(query, keep_blank_values=True, strict_parsing=True) if query else []
    except ValueError as exc:
        raise ConfigError(f"simulator: expected name=value joined by &, came {query!r}") from exc
    given: dict[str, str] = {}
    for key, text in [*pairs, *spec.options.items()]:
        if key not in defaults:
            raise ConfigError(
                f"simulator: {key!r} is not an option; known ones are {', '.join(defaults)}"
            )
        if key in given:
            raise ConfigError(f"simulator: {key}: said twice, {given[key]!r} and {text!r}")
        given[key] = text
    if given.get("altitude") and given.get("barometer"):
        raise ConfigError("simulator: expected altitude or barometer, came both")
    return {**defaults, **given}


def _number(texts: dict[str, str], key: str, quantity: Quantity) -> float:
    try:
        return parse(texts[key], quantity)
    except ConfigError as exc:
        raise ConfigError(f"simulator: {key}: {exc}") from exc


def _whole(texts: dict[str, str], key: str) -> int:
    text = texts[key]
    if not (text.isascii() and text.isdigit() and len(text) <= 18):
        raise ConfigError(f"simulator: {key}: expected a whole number from 0, came {text!r}")
    return int(text)


def _barometer(text: str) -> float | None:
    if not text:
        return None
    try:
        return parse_pressure(text, Reference.ABSOLUTE)[0]
    except ConfigError as exc:
        raise ConfigError(f"simulator: barometer: {exc}") from exc
