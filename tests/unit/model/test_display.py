"""Every formatter in both systems of units, at the values where rounding goes wrong."""

import pytest

from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Quantity, Reference

SI, US = UnitSystem.SI, UnitSystem.US


@pytest.mark.parametrize(
    ("kelvin", "si", "us"),
    [
        (294.55, "21.4 °C", "70.5 °F"),
        (273.15, "0.0 °C", "32.0 °F"),
        (273.149, "0.0 °C", "32.0 °F"),  # no "-0.0"
        (233.15, "−40.0 °C", "−40.0 °F"),
        (0.0, "−273.1 °C", "−459.7 °F"),
    ],
)
def test_temperature(kelvin: float, si: str, us: str) -> None:
    assert display.temperature(kelvin, SI) == si
    assert display.temperature(kelvin, US) == us


@pytest.mark.parametrize(
    ("kelvin", "si", "us"),
    [
        (5.1, "5.1 K", "9.2 °F"),
        (-0.04, "0.0 K", "−0.1 °F"),
        (-0.02, "0.0 K", "0.0 °F"),
        (-3.0, "−3.0 K", "−5.4 °F"),
    ],
)
def test_difference(kelvin: float, si: str, us: str) -> None:
    assert display.difference(kelvin, SI) == si
    assert display.difference(kelvin, US) == us


@pytest.mark.parametrize(
    ("kilogram", "said"),
    [
        (1350.0, "1.35 t"),
        (100.0, "0.10 t"),
        (99.6, "0.10 t"),
        (99.4, "99 kg"),
        (0.9, "0.9 kg"),
        (0.0, "0 kg"),
    ],
)
def test_co2_is_not_rounded_to_nothing(kilogram: float, said: str) -> None:
    assert display.co2(kilogram) == said


def test_with_uncertainty() -> None:
    assert display.with_uncertainty(5.1, 0.4, SI) == "5.1 ± 0.4 K"
    assert display.with_uncertainty(5.1, 0.4, US) == "9.2 ± 0.7 °F"
    assert display.with_uncertainty(5.1, None, US) == "9.2 °F, uncertainty not declared"


@pytest.mark.parametrize(
    ("pascal", "reference", "si", "us"),
    [
        (1.7106e6, Reference.GAUGE, "1711 kPa gauge", "248.1 psig"),
        (1.7106e6, Reference.ABSOLUTE, "1711 kPa absolute", "248.1 psia"),
        (1.7106e6, None, "1711 kPa", "248.1 psi"),
        (-300.0, Reference.GAUGE, "0 kPa gauge", "0.0 psig"),
        (-50_000.0, Reference.GAUGE, "−50 kPa gauge", "−7.3 psig"),
        (66.66, Reference.ABSOLUTE, "66.7 Pa absolute", "500 micron"),
        (66.66, Reference.GAUGE, "0 kPa gauge", "0.0 psig"),
    ],
)
def test_pressure(pascal: float, reference: Reference | None, si: str, us: str) -> None:
    assert display.pressure(pascal, reference, SI) == si
    assert display.pressure(pascal, reference, US) == us


@pytest.mark.parametrize(
    ("kilogram", "si", "us"),
    [
        (0.110, "110 g", "3.9 oz"),
        (2.3, "2.30 kg", "5 lb 1.1 oz"),
        (0.0, "0 g", "0.0 oz"),
        (-0.0, "0 g", "0.0 oz"),
        (-0.0004, "0 g", "0.0 oz"),  # no minus before nothing
        (-0.04, "−40 g", "−1.4 oz"),
        (-2.3, "−2.30 kg", "−5 lb 1.1 oz"),
        (0.9996, "1.00 kg", "2 lb 3.3 oz"),
        (1.1647, "1.16 kg", "2 lb 9.1 oz"),  # rounded once, not twice
        (0.45359237, "454 g", "1 lb 0.0 oz"),
        (0.4530, "453 g", "1 lb 0.0 oz"),  # never "16.0 oz"
        (1e300, "1e+300 kg", "1e+300 kg"),
    ],
)
def test_mass(kilogram: float, si: str, us: str) -> None:
    assert display.mass(kilogram, SI) == si
    assert display.mass(kilogram, US) == us


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (-5.0, "0 s"),
        (0.4, "0 s"),
        (70.0, "70 s"),
        (119.4, "119 s"),
        (119.6, "2 min"),
        (240.0, "4 min"),
        (89 * 60.0, "89 min"),
        (90 * 60.0, "1 h 30 min"),
        (3900.0, "65 min"),
        (7500.0, "2 h 05 min"),
        (float("inf"), "very long"),
    ],
)
def test_duration(seconds: float, text: str) -> None:
    assert display.duration(seconds) == text


