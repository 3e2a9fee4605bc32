"""Unit factors against NIST SP 811, spellings, and texts nobody should get past the parser."""

import pytest

from chargeassist.model.errors import UnitError
from chargeassist.model.units import (
    Quantity,
    Reference,
    fahrenheit_from_kelvin,
    find_unit,
    kelvin_from_fahrenheit,
    parse,
    parse_pressure,
    parse_pressure_difference,
    split_number,
    unit_symbols,
)

SP811 = "NIST SP 811 (2008), appendix B.8 (from memory)"
CGPM = "9th SI Brochure / definition"

FACTORS: list[tuple[str, Quantity, float, float, str]] = [
    # unit, quantity, SI value of one unit, relative tolerance (digits printed), source
    *(
        (symbol, Quantity.PRESSURE, si, 0.0, CGPM)
        for symbol, si in (("Pa", 1.0), ("hPa", 1e2), ("kPa", 1e3), ("MPa", 1e6))
    ),
    ("psi", Quantity.PRESSURE, 6.894757e3, 1e-7, SP811),
    ("inHg", Quantity.PRESSURE, 3.386389e3, 1e-7, SP811),
    ("inHg vac", Quantity.PRESSURE, -3.386389e3, 1e-7, SP811),
    ("Torr", Quantity.PRESSURE, 1.333224e2, 3e-7, SP811),
    ("mmHg", Quantity.PRESSURE, 1.333224e2, 3e-7, SP811),
    ("micron", Quantity.PRESSURE, 1.333224e-1, 3e-7, SP811),
    ("bar", Quantity.PRESSURE, 1.0e5, 0.0, SP811),
    ("mbar", Quantity.PRESSURE, 1.0e2, 0.0, SP811),
    ("K", Quantity.TEMPERATURE, 1.0, 0.0, CGPM),
    ("°C", Quantity.TEMPERATURE, 1.0, 1e-12, CGPM),
    ("°F", Quantity.TEMPERATURE, 5.0 / 9.0, 1e-12, SP811),
    ("K", Quantity.TEMPERATURE_DIFFERENCE, 1.0, 0.0, CGPM),
    ("°F", Quantity.TEMPERATURE_DIFFERENCE, 5.0 / 9.0, 1e-15, SP811),
    ("A", Quantity.CURRENT, 1.0, 0.0, CGPM),
    ("mA", Quantity.CURRENT, 1e-3, 0.0, CGPM),
    ("Hz", Quantity.FREQUENCY, 1.0, 0.0, CGPM),
    ("V", Quantity.VOLTAGE, 1.0, 0.0, CGPM),
    ("kg", Quantity.MASS, 1.0, 0.0, CGPM),
    ("g", Quantity.MASS, 1e-3, 0.0, CGPM),
    ("lb", Quantity.MASS, 4.535924e-1, 2e-7, SP811),
    ("oz", Quantity.MASS, 2.834952e-2, 2e-7, SP811),
    ("m", Quantity.LENGTH, 1.0, 0.0, CGPM),
    ("mm", Quantity.LENGTH, 1e-3, 0.0, CGPM),
    ("ft", Quantity.LENGTH, 3.048e-1, 0.0, SP811),
    ("in", Quantity.LENGTH, 2.54e-2, 0.0, SP811),
    ("s", Quantity.DURATION, 1.0, 0.0, CGPM),
    ("min", Quantity.DURATION, 60.0, 0.0, CGPM),
    ("h", Quantity.DURATION, 3600.0, 0.0, SP811),
    ("d", Quantity.DURATION, 86_400.0, 0.0, CGPM),
    ("%", Quantity.FRACTION, 0.01, 0.0, "9th SI Brochure, 5.4.7"),
    ("1", Quantity.FRACTION, 1.0, 0.0, CGPM),
    ("m3/s", Quantity.AIRFLOW, 1.0, 0.0, CGPM),
    ("m3/h", Quantity.AIRFLOW, 1.0 / 3600.0, 0.0, CGPM),
    ("L/s", Quantity.AIRFLOW, 1e-3, 0.0, SP811),
    ("cfm", Quantity.AIRFLOW, 4.719474e-4, 2e-7, SP811),
    ("W", Quantity.POWER, 1.0, 0.0, CGPM),
    ("kW", Quantity.POWER, 1e3, 0.0, CGPM),
    *(
        (name, Quantity.POWER, 2.930711e-1, 2e-7, SP811)
        for name in ("Btu/h", "BTU/h", "Btu/hr", "BTU/hr")
    ),
    ("ton", Quantity.POWER, 3.516853e3, 2e-7, SP811),
    ("m2", Quantity.AREA, 1.0, 0.0, CGPM),
    ("ft2", Quantity.AREA, 9.290304e-2, 0.0, SP811),
    ("m3", Quantity.VOLUME, 1.0, 0.0, CGPM),
    ("L", Quantity.VOLUME, 1e-3, 0.0, SP811),
    ("ft3", Quantity.VOLUME, 2.831685e-2, 2e-7, SP811),
    ("kg/m", Quantity.MASS_PER_LENGTH, 1.0, 0.0, CGPM),
    ("g/m", Quantity.MASS_PER_LENGTH, 1e-3, 0.0, CGPM),
    ("lb/ft", Quantity.MASS_PER_LENGTH, 1.488164, 4e-7, SP811),
    ("oz/ft", Quantity.MASS_PER_LENGTH, 1.488164 / 16.0, 4e-7, SP811),
]


