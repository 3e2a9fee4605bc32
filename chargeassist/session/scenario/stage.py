"""Scenarios of the stages before charging: what stands under nitrogen, and what is evacuated.

A scenario with ``stage = "tightness"`` has no ``[plant]`` but ``[nitrogen]``, every key with its
default::

    stage = "tightness"

    [nitrogen]
    pressure = "4.0 MPa(g)"     # what the regulator is set to
    volume = "10 L"             # of the circuit

    [weather]
    outdoor = "24 °C"           # mean outdoor air
    indoor = "23 °C"
    swing = "0 K"               # half the range of the outdoor air around its mean
    swing_period = "24 h"
    swing_start = "0 h"         # when it first passes the mean upwards

and one with ``stage = "dryness"`` has ``[evacuation]``::

    stage = "dryness"

    [evacuation]
    volume = "10 L"
    water_near = "0 g"          # liquid at the outdoor unit, at the far end of the line set, and
    water_far = "0 g"           # dissolved in the compressor's oil
    water_in_oil = "0 g"
    refrigerant_in_oil = "0 g"
    hose = "half inch"          # or "quarter inch"
    core = "out"                # of the service port, or "in"
    manifold = false            # a gauge manifold in the line
    ballast = false             # gas ballast of the pump open
    pump_oil_water = "0 g"
    gauge = "far"               # where it stands: far, near, or pump (before the valve)
    break_to = "20 kPa(g)"      # pressure at which nitrogen that breaks the vacuum is shut

Weather there is ``outdoor`` and ``indoor``. What goes wrong, as in `scenario.faults`, besides
"radio gap": "leak" (``amount = "0.01 Pa m3/s"``, from one atmosphere into vacuum at 20 °C;
``place`` outdoor or indoor, in an evacuation near, far or pump), under nitrogen "sun"
(``amount = "8 K"``) and in an evacuation "heat" (a wall warmed by ``amount = "15 K"`` at a
``place``).
"""

from dataclasses import dataclass, replace
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Stage
from chargeassist.model.job import Job
from chargeassist.model.units import Quantity, Reference
from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs
from chargeassist.plant.evacuation_settings import WARMEST_K, EvacuationSettings, Place
from chargeassist.plant.leak import Leak
from chargeassist.plant.micron_gauge import GaugeSettings
from chargeassist.plant.nitrogen_circuit import INDOOR, OUTDOOR
from chargeassist.plant.nitrogen_settings import NitrogenSettings, Part
from chargeassist.plant.vacuum_line import (
    CORE_IN,
    CORE_OUT,
    HALF_INCH_HOSE,
    MANIFOLD,
    QUARTER_INCH_HOSE,
)
from chargeassist.plant.vacuum_pump import PumpSettings
from chargeassist.session.job.toml_table import TomlTable
from chargeassist.session.scenario.amounts import (
    LEAK_INTO_VACUUM,
    VOLUME,
    amount,
    begin_and_end_s,
    check_apart,
)
from chargeassist.session.scenario.faults import Silence, read_silence
from chargeassist.session.scenario.probes import ScenarioProbes, read_probes

STAGES: Final = (Stage.TIGHTNESS, Stage.DRYNESS, Stage.CHARGING)
"""Stages a scenario can be of."""

TIGHTNESS_ROLES: Final = (
    Role.LIQUID_PRESSURE,
    Role.LIQUID_TEMPERATURE,
    Role.SUCTION_PRESSURE,
    Role.SUCTION_TEMPERATURE,
    Role.OUTDOOR_AIR_TEMPERATURE,
    Role.RETURN_AIR_TEMPERATURE,
)
"""Probes under nitrogen: both pressures read the one of the circuit; the clamp of the liquid line
sits at the outdoor unit, that of the suction line at the indoor coil."""

DRYNESS_ROLES: Final = (*TIGHTNESS_ROLES, Role.VACUUM)
"""The same during an evacuation, and a vacuum gauge."""

