"""Vapour pressure of water and ice against three independent libraries and printed values."""

import math
import operator
from typing import Any

import chemicals
import psychrolib
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI

from chargeassist.model.units import PASCAL_PER_TORR
from chargeassist.model.values import NoValue
from chargeassist.physics.water_vapour import (
    TRIPLE_POINT_K,
    TRIPLE_POINT_PA_ABS,
    ice_pressure_pa_abs,
    liquid_pressure_pa_abs,
    saturation_pressure_pa_abs,
    saturation_slope_pa_per_k,
)

IAPWS: Any = chemicals
MICRON = PASCAL_PER_TORR * 1e-3
psychrolib.SetUnitSystem(psychrolib.SI)


def fahrenheit_k(value: float) -> float:
    return (value + 459.67) / 1.8


def known(value: float | NoValue) -> float:
    assert isinstance(value, float), value
    return value


@pytest.mark.parametrize("temp_k", [273.16, 278.0, 285.0, 294.26, 310.0, 330.0, 373.15, 420.0])
def test_liquid_agrees_with_the_iapws_95_formulation(temp_k: float) -> None:
    # CoolProp and chemicals solve the full equation of state; the auxiliary one used here is
    # stated by IAPWS to follow it within 0.03 %.
    ours = known(liquid_pressure_pa_abs(temp_k))
    assert ours == pytest.approx(PropsSI("P", "T", temp_k, "Q", 0, "Water"), rel=2e-4)
    assert ours == pytest.approx(IAPWS.iapws95_Psat(temp_k), rel=2e-4)


@pytest.mark.parametrize("temp_k", [190.0, 210.0, 233.15, 250.0, 262.0, 270.0, 273.16])
def test_ice_agrees_with_the_iapws_sublimation_equation(temp_k: float) -> None:
    ours = known(ice_pressure_pa_abs(temp_k))
    assert ours == pytest.approx(IAPWS.iapws11_Psub(temp_k), rel=1e-9)
    if temp_k >= 233.15:  # CoolProp's humid air knows the pressure over ice by its own route
        share = HAPropsSI("psi_w", "T", temp_k, "P", 101_325.0, "R", 1.0)
        enhanced = share * 101_325.0
        assert ours == pytest.approx(enhanced, rel=8e-3)  # air enhances it by up to 0.7 %


@pytest.mark.parametrize("celsius", [-60.0, -40.0, -20.0, -5.0, 1.0, 10.0, 21.0, 40.0, 90.0])
def test_both_agree_with_the_equations_of_the_ashrae_handbook(celsius: float) -> None:
    """ASHRAE Handbook - Fundamentals (2017), chapter 1, equations 5 and 6, as in psychrolib."""
    expected = psychrolib.GetSatVapPres(celsius)
    assert saturation_pressure_pa_abs(celsius + 273.15) == pytest.approx(expected, rel=6e-4)


def test_supercooled_liquid_agrees_with_murphy_and_koop() -> None:
    """D. M. Murphy, T. Koop, Q. J. R. Meteorol. Soc. 131 (2005) 1539, equation 10 (from memory)."""
    for t in (243.15, 250.0, 258.0, 266.0, 273.0):
        first = 54.842763 - 6763.22 / t - 4.210 * math.log(t) + 0.000367 * t
        second = 53.878 - 1331.22 / t - 9.44523 * math.log(t) + 0.014025 * t
        expected = math.exp(first + math.tanh(0.0415 * (t - 218.8)) * second)
        assert liquid_pressure_pa_abs(t) == pytest.approx(expected, rel=1.5e-2)


@pytest.mark.parametrize(
    ("fahrenheit", "microns"),
    [(40.0, 6296.0), (50.0, 9212.0), (60.0, 13260.0), (70.0, 18791.0), (80.0, 26244.0)],
)
def test_the_microns_that_water_holds_at_a_pipe_temperature(
    fahrenheit: float, microns: float
) -> None:
    """Computed once from IAPWS-95 through CoolProp; ASHRAE Handbook - Fundamentals (2017), chapter
    1, table 3 prints the same pressures in inches of mercury (70 °F: 0.7392 psi, from memory)."""
    assert known(saturation_pressure_pa_abs(fahrenheit_k(fahrenheit))) / MICRON == pytest.approx(
        microns, rel=5e-4
    )


@pytest.mark.parametrize(
    ("microns", "fahrenheit"),
    [(200.0, -28.0), (300.0, -21.1), (500.0, -12.1), (1000.0, 0.8), (1500.0, 8.7), (2000.0, 14.5)],
)
def test_the_temperature_of_ice_at_a_vacuum(microns: float, fahrenheit: float) -> None:
    """From IAPWS R14-08. Many articles print +34 °F for 1 000 microns: a lost sign."""
    for off_k, compare in ((-0.06, operator.lt), (0.06, operator.gt)):
        pressure = known(saturation_pressure_pa_abs(fahrenheit_k(fahrenheit) + off_k))
        assert compare(pressure, microns * MICRON)


def test_the_triple_point() -> None:
    """611.657 Pa, 4 588 microns: IAPWS R6-95; both lines meet there."""
    assert liquid_pressure_pa_abs(TRIPLE_POINT_K) == pytest.approx(611.657, abs=2e-3)
    assert ice_pressure_pa_abs(TRIPLE_POINT_K) == pytest.approx(611.657, abs=1e-6)
    microns = TRIPLE_POINT_PA_ABS / MICRON
    assert microns == pytest.approx(4588.0, abs=1.0)


@pytest.mark.parametrize("temp_k", [190.1, 222.0, 260.0, 273.1, 273.2, 290.0, 330.0, 423.0])
def test_the_slope_is_that_of_the_curve(temp_k: float) -> None:
    above = known(saturation_pressure_pa_abs(temp_k + 1e-3))
    below = known(saturation_pressure_pa_abs(temp_k - 1e-3))
    assert saturation_slope_pa_per_k(temp_k) == pytest.approx((above - below) / 2e-3, rel=1e-6)


@pytest.mark.parametrize("temp_k", [100.0, 500.0, math.nan, math.inf])
def test_outside_there_is_no_value_and_the_reason_is_said(temp_k: float) -> None:
    for line in (
        liquid_pressure_pa_abs, ice_pressure_pa_abs, saturation_pressure_pa_abs,
        saturation_slope_pa_per_k,
    ):  # fmt: skip
        answer = line(temp_k)
        assert isinstance(answer, NoValue)
        assert " K is outside " in answer.reason
