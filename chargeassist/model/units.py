"""Units of the trade to SI and back: the only place with conversion factors.

Inside the program every number is SI: Pa, K, A, Hz, kg, V, s, m. A pressure always has a
reference: gauge and absolute are different units ("psig", "psia"), and a bare "psi" is refused
unless the reference is given elsewhere. A temperature and a difference of temperatures are
different quantities: 10 °F is 260.93 K on a pipe and 5.556 K of subcooling.

Sources of the factors: NIST Special Publication 811 (2008), appendix B.8: pound-force per square
inch, inch of mercury (conventional, 0 °C), millimetre of mercury, torr, pound and ounce
(avoirdupois), foot. One micron of vacuum is one millitorr. Code spellings in square brackets are
UCUM (Unified Code for Units of Measure, version 2.1).
"""

import math
import re
from dataclasses import dataclass
from enum import StrEnum

from chargeassist.model.errors import UnitError

PASCAL_PER_PSI = 6894.757293168361
PASCAL_PER_INHG = 3386.389
PASCAL_PER_TORR = 101325.0 / 760.0
PASCAL_PER_MICRON = 1e-3 * PASCAL_PER_TORR
KILOGRAM_PER_POUND = 0.45359237
METRE_PER_FOOT = 0.3048
METRE_PER_INCH = 0.0254
CUBIC_METRE_PER_S_PER_CFM = METRE_PER_FOOT**3 / 60.0
WATT_PER_BTU_PER_H = 1055.05585262 / 3600.0
"""International Table Btu."""
WATT_PER_TON = 12_000.0 * WATT_PER_BTU_PER_H
"""One ton of refrigeration: 12 000 Btu an hour, 3516.853 W."""
KELVIN_AT_0_C = 273.15
KELVIN_PER_FAHRENHEIT = 5.0 / 9.0


def kelvin_from_fahrenheit(temp_f: float) -> float:
    """Return a temperature of the Fahrenheit scale [K]: ``(t/°F + 459.67) / 1.8``."""
    return (temp_f + 459.67) / 1.8


def fahrenheit_from_kelvin(temp_k: float) -> float:
    """Return a temperature [K] on the Fahrenheit scale [°F]: ``1.8 T/K - 459.67``."""
    return temp_k * 1.8 - 459.67


class Quantity(StrEnum):
    """A kind of quantity; inside the program it is always in its `si_unit`."""

    PRESSURE = "pressure"  # gauge or absolute by Reference
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature difference"
    CURRENT = "current"
    FREQUENCY = "frequency"
    MASS = "mass"
    VOLTAGE = "voltage"
    DURATION = "duration"
    LENGTH = "length"
    FRACTION = "fraction"
    AIRFLOW = "airflow"
    POWER = "power"
    AREA = "area"
    VOLUME = "volume"
    MASS_PER_LENGTH = "mass per length"

    @property
    def si_unit(self) -> str:
        """Symbol of the SI unit; "1" for a fraction."""
        return _SI_UNITS[self]


_SI_UNITS = {
    Quantity.PRESSURE: "Pa",
    Quantity.TEMPERATURE: "K",
    Quantity.TEMPERATURE_DIFFERENCE: "K",
    Quantity.CURRENT: "A",
    Quantity.FREQUENCY: "Hz",
    Quantity.MASS: "kg",
    Quantity.VOLTAGE: "V",
    Quantity.DURATION: "s",
    Quantity.LENGTH: "m",
    Quantity.FRACTION: "1",
    Quantity.AIRFLOW: "m3/s",
    Quantity.POWER: "W",
    Quantity.AREA: "m2",
    Quantity.VOLUME: "m3",
    Quantity.MASS_PER_LENGTH: "kg/m",
}


