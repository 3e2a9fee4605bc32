"""Profiles of limits: what an entry of a house's own file may not say. The entries are invented."""

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.session.job.profiles import parse_profiles

HOUSE = """
[[profile]]
name = "house"
title = "of your own"
[[profile.raise]]
authority = "equipment instructions"
source = "house rules"
edition = "1"
address = "page 1"
pressure = "{pressure}"
hold = "{hold}"
"""


def test_a_raise_is_a_gauge_pressure_held_for_a_time() -> None:
    (step,) = parse_profiles(HOUSE.format(pressure="0.3 MPa(g)", hold="3 min"))["house"].raises
    assert (step.pressure_pa_gauge, step.hold_s) == (0.3e6, 180.0)


@pytest.mark.parametrize(
    ("pressure", "hold"),
    [
        ("-0.3 MPa(g)", "3 min"),
        ("30 MPa(g)", "3 min"),
        ("0.3 MPa(g)", "-3 min"),
        ("0.3 MPa(g)", "0 s"),
        ("0.3 MPa(g)", "400 h"),
        ("0.3 MPa(a)", "3 min"),
        ("0.3 MPa(g)", "3 kg"),
    ],
)
def test_a_raise_nobody_can_hold_is_refused(pressure: str, hold: str) -> None:
    text = HOUSE.format(pressure=pressure, hold=hold)
    with pytest.raises(ConfigError, match=r"house.toml: profile\[1\].*raise\[1\].*expected .*got"):
        parse_profiles(text, "house.toml")
