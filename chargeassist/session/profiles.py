"""Read profiles of limits from TOML text; every refusal names profile, limit and key.

What a profile is stands in `chargeassist.model.limits`. The shipped file is
``chargeassist/data/profiles.toml``; its text is handed in, for nothing here opens files.
"""

import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any, Final

from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.limits import Authority, Kind, Limit, LimitKey, Method, Profile
from chargeassist.model.stage_plan import PressureStep
from chargeassist.model.text import plain
from chargeassist.model.units import (
    CUBIC_METRE_PER_S_PER_CFM,
    WATT_PER_TON,
    Quantity,
    Reference,
    find_unit,
    parse,
    parse_pressure,
    split_number,
)

_QUANTITY: Final = {
    Kind.TEMP: Quantity.TEMPERATURE,
    Kind.TEMP_DIFFERENCE: Quantity.TEMPERATURE_DIFFERENCE,
    Kind.DURATION: Quantity.DURATION,
    Kind.FREQUENCY: Quantity.FREQUENCY,
    Kind.MASS: Quantity.MASS,
    Kind.FRACTION: Quantity.FRACTION,
}

_AIRFLOW_UNITS: Final = {
    "cfm/ton": CUBIC_METRE_PER_S_PER_CFM / WATT_PER_TON,
    "m3/h/kW": 1.0 / 3600.0 / 1000.0,
    "L/s/kW": 1e-3 / 1000.0,
}

_ORDERED: Final = (
    (LimitKey.SUPERHEAT_LOW, LimitKey.SUPERHEAT_HIGH),
    (LimitKey.OUTDOOR_LOW, LimitKey.OUTDOOR_HIGH),
    (LimitKey.INDOOR_LOW, LimitKey.INDOOR_HIGH),
    (LimitKey.ICE_BATH_TOLERANCE, LimitKey.ICE_BATH_REPLACE),
)


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
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"{file}: not a TOML file: {error}") from error
    top = _Table(file, data, {"profile"})
    found: dict[str, Profile] = {}
    for number, table in enumerate(top.tables("profile"), start=1):
        profile = _profile(f"{file}: profile {number}", table)
        if profile.name in found:
            raise ConfigError(f"{file}: two profiles are named {profile.name!r}; names must differ")
        found[profile.name] = profile
    if not found:
        raise ConfigError(f"{file}: expected at least one table [[profile]], got none")
    return found


class _Table:
    """One table of the file, read key by key."""

    def __init__(self, where: str, data: Mapping[str, Any], known: set[str]) -> None:
        self._where = where
        self._data = data
        for key in data:
            if key not in known:
                raise self.error(key, "a known key: " + ", ".join(sorted(known)), "an unknown one")

    def error(self, key: str, expected: str, came: str) -> ConfigError:
        return ConfigError(f"{self._where}: {plain(key, 40)}: expected {expected}, got {came}")

    def text(self, key: str, default: str | None = None) -> str:
        value = self._data.get(key, default)
        if not isinstance(value, str) or (default is None and not value.strip()):
            raise self.error(key, "a text in quotes", _came(value))
        return value.strip()

    def flag(self, key: str) -> bool:
        value = self._data.get(key, False)
        if not isinstance(value, bool):
            raise self.error(key, "true or false", _came(value))
        return value

    def choice(self, key: str, known: Iterable[str]) -> str:
        value, names = self.text(key), tuple(known)
        if value not in names:
            raise self.error(key, "one of " + ", ".join(names), _came(value))
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        value = self._data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.error(key, "a list of texts", _came(value))
        return tuple(value)

    def tables(self, key: str) -> list[Mapping[str, Any]]:
        value = self._data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.error(key, f"tables [[{key}]]", _came(value))
        return value


def _profile(where: str, data: Mapping[str, Any]) -> Profile:
    table = _Table(where, data, {"name", "title", "note", "forbids", "limit", "raise"})
    name = table.text("name")
    if not re.fullmatch(r"[a-z0-9-]{1,40}", name):
        raise table.error("name", "one to 40 of a-z, 0-9 and -", _came(name))
    methods = tuple(Method)
    for word in table.texts("forbids"):
        if word not in methods:
            raise table.error("forbids", "some of " + ", ".join(methods), _came(word))
    limits: dict[LimitKey, Limit] = {}
    for number, item in enumerate(table.tables("limit"), start=1):
        limit = _limit(f"{where} ({name}): limit {number}", item)
        if limit.key in limits:
            raise table.error("limit", "each key once", f"{limit.key.value!r} twice")
        limits[limit.key] = limit
    for low, high in _ORDERED:
        if low in limits and high in limits and limits[low].value_si >= limits[high].value_si:
            raise table.error(
                low.value,
                f"less than {high.value} ({limits[high].as_written})",
                limits[low].as_written,
            )
    return Profile(
        name=name,
        title=table.text("title"),
        note=table.text("note", ""),
        limits=limits,
        forbids=frozenset(Method(word) for word in table.texts("forbids")),
        raises=tuple(
            _raise(f"{where} ({name}): raise {number}", item)
            for number, item in enumerate(table.tables("raise"), start=1)
        ),
    )


