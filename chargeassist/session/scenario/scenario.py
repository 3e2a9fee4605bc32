"""Scenarios: a unit with its charge, its weather, its faults and its probes, in one TOML file.

Everything in the shipped ones is invented. The smallest file says what is charged and how::

    title = "Short of refrigerant"
    about = "What the instructor tells: what is wrong, and what to look for."
    expect = "stop"             # what the advice ends in; see `scenario.expect`
    finds = []                  # faults that must stand at the end
    expect_note = ""            # where the advice does not find what is wrong, say so here
    lasts = "40 min"            # it ends then at the latest
    seed = 7                    # of gusts and noise
    technician = "pilot"        # does what the advice says; "script" does [[script]] only:
                                # the look at filter and panels has to stand there too
    job = "library"             # a shipped job, a job file beside this one ("job.toml"),
                                # or a table [job] as a job file, without its [[source]]
    weighed_in = "1.90 kg"      # what the technician takes to be in; the job's when left out

    [plant]                     # every key with its default may be left out
    size = "10.6 kW"            # rated cooling; "3 ton" will do
    charge = "1.90 kg"          # on arrival; the one key that must be there
    refrigerant = "R-32"        # those of the job when left out, as are plate and frequency
    plate = "2.30 kg"
    frequency = "72 Hz"
    metering = "thermostatic"   # electronic, orifice
    start_frequency = "30 Hz"   # it ran so long at this before the start:
    ran_before = "15 min"
    charge_mode_at = "30 s"     # someone lets it go to the required frequency
    load_frequency = "40 Hz"    # where it goes by itself when the job's hold_lasts is over
    ramp = "1 Hz"               # per second
    cylinder = "5 kg"

    [weather]
    outdoor = "24 °C"
    gusts = "0.2 K"             # standard deviation
    return_air = "24 °C"
    return_wet_bulb = "17.2 °C"

    [probes]                    # see `scenario.probes`
    [[fault]]                   # see `scenario.faults`
    [[script]]                  # see `scenario.script`

A scenario of a stage before charging (``stage = "tightness"``, ``"dryness"``) has no plant but a
circuit under nitrogen or vacuum, see `scenario.stage`; its ``expect`` may be left out. A recording
made from a scenario has its ``start`` (a time with its zone) and an ``identity`` of 32 hexadecimal
digits, made from name and seed when left out, so that the same file gives the same bytes.
"""

import datetime as dt
import hashlib
import re
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, Stage
from chargeassist.model.job import Job, SourceSpec
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity
from chargeassist.plant.metering import ValveKind
from chargeassist.plant.physical_settings import PhysicalSettings
from chargeassist.session.job.demo import DEMO_JOBS, demo_job
from chargeassist.session.job.jobfile import load_job, read_job
from chargeassist.session.job.toml_table import TomlTable, came, file_text, suggestion, toml_of
from chargeassist.session.scenario.amounts import CAPACITY, HERTZ, amount, time_s
from chargeassist.session.scenario.expect import Expected, read_expected, read_finds
from chargeassist.session.scenario.faults import ScenarioFaults, Silence, read_faults
from chargeassist.session.scenario.probes import ScenarioProbes, read_probes
from chargeassist.session.scenario.script import read_script
from chargeassist.session.scenario.stage import StageUnit, read_stage, read_stage_unit

SUFFIX: Final = ".toml"
USUAL_START: Final = "2026-05-04T08:00:00.000+00:00"
LONGEST_S: Final = 4.0 * 3600.0
SOURCE: Final = "simulated unit"
_OF_AN_ADDRESS: Final = "+?"


