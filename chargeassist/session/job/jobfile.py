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

from dataclasses import replace
from pathlib import Path

from chargeassist.guide.stages.line_charge import line_charge
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.errors import ConfigError
from chargeassist.model.installation import Place
from chargeassist.model.job import (
    ChargeLimits,
    Equipment,
    Guards,
    Hold,
    Job,
    Processing,
    Site,
    SourceSpec,
    Target,
)
from chargeassist.model.limits import LimitKey, Method
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Reference
from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs
from chargeassist.physics.saturation import refrigerant
from chargeassist.session.job.beginning import with_beginning
from chargeassist.session.job.installation import (
    read_crew,
    read_cylinder,
    read_line_set,
    read_plate,
)
from chargeassist.session.job.limits import Applied, JobLimits, read_limits, with_applied
from chargeassist.session.job.performance import read_performance
from chargeassist.session.job.probes import read_sources
from chargeassist.session.job.stages import read_stage_plan
from chargeassist.session.job.target import read_method, read_target
from chargeassist.session.job.toml_table import TomlTable, file_text, toml_of
from chargeassist.session.record.job_bounds import beyond_bounds

FINAL_HOLD_S = 300.0
"""How long the final reading stands where neither job nor profile says [s]: common practice, no
published source. Shown as a default of the program."""

_HIGHEST_PA, _LOWEST_PA = (2e5, 2e7), (-1e5, 5e6)
_HOTTEST_K, _AMPS_A = (313.15, 473.15), (0.1, 2000.0)
"""Beyond these a limit of the plate was written in another unit, or is passed from the start."""


def load_job(path: Path) -> Job:
    """Return the job described by the TOML file at `path`.

    Raises
    ------
    ConfigError
        If the file cannot be read, is not TOML, or says something that cannot be; the text names
        the file, the key, what was expected and what came.
    """
    return parse_job(file_text(path, "a job file"), str(path))


def parse_job(text: str, where: str) -> Job:
    """Return the job described by TOML `text`; `where` names it in errors.

    Raises
    ------
    ConfigError
        As `load_job`.
    """
    return read_job(toml_of(text, where))


def read_job(top: TomlTable, sources: tuple[SourceSpec, ...] | None = None) -> Job:
    """Return the job that the table `top` describes.

    Parameters
    ----------
    top : TomlTable
    sources : tuple of SourceSpec, optional
        Where its readings come from; the table may then have no ``[[source]]``.

    Raises
    ------
    ConfigError
        As `load_job`.
    """
    name = plain(top.text("name"), 80)
    if not name.strip():
        raise top.error("name", "expected what is charged, in words", "nothing")
    method = read_method(top)
    limits = read_limits(top, method)
    plate = read_plate(top.table("plate", optional=True))
    charge = top.table("charge")
    frequency = top.table("frequency", optional=True)
    timing = top.table("processing", optional=True)
    hold, processing = _hold(frequency, limits), _processing(timing, limits)
    target = read_target(top.table("target"), method, limits)
    applied = _of_work(hold, processing, frequency, timing) | _of_target(target, method, top)
    job = Job(
        name=name,
        refrigerant=_refrigerant(top),
        units=top.choice("units", tuple(UnitSystem), default=""),
        equipment=_equipment(top.table("equipment", optional=True)),
        site=_site(top.table("site")),
        target=target,
        charge=_charge(charge, limits),
        hold=hold,
        guards=_guards(top.table("limits", optional=True)),
        processing=processing,
        sources=read_sources(top) if sources is None else sources,
        profile=limits.profile,
        role=limits.role,
        limits=with_applied(limits, applied),
        plate=plate,
        line_set=read_line_set(top.table("line_set", optional=True)),
        cylinder=read_cylinder(top.table("cylinder", optional=True)),
        crew=read_crew(top.table("crew", optional=True)),
        stages=read_stage_plan(top, plate, limits),
        performance=read_performance(top.table("performance", optional=True), limits),
    )
    job = with_beginning(job, top)
    top.finish()
    if charge.get("line_set_allowance") is None:
        job = _with_line_set(job)
    beyond = beyond_bounds(job)
    if beyond:
        raise ConfigError(f"{top.file}: {beyond} (in SI units)")
    return job


