"""Hearing an address while probes are being named: by listening, by asking, and as a job would."""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.errors import ChargeAssistError, ConfigError
from chargeassist.model.events import InputEvent
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.model.text import plain
from chargeassist.session.clock import LiveClock, steady_s
from chargeassist.session.listening import Ear, Field, Form, Heard, Listens
from chargeassist.session.plugins import make_source, source_class, source_names

NAMES_ITS_PROBES = frozenset({"simulator", "recording"})
"""Schemes whose sources say themselves what they deliver: there is nothing to choose."""

_ASKED = Form("number")


@dataclass(frozen=True, slots=True)
class FoundPlace:
    """Something of this machine that could be read from."""

    address: str
    about: str


def places() -> tuple[tuple[FoundPlace, ...], tuple[str, ...]]:
    """Return what the adapters find on this machine, and why some cannot look."""
    found: list[FoundPlace] = []
    troubles: list[str] = []
    for name in source_names():
        try:
            discover = getattr(source_class(name), "discover", None)
            lines = discover() if discover is not None else ()
        except (ChargeAssistError, OSError) as error:
            troubles.append(plain(f"{name}: {error}", 200))
            continue
        for line in lines:
            address, _, about = line.partition("  ")
            found.append(FoundPlace(address, plain(about.strip())))
    return tuple(found), tuple(troubles)


def split_address(text: str) -> tuple[str, str]:
    """Return the address and the MQTT topic filter in "mqtt://host:1883 reading-room/#"."""
    address, _, topics = text.strip().partition(" ")
    return address, topics.strip()


def can_listen(url: str) -> bool:
    """Return whether what comes at `url` can be heard before any probe is known.

    Raises
    ------
    UnknownSourceError, SourceError
        As `source_class`.
    """
    return isinstance(source_class(url.partition(":")[0]), Listens)


async def listen(url: str, topics: str, base: Path, ear: Ear) -> None:
    """Tell `ear` what comes at `url` until cancelled.

    Raises
    ------
    ChargeAssistError
        If the address cannot be used.
    """
    adapter = source_class(url.partition(":")[0])
    if not isinstance(adapter, Listens):
        raise ConfigError(f"{plain(url, 80)}: can only be asked for what is named")
    await adapter.listen(_source(url), base, ear, topics)


async def ask(url: str, selects: Sequence[str], base: Path, ear: Ear) -> None:
    """Read what `selects` name at `url` again and again until cancelled; tell `ear` the numbers.

    For wires on which nothing comes unasked.

    Raises
    ------
    ChargeAssistError
        If the address or a `select` cannot be used.
    """
    # A frequency in hertz is the number as sent: no factor, no limit, no reference.
    probes = tuple(
        ProbeSpec(
            channel=Channel(name=f"asked_{i}", role=Role.COMPRESSOR_FREQUENCY, unit="Hz"),
            select=select,
        )
        for i, select in enumerate(selects)
    )
    names = {probe.channel.name: probe.select for probe in probes}
    source = make_source(_source(url, probes), base)
    await source.run(_AskedSink(names, ear), LiveClock())


def check_select(url: str, select: str, base: Path) -> None:
    """Refuse a `select` that the adapter cannot read.

    Raises
    ------
    ChargeAssistError
    """
    channel = Channel(name="probe", role=Role.COMPRESSOR_FREQUENCY, unit="Hz")
    make_source(_source(url, (ProbeSpec(channel=channel, select=select),)), base)


def _source(url: str, probes: tuple[ProbeSpec, ...] = ()) -> SourceSpec:
    return SourceSpec(name=url.partition(":")[0], url=url, probes=probes)


class _SinkOfNothing:
    """What a sink has to hear and neither of these keeps."""

    def dropped(self, count: int) -> None:
        """Pass over it: nothing is recorded here."""

    def event(self, event: InputEvent) -> None:
        """Pass over it: a recording's own events are no readings."""


class _AskedSink(_SinkOfNothing):
    """Hands readings on as fields."""

    def __init__(self, selects: dict[str, str], ear: Ear) -> None:
        self._selects = selects
        self._ear = ear

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        """Tell one number."""
        del t, quality, device_time
        select = self._selects[channel]
        text = f"{value:.10g}"
        found = Field(select, text, value)
        self._ear.heard(Heard(f"{select} = {text}".encode(), form=_ASKED, fields=(found,)))

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        """Tell what could not be read."""
        del count
        for name, select in self._selects.items():
            reason = reason.replace(f"{name}:", f"{select}:")
        self._ear.trouble(reason, raw.encode() if isinstance(raw, str) else raw)

    def lost(self, reason: str, *, part: str = "") -> None:
        """Tell that the line, or a device on it, is silent."""
        self._ear.lost(f"{part}: {reason}" if part else reason)

    def back(self, *, part: str = "") -> None:
        """Tell that it answers."""
        del part
        self._ear.back()


@dataclass(frozen=True, slots=True)
class LastValue:
    """The newest reading of one channel.

    Attributes
    ----------
    value_si : float
    at_s : float
        When it came, steady seconds [s].
    quality : Quality
    """

    value_si: float
    at_s: float
    quality: Quality


class Trial(_SinkOfNothing):
    """Runs sources as a job would and keeps the newest of each channel.

    Parameters
    ----------
    specs : sequence of SourceSpec
    base : Path

    Attributes
    ----------
    channels : tuple of Channel
    values : dict
        By name of the channel.
    trouble : str
        What was wrong last; empty for nothing.

    Raises
    ------
    ChargeAssistError
        As of a job file.
    """

    def __init__(self, specs: Sequence[SourceSpec], base: Path) -> None:
        self._sources = [make_source(spec, base) for spec in specs]
        self.channels = tuple(channel for source in self._sources for channel in source.channels)
        self.values: dict[str, LastValue] = {}
        self.trouble = ""

    async def run(self) -> None:
        """Read until cancelled."""
        clock = LiveClock()
        async with asyncio.TaskGroup() as group:
            for source in self._sources:
                group.create_task(source.run(self, clock))

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        """Keep the newest."""
        del t, device_time
        self.values[channel] = LastValue(value, steady_s(), quality)

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        """Keep what could not be read."""
        del count
        shown = f": {plain(raw, 40)}" if raw else ""
        self.trouble = f"{plain(reason, 160)}{shown}"

    def lost(self, reason: str, *, part: str = "") -> None:
        """Keep what is silent."""
        self.trouble = plain(f"{part} lost: {reason}".lstrip(), 200)

    def back(self, *, part: str = "") -> None:
        """Forget that something was silent."""
        del part
        self.trouble = ""
