"""Read a job file: TOML, every quantity a text with its unit, every error naming file and key.

Example of the smallest job that can be run::

    name = "Millrace Lane Library, reading room"
    refrigerant = "R-32"

    [site]
    altitude = "210 m"

    [target]
    subcooling = "5.0 K"
    tolerance = "0.8 K"
    source = "charging label inside the service panel"

    [charge]
    plate = "2.30 kg"
    step_cap = "110 g"

    [[source]]
    url = "serial:/dev/ttyUSB0?baud=115200"
    format = "csv"

    [[source.probe]]
    role = "liquid_pressure"
    select = "1"
    unit = "psig"
    accuracy = "2 psi"
"""

import re
import tomllib
from pathlib import Path

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.job import (
    ChargeLimits,
    Equipment,
    Guards,
    Hold,
    Job,
    ProbeSpec,
    Processing,
    Site,
    SourceSpec,
    Target,
)
from chargeassist.model.text import plain
from chargeassist.model.units import (
    Quantity,
    Reference,
    Unit,
    find_unit,
    split_number,
)
from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs
from chargeassist.physics.saturation import refrigerant
from chargeassist.session.toml_table import TomlTable

LARGEST_FILE_BYTES = 256 * 1024
FORMATS = ("number", "csv", "keyvalue", "json", "senml")