_USUAL_M3: Final = 10e-3
_LEAST_NITROGEN_PA: Final = 100.0
_NITROGEN_PLACES: Final = {"outdoor": OUTDOOR, "indoor": INDOOR}
_PLACES: Final = {"near": Place.NEAR, "far": Place.FAR, "pump": Place.PUMP}


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that is so from one time to another.

    Attributes
    ----------
    start_s, end_s : float
    place : int
        `OUTDOOR` or `INDOOR`, or a `Place`.
    leak : Leak or None
    warmer_k : float
        Of the sun or the heat, where it is no leak [K].
    """

    start_s: float
    end_s: float
    place: int
    leak: Leak | None = None
    warmer_k: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StageUnit:
    """The circuit of a scenario before charging, with its probes.

    Attributes
    ----------
    settings : NitrogenSettings or EvacuationSettings
        Which of the two says which stage it is.
    nitrogen_pa_gauge : float
        Setting of the regulator, or where a break of the vacuum ends [Pa gauge].
    gauge : Place
        Where the vacuum gauge stands.
    ballast : bool
        Whether the pump's gas ballast is open.
    happenings : tuple of Happening
    silences : tuple of Silence
    probes : ScenarioProbes
    seed : int
    """

    settings: NitrogenSettings | EvacuationSettings
    nitrogen_pa_gauge: float
    gauge: Place = Place.FAR
    ballast: bool = False
    happenings: tuple[Happening, ...]
    silences: tuple[Silence, ...]
    probes: ScenarioProbes
    seed: int


def read_stage(top: TomlTable) -> Stage:
    """Return the stage of a scenario file, charging when it says none.

    Raises
    ------
    ConfigError
        If it is not one of `STAGES`.
    """
    return Stage(top.choice("stage", STAGES, default=Stage.CHARGING))


def read_stage_unit(top: TomlTable, stage: Stage, job: Job, seed: int) -> StageUnit:
    """Return the circuit of a scenario that is of a stage before charging.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    if top.get("plant") is not None:
        raise top.error("plant", f'expected none with stage = "{stage.value}"', "one")
    weather = top.table("weather", optional=True)
    outdoor_k = weather.quantity_between("outdoor", Quantity.TEMPERATURE, 243.15, 323.15, 297.15)
    indoor_k = weather.quantity_between("indoor", Quantity.TEMPERATURE, 263.15, 323.15, 296.15)
    under_nitrogen = stage is Stage.TIGHTNESS
    own = top.table("nitrogen" if under_nitrogen else "evacuation", optional=True)
    station = job.site.barometer_pa_abs
    if station is None:
        station = pressure_at_altitude_pa_abs(job.site.altitude_m or 0.0)
    happenings, silences = _happenings(top, max(outdoor_k, indoor_k), under_nitrogen=under_nitrogen)
    probes = read_probes(
        top.table("probes", optional=True), TIGHTNESS_ROLES if under_nitrogen else DRYNESS_ROLES
    )
    try:
        if under_nitrogen:
            settings: NitrogenSettings | EvacuationSettings = _nitrogen(
                own, weather, (outdoor_k, indoor_k), station
            )
            nitrogen = _nitrogen_pa_gauge(own, "pressure", 4.0e6, 6.5e6)
            gauge, ballast = Place.FAR, False
        else:
            settings = _evacuation(own, (outdoor_k, indoor_k), station, job)
            nitrogen = _nitrogen_pa_gauge(own, "break_to", 20e3, 1.0e6)
            gauge = _PLACES[own.choice("gauge", tuple(_PLACES), default="far")]
            ballast = own.flag("ballast")
    except ConfigError as error:
        if str(error).startswith(own.file):
            raise
        raise ConfigError(f"{own.where('')}: {error}") from error
    own.finish()
    weather.finish()
    return StageUnit(
        settings=settings,
        nitrogen_pa_gauge=nitrogen,
        gauge=gauge,
        ballast=ballast,
        happenings=happenings,
        silences=silences,
        probes=probes,
        seed=seed,
    )


def _nitrogen(
    own: TomlTable, weather: TomlTable, air_k: tuple[float, float], station: float
) -> NitrogenSettings:
    share = amount(own, "volume", VOLUME, _USUAL_M3) / _USUAL_M3
    usual = NitrogenSettings()
    swing, duration = Quantity.TEMPERATURE_DIFFERENCE, Quantity.DURATION
    return NitrogenSettings(
        outdoor=_scaled(usual.outdoor, share),
        indoor=_scaled(usual.indoor, share),
        outdoor_k=air_k[0],
        indoor_k=air_k[1],
        outdoor_swing_k=weather.quantity_between("swing", swing, 0.0, 15.0, 0.0),
        swing_period_s=weather.quantity_between("swing_period", duration, 600.0, 1e6, 86_400.0),
        swing_start_s=weather.quantity_between("swing_start", duration, -1e6, 1e6, 0.0),
        station_pa_abs=station,
    )


