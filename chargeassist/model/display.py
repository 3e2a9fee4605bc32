"""Numbers as people read them: one function per quantity, in °F, psi and oz or °C, kPa and g.

The system of units is an argument, never a setting of the program.
"""

from enum import StrEnum

from chargeassist.model.units import (
    CUBIC_METRE_PER_S_PER_CFM,
    KELVIN_AT_0_C,
    KELVIN_PER_FAHRENHEIT,
    KILOGRAM_PER_POUND,
    PASCAL_PER_PSI,
    PASCAL_PER_TORR,
    WATT_PER_TON,
    Quantity,
    Reference,
    find_unit,
)


class UnitSystem(StrEnum):
    """The two systems of units in use in the trade."""

    SI = "si"
    US = "us"


NO_NUMBER = "—"
"""Shown where there is no number."""

FAHRENHEIT_AT_0_C = 32.0

LARGEST_VACUUM_PA = 10_000.0
"""Absolute pressures below this are shown as a vacuum; no station pressure is so low [Pa]."""

_LARGEST = 1e9
"""A larger number comes from a broken probe and is shown in short form."""


def fahrenheit_from_kelvin(temp_k: float) -> float:
    """Return a temperature on the Fahrenheit scale [°F]."""
    return (temp_k - KELVIN_AT_0_C) / KELVIN_PER_FAHRENHEIT + FAHRENHEIT_AT_0_C


def temperature(temp_k: float, system: UnitSystem, decimals: int = 1) -> str:
    """Return "21.4 °C" or "70.5 °F" for a temperature [K]."""
    if system is UnitSystem.US:
        return f"{_tidy(fahrenheit_from_kelvin(temp_k), decimals)} °F"
    return f"{_tidy(temp_k - KELVIN_AT_0_C, decimals)} °C"


def difference(diff_k: float, system: UnitSystem, decimals: int = 1) -> str:
    """Return "5.1 K" or "9.2 °F" for a difference of temperatures [K]."""
    return f"{difference_number(diff_k, system, decimals)} {difference_unit(system)}"


def difference_number(diff_k: float, system: UnitSystem, decimals: int = 1) -> str:
    """Return a difference of temperatures [K] as a number without its unit."""
    return _tidy(difference_value(diff_k, system), decimals)


def difference_value(diff_k: float, system: UnitSystem) -> float:
    """Return a difference of temperatures [K] in the unit it is shown in."""
    return diff_k / KELVIN_PER_FAHRENHEIT if system is UnitSystem.US else diff_k


def difference_unit(system: UnitSystem) -> str:
    """Return "K" or "°F"."""
    return "°F" if system is UnitSystem.US else "K"


def with_uncertainty(value_k: float, expanded_k: float | None, system: UnitSystem) -> str:
    """Return "9.2 ± 0.8 °F"; "9.2 °F, uncertainty not declared" where `expanded_k` is None."""
    if expanded_k is None:
        return f"{difference(value_k, system)}, uncertainty not declared"
    value = difference_number(value_k, system)
    return f"{value} ± {difference(expanded_k, system)}"


def pressure(value_pa: float, reference: Reference | None, system: UnitSystem) -> str:
    """Return "248.1 psig" or "1711 kPa gauge"; a vacuum as "500 micron" or "66.7 Pa absolute"."""
    if reference is Reference.ABSOLUTE and abs(value_pa) < LARGEST_VACUUM_PA:
        if system is UnitSystem.US:
            return f"{_tidy(value_pa / PASCAL_PER_TORR * 1000.0, 0)} micron"
        return f"{_tidy(value_pa, 1)} Pa absolute"
    if system is UnitSystem.US:
        letter = {Reference.GAUGE: "g", Reference.ABSOLUTE: "a", None: ""}[reference]
        return f"{_tidy(value_pa / PASCAL_PER_PSI, 1)} psi{letter}"
    word = f" {reference.value}" if reference else ""
    return f"{_tidy(value_pa / 1000.0, 0)} kPa{word}"


def mass(mass_kg: float, system: UnitSystem) -> str:
    """Return "110 g", "2.30 kg", "3.9 oz" or "5 lb 1.1 oz"; negative masses keep their sign."""
    sign = "−" if mass_kg < 0 else ""
    size_kg = abs(mass_kg)
    if not size_kg < _LARGEST:
        return f"{mass_kg:.3g} kg"
    if system is UnitSystem.US:
        tenths = round(size_kg / KILOGRAM_PER_POUND * 160.0)
        pounds, tenth_ounces = divmod(tenths, 160)
        ounces = f"{tenth_ounces / 10:.1f} oz"
        sign = sign if tenths else ""
        return f"{sign}{pounds} lb {ounces}" if pounds else f"{sign}{ounces}"
    grams = round(size_kg * 1000.0)
    sign = sign if grams else ""
    return f"{sign}{grams} g" if grams < 1000 else f"{sign}{size_kg:.2f} kg"


def co2(mass_kg: float) -> str:
    """Return a mass of CO2 as "1.35 t", in both systems of units; below 100 kg as "0.9 kg"."""
    return f"{mass_kg / 1000.0:.2f} t" if mass_kg >= 99.5 else f"{mass_kg:.2g} kg"


