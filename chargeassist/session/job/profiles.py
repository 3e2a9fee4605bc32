"""Read profiles of limits from TOML text; every refusal names profile, limit and key.

What a profile is stands in `chargeassist.model.limits`. The shipped files are
``chargeassist/data/profiles*.toml``; their text is handed in, for nothing here opens files.
"""

import math
import re
from typing import Final

from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.limit_bounds import BOUNDS_SI, ORDERED
from chargeassist.model.limits import Authority, Kind, Limit, LimitKey, Method, Profile
from chargeassist.model.stage_plan import PressureStep
from chargeassist.model.text import plain
from chargeassist.model.units import (
    Quantity,
    Reference,
    find_unit,
    parse,
    parse_pressure,
    parse_pressure_difference,
    split_number,
)
from chargeassist.session.job.pressure_step import pressure_step
from chargeassist.session.job.toml_table import TomlTable, toml_of

_QUANTITY: Final = {
    Kind.TEMP: Quantity.TEMPERATURE,
    Kind.TEMP_DIFFERENCE: Quantity.TEMPERATURE_DIFFERENCE,
    Kind.DURATION: Quantity.DURATION,
    Kind.FREQUENCY: Quantity.FREQUENCY,
    Kind.MASS: Quantity.MASS,
    Kind.FRACTION: Quantity.FRACTION,
    Kind.CURRENT: Quantity.CURRENT,
    Kind.LENGTH: Quantity.LENGTH,
}

_AIRFLOW_UNITS: Final = {
    f"{air}/{power}": find_unit(air, Quantity.AIRFLOW).scale
    / find_unit(power, Quantity.POWER).scale
    for air, power in (("cfm", "ton"), ("m3/h", "kW"), ("L/s", "kW"))
}
"""SI factor of each unit of airflow per capacity [m3/s/W]."""


def parse_profiles(text: str, file: str = "profiles") -> dict[str, Profile]:
    """Return the profiles of a TOML text by name, in its order.

    Parameters
    ----------
    text : str
        As ``chargeassist/data/profiles.toml``: tables ``[[profile]]`` with ``[[profile.limit]]``.
    file : str
        Named in errors.

    Raises
    ------
    ConfigError
        The text is no TOML, or an entry is not what it must be; the text names profile and limit,
        what was expected and what came.
    """
    top = toml_of(text, file)
    found: dict[str, Profile] = {}
    for table in top.tables("profile"):
        profile = _profile(table)
        if profile.name in found:
            raise ConfigError(f"{file}: two profiles are named {profile.name!r}; names must differ")
        found[profile.name] = profile
    top.finish()
    if not found:
        raise ConfigError(f"{file}: expected at least one table [[profile]], got none")
    return found


def _profile(table: TomlTable) -> Profile:
    name = table.filled("name")
    if not re.fullmatch(r"[a-z0-9-]{1,40}", name):
        raise table.error("name", "expected one to 40 of a-z, 0-9 and -", repr(plain(name)))
    table.name = f"{table.name} ({name})"
    methods = tuple(Method)
    forbids = table.texts("forbids")
    for word in forbids:
        if word not in methods:
            raise table.error(
                "forbids", "expected some of " + ", ".join(methods), repr(plain(word))
            )
    limits: dict[LimitKey, Limit] = {}
    for item in table.tables("limit"):
        limit = _limit(item)
        if limit.key in limits:
            raise table.error("limit", "expected each key once", f"{limit.key.value!r} twice")
        limits[limit.key] = limit
    for low, high in ORDERED:
        if low in limits and high in limits and limits[low].value_si >= limits[high].value_si:
            raise table.error(
                low.value,
                f"expected less than {high.value} ({limits[high].as_written})",
                limits[low].as_written,
            )
    profile = Profile(
        name=name,
        title=table.filled("title"),
        note=table.filled("note", ""),
        limits=limits,
        forbids=frozenset(Method(word) for word in forbids),
        role=table.filled("role", ""),
        raises=tuple(_raise(item) for item in table.tables("raise")),
    )
    table.finish()
    return profile


def _raise(table: TomlTable) -> PressureStep:
    authority = table.choice("authority", tuple(rank.words for rank in Authority))
    from_memory = _is_from_memory(table, thumb=False)
    edition = table.filled("edition", "" if from_memory else None)
    cited = ", ".join(part for part in (table.filled("source"), edition) if part)
    step = pressure_step(
        table,
        "",
        f"{table.filled('pressure')} for {table.filled('hold')}",
        source=f"{cited} ({authority}){', from memory' if from_memory else ''}",
    )
    table.finish()
    return step