def test_clock() -> None:
    assert display.clock(725.9) == "12:05"
    assert display.clock(3725.0) == "1:02:05"
    assert display.clock(0.0) == "0:00"
    assert display.clock(-1.0) == "0:00"


@pytest.mark.parametrize(
    ("quantity", "value", "si", "us"),
    [
        (Quantity.PRESSURE, 1.0e6, "1000 kPa gauge", "145.0 psig"),
        (Quantity.TEMPERATURE, 300.0, "26.9 °C", "80.3 °F"),
        (Quantity.TEMPERATURE_DIFFERENCE, 5.0, "5.0 K", "9.0 °F"),
        (Quantity.MASS, 0.1, "100 g", "3.5 oz"),
        (Quantity.CURRENT, -0.001, "0.00 A", "0.00 A"),
        (Quantity.FREQUENCY, 72.04, "72.0 Hz", "72.0 Hz"),
        (Quantity.VOLTAGE, 230.0, "230.0 V", "230.0 V"),
        (Quantity.DURATION, 70.0, "70 s", "70 s"),
        (Quantity.FRACTION, 0.5, "50.0 %", "50.0 %"),
        (Quantity.LENGTH, 12.0, "12.0 m", "39.4 ft"),
        (Quantity.AIRFLOW, 0.5, "500 L/s", "1059 cfm"),
        (Quantity.POWER, 10_550.6, "10.55 kW", "36000 Btu/h"),
        (Quantity.AREA, 12.0, "12.0 m2", "129 ft2"),
        (Quantity.VOLUME, 0.0042, "4.20 L", "0.148 ft3"),
        (Quantity.MASS_PER_LENGTH, 0.0558, "55.8 g/m", "0.60 oz/ft"),
    ],
)
def test_reading(quantity: Quantity, value: float, si: str, us: str) -> None:
    assert display.reading(value, quantity, Reference.GAUGE, SI) == si
    assert display.reading(value, quantity, Reference.GAUGE, US) == us


@pytest.mark.parametrize(
    ("quantity", "per_minute", "si", "us"),
    [
        (Quantity.TEMPERATURE, 0.2, "+0.2 K/min", "+0.4 °F/min"),
        (Quantity.TEMPERATURE_DIFFERENCE, -0.2, "−0.2 K/min", "−0.4 °F/min"),
        (Quantity.TEMPERATURE, -0.01, "0.0 K/min", "0.0 °F/min"),
        (Quantity.PRESSURE, -3000.0, "−3 kPa/min", "−0.4 psi/min"),
        (Quantity.MASS, 0.01, "+10 g/min", "+0.4 oz/min"),
        (Quantity.CURRENT, 0.02, "+0.02 A/min", "+0.02 A/min"),
        (Quantity.FREQUENCY, 0.04, "0.0 Hz/min", "0.0 Hz/min"),
        (Quantity.VOLTAGE, 1.5, "+1.5 V/min", "+1.5 V/min"),
        (Quantity.LENGTH, 1.5, "+1.5/min", "+1.5/min"),
    ],
)
def test_rate(quantity: Quantity, per_minute: float, si: str, us: str) -> None:
    assert display.rate(per_minute / 60.0, quantity, SI) == si
    assert display.rate(per_minute / 60.0, quantity, US) == us
