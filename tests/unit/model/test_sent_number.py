"""What an instrument sends where it has no reading; by each rule of the docstring."""

import math

import pytest

from chargeassist.model.sent_number import why_no_reading
from chargeassist.model.units import Quantity


@pytest.mark.parametrize(
    ("sent", "value_si", "quantity", "said"),
    [
        (9.9e37, 9.9e37, Quantity.PRESSURE, "not a number"),
        # What a scale sends in overload: "OL,+999999E+19", A&D GH series manual, section 10.6.
        (999999e19, 999999e19, Quantity.MASS, "not a number"),
        (-9.91e37, -9.91e37, Quantity.PRESSURE, "not a number"),
        (math.nan, math.nan, Quantity.CURRENT, "not a number"),
        (1e19, math.inf, Quantity.PRESSURE, "too large after conversion"),
        (-999.0, -725.85, Quantity.TEMPERATURE, "-999 is below absolute zero"),
        (-273.15, 0.0, Quantity.TEMPERATURE, "below absolute zero"),
        # DEVICE_DISCONNECTED_C and _F, DEVICE_FAULT_OPEN_C of DallasTemperature.h (version 4).
        (-127.0, 146.15, Quantity.TEMPERATURE, "-127 is colder than any pipe"),
        (-196.6, 146.15, Quantity.TEMPERATURE, "colder than any pipe"),
        (-254.0, 19.15, Quantity.TEMPERATURE, "colder than any pipe"),
    ],
)
def test_no_reading_says_why(sent: float, value_si: float, quantity: Quantity, said: str) -> None:
    assert said in why_no_reading(sent, value_si, quantity)


def test_a_number_below_zero_is_a_reading_of_anything_else() -> None:
    assert why_no_reading(-14.0, -96_526.6, Quantity.PRESSURE) == ""
    assert why_no_reading(-40.0, 233.15, Quantity.TEMPERATURE) == ""
    assert why_no_reading(-78.5, 194.65, Quantity.TEMPERATURE) == "", "dry ice"
    assert why_no_reading(20.0, 20.0, Quantity.VOLTAGE) == ""