class Reference(StrEnum):
    """Zero of a pressure: the atmosphere, or no pressure at all."""

    GAUGE = "gauge"
    ABSOLUTE = "absolute"


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: ``si = value * scale + offset``.

    Attributes
    ----------
    symbol : str
        As written on screens and in job files.
    quantity : Quantity
    scale, offset : float
        Conversion to SI.
    reference : Reference or None
        Of a pressure, if the unit's name says it; else None.
    """

    symbol: str
    quantity: Quantity
    scale: float
    offset: float = 0.0
    reference: Reference | None = None

    def to_si(self, value: float) -> float:
        """Return `value` of this unit in the SI unit of its quantity."""
        return value * self.scale + self.offset

    def from_si(self, value_si: float) -> float:
        """Return an SI value in this unit."""
        return (value_si - self.offset) / self.scale


def _pressure_units() -> list[tuple[Unit, tuple[str, ...]]]:
    sizes: list[tuple[str, float, tuple[str, ...]]] = [
        ("Pa", 1.0, ()),
        ("hPa", 100.0, ()),
        ("kPa", 1000.0, ()),
        ("MPa", 1e6, ()),
        ("mbar", 100.0, ()),
        ("bar", 1e5, ()),
        ("psi", PASCAL_PER_PSI, ("[psi]", "lb/in2", "lbf/in2")),
        ("inHg", PASCAL_PER_INHG, ("[in_i'Hg]",)),
    ]
    p = Quantity.PRESSURE
    rows: list[tuple[Unit, tuple[str, ...]]] = []
    for symbol, scale, more in sizes:
        rows.append((Unit(symbol, p, scale), more))
        for reference in Reference:
            word, letter = reference.value, reference.value[0]
            names: tuple[str, ...] = (
                f"{symbol}({letter})", f"{symbol} {word}", f"{symbol} {letter}",
            )  # fmt: skip
            if letter == "a":
                names += (f"{symbol} abs",)
            if symbol == "Pa":  # "Paa" and "Pag" are nobody's spelling
                rows.append((Unit(f"Pa({letter})", p, scale, 0.0, reference), names))
            else:
                rows.append((Unit(f"{symbol}{letter}", p, scale, 0.0, reference), names))
    # A vacuum gauge counts downwards from the atmosphere.
    downwards = Unit("inHg vac", p, -PASCAL_PER_INHG, 0.0, Reference.GAUGE)
    rows.append((downwards, ("inHg vacuum", "inHgv")))
    absolute = Reference.ABSOLUTE
    rows.append(
        (
            Unit("micron", p, PASCAL_PER_MICRON, 0.0, absolute),
            ("microns", "um[Hg]", "umHg", "µmHg", "mTorr"),
        )
    )
    rows.append((Unit("Torr", p, PASCAL_PER_TORR, 0.0, absolute), ("torr", "mmHg", "mm[Hg]")))
    return rows


def _other_units() -> list[tuple[Unit, tuple[str, ...]]]:
    q = Quantity
    f = KELVIN_PER_FAHRENHEIT
    pound = KILOGRAM_PER_POUND
    return [
        (Unit("K", q.TEMPERATURE, 1.0), ("kelvin",)),
        (Unit("°C", q.TEMPERATURE, 1.0, KELVIN_AT_0_C), ("C", "degC", "Cel", "celsius", "ºC", "℃")),
        (
            Unit("°F", q.TEMPERATURE, f, KELVIN_AT_0_C - 32.0 * f),
            ("F", "degF", "[degF]", "fahrenheit", "ºF", "℉"),
        ),
        (Unit("K", q.TEMPERATURE_DIFFERENCE, 1.0), ("kelvin", "°C", "C", "degC", "Cel", "ºC", "℃")),
        (Unit("°F", q.TEMPERATURE_DIFFERENCE, f), ("F", "degF", "[degF]", "°R", "R", "ºF", "℉")),
        (Unit("A", q.CURRENT, 1.0), ("amp", "amps", "ampere")),
        (Unit("mA", q.CURRENT, 1e-3), ()),
        (Unit("Hz", q.FREQUENCY, 1.0), ("hertz",)),
        (Unit("kg", q.MASS, 1.0), ("kilogram",)),
        (Unit("g", q.MASS, 1e-3), ("gram", "grams")),
        (Unit("lb", q.MASS, pound), ("lbs", "[lb_av]", "pound", "pounds")),
        (Unit("oz", q.MASS, pound / 16.0), ("[oz_av]", "ounce", "ounces")),
        (Unit("V", q.VOLTAGE, 1.0), ("volt", "volts")),
        (Unit("s", q.DURATION, 1.0), ("sec", "second", "seconds")),
        (Unit("min", q.DURATION, 60.0), ("minute", "minutes")),
        (Unit("h", q.DURATION, 3600.0), ("hour", "hours", "hr")),
        (Unit("d", q.DURATION, 86_400.0), ("day", "days")),
        (Unit("m", q.LENGTH, 1.0), ("metre", "meter")),
        (Unit("ft", q.LENGTH, METRE_PER_FOOT), ("foot", "feet", "[ft_i]")),
        (Unit("mm", q.LENGTH, 1e-3), ("millimetre", "millimeter")),
        (Unit("in", q.LENGTH, METRE_PER_INCH), ("inch", "inches", "[in_i]")),
        (Unit("%", q.FRACTION, 0.01), ("percent", "%RH")),
        (Unit("1", q.FRACTION, 1.0), ("",)),
        (Unit("m3/s", q.AIRFLOW, 1.0), ("m³/s",)),
        (Unit("m3/h", q.AIRFLOW, 1.0 / 3600.0), ("m³/h",)),
        (Unit("L/s", q.AIRFLOW, 1e-3), ("l/s",)),
        (Unit("cfm", q.AIRFLOW, CUBIC_METRE_PER_S_PER_CFM), ("CFM", "[cft_i]/min")),
        (Unit("W", q.POWER, 1.0), ("watt", "watts")),
        (Unit("kW", q.POWER, 1000.0), ()),
        (Unit("Btu/h", q.POWER, WATT_PER_BTU_PER_H), ("Btu/hr", "Btuh", "[Btu_IT]/h")),
        (Unit("ton", q.POWER, WATT_PER_TON), ("tons", "tonR")),
        (Unit("m2", q.AREA, 1.0), ("m²",)),
        (Unit("ft2", q.AREA, METRE_PER_FOOT**2), ("ft²", "sq ft", "[sft_i]")),
        (Unit("m3", q.VOLUME, 1.0), ("m³",)),
        (Unit("L", q.VOLUME, 1e-3), ("l", "litre", "liter")),
        (Unit("ft3", q.VOLUME, METRE_PER_FOOT**3), ("ft³", "cu ft", "[cft_i]")),
        (Unit("kg/m", q.MASS_PER_LENGTH, 1.0), ()),
        (Unit("g/m", q.MASS_PER_LENGTH, 1e-3), ()),
        (Unit("oz/ft", q.MASS_PER_LENGTH, pound / 16.0 / METRE_PER_FOOT), ("[oz_av]/[ft_i]",)),
        (Unit("lb/ft", q.MASS_PER_LENGTH, pound / METRE_PER_FOOT), ("[lb_av]/[ft_i]",)),
    ]


def _index() -> dict[tuple[Quantity, str], Unit]:
    exact: dict[tuple[Quantity, str], Unit] = {}
    for unit, more in _pressure_units() + _other_units():
        for name in (unit.symbol, *more):
            exact.setdefault((unit.quantity, name), unit)
    return exact


_UNITS = _index()
_FOLDED: dict[tuple[Quantity, str], set[Unit]] = {}
for (_quantity, _name), _unit in _UNITS.items():
    _FOLDED.setdefault((_quantity, _name.casefold().replace(" ", "")), set()).add(_unit)


def find_unit(text: str, quantity: Quantity) -> Unit:
    """Return the unit spelled `text` for `quantity`.

    The exact spelling is tried first ("mPa" is not "MPa"), then the spelling without regard to
    case and spaces, if only one unit fits.

    Raises
    ------
    UnitError
        If no unit, or more than one, fits.
    """
    name = text.strip()
    unit = _UNITS.get((quantity, name))
    if unit is not None:
        return unit
    closed = name.replace(" ", "")
    candidates = _FOLDED.get((quantity, closed.casefold()), set())
    # Milli and mega differ by case alone; guessing between them would be a factor of 10^9.
    milli = quantity is Quantity.PRESSURE and closed.startswith(("mP", "mp"))
    if len(candidates) == 1 and not milli:
        return next(iter(candidates))
    raise UnitError(
        f"{text!r} is not a unit of {quantity.value}; "
        f"known ones are {', '.join(unit_symbols(quantity))}"
    )


def unit_symbols(quantity: Quantity) -> tuple[str, ...]:
    """Return the symbols of all units of `quantity`, in table order."""
    return tuple(dict.fromkeys(u.symbol for (q, _), u in _UNITS.items() if q is quantity))


_NUMBER = re.compile(r"\s*([+\-−]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*")


def split_number(text: str) -> tuple[float, str]:
    """Return the number `text` begins with and what follows it, stripped.

    Raises
    ------
    UnitError
        If it does not begin with a finite number.
    """
    match = _NUMBER.match(text)
    if match is None:
        raise UnitError(f"expected a number with a unit, got {text!r}")
    if re.match(r"\d,\d", text[match.end(1) - 1 :]):
        raise UnitError(f"expected a number with a point and without a comma, got {text!r}")
    value = float(match.group(1).replace("−", "-"))
    if not math.isfinite(value):
        raise UnitError(f"expected a finite number, got {text!r}")
    return value, text[match.end() :].strip()


def parse(text: str, quantity: Quantity) -> float:
    """Return the SI value of a text such as "5.0 K", "110 g" or "2 lb 3 oz".

    Parameters
    ----------
    text : str
        A number and a unit. A mass may be a sum with one sign in front ("-2 lb 3 oz"), a length
        a common fraction ("3/8 in", "1-1/8 in").
    quantity : Quantity
        The quantity expected; for pressures use `parse_pressure`.

    Raises
    ------
    UnitError
        If there is no number, no unit or a unit of another quantity, or if the quantity is a
        pressure.
    """
    if quantity is Quantity.PRESSURE:
        raise UnitError(f"{text!r}: a pressure must say gauge or absolute and is read as such")
    if quantity is Quantity.LENGTH and "/" in text:
        return _inches_m(text)
    value, name = split_number(text)
    if quantity is Quantity.MASS:
        return _finite(_sum_of_masses_kg(value, name, text), text)
    return _finite(_named_unit(name, quantity, text).to_si(value), text)


_INCHES = re.compile(r"\s*(?:(\d{1,3})[ -])?(\d{1,3})/(\d{1,3})\s*(\D*)")


def _inches_m(text: str) -> float:
    """Return the length of a text such as "3/8 in" or "1-1/8 in" [m]."""
    match = _INCHES.fullmatch(text)
    if match is None or int(match.group(3)) == 0:
        raise UnitError(f'expected a length such as "3/8 in" or "1-1/8 in", got {text!r}')
    whole, over, under, name = match.groups()
    value = int(whole or 0) + int(over) / int(under)
    return _named_unit(name.strip(), Quantity.LENGTH, text).to_si(value)


def _sum_of_masses_kg(value: float, rest: str, text: str) -> float:
    """Return the mass of a sum such as 2 lb 3 oz, given its first number and what follows it."""
    # "-2 lb 3 oz" is what is printed for two pounds three ounces taken out.
    sign = math.copysign(1.0, value)
    value = abs(value)
    total_kg = 0.0
    while True:
        words = re.match(r"[^\d+\-−.]*", rest)
        end = words.end() if words else 0
        total_kg += _named_unit(rest[:end].strip(), Quantity.MASS, text).to_si(value)
        rest = rest[end:].strip()
        if not rest:
            return sign * total_kg
        if rest[0] in "+-−":
            raise UnitError(f"expected one sign in front of the whole sum, got {text!r}")
        value, rest = split_number(rest)


def _named_unit(name: str, quantity: Quantity, text: str) -> Unit:
    if not name:
        raise UnitError(f"{text!r} has no unit; write one of {', '.join(unit_symbols(quantity))}")
    return find_unit(name, quantity)


def _finite(value_si: float, text: str) -> float:
    """Return `value_si`; refuse a number that only the conversion made infinite."""
    if not math.isfinite(value_si):
        raise UnitError(f"{text!r} is too large to be a reading")
    return value_si + 0.0  # no negative zero


def parse_pressure(text: str, reference: Reference | None = None) -> tuple[float, Reference]:
    """Return (pressure [Pa], its reference) of a text such as "248 psig" or "1.2 bar(a)".

    Parameters
    ----------
    text : str
    reference : Reference, optional
        Used if the unit's name does not say; a contradiction is refused.

    Raises
    ------
    UnitError
        If neither the text nor `reference` says gauge or absolute, or both and they differ.
    """
    value, name = split_number(text)
    unit = _named_unit(name, Quantity.PRESSURE, text)
    said = unit.reference
    if said is not None and reference is not None and said is not reference:
        raise UnitError(
            f"{text!r} is {said.value}, but {reference.value} pressure is expected here"
        )
    known = said or reference
    if known is None:
        write = f"{unit.symbol}g or {unit.symbol}a"
        write += ", or inHg vac of a vacuum" if unit.symbol == "inHg" else ""
        raise UnitError(f"{text!r} does not say gauge or absolute; write {write}")
    return _finite(unit.to_si(value), text), known


def parse_pressure_difference(text: str) -> float:
    """Return the size [Pa] of a difference of pressures such as "10 psi" or "10 micron".

    Raises
    ------
    UnitError
        If it is not a number with a unit of pressure, or the unit says gauge or absolute.
    """
    value, name = split_number(text)
    unit = _named_unit(name, Quantity.PRESSURE, text)
    if unit.reference is not None and unit.symbol not in ("micron", "Torr"):
        raise UnitError(f"{text!r}: a difference of pressures is neither gauge nor absolute")
    return _finite(unit.to_si(value), text)