def _scaled(part: Part, share: float) -> Part:
    return Part(
        volume_m3=part.volume_m3 * share,
        metal_j_per_k=part.metal_j_per_k * share,
        air_w_per_k=part.air_w_per_k * share,
        gas_w_per_k=part.gas_w_per_k * share,
    )


def _evacuation(
    own: TomlTable, air_k: tuple[float, float], station: float, job: Job
) -> EvacuationSettings:
    share = amount(own, "volume", VOLUME, _USUAL_M3) / _USUAL_M3
    usual = EvacuationSettings()
    hose = own.choice("hose", ("half inch", "quarter inch"), default="half inch")
    core = own.choice("core", ("out", "in"), default="out")
    tubes = [HALF_INCH_HOSE if hose == "half inch" else QUARTER_INCH_HOSE]
    if own.flag("manifold"):
        tubes.append(MANIFOLD)
    tubes.append(CORE_OUT if core == "out" else CORE_IN)
    return EvacuationSettings(
        near_m3=usual.near_m3 * share,
        far_m3=usual.far_m3 * share,
        hose=tuple(tubes),
        pump=PumpSettings(oil_water_kg=_mass(own, "pump_oil_water")),
        gauge=GaugeSettings(resolution_pa=0.0),  # the probe rounds
        refrigerant=job.refrigerant,
        near_k=air_k[0],
        far_k=air_k[1],
        air_k=air_k[0],
        station_pa_abs=station,
        near_water_kg=_mass(own, "water_near"),
        far_water_kg=_mass(own, "water_far"),
        oil_water_kg=_mass(own, "water_in_oil"),
        oil_refrigerant_kg=_mass(own, "refrigerant_in_oil"),
    )


def _mass(own: TomlTable, key: str) -> float:
    return own.quantity_between(key, Quantity.MASS, 0.0, 2.0, 0.0)


def _nitrogen_pa_gauge(own: TomlTable, key: str, default_pa: float, most_pa: float) -> float:
    value_pa = own.pressure_between(key, Reference.GAUGE, _LEAST_NITROGEN_PA, most_pa)
    return default_pa if value_pa is None else value_pa


def _happenings(
    top: TomlTable, hottest_k: float, *, under_nitrogen: bool
) -> tuple[tuple[Happening, ...], tuple[Silence, ...]]:
    places: dict[str, int] = dict(_NITROGEN_PLACES if under_nitrogen else _PLACES)
    warming = "sun" if under_nitrogen else "heat"
    happenings: list[Happening] = []
    silences: list[Silence] = []
    spans: dict[int, list[tuple[float, float]]] = {}
    for table in top.tables("fault"):
        kind = table.choice("kind", ("leak", warming, "radio gap"))
        at_s, until_s = begin_and_end_s(table)
        if kind == "radio gap":
            silences.append(read_silence(table, at_s, until_s))
            table.finish()
            continue
        # The sun shines on the outdoor part only.
        place = next(iter(places))
        if kind != "sun":
            known = tuple(name for name in places if kind == "leak" or name != "pump")
            place = table.choice("place", known, default=place)
        happening = Happening(at_s, until_s, places[place])
        if kind == "leak":
            size = amount(table, "amount", LEAK_INTO_VACUUM)
            try:
                happening = replace(happening, leak=Leak.sized(size))
            except ConfigError as error:
                raise ConfigError(f"{table.where('amount')}: {error}") from error
        else:
            check_apart(table, (at_s, until_s), spans.setdefault(places[place], []))
            most_k = 30.0 if under_nitrogen else WARMEST_K - hottest_k
            warmer_k = table.quantity_between(
                "amount", Quantity.TEMPERATURE_DIFFERENCE, 0.0, most_k
            )
            happening = replace(happening, warmer_k=warmer_k)
        happenings.append(happening)
        table.finish()
    return tuple(happenings), tuple(silences)