@dataclass(frozen=True, slots=True)
class ScenarioUnit:
    """The unit of a scenario with its probes.

    Attributes
    ----------
    settings : PhysicalSettings
    commands : tuple of (float, float or None)
        When the compressor is told which frequency, None for the required one [s], [Hz].
    silences : tuple of Silence
    probes : ScenarioProbes
    """

    settings: PhysicalSettings
    commands: tuple[tuple[float, float | None], ...]
    silences: tuple[Silence, ...]
    probes: ScenarioProbes


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One scenario.

    Attributes
    ----------
    name, title, about : str
        Name of the file without its ending; what it shows.
    expected : tuple of Expected
    finds : tuple of str
        Faults that stand at the end.
    expect_note : str
    lasts_s : float
    seed : int
    pilot : bool
        Whether the scripted technician follows the advice.
    script : tuple of Mark
    started_utc, session_id : str
        Of the recording.
    job : Job
        Its one source is the simulator at this scenario.
    folder : Path
        Where paths in the job's address start.
    unit : ScenarioUnit or None
        None before charging.
    stage : Stage
    stage_unit : StageUnit or None
        The circuit, where the stage is one before charging.
    """

    name: str
    title: str
    about: str
    expected: tuple[Expected, ...]
    finds: tuple[str, ...]
    expect_note: str
    lasts_s: float
    seed: int
    pilot: bool
    script: tuple[Mark, ...]
    started_utc: str
    session_id: str
    job: Job
    folder: Path
    unit: ScenarioUnit | None
    stage: Stage = Stage.CHARGING
    stage_unit: StageUnit | None = None


def scenario_names() -> tuple[str, ...]:
    """Return the names of the shipped scenarios, sorted."""
    folder = files("chargeassist") / "data" / "scenarios"
    names = (item.name for item in folder.iterdir())
    return tuple(sorted(n.removesuffix(SUFFIX) for n in names if n.endswith(SUFFIX)))


def find_scenario(place: str, base: Path, seed: int | None = None) -> Scenario:
    """Return a scenario by its shipped name or by the path of its file.

    Parameters
    ----------
    place : str
        A path ends in ".toml".
    base : Path
        Folder that a relative path starts from.
    seed : int, optional
        Instead of the one in the file.

    Raises
    ------
    ConfigError
        If there is no such scenario, or its file says something that cannot be.
    """
    if place.endswith(SUFFIX):
        path = base / place
        return parse_scenario(file_text(path, "a scenario"), str(path), path.parent, seed)
    if place not in scenario_names():
        raise ConfigError(
            f"{plain(place, 80)!r} is no shipped scenario"
            f"{suggestion(place, scenario_names())}; expected a file that ends in {SUFFIX}, "
            f"or one of {', '.join(scenario_names())}"
        )
    return parse_scenario(shipped_text(place), place, base, seed)


def shipped_text(name: str) -> str:
    """Return the file of the shipped scenario `name`, one of `scenario_names`."""
    item = files("chargeassist") / "data" / "scenarios" / f"{name}{SUFFIX}"
    return item.read_text(encoding="utf-8")


def place_and_seed(rest: str) -> tuple[str, int | None]:
    """Return place and seed of what stands after ``simulator:``, such as "radio-gap?seed=3".

    Raises
    ------
    ConfigError
        If there is anything but a seed after the question mark.
    """
    place, mark, query = rest.partition("?")
    match = re.fullmatch(r"seed=([0-9]{1,17})", query)
    if mark and match is None:
        raise ConfigError(
            f"simulator:{plain(place, 80)}: expected ?seed=N, a whole number, "
            f"got {plain(query, 40)!r}"
        )
    return place, None if match is None else int(match.group(1))


def parse_scenario(text: str, where: str, base: Path, seed: int | None = None) -> Scenario:
    """Return the scenario described by TOML `text`.

    Parameters
    ----------
    text : str
    where : str
        Its path, or its shipped name; stands in errors.
    base : Path
        Folder of the file.
    seed : int, optional
        Instead of the one in the file.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    shipped = not where.endswith(SUFFIX)
    top = toml_of(text, f"{where}{SUFFIX}" if shipped else where)
    name = Path(where).name.removesuffix(SUFFIX)
    if not shipped and (mark := next((c for c in _OF_AN_ADDRESS if c in name), "")):
        raise ConfigError(
            f"{plain(where, 200)}: expected a name of a file without {mark!r}, which joins "
            f"scenarios or begins options in an address such as simulator:a.toml+b.toml?seed=3; "
            f"rename the file"
        )
    own_seed = _seed(top)
    identity = _identity(top)
    chosen = own_seed if seed is None else seed
    if not identity or chosen != own_seed:
        identity = hashlib.sha256(f"{name} {chosen}".encode()).hexdigest()[:32]
    place = name if shipped else f"{name}{SUFFIX}"
    source = SourceSpec(name=SOURCE, url=f"simulator:{place}?seed={chosen}")
    job = _job(top, source, base, chosen)
    believed_kg = job.charge.weighed_in_kg
    believed_kg = top.quantity_between("weighed_in", Quantity.MASS, 0.0, 500.0, believed_kg)
    stage = read_stage(top)
    runs = stage is Stage.CHARGING
    if not runs:
        believed_kg = 0.0  # before the first charge nothing is in
    job = replace(
        job,
        charge=replace(job.charge, weighed_in_kg=believed_kg),
        begins=Stage.RUN_UP if runs else stage,
        begins_source="",
    )
    unit: ScenarioUnit | None = None
    stage_unit: StageUnit | None = None
    if runs:
        unit = _unit(top, job, chosen)
    else:
        stage_unit = read_stage_unit(top, stage, job, chosen)
    job = replace(job, sources=(source,))
    lasts_s = top.quantity_between("lasts", Quantity.DURATION, 60.0, LONGEST_S, 2400.0)
    scenario = Scenario(
        name=name,
        title=plain(top.text("title"), 80),
        about=plain(top.text("about"), 400),
        expected=read_expected(top, optional=stage is not Stage.CHARGING),
        finds=read_finds(top),
        expect_note=plain(top.text("expect_note", default=""), 400),
        lasts_s=lasts_s,
        seed=chosen,
        pilot=top.choice("technician", ("pilot", "script"), default="pilot") == "pilot",
        script=read_script(top, job.hold.required_hz or 0.0),
        started_utc=_start(top),
        session_id=identity,
        job=job,
        folder=base,
        unit=unit,
        stage=stage,
        stage_unit=stage_unit,
    )
    top.finish()
    return scenario


