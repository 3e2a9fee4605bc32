"""A settings file, and its tables read key by key.

Every refusal names file, key, what was expected and what came.
"""

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Reference, parse, parse_pressure
from chargeassist.session.bounded import file_bytes

_EXAMPLE = {
    Quantity.TEMPERATURE_DIFFERENCE: '"5.0 K" or "9 °F"',
    Quantity.TEMPERATURE: '"70 °F" or "21 °C"',
    Quantity.MASS: '"110 g" or "4 oz"',
    Quantity.FREQUENCY: '"72 Hz"',
    Quantity.DURATION: '"60 s" or "1 min"',
    Quantity.LENGTH: '"210 m" or "690 ft"',
    Quantity.CURRENT: '"14 A"',
    Quantity.PRESSURE: '"248 psig" or "1.7 MPa(g)"',
    Quantity.VOLTAGE: '"230 V"',
    Quantity.AIRFLOW: '"1050 cfm" or "500 L/s"',
    Quantity.POWER: '"3 tons" or "10.6 kW"',
    Quantity.AREA: '"12 m2" or "130 ft2"',
    Quantity.VOLUME: '"4.2 L"',
    Quantity.MASS_PER_LENGTH: '"0.6 oz/ft" or "56 g/m"',
    Quantity.FRACTION: '"10 %"',
}
_BAROMETER = '"98.8 kPa" or "29.2 inHg"'
LONGEST_TEXT = 4000
"""Of one value [characters]: notes are shorter, and no reader of a value needs be quick on more."""

LONGEST_LINE = 8000
"""Of a settings file [characters]: a key of ten thousand parts takes a TOML reader minutes."""

LARGEST_FILE_BYTES = 256 * 1024
"""Of a settings file."""


def file_text(path: Path, what: str) -> str:
    """Return the text of the settings file at `path`; `what` it is stands in errors.

    Raises
    ------
    ConfigError
        If it cannot be read, is no file, far too long, or not UTF-8.
    """
    data = file_bytes(path, what, LARGEST_FILE_BYTES)
    try:
        return data.decode("utf-8-sig")  # some editors begin with a mark
    except UnicodeDecodeError as error:
        raise ConfigError(f"{path}: expected UTF-8 text, got byte {error.start} wrong") from error


def toml_of(text: str, where: str) -> "TomlTable":
    """Return the top table of TOML `text`; `where` names it in errors.

    Raises
    ------
    ConfigError
        If it is not TOML, or has a line longer than `LONGEST_LINE`.
    """
    for number, line in enumerate(text.splitlines(), 1):
        if len(line) > LONGEST_LINE:
            raise ConfigError(
                f"{where}: line {number}: expected at most {LONGEST_LINE} characters, "
                f"got {len(line)}"
            )
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: also an endless number
        raise ConfigError(f"{where}: expected TOML: {plain(str(error), 200)}") from error
    return TomlTable(where, "", data)


