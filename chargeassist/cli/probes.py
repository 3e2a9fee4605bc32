"""``probes``: check the wiring before a job: ports, adapters, and what each probe delivers."""

import argparse
import asyncio
import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from chargeassist.cli.as_json import json_text, print_json
from chargeassist.cli.paragraphs import row
from chargeassist.cli.plain_output import complain
from chargeassist.cli.printer import Printer
from chargeassist.cli.shown import shown_in, usual_units
from chargeassist.model import display
from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ChargeAssistError, ConfigError, UnitError
from chargeassist.model.events import InputEvent
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Reference, find_unit, unit_symbols
from chargeassist.session.clock import LiveClock
from chargeassist.session.job.jobfile import load_job
from chargeassist.session.job.probes import ABSOLUTE
from chargeassist.session.job.toml_table import file_text, suggestion, toml_of
from chargeassist.session.plugins import make_source, source_class, source_names
from chargeassist.session.source import Source

LONGEST_S = 3600.0
_NAME_THEIR_OWN = frozenset({"simulator", "recording"})

_LISTED = 12
"""Columns before what is behind an address."""

_ABOUT = {
    "modbus": "registers of a device: modbus:/dev/ttyUSB0?baud=9600",
    "mqtt": "topics of a broker: mqtt://localhost:1883",
    "mqtts": "the same with TLS: mqtts://HOST:8883",
    "recording": "a session recorded before: recording:FILE",
    "serial": "lines of a serial port; those of this machine:",
    "simulator": "a simulated unit: simulator:NAME, by simulate --list",
}
"""What is behind an address; an adapter from elsewhere has its name alone."""


def probes(arguments: argparse.Namespace) -> int:
    """List ports and adapters, or print what probes deliver; 1 if some channel stayed silent."""
    if arguments.guide or arguments.what is None:
        _refuse_for_one_probe(arguments)
    if arguments.guide:
        return _guide(arguments.what or "")
    if arguments.what is None:
        return _list_json() if arguments.json else _list()
    named = arguments.what.partition(":")[0] in _NAME_THEIR_OWN
    if named or arguments.what.endswith(".toml"):
        _refuse_for_one_probe(arguments)
    if not 0.0 < arguments.seconds <= LONGEST_S:
        raise ConfigError(f"probes: expected --seconds above 0, {LONGEST_S:g} at most")
    if arguments.what.endswith(".toml"):
        path = Path(arguments.what)
        job = load_job(path)
        if not job.sources:
            raise ConfigError(f"{path}: expected a [[source]] to listen to, got a job by hand")
        specs, base, system = job.sources, path.resolve().parent, shown_in(arguments.units, job)
    else:
        specs, base = (_spec(arguments),), Path.cwd()
        system = UnitSystem(arguments.units or usual_units(os.environ))
    sources = [make_source(spec, base) for spec in specs]
    known = {probe.channel.name: probe for spec in specs for probe in spec.probes}
    listening = _listen(sources, known, arguments.seconds, system, as_json=arguments.json)
    return asyncio.run(listening)


def _refuse_for_one_probe(arguments: argparse.Namespace) -> None:
    """Refuse what describes one probe where all are named already: it would change nothing."""
    of_one = {"format": "number", "scale": 1.0, "offset": 0.0}
    others = "--guide asks for it"
    if not arguments.guide:
        others = "expected that address" if arguments.what is None else ""
        others = others or f"{plain(arguments.what)} names its own"
    for option in ("format", "role", "unit", "select", "scale", "offset", "topic"):
        if getattr(arguments, option) != of_one.get(option, ""):
            raise ConfigError(f"probes: --{option} describes one probe at an address; {others}")