def _limit(table: TomlTable) -> Limit:
    key = LimitKey(table.choice("key", tuple(LimitKey)))
    words = {rank.words: rank for rank in Authority}
    authority = words[table.choice("authority", tuple(words))]
    written = table.filled("value")
    thumb = authority is Authority.RULE_OF_THUMB
    from_memory = _is_from_memory(table, thumb=thumb)
    limit = Limit(
        key=key,
        value_si=_value_si(table, key, written),
        as_written=written,
        source=table.filled("source"),
        edition=table.filled("edition", "" if thumb or from_memory else None),
        address=table.filled("address", ""),
        authority=authority,
        from_memory=from_memory,
        strict=table.flag("strict"),
        note=table.filled("note", ""),
    )
    table.finish()
    return limit


def _is_from_memory(table: TomlTable, *, thumb: bool) -> bool:
    """Return whether the entry is from memory; one that is not says where it was read."""
    from_memory = table.flag("from_memory")
    if not (table.filled("address", "") or from_memory or thumb):
        raise table.error("address", "expected where it was read, or from_memory = true", "nothing")
    return from_memory


def _value_si(table: TomlTable, key: LimitKey, written: str) -> float:
    try:
        return limit_value_si(key, written)
    except UnitError as error:
        refused = table.error("value", f"expected a {key.kind.value}", repr(plain(written)))
        raise ConfigError(f"{refused}: {error}") from error


def limit_value_si(key: LimitKey, written: str) -> float:
    """Return the SI value of a limit as written: "55 °F", "15 min", "300 cfm/ton".

    Raises
    ------
    UnitError
        If it is not a quantity of the limit's kind, not above zero, or beyond `BOUNDS_SI`.
    """
    kind = key.kind
    if kind is Kind.SIGHT:
        if written.strip().lower() != "yes":
            raise UnitError(f'expected "yes", or the key left out, got {plain(written)!r}')
        return 1.0
    if kind is Kind.AIRFLOW_PER_CAPACITY:
        value = _airflow_si(written)
    elif kind is Kind.PRESSURE_DIFFERENCE:
        value = parse_pressure_difference(written)
    elif kind is Kind.COUNT:
        value = _count(written)
    elif kind is Kind.PRESSURE_ABSOLUTE:
        value, _ = parse_pressure(written, Reference.ABSOLUTE)
    else:
        value = parse(written, _QUANTITY[kind])
    if not 0.0 < value < math.inf:
        raise UnitError(f"expected a {kind.value} above zero, got {plain(written)!r}")
    _refuse_implausible(key, value, written)
    least, most = BOUNDS_SI.get(key, (0.0, math.inf))
    if not least <= value <= most:
        unit = _SI_UNIT.get(kind, "")
        raise UnitError(f"expected {least:g} to {most:g}{unit}, got {plain(written)!r}")
    return value


_WEATHER_K: Final = (223.15, 328.15)


def _refuse_implausible(key: LimitKey, value_si: float, written: str) -> None:
    """Refuse a number in the wrong unit, wherever it stands: 60 °C of outdoor air for 60 °F."""
    low_k, high_k = _WEATHER_K
    expected = ""
    if key.kind is Kind.TEMP and not low_k <= value_si <= high_k:
        expected = "-50 to 55 °C (-58 to 131 °F)"
    elif key is LimitKey.CYLINDER_FILL and value_si > 1.0:
        expected = "100 % at most"
    if expected:
        raise UnitError(f"expected {expected}, got {plain(written)!r}")


_SI_UNIT: Final = {
    Kind.DURATION: " s",
    Kind.TEMP_DIFFERENCE: " K",
    Kind.PRESSURE_DIFFERENCE: " Pa",
    Kind.LENGTH: " m",
}


def _count(written: str) -> float:
    """Return a whole number: "4", "4 readings"."""
    found = re.fullmatch(r"([0-9]{1,4})(?: readings?)?", written.strip())
    if found is None:
        raise UnitError(f'expected a whole number such as "4 readings", got {plain(written)!r}')
    return float(found[1])


def _airflow_si(written: str) -> float:
    number, unit = split_number(written)
    if unit not in _AIRFLOW_UNITS:
        raise UnitError(
            f"{unit!r} is not a unit of {Kind.AIRFLOW_PER_CAPACITY.value}; known ones are "
            f"{', '.join(_AIRFLOW_UNITS)}"
        )
    return number * _AIRFLOW_UNITS[unit]