def _seed(top: TomlTable) -> int:
    value = top.get("seed")
    if value is None:
        return 1
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 10**18:
        raise top.error("seed", "expected a whole number from 0", came(value))
    return value


def _identity(top: TomlTable) -> str:
    text = top.text("identity", default="")
    if text and not re.fullmatch(r"[0-9a-f]{32}", text):
        raise top.error("identity", "expected 32 hexadecimal digits", repr(plain(text)))
    return text


def _start(top: TomlTable) -> str:
    text = top.text("start", default=USUAL_START)
    try:
        start = dt.datetime.fromisoformat(text)
    except ValueError:
        start = None
    if start is None or start.tzinfo is None:
        raise top.error(
            "start",
            f'expected a time with its zone such as "{USUAL_START}"',
            repr(plain(text, 40)),
        )
    return text


def _job(top: TomlTable, source: SourceSpec, base: Path, seed: int) -> Job:
    value = top.get("job")
    if isinstance(value, dict):
        if "source" in value:
            raise top.error("job.source", "expected none: the scenario is the source", "one")
        return read_job(top.table("job"), (source,))
    name = top.text("job")
    if name.endswith(SUFFIX):
        return load_job(base / name)
    if name not in DEMO_JOBS:
        expected = f"expected one of {', '.join(DEMO_JOBS)}, a file or a table"
        raise top.error("job", expected, repr(plain(name)))
    return demo_job(name, seed)


def _unit(top: TomlTable, job: Job, seed: int) -> ScenarioUnit:
    plant = top.table("plant")
    required_hz = job.hold.required_hz or 0.0
    if plant.get("frequency") is not None or not required_hz:
        required_hz = amount(plant, "frequency", HERTZ)
    faults = read_faults(top, required_hz)
    charge_mode_s = time_s(plant, "charge_mode_at", 30.0)
    settings = _settings(plant, top.table("weather", optional=True), job, required_hz, faults, seed)
    probes = read_probes(top.table("probes", optional=True))
    commands = sorted([(charge_mode_s, None), *faults.commands], key=lambda command: command[0])
    return ScenarioUnit(settings, tuple(commands), faults.silences, probes)


def _settings(
    plant: TomlTable,
    weather: TomlTable,
    job: Job,
    required_hz: float,
    faults: ScenarioFaults,
    seed: int,
) -> PhysicalSettings:
    usual = PhysicalSettings()
    mass, temp = Quantity.MASS, Quantity.TEMPERATURE
    oil_return = faults.oil_return or (usual.oil_return_at_s, usual.oil_return_for_s, 0.0)
    defrost_s = faults.defrost or (usual.defrost_at_s, usual.defrost_for_s)
    return_k = weather.quantity_between("return_air", temp, 283.15, 313.15, usual.return_k)
    try:
        settings = PhysicalSettings(
            refrigerant=plant.text("refrigerant", default=job.refrigerant),
            capacity_w=amount(plant, "size", CAPACITY, usual.capacity_w),
            plate_kg=plant.quantity_between("plate", mass, 0.05, 500.0, job.charge.plate_kg),
            charge_kg=plant.quantity_between("charge", mass, 0.0, 500.0),
            required_hz=required_hz,
            start_hz=amount(plant, "start_frequency", HERTZ, required_hz * 5.0 / 12.0),
            settle_s=time_s(plant, "ran_before", usual.settle_s),
            ramp_hz_per_s=amount(plant, "ramp", HERTZ, usual.ramp_hz_per_s),
            hold_s=job.hold.lasts_s or 0.0,
            load_hz=amount(plant, "load_frequency", HERTZ, required_hz * 5.0 / 9.0),
            oil_return_at_s=oil_return[0],
            oil_return_for_s=oil_return[1],
            oil_return_hz=oil_return[2],
            defrost_at_s=defrost_s[0],
            defrost_for_s=defrost_s[1],
            valve=ValveKind(plant.choice("metering", tuple(ValveKind), default=usual.valve)),
            outdoor_k=weather.quantity_between("outdoor", temp, 263.15, 325.15, usual.outdoor_k),
            return_k=return_k,
            return_wet_k=weather.quantity_between(
                "return_wet_bulb", temp, 273.15, return_k, min(usual.return_wet_k, return_k)
            ),
            gust_k=weather.quantity_between(
                "gusts", Quantity.TEMPERATURE_DIFFERENCE, 0.0, 2.0, 0.2
            ),
            altitude_m=usual.altitude_m if job.site.altitude_m is None else job.site.altitude_m,
            barometer_pa_abs=job.site.barometer_pa_abs,
            cylinder_kg=plant.quantity_between("cylinder", mass, 0.0, 100.0, usual.cylinder_kg),
            courses=faults.courses,
            seed=seed,
        )
    except ConfigError as error:
        if str(error).startswith(plant.file):
            raise
        raise ConfigError(f"{plant.where('')}: {error}") from error
    plant.finish()
    weather.finish()
    return settings