@pytest.mark.parametrize(("name", "quantity", "si", "relative", "source"), FACTORS)
def test_factor_agrees_with_its_source(
    name: str, quantity: Quantity, si: float, relative: float, source: str
) -> None:
    assert source
    unit = find_unit(name, quantity)
    one = unit.to_si(1.0) - unit.to_si(0.0)
    assert one == pytest.approx(si, rel=max(relative, 1e-15), abs=0.0)


def test_no_unit_is_without_a_source() -> None:
    """With "g" and "a" a pressure says its reference; the size stays that of the bare unit."""
    sourced = {(name, quantity) for name, quantity, *_ in FACTORS}
    letters = {"g": Reference.GAUGE, "a": Reference.ABSOLUTE}
    for quantity in Quantity:
        for symbol in unit_symbols(quantity):
            unit = find_unit(symbol, quantity)
            if (symbol, quantity) not in sourced:
                bare, letter = symbol.replace("(", "").strip(")")[:-1], symbol.strip(")")[-1]
                assert (bare, quantity) in sourced, symbol
                assert unit.reference is letters[letter]
                assert (unit.scale, unit.offset) == (find_unit(bare, quantity).scale, 0.0)
            if quantity is not Quantity.TEMPERATURE:
                assert unit.to_si(0.0) == 0.0


@pytest.mark.parametrize(
    ("text", "kelvin"),
    [
        ("32 °F", 273.15),  # SP 811, 8.5: ice point
        ("212 °F", 373.15),
        ("-40 °F", 233.15),  # where both scales agree
        ("-40 °C", 233.15),
        ("0 K", 0.0),
        ("-459.67 degF", 0.0),  # SP 811, B.8: T/K = (t/°F + 459.67)/1.8
    ],
)
def test_temperatures_meet_at_fixed_points(text: str, kelvin: float) -> None:
    assert parse(text, Quantity.TEMPERATURE) == pytest.approx(kelvin, abs=1e-9)


def test_the_scale_of_fahrenheit_is_the_same_both_ways() -> None:
    """SP 811 (2008), B.8: T/K = (t/°F + 459.67)/1.8."""
    for temp_f, temp_k in ((-459.67, 0.0), (32.0, 273.15), (212.0, 373.15)):
        assert kelvin_from_fahrenheit(temp_f) == pytest.approx(temp_k, abs=1e-9)
        assert fahrenheit_from_kelvin(temp_k) == pytest.approx(temp_f, abs=1e-9)


def test_a_difference_of_temperatures_has_no_offset() -> None:
    assert parse("9 °F", Quantity.TEMPERATURE_DIFFERENCE) == pytest.approx(5.0)
    assert parse("5 °C", Quantity.TEMPERATURE_DIFFERENCE) == 5.0
    assert parse("0 °F", Quantity.TEMPERATURE_DIFFERENCE) == 0.0


@pytest.mark.parametrize(
    ("one", "other", "relative", "source"),
    [
        ("25400 micron", "1 inHga", 1e-6, "one micron is 1 mTorr; 1 in is 25.4 mm exactly"),
        ("29.92 inHga", "101.325 kPaa", 1e-4, "standard atmosphere, ISO 2533; two decimals"),
        ("14.696 psia", "101.325 kPaa", 1e-5, "standard atmosphere, ISO 2533"),
        ("760 Torr", "101325 Pa(a)", 1e-12, "definition of the torr"),
        ("500 micron", "66.661 Pa(a)", 1e-5, "SP 811 B.8, millimetre of mercury"),
        ("1 mTorr", "1 micron", 0.0, "same unit"),
    ],
)
def test_pressures_agree_across_units(one: str, other: str, relative: float, source: str) -> None:
    assert source
    (a, ref_a), (b, ref_b) = parse_pressure(one), parse_pressure(other)
    assert ref_a is ref_b is Reference.ABSOLUTE
    assert a == pytest.approx(b, rel=max(relative, 1e-15))


