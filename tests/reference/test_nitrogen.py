"""Nitrogen at constant density against CoolProp, published virial coefficients and ideal gas."""

import math
from typing import Any

import CoolProp
import pytest
from CoolProp.CoolProp import AbstractState

from chargeassist.model.units import PASCAL_PER_PSI
from chargeassist.model.values import NoValue
from chargeassist.physics.nitrogen import (
    density_mol_per_m3,
    density_pressure_pa_abs,
    expected_pressure_pa_abs,
    ideal_pressure_pa_abs,
    slope_pa_per_k,
)

PRESSURES = [5e4, 1e6, 2e6, 3.5e6, 5e6, 7e6, 1e7]
TEMPS_K = [225.0, 250.0, 273.15, 294.26, 310.0, 330.0, 352.0]
ATMOSPHERE = 101_325.0


def fahrenheit_k(value: float) -> float:
    return (value + 459.67) / 1.8


def span(pressure: float, temp_k: float) -> Any:
    state = AbstractState("HEOS", "Nitrogen")
    state.update(CoolProp.PT_INPUTS, pressure, temp_k)
    return state


@pytest.mark.parametrize("pressure", PRESSURES)
@pytest.mark.parametrize("temp_k", TEMPS_K)
def test_density_and_slope_agree_with_the_reference_equation(
    pressure: float, temp_k: float
) -> None:
    state = span(pressure, temp_k)
    density = density_mol_per_m3(pressure, temp_k)
    assert density == pytest.approx(state.rhomolar(), rel=3e-5)
    assert isinstance(density, float)
    assert density_pressure_pa_abs(density, temp_k) == pytest.approx(pressure, rel=1e-12)
    slope = state.first_partial_deriv(CoolProp.iP, CoolProp.iT, CoolProp.iDmolar)
    limit = 3.0 if pressure <= 5e6 else 60.0
    assert slope_pa_per_k(pressure, temp_k) == pytest.approx(slope, abs=limit)


@pytest.mark.parametrize(
    ("psig", "later_psig", "ideal_psig"),
    [(500.0, 489.69, 490.46), (600.0, 587.51, 588.61), (150.0, 146.87, 146.95)],
)
def test_what_ten_degrees_fahrenheit_take_from_a_standing_test(
    psig: float, later_psig: float, ideal_psig: float
) -> None:
    """80 to 70 °F; the figures were computed once with CoolProp 8 at constant density."""
    start = psig * PASCAL_PER_PSI + ATMOSPHERE
    warm, cold = fahrenheit_k(80.0), fahrenheit_k(70.0)
    later = expected_pressure_pa_abs(start, warm, cold)
    assert isinstance(later, float)
    assert (later - ATMOSPHERE) / PASCAL_PER_PSI == pytest.approx(later_psig, abs=0.006)
    state = span(start, warm)
    state.update(CoolProp.DmolarT_INPUTS, state.rhomolar(), cold)
    assert later == pytest.approx(state.p(), abs=30.0)
    ideal = ideal_pressure_pa_abs(start, warm, cold)
    assert (ideal - ATMOSPHERE) / PASCAL_PER_PSI == pytest.approx(ideal_psig, abs=0.006)


@pytest.mark.parametrize(
    ("temp_k", "b_cm3_per_mol", "within"), [(250.0, -16.2, 1.0), (300.0, -4.2, 1.0)]
)
def test_second_virial_coefficient_agrees_with_the_published_one(
    temp_k: float, b_cm3_per_mol: float, within: float
) -> None:
    """J. H. Dymond, E. B. Smith, The Virial Coefficients of Pure Gases and Mixtures, Oxford 1980,
    nitrogen, recommended values with their uncertainty (from memory)."""
    density = 5.0  # mol/m3: dilute
    pressure = density_pressure_pa_abs(density, temp_k)
    assert isinstance(pressure, float)
    b = (pressure / (density * 8.31446261815324 * temp_k) - 1.0) / density * 1e6
    assert b == pytest.approx(b_cm3_per_mol, abs=within)


def test_dilute_nitrogen_is_an_ideal_gas() -> None:
    later = expected_pressure_pa_abs(1000.0, 300.0, 280.0)
    assert later == pytest.approx(ideal_pressure_pa_abs(1000.0, 300.0, 280.0), rel=1e-5)


@pytest.mark.parametrize(
    "answer",
    [
        density_mol_per_m3(1e6, 200.0),
        density_mol_per_m3(2e7, 300.0),
        density_mol_per_m3(math.nan, 300.0),
        density_pressure_pa_abs(-1.0, 300.0),
        density_pressure_pa_abs(6000.0, 300.0),
        density_pressure_pa_abs(100.0, math.nan),
        expected_pressure_pa_abs(1e6, 300.0, 400.0),
        expected_pressure_pa_abs(9.9e6, 280.0, 350.0),
        slope_pa_per_k(1e6, 400.0),
    ],
)
def test_outside_there_is_no_value(answer: float | NoValue) -> None:
    assert isinstance(answer, NoValue)
    assert answer.reason
