"""The sources and probes of a job file."""

import math
import re
from collections.abc import Sequence

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.model.text import plain, without_credentials
from chargeassist.model.units import Quantity, Reference, Unit, find_unit, split_number
from chargeassist.session.job.toml_table import TomlTable, kind_of

ABSOLUTE = {Role.VACUUM: "micron or Pa", Role.BAROMETER: "hPa or inHg"}
"""Absolute by nature: of a vacuum the atmosphere's changes alone are a hundred times what is
measured, and of the atmosphere nothing would be left. With the usual units."""

FORMATS = ("number", "csv", "keyvalue", "json", "senml")


def read_sources(top: TomlTable) -> tuple[SourceSpec, ...]:
    """Return the ``[[source]]`` tables of a job file with their ``[[source.probe]]`` tables.

    Empty only where the file says ``by_hand = true``: no probe measures, all is typed.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    sources: list[SourceSpec] = []
    names: set[str] = set()
    channels: set[str] = set()
    roles: set[Role] = set()
    for table in top.tables("source"):
        url = table.text("url")
        if not re.match(r"[a-z][a-z0-9+.-]*:", url):
            raise table.error(
                "url",
                'expected an address such as "serial:/dev/ttyUSB0"',
                repr(without_credentials(url)),
            )
        if _holds_password(url):
            # The job goes into the record, and the record goes to other people.
            raise table.error(
                "url",
                "expected no password; name a variable that holds it: "
                '"...?password_env=CHARGEASSIST_BROKER"',
                "one (not shown)",
            )
        name = plain(table.text("name", default=f"{url.partition(':')[0]} {len(sources) + 1}"), 40)
        if name in names:
            raise table.error("name", "expected a name no other source has", repr(name))
        names.add(name)
        options = table.table("options", optional=True)
        probes = tuple(_probe(probe, name, channels, roles) for probe in table.tables("probe"))
        sources.append(
            SourceSpec(
                name=name,
                url=url,
                format=table.choice("format", FORMATS, default="number"),
                options={key: _option(options, key) for key in options.data},
                probes=probes,
            )
        )
        table.finish()
    by_hand = top.flag("by_hand")
    if not sources and not by_hand:
        raise top.error(
            "source",
            "expected at least one [[source]], or by_hand = true where every reading is typed",
            "none",
        )
    return tuple(sources)


_OPTIONS = re.compile(r"[a-z_]+=[^&]*(?:&[a-z_]+=[^&]*)*")
_NO_USER = re.compile(r"/*(?:[^:/]*|\[[^]/]*\])(?::\d{1,5})?(?:/[^:]*)?")


def _holds_password(url: str) -> bool:
    rest = url.partition(":")[2]
    address, _, query = rest.partition("?")
    # An "@" in an option's value is no mark of a user. A password may hold a "?" itself: what
    # follows it then are hardly options, and what stands before it ends in no port.
    if _OPTIONS.fullmatch(query) and ("@" in address or _NO_USER.fullmatch(address)):
        rest = address
    before, at, _ = rest.rpartition("@")
    return bool(at) and ":" in before


def _option(options: TomlTable, key: str) -> str:
    value = options.data[key]
    if not isinstance(value, str):
        raise options.error(
            plain(key, 40), "expected a text in quotes", f"a value ({kind_of(value)}, not shown)"
        )
    return options.text(key)


def read_probes(tables: Sequence[TomlTable], source: str) -> tuple[ProbeSpec, ...]:
    """Return the probes that `tables` describe, all of the one `source`.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    channels: set[str] = set()
    roles: set[Role] = set()
    return tuple(_probe(table, source, channels, roles) for table in tables)


def _probe(table: TomlTable, source: str, channels: set[str], roles: set[Role]) -> ProbeSpec:
    role = Role(table.choice("role", tuple(Role)))
    if role in roles:
        raise table.error("role", "expected a role no other probe has", repr(role.value))
    roles.add(role)
    name = table.text("name", default=role.value)
    if not re.fullmatch(r"[a-z0-9_]{1,40}", name):
        raise table.error("name", "expected 1 to 40 of a-z 0-9 _", repr(plain(name)))
    if name in channels:
        raise table.error("name", "expected a name no other probe has", repr(name))
    channels.add(name)
    unit, reference = _probe_unit(table, role)
    resolution = table.written("resolution")
    channel = Channel(
        name=name,
        role=role,
        unit=unit.symbol,
        reference=reference,
        accuracy=read_accuracy(table, unit),
        low_si=_in_unit(table, "low", unit, reference),
        high_si=_in_unit(table, "high", unit, reference),
        resolution_si=None if resolution is None else _size(table, "resolution", resolution, unit),
        max_age_s=table.quantity_between("max_age", Quantity.DURATION, 0.5, 600.0, 10.0),
        source=source,
        serial=plain(table.text("serial", default="")),
        calibrated=plain(table.text("calibrated", default="")),
    )
    bounds = channel.low_si, channel.high_si
    if bounds[0] is not None and bounds[1] is not None and bounds[0] >= bounds[1]:
        raise table.error("low", "expected less than high", repr(plain(table.text("low"))))
    scale = table.number("scale", 1.0)
    if scale == 0.0:
        raise table.error("scale", "expected what the number is multiplied by", "0")
    spec = ProbeSpec(
        channel=channel,
        select=table.text("select", default=""),
        topic=table.text("topic", default=""),
        scale=scale,
        offset=table.number("offset", 0.0),
    )
    table.finish()
    return spec


