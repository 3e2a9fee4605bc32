"""Amounts of a scenario file that have units of their own: shares, leaks, zero errors, sizes."""

import math
from collections.abc import Mapping
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, find_unit, split_number
from chargeassist.session.job.toml_table import TomlTable


def _factors(quantity: Quantity, *names: str) -> dict[str, float]:
    """Return the SI factor of each unit named; a difference has no offset."""
    return {name: find_unit(name, quantity).scale for name in names}


_PER_MINUTE: Final = find_unit("g", Quantity.MASS).scale / find_unit("min", Quantity.DURATION).scale
SHARE: Final = _factors(Quantity.FRACTION, "%")
FACTOR: Final = {"times": 1.0}
PRESSURE_DIFFERENCE: Final = _factors(Quantity.PRESSURE, "kPa", "MPa", "bar", "psi")
TEMPERATURE_DIFFERENCE: Final = _factors(Quantity.TEMPERATURE_DIFFERENCE, "K", "°C", "°F")
LEAK: Final = {"g/s": find_unit("g", Quantity.MASS).scale, "g/min": _PER_MINUTE}
LEAK_INTO_VACUUM: Final = {
    "Pa m3/s": 1.0,
    "mbar L/s": find_unit("mbar", Quantity.PRESSURE).scale * find_unit("L", Quantity.VOLUME).scale,
}
VOLUME: Final = _factors(Quantity.VOLUME, "L", "m3")
GAS: Final = {"mol/kg": 1.0}
"""Non-condensable gas per kilogram of charge."""

SECONDS: Final = _factors(Quantity.DURATION, "s", "min")
HERTZ: Final = _factors(Quantity.FREQUENCY, "Hz")
CAPACITY: Final = _factors(Quantity.POWER, "kW", "W", "ton")
_VACUUM: Final = _factors(Quantity.PRESSURE, "Pa", "micron")
_ERRORS: Final[Mapping[Quantity, Mapping[str, float]]] = {
    Quantity.PRESSURE: PRESSURE_DIFFERENCE,
    Quantity.TEMPERATURE: TEMPERATURE_DIFFERENCE,
    Quantity.CURRENT: _factors(Quantity.CURRENT, "A"),
    Quantity.FREQUENCY: HERTZ,
    Quantity.MASS: _factors(Quantity.MASS, "g", "kg", "oz"),
}


def error_units(role: Role) -> Mapping[str, float]:
    """Return the units an error of a probe in that place may be written in."""
    return _VACUUM if role is Role.VACUUM else _ERRORS[role.quantity]


def amount(
    table: TomlTable, key: str, units: Mapping[str, float], default: float | None = None
) -> float:
    """Return the amount at `key` in SI.

    Parameters
    ----------
    table : TomlTable
    key : str
    units : mapping of str to float
        Units it may be written in, each with its SI factor.
    default : float, optional
        When the key is absent; required without it.

    Raises
    ------
    ConfigError
        If it is missing, no number, or has another unit.
    """
    known = ", ".join(units)
    if table.get(key) is None:
        if default is None:
            raise ConfigError(
                f"{table.where(key)}: expected a number with one of the units {known}, "
                "but the key is missing"
            )
        return default
    text = table.text(key)
    try:
        value, unit = split_number(text)
    except UnitError as error:
        expected = f"expected one of the units {known}"
        raise ConfigError(f"{table.where(key)}: {error}; {expected}") from error
    if unit not in units:
        raise table.error(
            key, f"expected a number with one of the units {known}", repr(plain(text))
        )
    return value * units[unit]


def time_s(table: TomlTable, key: str, default: float | None = None) -> float:
    """Return the time since the start at `key` [s]; `default` when absent.

    Raises
    ------
    ConfigError
        As `TomlTable.quantity_between`.
    """
    return table.quantity_between(key, Quantity.DURATION, 0.0, 86_400.0, default)


def begin_and_end_s(table: TomlTable) -> tuple[float, float]:
    """Return from when ("at", 0) until when ("until", never) a thing of the file is so [s], [s].

    Raises
    ------
    ConfigError
        If it is over before it begins.
    """
    at_s, until_s = time_s(table, "at", 0.0), time_s(table, "until", math.inf)
    if until_s <= at_s:
        raise table.error("until", f"expected later than at, {at_s:g} s", f"{until_s:g} s")
    return at_s, until_s


def check_apart(
    table: TomlTable, span: tuple[float, float], others: list[tuple[float, float]]
) -> None:
    """Refuse a thing of the file that would end one of its kind, or be ended by one.

    Two that stay may follow one another: the later takes over. The end of one is the end of both.

    Parameters
    ----------
    table : TomlTable
        It stands in.
    span : (float, float)
        From when until when it is so [s].
    others : list of (float, float)
        Those of its kind before it; `span` is added.

    Raises
    ------
    ConfigError
    """
    for other in others:
        (_, first_until_s), (second_at_s, _) = sorted((other, span))
        if second_at_s < first_until_s and min(other[1], span[1]) < math.inf:
            since = f"{other[0]:g} s" + ("" if other[1] == math.inf else f" to {other[1]:g} s")
            raise table.error(
                "at", "expected none of the same kind at the same time", f"one from {since} besides"
            )
    others.append(span)