def load_job(path: Path) -> Job:
    """Return the job described by the TOML file at `path`.

    Raises
    ------
    ConfigError
        If the file cannot be read, is not TOML, or says something that cannot be; the text names
        the file, the key, what was expected and what came.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise ConfigError(
                f"{path}: expected a job file of at most {LARGEST_FILE_BYTES // 1024} KiB, "
                f"got {size // 1024} KiB"
            )
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise ConfigError(f"{path}: cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise ConfigError(f"{path}: expected UTF-8 text, got byte {error.start} wrong") from error
    return parse_job(text, str(path))


def parse_job(text: str, where: str) -> Job:
    """Return the job described by TOML `text`; `where` names it in errors.

    Raises
    ------
    ConfigError
        As `load_job`.
    """
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ConfigError(f"{where}: expected TOML: {error}") from error
    top = TomlTable(where, "", data)
    job = Job(
        name=plain(top.text("name"), 80),
        refrigerant=_refrigerant(top),
        units=top.choice("units", tuple(UnitSystem), default="si"),
        equipment=_equipment(top.table("equipment", optional=True)),
        site=_site(top.table("site")),
        target=_target(top.table("target")),
        charge=_charge(top.table("charge")),
        hold=_hold(top.table("frequency", optional=True)),
        guards=_guards(top.table("limits", optional=True)),
        processing=_processing(top.table("processing", optional=True)),
        sources=_sources(top),
    )
    top.finish()
    return job


def _refrigerant(top: TomlTable) -> str:
    name = top.text("refrigerant")
    try:
        return refrigerant(name).name
    except ConfigError as error:
        raise ConfigError(f"{top.where('refrigerant')}: {error}") from error


def _equipment(table: TomlTable) -> Equipment:
    equipment = Equipment(
        make=plain(table.text("make", default="")),
        model=plain(table.text("model", default="")),
        serial=plain(table.text("serial", default="")),
    )
    table.finish()
    return equipment


def _site(table: TomlTable) -> Site:
    altitude_m = table.quantity("altitude", Quantity.LENGTH, optional=True)
    barometer = table.pressure("barometer", Reference.ABSOLUTE, optional=True)
    if (altitude_m is None) == (barometer is None):
        raise table.error(
            "", 'expected either altitude = "210 m" or barometer = "98.8 kPa"', "both or neither"
        )
    if altitude_m is not None:
        try:
            pressure_at_altitude_pa_abs(altitude_m)
        except ConfigError as error:
            raise ConfigError(f"{table.where('altitude')}: {error}") from error
    elif barometer is not None and not 40_000.0 <= barometer <= 115_000.0:
        raise table.error(
            "barometer",
            "expected the station's absolute pressure, 40 to 115 kPa",
            f"{barometer / 1000:.1f} kPa",
        )
    table.finish()
    return Site(altitude_m=altitude_m, barometer_pa_abs=barometer)


def _target(table: TomlTable) -> Target:
    source = plain(table.text("source"))
    if not source.strip():
        raise table.error("source", "expected where the target was read", "nothing")
    difference = Quantity.TEMPERATURE_DIFFERENCE
    plain_target = Target(subcooling_k=1.0, tolerance_k=1.0, source=source)
    low = table.quantity("superheat_low", difference, optional=True)
    high = table.quantity("superheat_high", difference, optional=True)
    target = Target(
        subcooling_k=table.quantity_between("subcooling", difference, 0.2, 40.0),
        tolerance_k=table.quantity_between("tolerance", difference, 0.05, 10.0),
        source=source,
        superheat_low_k=plain_target.superheat_low_k if low is None else low,
        superheat_high_k=plain_target.superheat_high_k if high is None else high,
        superheat_source=plain(
            table.text(
                "superheat_source",
                default=plain_target.superheat_source
                if low is None and high is None
                else "job file",
            )
        ),
    )
    if target.superheat_low_k >= target.superheat_high_k:
        raise table.error("superheat_low", "expected less than superheat_high", "no less")
    table.finish()
    return target


def _charge(table: TomlTable) -> ChargeLimits:
    mass = Quantity.MASS
    charge = ChargeLimits(
        plate_kg=table.quantity_between("plate", mass, 0.05, 500.0),
        step_cap_kg=table.quantity_between("step_cap", mass, 0.001, 50.0),
        weighed_in_kg=table.quantity("weighed_in", mass, optional=True) or 0.0,
        allowance_kg=table.quantity("line_set_allowance", mass, optional=True) or 0.0,
        scale_resolution_kg=table.quantity("scale_resolution", mass, optional=True) or 0.005,
    )
    if charge.weighed_in_kg < 0.0:
        raise table.error("weighed_in", "expected zero or more", f"{charge.weighed_in_kg} kg")
    table.finish()
    return charge


def _hold(table: TomlTable) -> Hold:
    required = table.quantity("required", Quantity.FREQUENCY, optional=True)
    if required is not None and not 5.0 <= required <= 500.0:
        raise table.error("required", "expected 5 to 500 Hz", f"{required} Hz")
    tolerance = table.quantity("tolerance", Quantity.FREQUENCY, optional=True)
    hold = Hold(
        required_hz=required,
        tolerance_hz=1.0 if tolerance is None else tolerance,
        lasts_s=table.quantity("hold_lasts", Quantity.DURATION, optional=True),
    )
    table.finish()
    return hold


def _guards(table: TomlTable) -> Guards:
    gauge = Reference.GAUGE
    guards = Guards(
        liquid_pressure_high_pa_gauge=table.pressure("liquid_pressure_high", gauge, optional=True),
        suction_pressure_low_pa_gauge=table.pressure("suction_pressure_low", gauge, optional=True),
        discharge_temp_high_k=table.quantity(
            "discharge_temperature_high", Quantity.TEMPERATURE, optional=True
        ),
        current_high_a=table.quantity("current_high", Quantity.CURRENT, optional=True),
    )
    table.finish()
    return guards


def _processing(table: TomlTable) -> Processing:
    usual = Processing()
    period = table.quantity("period", Quantity.DURATION, optional=True)
    wait = table.quantity("minimum_wait", Quantity.DURATION, optional=True)
    band = table.quantity("settled_band", Quantity.TEMPERATURE_DIFFERENCE, optional=True)
    if period is not None and not 0.2 <= period <= 10.0:
        raise table.error("period", "expected 0.2 s to 10 s", f"{period} s")
    if wait is not None and not 0.0 <= wait <= 3600.0:
        raise table.error("minimum_wait", "expected 0 s to 1 h", f"{wait} s")
    if band is not None and not 0.1 <= band <= 2.0:
        raise table.error("settled_band", "expected 0.1 K to 2 K", f"{band} K")
    table.finish()
    return Processing(
        period_s=usual.period_s if period is None else period,
        minimum_wait_s=usual.minimum_wait_s if wait is None else wait,
        settled_band_k=usual.settled_band_k if band is None else band,
    )


def _sources(top: TomlTable) -> tuple[SourceSpec, ...]:
    sources: list[SourceSpec] = []
    names: set[str] = set()
    channels: set[str] = set()
    roles: set[Role] = set()
    for table in top.tables("source"):
        url = table.text("url")
        if not re.match(r"[a-z][a-z0-9+.-]*:", url):
            raise table.error(
                "url", 'expected an address such as "serial:/dev/ttyUSB0"', repr(plain(url))
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
                options={key: options.text(key) for key in options.data},
                probes=probes,
            )
        )
        table.finish()
    if not sources:
        raise top.error("source", "expected at least one [[source]]", "none")
    return tuple(sources)


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
    resolution = table.text("resolution", default="")
    low, high = table.text("low", default=""), table.text("high", default="")
    channel = Channel(
        name=name,
        role=role,
        unit=unit.symbol,
        reference=reference,
        accuracy=_accuracy(table, unit),
        low_si=_in_unit(table, "low", low, unit) if low else None,
        high_si=_in_unit(table, "high", high, unit) if high else None,
        resolution_si=_size(table, "resolution", resolution, unit) if resolution else None,
        max_age_s=table.quantity("max_age", Quantity.DURATION, optional=True) or 10.0,
        source=source,
        serial=plain(table.text("serial", default="")),
        calibrated=plain(table.text("calibrated", default="")),
    )
    spec = ProbeSpec(
        channel=channel,
        select=table.text("select", default=""),
        topic=table.text("topic", default=""),
        scale=table.number("scale", 1.0),
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
    if reference is None:
        raise table.error(
            "unit",
            f"expected gauge or absolute: {unit.symbol}g or {unit.symbol}a, or reference = ...",
            repr(text),
        )
    if unit.reference is not None and unit.reference is not reference:
        raise table.error("reference", f"expected {unit.reference.value} as the unit says", said)
    return unit, reference


def _accuracy(table: TomlTable, unit: Unit) -> Accuracy | None:
    """Read "2 psi", "0.5 K", "0.5 % of reading", "0.5 % of 800 psi", or a sum with " + "."""
    text = table.text("accuracy", default="")
    if not text:
        return None
    absolute = relative = 0.0
    for part in text.replace("±", "").split(" + "):
        match = re.fullmatch(r"\s*([\d.]+)\s*%\s*of\s+(.+?)\s*", part)
        try:
            if match is None:
                absolute += _size(table, "accuracy", part, unit)
            elif match.group(2) == "reading":
                relative += float(match.group(1)) / 100.0
            else:
                span = _size(table, "accuracy", match.group(2), unit)
                absolute += float(match.group(1)) / 100.0 * span
        except ValueError as error:
            raise table.error(
                "accuracy",
                'expected limits such as "2 psi", "0.5 % of reading" or "0.5 % of 800 psi"',
                repr(plain(part)),
            ) from error
    if absolute < 0.0 or relative < 0.0 or absolute + relative <= 0.0:
        raise table.error("accuracy", "expected limits above zero", repr(plain(text)))
    return Accuracy(absolute_si=absolute, relative=relative)


def _size(table: TomlTable, key: str, text: str, unit: Unit) -> float:
    """Return a size of the probe's quantity in SI: a difference, so offsets do not count."""
    try:
        value, name = split_number(text)
        quantity = unit.quantity
        if quantity is Quantity.TEMPERATURE:
            quantity = Quantity.TEMPERATURE_DIFFERENCE
        return abs(value * find_unit(name, quantity).scale) if name else abs(value * unit.scale)
    except UnitError as error:
        raise ConfigError(f"{table.where(key)}: {error}") from error


def _in_unit(table: TomlTable, key: str, text: str, unit: Unit) -> float:
    """Return a value of the probe's quantity in SI; without a unit, in the probe's own."""
    try:
        value, name = split_number(text)
        return (find_unit(name, unit.quantity) if name else unit).to_si(value)
    except UnitError as error:
        raise ConfigError(f"{table.where(key)}: {error}") from error