def _probe_unit(table: TomlTable, role: Role) -> tuple[Unit, Reference | None]:
    text = table.text("unit")
    try:
        unit = find_unit(text, role.quantity)
    except UnitError as error:
        raise ConfigError(f"{table.where('unit')}: {error}") from error
    said = table.choice("reference", tuple(Reference), default="")
    if role.quantity is not Quantity.PRESSURE:
        if said:
            raise table.error("reference", "expected none for this role", repr(said))
        return unit, None
    reference = Reference(said) if said else unit.reference
    if role in ABSOLUTE:
        reference = reference or Reference.ABSOLUTE
        if reference is not Reference.ABSOLUTE:
            raise table.error(
                "unit", f"expected an absolute one such as {ABSOLUTE[role]}", repr(text)
            )
    if reference is None:
        raise table.error(
            "unit",
            f"expected gauge or absolute: {unit.symbol}g or {unit.symbol}a, or reference = ...",
            repr(text),
        )
    if unit.reference is not None and unit.reference is not reference:
        raise table.error("reference", f"expected {unit.reference.value} as the unit says", said)
    return unit, reference


def read_accuracy(table: TomlTable, unit: Unit, key: str = "accuracy") -> Accuracy | None:
    """Read "2 psi", "0.5 K", "0.5 % of reading", "0.5 % of 800 psi", or a sum with " + ".

    Parameters
    ----------
    table : TomlTable
    unit : Unit
        Of a bare number.
    key : str

    Returns
    -------
    Accuracy or None
        None where the key is missing.

    Raises
    ------
    ConfigError
        If it is no such text, or zero.
    """
    text = table.written(key)
    if text is None:
        return None
    absolute = relative = 0.0
    expected = 'expected limits such as "2 psi", "0.5 % of reading" or "0.5 % of 800 psi"'
    for part in text.replace("±", "").split(" + "):
        match = re.fullmatch(r"\s*([\d.]+)\s*%\s*of\s+(.+?)\s*", part, re.ASCII)
        try:
            if match is None and "%" in part and unit.quantity is not Quantity.FRACTION:
                raise table.error(key, f"{expected}: what a share is of", repr(plain(part)))
            if match is None:
                absolute += _size(table, key, part, unit)
            elif match.group(2) == "reading":
                if key == "thermometer_accuracy":  # 1 % of 35 °C is 0.35 K, of 308 K it is 3 K
                    wanted = "expected a limit such as 0.5 K: which scale it shows is not said"
                    raise table.error(key, wanted, repr(plain(part)))
                relative += float(match.group(1)) / 100.0
            else:
                span = _size(table, key, match.group(2), unit)
                absolute += _finite(table, key, float(match.group(1)) / 100.0 * span, part)
        except ValueError as error:
            raise table.error(key, expected, repr(plain(part))) from error
    if absolute + relative <= 0.0:
        raise table.error(key, "expected limits above zero", repr(plain(text)))
    if relative > 1.0:
        raise table.error(key, "expected a share of 100 % at most", repr(plain(text, 40)))
    return Accuracy(absolute_si=absolute, relative=relative)


def _size(table: TomlTable, key: str, text: str, unit: Unit) -> float:
    """Return a size of the probe's quantity in SI: a difference, so offsets do not count.

    Raises
    ------
    ConfigError
        If it is no number with a unit of the quantity, or below zero.
    """
    try:
        value, name = split_number(text)
        quantity = unit.quantity
        if quantity is Quantity.TEMPERATURE:
            quantity = Quantity.TEMPERATURE_DIFFERENCE
        said = find_unit(name, quantity) if name else unit
    except UnitError as error:
        raise ConfigError(f"{table.where(key)}: {error}") from error
    if value < 0.0:
        raise table.error(key, "expected a size from 0", repr(plain(text, 40)))
    return _finite(table, key, value * abs(said.scale), text)  # "inHg vac" counts downwards


def _in_unit(table: TomlTable, key: str, unit: Unit, reference: Reference | None) -> float | None:
    """Return a value of the probe's quantity in SI; without a unit, in the probe's own."""
    text = table.written(key)
    if text is None:
        return None
    try:
        value, name = split_number(text)
        said = find_unit(name, unit.quantity) if name else unit
    except UnitError as error:
        raise ConfigError(f"{table.where(key)}: {error}") from error
    if said.reference is not None and said.reference is not reference:
        raise table.error(key, f"expected {reference} as the probe reads", repr(plain(text)))
    return _finite(table, key, said.to_si(value), text)


def _finite(table: TomlTable, key: str, value_si: float, text: str) -> float:
    if not math.isfinite(value_si):
        raise table.error(key, "expected a size that a probe can have", repr(plain(text, 40)))
    return value_si
