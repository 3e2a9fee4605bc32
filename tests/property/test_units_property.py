"""Every unit there and back, every text either a number or a UnitError, plain text plain."""

import math
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import UnitError
from chargeassist.model.text import plain
from chargeassist.model.units import (
    Quantity,
    Reference,
    find_unit,
    parse,
    parse_pressure,
    split_number,
    unit_symbols,
)

UNITS = [(quantity, symbol) for quantity in Quantity for symbol in unit_symbols(quantity)]
READINGS = st.floats(min_value=-1e6, max_value=1e6)
SYSTEMS = st.sampled_from(UnitSystem)


@pytest.mark.parametrize(("quantity", "symbol"), UNITS)
@given(value=READINGS)
def test_there_and_back(quantity: Quantity, symbol: str, value: float) -> None:
    unit = find_unit(symbol, quantity)
    # The offset of a temperature costs the digits of values near it.
    assert unit.from_si(unit.to_si(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("quantity", "symbol"), [row for row in UNITS if row[0] is not Quantity.PRESSURE]
)
@given(value=READINGS)
def test_what_is_written_is_read(quantity: Quantity, symbol: str, value: float) -> None:
    expected = find_unit(symbol, quantity).to_si(value)
    assert parse(f"{value!r} {symbol}", quantity) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("symbol", unit_symbols(Quantity.PRESSURE))
@given(value=READINGS, reference=st.sampled_from(Reference))
def test_a_pressure_keeps_its_reference(symbol: str, value: float, reference: Reference) -> None:
    unit = find_unit(symbol, Quantity.PRESSURE)
    text = f"{value!r} {symbol}"
    if unit.reference in (None, reference):
        si, said = parse_pressure(text, reference)
        assert said is reference
        assert si == pytest.approx(unit.to_si(value), rel=1e-12)
    else:
        with pytest.raises(UnitError):
            parse_pressure(text, reference)


ODD = st.text(alphabet=st.sampled_from("0123456789.eE+-− lbozkgKpsia()°FµmHPT[]'_\x00\u202e٣"))


@given(text=st.one_of(st.text(), ODD), quantity=st.sampled_from(Quantity))
def test_any_text_is_a_finite_number_or_a_unit_error(text: str, quantity: Quantity) -> None:
    try:
        value = parse(text, quantity)
    except UnitError:
        pass
    else:
        assert math.isfinite(value)
    try:
        pressure, _ = parse_pressure(text, Reference.GAUGE)
    except UnitError:
        pass
    else:
        assert math.isfinite(pressure)
    try:
        number, _ = split_number(text)
    except UnitError:
        pass
    else:
        assert math.isfinite(number)


@given(value=st.floats(min_value=-1e308, max_value=1e308), quantity=st.sampled_from(Quantity))
def test_any_reading_can_be_shown(value: float, quantity: Quantity) -> None:
    for system in UnitSystem:
        for reference in (None, *Reference):
            assert display.reading(value, quantity, reference, system)
        assert display.rate(value, quantity, system)


@given(mass_kg=st.floats(min_value=-50.0, max_value=50.0), system=SYSTEMS)
def test_a_mass_as_printed_is_read_back(mass_kg: float, system: UnitSystem) -> None:
    shown = display.mass(mass_kg, system)
    # Half of what the last digit shows: 10 g above 1 kg, 1 g below, a tenth of an ounce.
    half = 0.0051 if system is UnitSystem.SI and abs(mass_kg) >= 0.999 else 0.0015
    assert parse(shown, Quantity.MASS) == pytest.approx(mass_kg, abs=half)
    assert not (shown.startswith("−") and parse(shown, Quantity.MASS) == 0.0)


@given(
    value=st.floats(min_value=-0.06, max_value=0.06),
    quantity=st.sampled_from([q for q in Quantity if q is not Quantity.FRACTION]),
    system=SYSTEMS,
)
def test_no_negative_zero_is_ever_shown(
    value: float, quantity: Quantity, system: UnitSystem
) -> None:
    for text in (
        display.reading(value, quantity, None, system),
        display.rate(value / 60.0, quantity, system),
    ):
        number = text.split()[0].split("/")[0]
        assert not (number[0] in "-−" and not number.strip("-−0.")), text


HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


@given(text=st.one_of(st.text(), st.binary()), limit=st.integers(1, 200))
def test_plain_text_has_nothing_to_obey_and_keeps_its_limit(text: str | bytes, limit: int) -> None:
    shown = plain(text, limit)
    assert len(shown) <= limit
    assert not [c for c in shown if unicodedata.category(c) in HIDDEN]
    shown.encode("utf-8")
    assert plain(shown, limit) == shown


@given(text=st.text(alphabet=st.characters(categories=["L", "N", "P", "S", "Zs"]), max_size=50))
def test_plain_text_stays_as_it_is(text: str) -> None:
    assert plain(text, 50) == text