def _of_work(
    hold: Hold, processing: Processing, frequency: TomlTable, timing: TomlTable
) -> Applied:
    """Return the limits of holding and settling that the job goes by."""
    applied: Applied = {
        LimitKey.WAIT_AFTER_CHANGE: (
            processing.minimum_wait_s,
            f"{processing.minimum_wait_s:g} s",
            timing.get("minimum_wait") is not None,
        ),
        LimitKey.SETTLED_BAND: (
            processing.settled_band_k,
            f"{processing.settled_band_k:g} K",
            timing.get("settled_band") is not None,
        ),
        LimitKey.FINAL_HOLD: (FINAL_HOLD_S, f"{FINAL_HOLD_S / 60.0:g} min", False),
    }
    if hold.required_hz is not None:
        applied[LimitKey.FREQUENCY_TOLERANCE] = (
            hold.tolerance_hz,
            f"{hold.tolerance_hz:g} Hz",
            frequency.get("tolerance") is not None,
        )
        if hold.lasts_s is not None:
            applied[LimitKey.HOLD_LASTS] = (
                hold.lasts_s,
                f"{hold.lasts_s / 60.0:g} min",
                frequency.get("hold_lasts") is not None,
            )
    return applied


def _of_target(target: Target, method: Method, top: TomlTable) -> Applied:
    """Return the limits that stand beside the target in the job file."""
    applied: Applied = {}
    of_target = {LimitKey.APPROACH_TOLERANCE: target.approach_tolerance_k}
    if method is Method.SUPERHEAT:
        of_target[LimitKey.SUBCOOLING_HIGH] = target.subcooling_high_k
    for key, value_k in of_target.items():
        if top.table("target").get(key.value) is not None:
            written = plain(top.table("target").text(key.value), 60)
            applied[key] = (value_k, written, True)
    return applied


def _with_line_set(job: Job) -> Job:
    """Return `job` with the allowance that the maker's adder gives for its line set."""
    line = line_charge(job)
    if line.kg is None:
        return job
    charge = replace(job.charge, allowance_kg=line.kg, allowance_source=line.source)
    return replace(job, charge=charge)


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
    altitude_m = table.quantity("altitude", Quantity.LENGTH)
    barometer_pa = table.pressure("barometer", Reference.ABSOLUTE)
    if (altitude_m is None) == (barometer_pa is None):
        raise table.error(
            "",
            'expected either altitude = "210 m" or barometer = "98.8 kPa"',
            "neither" if altitude_m is None else "both",
        )
    if altitude_m is not None:
        try:
            pressure_at_altitude_pa_abs(altitude_m)
        except ConfigError as error:
            raise ConfigError(f"{table.where('altitude')}: {error}") from error
    elif barometer_pa is not None and not 40_000.0 <= barometer_pa <= 115_000.0:
        raise table.error(
            "barometer",
            "expected the station's absolute pressure, 40 to 115 kPa",
            f"{barometer_pa / 1000:.1f} kPa",
        )
    place = table.choice("place", tuple(Place), default="")
    outdoor_k = table.optional_between(
        "outdoor_air", Quantity.TEMPERATURE, *Entry.OUTDOOR_AIR.span_si
    )
    table.finish()
    return Site(
        altitude_m=altitude_m,
        barometer_pa_abs=barometer_pa,
        place=Place(place) if place else None,
        outdoor_air_k=outdoor_k,
    )