def _raise(where: str, data: Mapping[str, Any]) -> PressureStep:
    known = {"pressure", "hold", "source", "edition", "address", "authority", "from_memory"}
    table = _Table(where, data, known)
    authority = table.choice("authority", (rank.words for rank in Authority))
    from_memory = table.flag("from_memory")
    if not (table.text("address", "") or from_memory):
        raise table.error("address", "where it was read, or from_memory = true", "nothing")
    edition = table.text("edition", "" if from_memory else None)
    cited = ", ".join(part for part in (table.text("source"), edition) if part)
    try:
        pressure_pa, _ = parse_pressure(table.text("pressure"), Reference.GAUGE)
        hold_s = parse(table.text("hold"), Quantity.DURATION)
    except UnitError as error:
        raise ConfigError(f"{where}: {error}") from error
    return PressureStep(
        pressure_pa_gauge=pressure_pa,
        hold_s=hold_s,
        source=f"{cited} ({authority}){', from memory' if from_memory else ''}",
    )


def _limit(where: str, data: Mapping[str, Any]) -> Limit:
    known = {
        "key", "value", "source", "edition", "address", "authority", "from_memory", "strict",
        "note",
    }  # fmt: skip
    table = _Table(where, data, known)
    key = LimitKey(table.choice("key", LimitKey))
    words = {rank.words: rank for rank in Authority}
    authority = words[table.choice("authority", words)]
    written = table.text("value")
    from_memory = table.flag("from_memory")
    address = table.text("address", "")
    thumb = authority is Authority.RULE_OF_THUMB
    if not (address or from_memory or thumb):
        raise table.error("address", "where it was read, or from_memory = true", "nothing")
    return Limit(
        key=key,
        value_si=_value_si(table, key, written),
        as_written=written,
        source=table.text("source"),
        edition=table.text("edition", "" if thumb or from_memory else None),
        address=address,
        authority=authority,
        from_memory=from_memory,
        strict=table.flag("strict"),
        note=table.text("note", ""),
    )


def _value_si(table: _Table, key: LimitKey, written: str) -> float:
    try:
        return limit_value_si(key, written)
    except UnitError as error:
        refused = table.error("value", f"a {key.kind.value}", repr(written))
        raise ConfigError(f"{refused}: {error}") from error


def limit_value_si(key: LimitKey, written: str) -> float:
    """Return the SI value of a limit as written: "55 °F", "15 min", "300 cfm/ton".

    Raises
    ------
    UnitError
        If it is not a quantity of the limit's kind, or not above zero.
    """
    kind = key.kind
    if kind is Kind.AIRFLOW_PER_CAPACITY:
        value = _airflow_si(written)
    elif kind is Kind.PRESSURE_DIFFERENCE:
        value = _pressure_difference_pa(written)
    elif kind is Kind.PRESSURE_ABSOLUTE:
        value, _ = parse_pressure(written, Reference.ABSOLUTE)
    else:
        value = parse(written, _QUANTITY[kind])
    if not 0.0 < value < math.inf:
        raise UnitError(f"expected a {kind.value} above zero, got {plain(written)!r}")
    return value


def _airflow_si(written: str) -> float:
    number, unit = split_number(written)
    if unit not in _AIRFLOW_UNITS:
        raise UnitError(
            f"{unit!r} is not a unit of {Kind.AIRFLOW_PER_CAPACITY.value}; known ones are "
            f"{', '.join(_AIRFLOW_UNITS)}"
        )
    return number * _AIRFLOW_UNITS[unit]


def _pressure_difference_pa(written: str) -> float:
    number, name = split_number(written)
    unit = find_unit(name, Quantity.PRESSURE)
    if unit.reference is not None:
        raise UnitError(f"{written!r}: a difference of pressures is neither gauge nor absolute")
    return number * unit.scale


def _came(value: object) -> str:
    return "nothing" if value is None else f"{plain(repr(value), 60)} ({type(value).__name__})"