def _guide(what: str) -> int:
    """Open the guided screen; print where the section was written, or the section."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise ConfigError(
            "probes --guide: expected a terminal; without one: job new, or the list of probes"
        )
    from chargeassist.tui.wiring import WiringApp

    job = Path(what) if what.endswith(".toml") else None
    system = usual_units(os.environ)
    if job is not None and job.exists():
        said = toml_of(file_text(job, "a job file"), str(job)).data.get("units")
        system = UnitSystem(said) if said in tuple(UnitSystem) else system
    app = WiringApp(job, start="" if job is not None else what, system=system)
    text = app.run()
    if text:
        print(text.rstrip())
    return app.return_code or 0


def _list() -> int:
    for name in source_names():
        print(row(f"{name + ':':11} {_ABOUT.get(name, '')}".rstrip(), _LISTED))
        try:
            discover = getattr(source_class(name), "discover", None)
        except ChargeAssistError as error:
            complain(f"  {error}")
            continue
        found = discover() if discover is not None else None
        for line in ("none found",) if found == () else found or ():
            print(row(f"{'':{_LISTED}}{plain(line)}", _LISTED))
    sys.stdout.flush()
    complain("to see what arrives there: chargeassist probes --guide")
    return 0


def _list_json() -> int:
    """Print ports and adapters as one object: adapter to what it found."""
    found: dict[str, object] = {}
    for name in source_names():
        try:
            discover = getattr(source_class(name), "discover", None)
        except ChargeAssistError as error:
            complain(f"chargeassist: {name}: {error}")
            continue
        found[name] = [plain(line) for line in discover()] if discover is not None else []
    print_json(found)
    return 0


def _spec(arguments: argparse.Namespace) -> SourceSpec:
    """Make a source of one probe from an address; simulators and recordings need no probe."""
    scheme = arguments.what.partition(":")[0]
    if scheme in _NAME_THEIR_OWN:
        return SourceSpec(name=scheme, url=arguments.what)
    wanted = arguments.role or _role_for(arguments.unit)
    if wanted not in tuple(Role):
        near = suggestion(wanted, tuple(Role))
        raise ConfigError(f"--role: expected one of {', '.join(Role)}, got {plain(wanted)!r}{near}")
    role = Role(wanted)
    usual = {
        Quantity.PRESSURE: "psig",
        Quantity.TEMPERATURE: "°F",
        Quantity.CURRENT: "A",
        Quantity.VOLTAGE: "V",
        Quantity.MASS: "kg",
        Quantity.FRACTION: "%",
    }
    if role in ABSOLUTE:
        usual[Quantity.PRESSURE] = ABSOLUTE[role].partition(" ")[0]
    unit = find_unit(arguments.unit or usual.get(role.quantity, "Hz"), role.quantity)
    reference = None
    if role.quantity is Quantity.PRESSURE:
        natural = Reference.ABSOLUTE if role in ABSOLUTE else Reference.GAUGE
        reference = unit.reference or natural
    channel = Channel(
        name=role.value, role=role, unit=unit.symbol, reference=reference, source=scheme
    )
    probe = ProbeSpec(
        channel=channel,
        select=arguments.select,
        topic=arguments.topic,
        scale=arguments.scale,
        offset=arguments.offset,
    )
    return SourceSpec(name=scheme, url=arguments.what, format=arguments.format, probes=(probe,))


def _role_for(unit: str) -> Role:
    """Return the first role a unit is one of, so that a bare °F is a temperature."""
    if not unit:
        return Role.LIQUID_PRESSURE
    for role in Role:
        try:
            symbol = find_unit(unit, role.quantity).symbol
        except UnitError:
            continue
        return Role.VACUUM if symbol in {"micron", "Torr"} else role
    known = dict.fromkeys(symbol for role in Role for symbol in unit_symbols(role.quantity))
    raise ConfigError(f"--unit: expected one of {', '.join(known)}, got {plain(unit)!r}")


async def _listen(
    sources: Sequence[Source],
    known: Mapping[str, ProbeSpec],
    seconds: float,
    system: UnitSystem,
    *,
    as_json: bool,
) -> int:
    clock = LiveClock()
    write = Printer()
    printer_class = _JsonPrinter if as_json else _Printer
    printers = [printer_class(source, known, clock, system, write) for source in sources]
    tasks = [
        asyncio.ensure_future(source.run(printer, clock))
        for source, printer in zip(sources, printers, strict=True)
    ]
    write.on_failure = lambda: _cancel(tasks)
    try:
        await asyncio.wait(tasks, timeout=seconds)
    finally:
        _cancel(tasks)
        ended = await asyncio.gather(*tasks, return_exceptions=True)
    write.tell_failure()
    for result in ended:
        if isinstance(result, Exception):
            raise result
    silent = [name for printer in printers for name in printer.tell_silent()]
    return 1 if silent else 0


def _cancel(tasks: Iterable["asyncio.Task[None]"]) -> None:
    for task in tasks:
        task.cancel()


class _Printer:
    """A sink that prints what a source delivers, decoded."""

    def __init__(
        self,
        source: Source,
        known: Mapping[str, ProbeSpec],
        clock: LiveClock,
        system: UnitSystem,
        write: Printer,
    ) -> None:
        self._write = write
        self._source = source.name
        self._known = known
        self._channels: dict[str, Channel] = {c.name: c for c in source.channels}
        self._clock = clock
        self._system = system
        self._heard: set[str] = set()
        self._lost: set[str] = set()

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        """Print one sample."""
        declared = self._channels[channel]
        self._heard.add(channel)
        self._sample(declared, value, t, quality, device_time)

    def _sample(
        self,
        declared: Channel,
        value: float,
        t: float | None,
        quality: Quality,
        device_time: float | None,
    ) -> None:
        # The unit somebody named comes first: it is what the probe's own display shows.
        unit = find_unit(declared.unit, declared.quantity)
        shown = _with_unit(unit.from_si(value), unit.symbol)
        usual = display.reading(value, declared.quantity, declared.reference, self._system)
        same = usual.partition(" ")[2].replace(" gauge", "g").replace(" absolute", "a")
        shown += f" ({usual})" if same != unit.symbol else ""
        number, plain_unit = self._sent(declared, value)
        sent = "" if plain_unit is not None else f"   {_with_unit(number, None)} as sent"
        notes = "" if quality is Quality.GOOD else f"  ({quality.value})"
        if device_time is not None:
            notes += f"  device time {device_time:g}"
        self._line(f"{declared.role.label:26} {shown}{sent}{notes}", t)

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        """Print what could not be read, and why."""
        times = f" ({count} times)" if count > 1 else ""
        self._trouble("bad_input", f"{plain(reason, 200)}{times}: {plain(raw)}")

    def dropped(self, count: int) -> None:
        """Print that samples were dropped."""
        self._trouble("dropped", f"{count} samples were dropped")

    def lost(self, reason: str, *, part: str = "") -> None:
        """Print that the source or a part of it is gone."""
        if part not in self._lost:
            self._lost.add(part)
            self._trouble("lost", f"{part} lost: {plain(reason, 200)}".lstrip())

    def back(self, *, part: str = "") -> None:
        """Print that the source or a part of it delivers again."""
        if part in self._lost:
            self._lost.remove(part)
            self._trouble("back", f"{part} back".lstrip())

    def event(self, event: InputEvent) -> None:
        """Pass over recorded events that are no readings: a wiring check does not look for them."""

    def tell_silent(self) -> tuple[str, ...]:
        """Say of each channel that delivered nothing that it did; return their names."""
        silent = tuple(name for name in self._channels if name not in self._heard)
        for name in silent:
            self._silent(self._channels[name])
        return silent

    def _silent(self, channel: Channel) -> None:
        complain(f"{self._source}: nothing heard from {channel.role.label} ({channel.name})")

    def _sent(self, channel: Channel, value: float) -> tuple[float, str | None]:
        """Return the number a probe sent, and its unit unless a factor stands between the two."""
        unit = find_unit(channel.unit, channel.quantity)
        number = unit.from_si(value)
        probe = self._known.get(channel.name)
        if probe is None or (probe.scale, probe.offset) == (1.0, 0.0):
            return number, unit.symbol
        return (number - probe.offset) / probe.scale, None

    def _trouble(self, kind: str, text: str) -> None:
        self._line(f"! {text}", None)

    def _line(self, text: str, t: float | None) -> None:
        begin = f"{self._stamp(t):8.2f}  {plain(self._source, 20)}  "
        self._write(row(f"{begin}{text}", len(begin)))

    def _stamp(self, t: float | None) -> float:
        return self._clock.now() if t is None else t


class _JsonPrinter(_Printer):
    """The same as one JSON object a line."""

    def _sample(
        self,
        declared: Channel,
        value: float,
        t: float | None,
        quality: Quality,
        device_time: float | None,
    ) -> None:
        number, unit = self._sent(declared, value)
        self._json(
            {
                "kind": "reading",
                "t_s": round(self._stamp(t), 3),
                "source": self._source,
                "channel": declared.name,
                "role": declared.role,
                "quantity": declared.quantity,
                "reference": declared.reference,
                "value_si": value,
                "value_sent": number,
                "unit_sent": unit,
                "quality": quality,
                "device_time_s": device_time,
            }
        )

    def _silent(self, channel: Channel) -> None:
        super()._silent(channel)
        self._json(
            {
                "kind": "silent",
                "t_s": round(self._stamp(None), 3),
                "source": self._source,
                "channel": channel.name,
                "role": channel.role,
            }
        )

    def _trouble(self, kind: str, text: str) -> None:
        stamp = round(self._stamp(None), 3)
        self._json({"kind": kind, "t_s": stamp, "source": self._source, "what": text})

    def _json(self, answer: dict[str, object]) -> None:
        self._write(json_text(answer, one_line=True))


def _with_unit(number: float, unit: str | None) -> str:
    return f"{number:.6g} {unit or ''}".rstrip()