def duration(seconds: float) -> str:
    """Return a duration [s] as "70 s", "4 min" or "1 h 05 min", rounded to what is worth saying."""
    if not seconds < _LARGEST:
        return "very long"
    whole = max(0, round(max(0.0, seconds)))
    if whole < 120:
        return f"{whole} s"
    minutes = round(whole / 60)
    if minutes < 90:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60:02d} min"


def clock(t: float) -> str:
    """Return a session time [s] as "12:05" (minutes and seconds) or "1:02:05"."""
    whole = int(max(0.0, t))
    hours, rest = divmod(whole, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


def reading(
    value_si: float, quantity: Quantity, reference: Reference | None, system: UnitSystem
) -> str:
    """Return a value [SI] of any quantity with its unit.

    Parameters
    ----------
    value_si : float
    quantity : Quantity
    reference : Reference or None
        Of a pressure; ignored for other quantities.
    system : UnitSystem
    """
    match quantity:
        case Quantity.PRESSURE:
            return pressure(value_si, reference, system)
        case Quantity.TEMPERATURE:
            return temperature(value_si, system)
        case Quantity.TEMPERATURE_DIFFERENCE:
            return difference(value_si, system)
        case Quantity.MASS:
            return mass(value_si, system)
        case Quantity.CURRENT:
            return f"{_tidy(value_si, 2)} A"
        case Quantity.FREQUENCY:
            return f"{_tidy(value_si, 1)} Hz"
        case Quantity.VOLTAGE:
            return f"{_tidy(value_si, 1)} V"
        case Quantity.DURATION:
            return duration(value_si)
        case Quantity.FRACTION:
            return f"{_tidy(100.0 * value_si, 1)} %"
        case _:
            unit, decimals = _PLAIN_UNITS[quantity][system]
            return f"{_tidy(find_unit(unit, quantity).from_si(value_si), decimals)} {unit}"


_PLAIN_UNITS = {
    Quantity.LENGTH: {UnitSystem.SI: ("m", 1), UnitSystem.US: ("ft", 1)},
    Quantity.AIRFLOW: {UnitSystem.SI: ("L/s", 0), UnitSystem.US: ("cfm", 0)},
    Quantity.POWER: {UnitSystem.SI: ("kW", 2), UnitSystem.US: ("Btu/h", 0)},
    Quantity.AREA: {UnitSystem.SI: ("m2", 1), UnitSystem.US: ("ft2", 0)},
    Quantity.VOLUME: {UnitSystem.SI: ("L", 2), UnitSystem.US: ("ft3", 3)},
    Quantity.MASS_PER_LENGTH: {UnitSystem.SI: ("g/m", 1), UnitSystem.US: ("oz/ft", 2)},
}


def airflow_per_capacity(value_si: float, system: UnitSystem) -> str:
    """Return "48 L/s per kW" or "361 cfm/ton" for an airflow over a capacity [m3/s per W]."""
    if system is UnitSystem.US:
        cfm_per_ton = value_si * WATT_PER_TON / CUBIC_METRE_PER_S_PER_CFM
        return f"{_tidy(cfm_per_ton, 0)} cfm/ton"
    return f"{_tidy(value_si * 1e6, 1)} L/s per kW"


def rate(slope_si_per_s: float, quantity: Quantity, system: UnitSystem) -> str:
    """Return a change per minute: "+0.4 °F/min", "−3 kPa/min", "+0.02 A/min"."""
    per_minute = slope_si_per_s * 60.0
    match quantity:
        case Quantity.TEMPERATURE | Quantity.TEMPERATURE_DIFFERENCE:
            scale = KELVIN_PER_FAHRENHEIT if system is UnitSystem.US else 1.0
            return f"{_tidy(per_minute / scale, 1, sign=True)} {difference_unit(system)}/min"
        case Quantity.PRESSURE if system is UnitSystem.US:
            return f"{_tidy(per_minute / PASCAL_PER_PSI, 1, sign=True)} psi/min"
        case Quantity.PRESSURE:
            return f"{_tidy(per_minute / 1000.0, 0, sign=True)} kPa/min"
        case Quantity.MASS if system is UnitSystem.US:
            return f"{_tidy(per_minute / KILOGRAM_PER_POUND * 16.0, 1, sign=True)} oz/min"
        case Quantity.MASS:
            return f"{_tidy(per_minute * 1000.0, 0, sign=True)} g/min"
        case Quantity.CURRENT:
            return f"{_tidy(per_minute, 2, sign=True)} A/min"
        case Quantity.FREQUENCY:
            return f"{_tidy(per_minute, 1, sign=True)} Hz/min"
        case Quantity.VOLTAGE:
            return f"{_tidy(per_minute, 1, sign=True)} V/min"
        case Quantity.FRACTION:
            return f"{_tidy(100.0 * per_minute, 1, sign=True)} %/min"
        case _:
            return f"{per_minute + 0.0:+.3g}/min"


def difference_rate(slope_k_per_s: float, system: UnitSystem) -> str:
    """Return how fast a temperature difference changes, without its sign: "0.4 °F/min"."""
    return rate(abs(slope_k_per_s), Quantity.TEMPERATURE_DIFFERENCE, system).removeprefix("+")


def _tidy(value: float, decimals: int, *, sign: bool = False) -> str:
    """Return a number with a true minus sign and no "-0.0"."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        return text.lstrip("-")
    if text.startswith("-"):
        return "−" + text[1:]
    return f"+{text}" if sign else text