@dataclass
class TomlTable:
    """One table of a settings file, read key by key; what is left over at the end is an error.

    Attributes
    ----------
    file : str
        Named in errors.
    name : str
        Dotted path of the table in the file; empty at the top.
    data : Mapping
        As `tomllib` read it.
    seen : set of str
        Keys asked for so far.

    Every reading method raises `ConfigError` for a missing key that is not optional and for a value
    of the wrong kind.
    """

    file: str
    name: str
    data: Mapping[str, Any]
    seen: set[str] = field(default_factory=set)

    def where(self, key: str) -> str:
        """Return "file: table.key" for a message."""
        path = ".".join(part for part in (self.name, key) if part)
        return f"{self.file}: {path}" if path else self.file

    def error(self, key: str, expected: str, came: str) -> ConfigError:
        """Return the error that says what was expected at `key` and what came."""
        return ConfigError(f"{self.where(key)}: {expected}, got {came}")

    def get(self, key: str) -> Any:  # noqa: ANN401 (TOML values are what they are)
        """Return the raw value of `key`, None when absent, and count the key as known."""
        self.seen.add(key)
        return self.data.get(key)

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text; `default` when absent."""
        value = self.get(key)
        if value is None:
            if default is None:
                raise ConfigError(f"{self.where(key)}: expected a text, but the key is missing")
            return default
        if not isinstance(value, str):
            raise self.error(key, "expected a text in quotes", came(value))
        return self._short(key, value)

    def _short(self, key: str, value: str) -> str:
        if len(value) > LONGEST_TEXT:
            raise self.error(
                key, f"expected a text of at most {LONGEST_TEXT} characters", f"one of {len(value)}"
            )
        return value

    def filled(self, key: str, default: str | None = None) -> str:
        """Return a text without the blanks around it; one without a `default` may not be empty."""
        value = self.text(key, default).strip()
        if default is None and not value:
            raise self.error(key, "expected a text in quotes", "an empty one")
        return value

    def written(self, key: str) -> str | None:
        """Return a text without the blanks around it; None when absent. It may not be empty."""
        return None if self.get(key) is None else self.filled(key)

    def flag(self, key: str) -> bool:
        """Return true or false; false when absent."""
        value = self.get(key)
        if value is None:
            return False
        if not isinstance(value, bool):
            raise self.error(key, "expected true or false", came(value))
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts; empty when absent."""
        value = self.get(key)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.error(key, "expected a list of texts", came(value))
        return tuple(self._short(key, item) for item in value)

    def number(self, key: str, default: float) -> float:
        """Return a plain number; `default` when absent."""
        value = self.get(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.error(key, "expected a number", came(value))
        if not abs(value) < 1e12:
            raise self.error(key, "expected a finite number", came(value))
        return float(value)

    def choice(self, key: str, known: tuple[str, ...], default: str | None = None) -> str:
        """Return one of the `known` texts; `default` when absent."""
        value = self.text(key, default=default)
        if value != default and value not in known:
            raise self.error(
                key,
                "expected one of " + ", ".join(known),
                repr(plain(value)) + suggestion(value, known),
            )
        return value

    def quantity(self, key: str, quantity: Quantity) -> float | None:
        """Return a quantity written with its unit, in SI; None when absent."""
        return None if self.get(key) is None else self._quantity(key, quantity)

    def _quantity(self, key: str, quantity: Quantity) -> float:
        value = self.get(key)
        expected = f"expected a {quantity.value} such as {_EXAMPLE[quantity]}"
        if value is None:
            raise ConfigError(f"{self.where(key)}: {expected}, but the key is missing")
        if not isinstance(value, str):
            raise self.error(key, expected, came(value))
        try:
            return parse(self._short(key, value), quantity)
        except UnitError as error:
            raise ConfigError(f"{self.where(key)}: {error}; {expected}") from error

    def quantity_between(
        self, key: str, quantity: Quantity, low: float, high: float, default: float | None = None
    ) -> float:
        """Return a quantity inside `low` to `high` (SI); required where there is no `default`."""
        if default is not None and self.get(key) is None:
            return default
        value = self._quantity(key, quantity)
        if not low <= value <= high:
            unit = "" if quantity is Quantity.FRACTION else f" {quantity.si_unit}"
            raise self.error(
                key, f"expected {low:g} to {high:g}{unit}", self._written(key, f"{value:.5g}{unit}")
            )
        return value

    def optional_between(
        self, key: str, quantity: Quantity, low: float, high: float
    ) -> float | None:
        """Return a quantity inside `low` to `high` (SI); None when absent."""
        if self.get(key) is None:
            return None
        return self.quantity_between(key, quantity, low, high)

    def _written(self, key: str, in_si: str) -> str:
        """Return the text at `key` for a message, and what it is in SI unless so written."""
        text = str(self.data[key]).strip()
        return repr(plain(text, 40)) + ("" if text == in_si else f", which is {in_si}")

    def pressure(self, key: str, reference: Reference) -> float | None:
        """Return a pressure [Pa] of the given reference; None when absent."""
        value = self.get(key)
        if value is None:
            return None
        example = _BAROMETER if key == "barometer" else _EXAMPLE[Quantity.PRESSURE]
        expected = f"expected a pressure such as {example}"
        if not isinstance(value, str):
            raise self.error(key, expected, came(value))
        # A barometer is absolute by nature; anywhere else the unit must say what it counts from.
        implied = reference if key == "barometer" else None
        try:
            pressure_pa, said = parse_pressure(self._short(key, value), implied)
        except UnitError as error:
            raise ConfigError(f"{self.where(key)}: {error}; {expected}") from error
        if said is not reference:
            raise self.error(key, f"expected a {reference.value} pressure", repr(plain(value)))
        return pressure_pa

    def pressure_between(
        self, key: str, reference: Reference, low_pa: float, high_pa: float
    ) -> float | None:
        """Return a pressure [Pa] inside `low_pa` to `high_pa`; None when absent."""
        value_pa = self.pressure(key, reference)
        if value_pa is not None and not low_pa <= value_pa <= high_pa:
            unit = f"MPa({reference.value[0]})"
            raise self.error(
                key,
                f"expected {low_pa / 1e6:g} to {high_pa / 1e6:g} {unit}",
                self._written(key, f"{value_pa / 1e6:.4g} {unit}"),
            )
        return value_pa

    def table(self, key: str, *, optional: bool = False) -> "TomlTable":
        """Return the table at `key`; an empty one when optional and absent."""
        value = self.get(key)
        if value is None:
            if not optional:
                raise ConfigError(f"{self.where(key)}: expected a table, but it is missing")
            value = {}
        if not isinstance(value, dict):
            raise self.error(key, f"expected a table [{key}]", came(value))
        return TomlTable(self.file, ".".join(filter(None, (self.name, key))), value)

    def tables(self, key: str) -> tuple["TomlTable", ...]:
        """Return the array of tables at `key`; empty when absent."""
        value = self.get(key)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.error(key, f"expected tables [[{key}]]", came(value))
        prefix = ".".join(filter(None, (self.name, key)))
        return tuple(
            TomlTable(self.file, f"{prefix}[{number}]", item)
            for number, item in enumerate(value, start=1)
        )

    def finish(self) -> None:
        """Refuse keys nobody asked for, with the nearest known one."""
        for key in self.data:
            if key not in self.seen:
                hint = suggestion(key, tuple(self.seen))
                known = ", ".join(sorted(self.seen))
                raise ConfigError(
                    f"{self.where(plain(key, 40))}: unknown key{hint}; known: {known}"
                )


def suggestion(text: str, known: tuple[str, ...]) -> str:
    """Return " (did you mean 'X'?)" with the nearest of the `known` texts; empty for none."""
    near = difflib.get_close_matches(text, known, n=1)
    return f" (did you mean {str(near[0])!r}?)" if near else ""  # not the name of a StrEnum


_KINDS: tuple[tuple[type | tuple[type, ...], str], ...] = (
    (str, "text"),
    (bool, "true or false"),  # before int, of which Python has it
    ((int, float), "number"),
    (list, "list"),
    (dict, "table"),
    (datetime, "date with time"),  # before date, of which Python has it
    (date, "date"),
    (time, "time of day"),
)


def kind_of(value: object) -> str:
    """Return what a value of a settings file is, in the words of TOML."""
    return next((words for kinds, words in _KINDS if isinstance(value, kinds)), "something else")


def came(value: object, known: Iterable[str] = ()) -> str:
    """Return what came, for a message: its value and kind, and the nearest of the `known` texts.

    The kind of "true", and that of a text where one was expected, say nothing more.
    """
    try:
        shown = plain(_as_toml(value), 60)
    except (ValueError, RecursionError):  # an integer of thousands of digits; a deep nest
        shown = "something very long"
    if isinstance(value, bool):
        return shown
    if isinstance(value, str) and known:
        return shown + suggestion(value, tuple(known))
    return f"{shown} ({kind_of(value)})"


def _as_toml(value: object) -> str:
    """Return a value as a settings file would have it, the first few where there are many."""
    match value:
        case bool():
            return str(value).lower()
        case list():
            return f"[{', '.join(_as_toml(item) for item in value[:9])}]"
        case dict():
            items = list(value.items())[:9]
            return "{" + ", ".join(f"{key} = {_as_toml(item)}" for key, item in items) + "}"
        case date() | time():  # a date with its time is a date
            return value.isoformat()
        case _:
            return repr(value)
