"""The maker's performance table in a job file: one column of it, that of today's weather.

::

    [performance]
    source = "performance data, page 9: 85 °F outdoors, 80/67 °F indoors"
    outdoor = "85 °F"                   # of the column that was read
    liquid_pressure = "340 psig"        # at sea level, as it is printed
    suction_pressure = "135 psig"
    return_air = "80 °F"                # with a suction pressure
    discharge_temperature = "162 °F"
    air_split = "19 °F"
    # liquid_pressure_tolerance = "10 psi"   and so on, where the maker says another
"""

from collections.abc import Mapping

from chargeassist.model.errors import UnitError
from chargeassist.model.limits import Limit, LimitKey
from chargeassist.model.performance import Performance
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Reference, parse_pressure_difference
from chargeassist.session.job.limits import JobLimits
from chargeassist.session.job.toml_table import TomlTable

_READ = ("liquid_pressure", "suction_pressure", "discharge_temperature", "air_split")
TOLERANCES = {
    "liquid_pressure": LimitKey.COLUMN_LIQUID_PRESSURE,
    "suction_pressure": LimitKey.COLUMN_SUCTION_PRESSURE,
    "discharge_temperature": LimitKey.COLUMN_DISCHARGE,
    "air_split": LimitKey.SPLIT_TOLERANCE,
}
"""Limits that count where the table names no tolerance."""

_TEMP, _DIFFERENCE = Quantity.TEMPERATURE, Quantity.TEMPERATURE_DIFFERENCE
_OUTDOOR_K = (263.15, 328.15)
_RETURN_K = (283.15, 313.15)
_DISCHARGE_K = (293.15, 423.15)
_PRESSURE_PA = (1e5, 6e6)


def read_performance(table: TomlTable, limits: JobLimits) -> Performance | None:
    """Return what ``[performance]`` says; None when the table is absent.

    A tolerance that it does not name is that of the job's limits.

    Raises
    ------
    ConfigError
        If a number is no such number, the weather of the column is missing, or nothing was read.
    """
    if not table.data:
        return None
    source = plain(table.text("source", default=""))
    if not source.strip():
        raise table.error("source", "expected where the table was read", "nothing")
    if not any(table.get(key) is not None for key in _READ):
        raise table.error("", f"expected at least one of {', '.join(_READ)}", "none")
    suction = table.pressure_between("suction_pressure", Reference.GAUGE, *_PRESSURE_PA)
    liquid = table.pressure_between("liquid_pressure", Reference.GAUGE, *_PRESSURE_PA)
    if suction is not None and liquid is not None and suction >= liquid:
        raise table.error(
            "suction_pressure",
            f"expected less than liquid_pressure, {liquid / 1e6:g} MPa(g)",
            f"{suction / 1e6:g} MPa(g)",
        )
    if suction is not None:
        return_k: float | None = table.quantity_between("return_air", _TEMP, *_RETURN_K)
    else:
        return_k = table.optional_between("return_air", _TEMP, *_RETURN_K)
    default = {name: limits.one(key) for name, key in TOLERANCES.items()}
    found = Performance(
        source=source,
        outdoor_k=table.quantity_between("outdoor", _TEMP, *_OUTDOOR_K),
        return_k=return_k,
        liquid_pressure_pa_gauge=liquid,
        suction_pressure_pa_gauge=suction,
        discharge_temp_k=table.optional_between("discharge_temperature", _TEMP, *_DISCHARGE_K),
        air_split_k=table.optional_between("air_split", _DIFFERENCE, 2.0, 25.0),
        liquid_tolerance_pa=_tolerance_pa(table, "liquid_pressure", default),
        suction_tolerance_pa=_tolerance_pa(table, "suction_pressure", default),
        discharge_tolerance_k=table.quantity_between(
            "discharge_temperature_tolerance",
            _DIFFERENCE,
            0.5,
            20.0,
            default["discharge_temperature"].value_si,
        ),
        split_tolerance_k=table.quantity_between(
            "air_split_tolerance", _DIFFERENCE, 0.2, 6.0, default["air_split"].value_si
        ),
        tolerances={
            name: limit.told
            for name, limit in default.items()
            if table.get(name) is not None and table.get(f"{name}_tolerance") is None
        },
    )
    table.finish()
    return found


def _tolerance_pa(table: TomlTable, name: str, default: Mapping[str, Limit]) -> float:
    """Return the tolerance of a pressure [Pa]; that of the job's limits when absent."""
    key = f"{name}_tolerance"
    text = table.written(key)
    if text is None:
        return default[name].value_si
    expected = 'expected a pressure of 0.3 to 70 psi, such as "10 psi"'
    try:
        size_pa = parse_pressure_difference(text)
    except UnitError as error:
        raise table.error(key, expected, repr(plain(text, 40))) from error
    if not 2e3 <= size_pa <= 5e5:
        raise table.error(key, expected, repr(plain(text, 40)))
    return size_pa
