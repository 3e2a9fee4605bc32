"""What an instrument sends where it has no reading; by each rule of the docstring."""

import math

import pytest

from chargeassist.model.sent_number import why_no_reading
from chargeassist.model.units import Quantity


@pytest.mark.parametrize(
    ("sent", "value_si", "quantity", "said"),
    [
        (9.9e37, 9.9e37, Quantity.PRESSURE, "not a number"),
        (-9.91e37, -9.91e37, Quantity.PRESSURE, "not a number"),
        (math.nan, math.nan, Quantity.CURRENT, "not a number"),
        (1e37, math.inf, Quantity.PRESSURE, "too large after conversion"),
        (-999.0, -725.85, Quantity.TEMPERATURE, "-999 is below absolute zero"),
        (-273.15, 0.0, Quantity.TEMPERATURE, "below absolute zero"),
    ],
)
def test_no_reading_says_why(sent: float, value_si: float, quantity: Quantity, said: str) -> None:
    assert said in why_no_reading(sent, value_si, quantity)


def test_a_number_below_zero_is_a_reading_of_anything_else() -> None:
    assert why_no_reading(-14.0, -96_526.6, Quantity.PRESSURE) == ""
    assert why_no_reading(-40.0, 233.15, Quantity.TEMPERATURE) == ""
