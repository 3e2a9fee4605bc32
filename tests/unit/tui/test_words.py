"""Headlines of the banner."""

import pytest

from chargeassist.tui.words import capitals


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Raise to 1000 kPa gauge", "RAISE TO 1000 kPa GAUGE"),
        ("Hold at 72 Hz for 10 min", "HOLD AT 72 Hz FOR 10 min"),
        ("Wait for 3 readings", "WAIT FOR 3 READINGS"),
        ("Put 110 g in", "PUT 110 g IN"),
        ("a bar of 5", "A BAR OF 5"),
    ],
)
def test_a_headline_in_capitals_keeps_the_units_behind_numbers(text: str, shown: str) -> None:
    assert capitals(text) == shown
