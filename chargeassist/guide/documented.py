"""What the unit's own documents say its readings should be: performance table, plate, amps.

A performance table is printed for sea level and a column of weather. Condensing temperature over
outdoor air hardly moves with the weather (by 6 °F at most over 65 to 115 °F, for any of the twelve
units of manualshive.com LRP14AC, page 23), so a column is used for outdoor air near its own. For
other weather another column has to be copied; this one is then not used.
"""

from chargeassist.guide.expected import Expected, around
from chargeassist.model.channels import Role
from chargeassist.model.job import Job
from chargeassist.model.limits import Limit, LimitKey
from chargeassist.model.performance import Performance
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import SEA_LEVEL_PA_ABS
from chargeassist.physics.saturation import refrigerant
from chargeassist.stream.facts import Facts


def performance_of(job: Job, facts: Facts) -> Performance | None:
    """Return the column of the maker's table; None without one, or in other weather.

    If nothing measures outdoor air, the column counts.
    """
    table, outdoor = job.performance, facts.live(Role.OUTDOOR_AIR_TEMPERATURE)
    if table is None or outdoor is None:
        return table
    far = abs(outdoor - table.outdoor_k) > job.limit_si(LimitKey.COLUMN_OUTDOOR)
    return None if far else table


def condensing(job: Job, facts: Facts) -> Expected | None:
    """Return condensing temperature over outdoor air by the table [K]; None without one."""
    table = performance_of(job, facts)
    if table is None or table.liquid_pressure_pa_gauge is None:
        return None
    fluid = refrigerant(job.refrigerant)
    pressure_pa = table.liquid_pressure_pa_gauge + SEA_LEVEL_PA_ABS
    temp_k, slope = fluid.bubble_temp_k(pressure_pa), fluid.bubble_slope_k_per_pa(pressure_pa)
    if isinstance(temp_k, NoValue) or isinstance(slope, NoValue):
        return None
    half_k = table.liquid_tolerance_pa * slope + _weather_k(job, table, facts)
    return around(temp_k - table.outdoor_k, half_k, table.source)


def evaporating(job: Job, facts: Facts) -> Expected | None:
    """Return evaporating temperature less return air by the table [K]; None without one."""
    table = performance_of(job, facts)
    if table is None or table.suction_pressure_pa_gauge is None or table.return_k is None:
        return None
    fluid = refrigerant(job.refrigerant)
    pressure_pa = table.suction_pressure_pa_gauge + SEA_LEVEL_PA_ABS
    temp_k, slope = fluid.dew_temp_k(pressure_pa), fluid.dew_slope_k_per_pa(pressure_pa)
    if isinstance(temp_k, NoValue) or isinstance(slope, NoValue):
        return None
    half_k = table.suction_tolerance_pa * slope + _weather_k(job, table, facts)
    return around(temp_k - table.return_k, half_k, table.source)


def air_split(job: Job, facts: Facts) -> Expected | None:
    """Return the air split by the table [K]; None without one."""
    table = performance_of(job, facts)
    if table is None or table.air_split_k is None:
        return None
    return around(table.air_split_k, table.split_tolerance_k, table.source)


def discharge_temp(job: Job, facts: Facts) -> Expected | None:
    """Return the discharge temperature by the table [K], shifted with outdoor air; None without."""
    table = performance_of(job, facts)
    if table is None or table.discharge_temp_k is None:
        return None
    outdoor = facts.live(Role.OUTDOOR_AIR_TEMPERATURE)
    rise_k = 0.0 if outdoor is None else outdoor - table.outdoor_k
    return around(table.discharge_temp_k + rise_k, table.discharge_tolerance_k, table.source)


def current(job: Job, least: Limit) -> Expected | None:
    """Return the amps by the maker's figure, else by the rated-load amps; None without either.

    Parameters
    ----------
    job : Job
    least : Limit
        Smallest fraction of its rated-load amps that a sound fixed-speed compressor draws [1]; the
        largest is all of them.

    Notes
    -----
    Rated-load amps are used for fixed-speed units only: what an inverter draws depends on its
    frequency, and its plate may mean the compressor's side.
    """
    electrical = job.stages.electrical
    if electrical.amps_a is not None and electrical.amps_tolerance > 0.0:
        half_a = electrical.amps_tolerance * electrical.amps_a
        return around(electrical.amps_a, half_a, electrical.source)
    rated_a = job.plate.rated_load_a
    if rated_a is None or job.hold.required_hz is not None:
        return None
    return Expected(
        low_si=least.value_si * rated_a,
        high_si=rated_a,
        basis=f"{least.as_written} to all of the rated-load amps: {least.citation}",
    )


def _weather_k(job: Job, table: Performance, facts: Facts) -> float:
    outdoor = facts.live(Role.OUTDOOR_AIR_TEMPERATURE)
    share = job.limit_si(LimitKey.COLUMN_WEATHER)
    return 0.0 if outdoor is None else share * abs(outdoor - table.outdoor_k)