def _charge(table: TomlTable, limits: JobLimits) -> ChargeLimits:
    mass = Quantity.MASS
    limit_kg = table.optional_between("limit", mass, 0.05, 1000.0)
    limit_source = plain(table.text("limit_source", default=""))
    if limit_kg is not None and not limit_source.strip():
        raise table.error("limit_source", "expected where the limit was read", "nothing")
    charge = ChargeLimits(
        plate_kg=table.quantity_between("plate", mass, 0.05, 500.0),
        step_cap_kg=table.quantity_between(
            "step_cap", mass, 0.001, 50.0, limits.value(LimitKey.STEP_CAP)
        ),
        weighed_in_kg=table.quantity_between("weighed_in", mass, 0.0, 1000.0, 0.0),
        allowance_kg=table.quantity_between("line_set_allowance", mass, 0.0, 500.0, 0.0),
        scale_resolution_kg=table.quantity_between("scale_resolution", mass, 1e-4, 1.0, 0.005),
        limit_kg=limit_kg,
        limit_source=limit_source,
    )
    if charge.scale_resolution_kg > charge.step_cap_kg:
        raise table.error(
            "scale_resolution",
            "expected no more than step_cap",
            f"{charge.scale_resolution_kg:g} kg against {charge.step_cap_kg:g} kg",
        )
    table.finish()
    return charge


def _hold(table: TomlTable, limits: JobLimits) -> Hold:
    lasts_s = table.optional_between("hold_lasts", Quantity.DURATION, 10.0, 86_400.0)
    hold = Hold(
        required_hz=table.optional_between("required", Quantity.FREQUENCY, 5.0, 500.0),
        tolerance_hz=table.quantity_between(
            "tolerance",
            Quantity.FREQUENCY,
            0.01,
            50.0,
            limits.value(LimitKey.FREQUENCY_TOLERANCE, 1.0),
        ),
        lasts_s=limits.value(LimitKey.HOLD_LASTS) if lasts_s is None else lasts_s,
    )
    table.finish()
    given = next(iter(table.data), "")
    if hold.required_hz is None and given:  # a unit of fixed speed has no such table
        raise table.error("required", f"expected the frequency of the test beside {given}", "none")
    return hold


def _guards(table: TomlTable) -> Guards:
    gauge = Reference.GAUGE
    high_pa = table.pressure_between("liquid_pressure_high", gauge, *_HIGHEST_PA)
    low_pa = table.pressure_between("suction_pressure_low", gauge, *_LOWEST_PA)
    if high_pa is not None and low_pa is not None and low_pa >= high_pa:
        raise table.error(
            "suction_pressure_low",
            f"expected less than liquid_pressure_high, {high_pa / 1e6:g} MPa(g)",
            f"{low_pa / 1e6:g} MPa(g)",
        )
    guards = Guards(
        liquid_pressure_high_pa_gauge=high_pa,
        suction_pressure_low_pa_gauge=low_pa,
        discharge_temp_high_k=table.optional_between(
            "discharge_temperature_high", Quantity.TEMPERATURE, *_HOTTEST_K
        ),
        current_high_a=table.optional_between("current_high", Quantity.CURRENT, *_AMPS_A),
        source=plain(table.text("source", default="")),
    )
    table.finish()
    return guards


def _processing(table: TomlTable, limits: JobLimits) -> Processing:
    usual = Processing()
    duration, difference = Quantity.DURATION, Quantity.TEMPERATURE_DIFFERENCE
    processing = Processing(
        period_s=table.quantity_between("period", duration, 0.2, 10.0, usual.period_s),
        minimum_wait_s=table.quantity_between(
            "minimum_wait",
            duration,
            0.0,
            3600.0,
            limits.value(LimitKey.WAIT_AFTER_CHANGE, usual.minimum_wait_s),
        ),
        settled_band_k=table.quantity_between(
            "settled_band", difference, 0.1, 2.0, limits.value(LimitKey.SETTLED_BAND)
        ),
    )
    table.finish()
    return processing