def test_inches_of_vacuum_count_downwards_from_the_atmosphere() -> None:
    value, reference = parse_pressure("29 inHg vac")
    assert reference is Reference.GAUGE
    assert value == pytest.approx(-29 * 3386.389)


def test_gauge_and_absolute_are_never_confused() -> None:
    gauge, absolute = parse_pressure("248 psig"), parse_pressure("248 psia")
    assert gauge[0] == absolute[0] == pytest.approx(248 * 6894.757293)
    assert (gauge[1], absolute[1]) == (Reference.GAUGE, Reference.ABSOLUTE)
    assert parse_pressure("248 psi", Reference.GAUGE)[1] is Reference.GAUGE
    with pytest.raises(UnitError, match=r"'248 psi' does not say.*psig or psia"):
        parse_pressure("248 psi")
    with pytest.raises(UnitError, match="is gauge, but absolute pressure is expected"):
        parse_pressure("248 psig", Reference.ABSOLUTE)
    with pytest.raises(UnitError, match="is absolute, but gauge pressure is expected"):
        parse_pressure("500 micron", Reference.GAUGE)


@pytest.mark.parametrize(
    "symbol", [s for s in unit_symbols(Quantity.PRESSURE) if s[-1] not in "ga)"]
)
def test_every_bare_pressure_unit_is_refused_or_says_its_reference(symbol: str) -> None:
    unit = find_unit(symbol, Quantity.PRESSURE)
    if unit.reference is None:
        with pytest.raises(UnitError, match="does not say gauge or absolute"):
            parse_pressure(f"1 {symbol}")
    else:
        assert parse_pressure(f"1 {symbol}")[1] is unit.reference


def test_a_pressure_is_not_read_without_asking_for_its_reference() -> None:
    with pytest.raises(UnitError, match="gauge or absolute"):
        parse("248 psig", Quantity.PRESSURE)


@pytest.mark.parametrize(
    "text", ["2.4 mPa", "2.4 mPag", "2.4 m Pa", "2.4 mpa", "2.4 m pa(g)", "2.4 mPA"]
)
def test_milli_is_never_taken_for_mega(text: str) -> None:
    with pytest.raises(UnitError, match="not a unit of pressure"):
        parse_pressure(text, Reference.GAUGE)


@pytest.mark.parametrize(
    "text", ["2.4 MPa(g)", "2.4 MPag", "2.4 MPA g", "2.4 MPa gauge", "2.4 M Pa g"]
)
def test_mega_is_read_in_every_usual_spelling(text: str) -> None:
    value, reference = parse_pressure(text)
    assert value == pytest.approx(2.4e6)
    assert reference is Reference.GAUGE


@pytest.mark.parametrize("name", ["bar", "psi", "kPa", "inHg", "Pa"])
def test_a_reference_may_be_a_letter_or_a_word(name: str) -> None:
    for said in (f"{name}a", f"{name}(a)", f"{name} a", f"{name} abs", f"{name} absolute"):
        assert find_unit(said, Quantity.PRESSURE) is find_unit(f"{name}(a)", Quantity.PRESSURE)
    for said in (f"{name}g", f"{name}(g)", f"{name} g", f"{name} gauge"):
        assert find_unit(said, Quantity.PRESSURE) is find_unit(f"{name}(g)", Quantity.PRESSURE)
    with pytest.raises(UnitError, match="is not a unit of pressure"):
        find_unit(f"{name} gau", Quantity.PRESSURE)


@pytest.mark.parametrize(
    ("text", "metre"), [("3/8 in", 9.525e-3), ("1-1/8 in", 28.575e-3), ("1 1/8 in", 28.575e-3)]
)
def test_a_length_may_be_a_common_fraction(text: str, metre: float) -> None:
    """Of 25.4 mm."""
    assert parse(text, Quantity.LENGTH) == pytest.approx(metre, rel=1e-12)
    for wrong in ("3/0 in", "3/8/2 in", "/8 in", "3/ in", "1.5/8 in"):
        with pytest.raises(UnitError, match='expected a length such as "3/8 in"'):
            parse(wrong, Quantity.LENGTH)


