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

The technician's marks work the plant: ``step_begun`` opens the cylinder valve (with a mass, for
exactly that much), ``step_ended`` shuts it; a negative mass recovers. Other marks do nothing.
"""

import itertools
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final
from urllib.parse import parse_qsl

from chargeassist.model.channels import Accuracy, Channel, Quality, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import SourceSpec
from chargeassist.model.units import (
    Quantity,
    Reference,
    find_unit,
    parse,
    parse_pressure,
)
from chargeassist.plant.first_order import FirstOrderPlant
from chargeassist.plant.probes import PROBE_MODELS, Probe
from chargeassist.plant.settings import PlantSettings
from chargeassist.session.source import Clock, Sink

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
_FAULTS: Final = ("loose_clamp@600s", "frequency_drop@900s", "dropout@500s-530s")
_LONGEST_S: Final = 24.0 * 3600.0
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


class SimulatorSource:
    """A simulated unit with its probes; see the module for the address.

    Parameters
    ----------
    name : str
    channels : tuple of Channel
    settings : PlantSettings
    period_s : float
        Between two samples of each channel [s].
    length_s : float
        After this it ends by itself [s].
    faults : Faults
    """

    def __init__(
        self,
        name: str,
        channels: tuple[Channel, ...],
        settings: PlantSettings,
        *,
        period_s: float = 1.0,
        length_s: float = 2700.0,
        faults: Faults | None = None,
    ) -> None:
        self._name = name
        self._channels = channels
        self._period_s = period_s
        self._length_s = length_s
        self._faults = faults or Faults()
        self._plant = FirstOrderPlant(settings)
        self._probes = {c.name: _probe(c, settings.seed) for c in channels}
        self._marks: list[Mark] = []

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> "SimulatorSource":
        """Return a simulator for `spec`; `base` is not used.

        Raises
        ------
        ConfigError
            An option is not known, or its value cannot be used.
        """
        del base
        texts = _options(spec)
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
        return cls(
            spec.name,
            channels or default_channels(spec.name, 1.0 / rate_hz),
            settings,
            period_s=1.0 / rate_hz,
            length_s=length_s,
            faults=_faults(texts["fault"]),
        )

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
        if mark.kind in (MarkKind.STEP_BEGUN, MarkKind.STEP_ENDED):
            self._marks.append(mark)

    async def run(self, sink: Sink, clock: Clock) -> None:
        """Deliver every channel at each whole period, from 0 until the length is reached."""
        for k in itertools.count():
            t = k * self._period_s
            if t > self._length_s:
                return
            await clock.sleep_until(t)
            self._live_until(t)
            self._deliver(sink, t)

    def _live_until(self, t: float) -> None:
        """Let the plant live until `t`, each mark and fault taking effect at its own time."""
        due = sorted((m for m in self._marks if m.t <= t), key=lambda mark: mark.t)
        self._marks = [m for m in self._marks if m.t > t]
        for mark in due:
            self._run_plant(mark.t)
            if mark.kind is MarkKind.STEP_BEGUN:
                self._plant.begin_step(mark.mass_kg)
            else:
                self._plant.end_step(mark.mass_kg)
        self._run_plant(t)

    def _run_plant(self, t: float) -> None:
        drop_t = self._faults.frequency_drop_t
        if drop_t <= t:
            self._plant.run_until(drop_t)
            self._plant.command_frequency(_DROP_HZ)
            back_t = drop_t + _DROP_LASTS_S
            if back_t <= t:
                self._plant.run_until(back_t)
                self._plant.command_frequency()
        self._plant.run_until(t)

    def _deliver(self, sink: Sink, t: float) -> None:
        truth = dict(self._plant.truth())
        dt_s = self._period_s if t > 0.0 else 0.0
        silent = self._faults.silent(t)
        loose = t >= self._faults.loose_clamp_t
        for channel in self._channels:
            true_si = truth[channel.role]
            lag_s = None
            if channel.role is Role.LIQUID_TEMPERATURE and loose:
                air_k = truth[Role.OUTDOOR_AIR_TEMPERATURE]
                true_si = _LOOSE_SHARE * true_si + (1.0 - _LOOSE_SHARE) * air_k
                lag_s = _LOOSE_LAG_S
            if channel.reference is Reference.GAUGE:
                true_si -= self._plant.settings.station_pa_abs
            probe = self._probes[channel.name]
            probe.follow(true_si, dt_s, lag_s)
            value = probe.read()
            if not silent:
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


def _probe(channel: Channel, seed: int) -> Probe:
    model = PROBE_MODELS[channel.role]
    if channel.resolution_si is not None:
        model = replace(model, resolution_si=channel.resolution_si)
    if channel.quantity is Quantity.PRESSURE and channel.reference is None:
        raise ConfigError(
            f"simulator: channel {channel.name!r}: the unit {channel.unit!r} does not say gauge "
            f"or absolute; write for example psig or psia"
        )
    # Seeded by role, so that leaving one probe out does not change the noise of the others.
    zero_si = find_unit(channel.unit, channel.quantity).to_si(0.0)
    return Probe(model, f"probe {seed} {channel.role.value}", zero_si)


def _quality(channel: Channel, value: float) -> Quality:
    low = -math.inf if channel.low_si is None else channel.low_si
    high = math.inf if channel.high_si is None else channel.high_si
    return Quality.GOOD if low <= value <= high else Quality.RANGE


def _options(spec: SourceSpec) -> dict[str, str]:
    """Return every option as text: defaults, then the address, then the job file's table."""
    place, _, query = spec.url.partition(":")[2].partition("?")
    if place.strip("/"):
        raise ConfigError(
            f"simulator: expected options after a question mark, as in simulator:?seed=1, "
            f"came {place!r}"
        )
    try:
        pairs = parse_qsl(query, keep_blank_values=True, strict_parsing=True) if query else []
    except ValueError as exc:
        raise ConfigError(f"simulator: expected name=value joined by &, came {query!r}") from exc
    given: dict[str, str] = {}
    for key, text in [*pairs, *spec.options.items()]:
        if key not in _DEFAULTS:
            raise ConfigError(
                f"simulator: {key!r} is not an option; known ones are {', '.join(_DEFAULTS)}"
            )
        if key in given:
            raise ConfigError(f"simulator: {key}: said twice, {given[key]!r} and {text!r}")
        given[key] = text
    if given.get("altitude") and given.get("barometer"):
        raise ConfigError("simulator: expected altitude or barometer, came both")
    return {**_DEFAULTS, **given}


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


def _faults(text: str) -> Faults:
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
