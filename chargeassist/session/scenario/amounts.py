"""Amounts of a scenario file that have units of their own: shares, leaks, zero errors, sizes."""

from collections.abc import Mapping
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.text import plain
from chargeassist.model.units import PASCAL_PER_TORR, Quantity, split_number
from chargeassist.session.job.toml_table import TomlTable

SHARE: Final = {"%": 0.01}
FACTOR: Final = {"times": 1.0}
PRESSURE_DIFFERENCE: Final = {
    "kPa": 1e3, "MPa": 1e6, "bar": 1e5, "psi": 6894.757293168361,
}  # fmt: skip
TEMPERATURE_DIFFERENCE: Final = {"K": 1.0, "°C": 1.0, "°F": 5.0 / 9.0}
LEAK: Final = {"g/s": 1e-3, "g/min": 1e-3 / 60.0}
LEAK_INTO_VACUUM: Final = {"Pa m3/s": 1.0, "mbar L/s": 0.1}
VOLUME: Final = {"L": 1e-3, "m3": 1.0}
GAS: Final = {"mol/kg": 1.0}
SECONDS: Final = {"s": 1.0, "min": 60.0}
HERTZ: Final = {"Hz": 1.0}
CAPACITY: Final = {"kW": 1e3, "W": 1.0, "ton": 3516.8528420667}
_VACUUM: Final = {"Pa": 1.0, "micron": PASCAL_PER_TORR * 1e-3}
_ERRORS: Final[Mapping[Quantity, Mapping[str, float]]] = {
    Quantity.PRESSURE: PRESSURE_DIFFERENCE,
    Quantity.TEMPERATURE: TEMPERATURE_DIFFERENCE,
    Quantity.CURRENT: {"A": 1.0},
    Quantity.FREQUENCY: HERTZ,
    Quantity.MASS: {"g": 1e-3, "kg": 1.0, "oz": 0.028349523125},
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
        raise ConfigError(f"{table.where(key)}: {error}; expected one of the units {known}") from (
            error
        )
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