@pytest.mark.parametrize(
    ("text", "ounces"),
    [
        ("2 lb 3 oz", 35.0),
        ("2lb3oz", 35.0),
        ("3 oz 2 lb", 35.0),
        ("1.5 lb", 24.0),
        (".5 lb", 8.0),
        ("-2 lb 3 oz", -35.0),  # two pounds three ounces taken out, not minus 29
        ("−2 lb 3 oz", -35.0),
        ("+2 LBS 3 Ounces", 35.0),
        ("2 [lb_av] 3 [oz_av]", 35.0),
    ],
)
def test_masses_may_be_sums(text: str, ounces: float) -> None:
    assert parse(text, Quantity.MASS) == pytest.approx(ounces * 0.45359237 / 16)


def test_zero_taken_out_is_plain_zero() -> None:
    assert str(parse("-0 g", Quantity.MASS)) == "0.0"


HOSTILE = [
    "",
    " ",
    "\x00",
    "psi",
    "12",
    "12 furlongs",
    "--5 g",
    "5 g -3 g",
    "2 lb -3 oz",
    "2 lb 3",
    "2 lb oz",
    "5 g;",
    "1e g",
    "nan K",
    "inf K",
    "NaN",
    "1e400 K",
    "1e308 MPa(g)",
    "1.7e308 lb 1.7e308 lb 1.7e308 lb",
    "9" * 5000 + " K",
    "5,0 K",
    "5 K K",
    "0x10 K",
    "1_000 g",
    "5..5 K",
    "5\u202ek",
    "\u202e5 K",
    "5 K\n6 K",
    "½ lb",
    "1/2 lb",
    "[lb_av]",
    "\ud800 5 K",
    "5 \ud800",
    "1 lb\x00",
    "5 " + "k" * 100_000,
]


@pytest.mark.parametrize("quantity", list(Quantity))
def test_hostile_texts_raise_unit_error_and_nothing_else(quantity: Quantity) -> None:
    for text in HOSTILE:
        with pytest.raises(UnitError):
            parse(text, quantity)
        with pytest.raises(UnitError):
            parse_pressure(text, Reference.GAUGE)


def test_messages_say_what_was_expected_and_what_came() -> None:
    with pytest.raises(UnitError, match=r"'furlong' is not a unit of length.*m, ft"):
        parse("12 furlong", Quantity.LENGTH)
    with pytest.raises(UnitError, match=r"'12' has no unit; write one of.*kg, g, lb, oz"):
        parse("12", Quantity.MASS)
    for read in (parse_pressure, parse_pressure_difference):
        with pytest.raises(UnitError, match=r"'600' has no unit; write one of.*psig"):
            read("600")
    with pytest.raises(UnitError, match="expected a number with a unit, got 'warm'"):
        split_number("warm")


def test_a_difference_of_pressures_may_be_in_units_that_only_absolute_ones_are_read_in() -> None:
    """NIST SP 811 (2008), B.8: 1 Torr is 133.322 Pa."""
    for text in ("1 Torr", "1 mmHg", "1000 micron", "1000 mTorr"):
        assert parse_pressure_difference(text) == pytest.approx(133.3224, abs=1e-4)
    for text in ("1 psig", "1 bara", "1 inHg vac"):
        with pytest.raises(UnitError, match="neither gauge nor absolute"):
            parse_pressure_difference(text)


def test_digits_of_other_scripts_are_digits() -> None:
    assert parse("٣ K", Quantity.TEMPERATURE) == 3.0


def test_symbols_are_listed_once_each() -> None:
    for quantity in Quantity:
        symbols = unit_symbols(quantity)
        assert symbols
        assert len(symbols) == len(set(symbols))


@pytest.mark.parametrize("text", ["2,30 kg", "1,050 kg", "2 lb 3,5 oz"])
def test_a_comma_in_a_number_is_told_as_one(text: str) -> None:
    with pytest.raises(UnitError, match="with a point and without a comma, got"):
        parse(text, Quantity.MASS)
    with pytest.raises(UnitError, match="with a point and without a comma"):
        parse_pressure("24,9 inHg", Reference.ABSOLUTE)


@pytest.mark.parametrize(
    ("text", "usual"), [("21 ºC", "21 °C"), ("21 ℃", "21 °C"), ("70 ℉", "70 °F")]
)
def test_a_degree_may_be_the_sign_that_the_keyboard_has(text: str, usual: str) -> None:
    """Spanish keyboards have an ordinal indicator; Unicode has a sign of its own."""
    for quantity in (Quantity.TEMPERATURE, Quantity.TEMPERATURE_DIFFERENCE):
        assert parse(text, quantity) == parse(usual, quantity)


def test_a_bare_inch_of_mercury_may_have_been_meant_as_a_vacuum() -> None:
    with pytest.raises(UnitError, match="inHgg or inHga, or inHg vac of a vacuum"):
        parse_pressure("5 inHg")
