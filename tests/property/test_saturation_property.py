"""What must hold for every refrigerant at every pressure and for every float there is."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargeassist.model.values import NoValue
from chargeassist.physics.cycle import subcooling_k, superheat_k
from chargeassist.physics.saturation import Refrigerant, refrigerant, refrigerant_names

FLUIDS = st.sampled_from([refrigerant(name) for name in refrigerant_names()])
SHARE = st.floats(0.0, 1.0)
ANY_FLOAT = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True),
    st.floats(40_000.0, 8_000_000.0),
    st.floats(150.0, 450.0),
)
"""Every float, and often enough those near the ranges of pressure [Pa] and temperature [K]."""


def pressure_at(fluid: Refrigerant, share: float) -> float:
    """A pressure inside the range, `share` of the way from its lower to its upper end."""
    low, high = fluid.pressure_min_pa_abs, fluid.pressure_max_pa_abs
    return min(max(low * math.exp(share * math.log(high / low)), low), high)


def number(value: float | NoValue) -> float:
    assert isinstance(value, float), value
    return value


@given(FLUIDS, SHARE, SHARE)
def test_both_lines_rise_with_pressure(fluid: Refrigerant, one: float, other: float) -> None:
    low, high = sorted((pressure_at(fluid, one), pressure_at(fluid, other)))
    for look_up in (fluid.bubble_temp_k, fluid.dew_temp_k):
        assert number(look_up(low)) <= number(look_up(high))
        if high > low * (1.0 + 1e-9):
            assert number(look_up(low)) < number(look_up(high))
    assert number(fluid.bubble_slope_k_per_pa(low)) > 0.0
    assert number(fluid.dew_slope_k_per_pa(low)) > 0.0


@given(FLUIDS, SHARE)
def test_dew_is_not_below_bubble(fluid: Refrigerant, share: float) -> None:
    """10 uK: between the nodes of an azeotrope the two curves may cross by rounding."""
    pressure = pressure_at(fluid, share)
    glide = number(fluid.glide_k(pressure))
    assert glide >= -1e-5
    assert glide == number(fluid.dew_temp_k(pressure)) - number(fluid.bubble_temp_k(pressure))
    if fluid.model == "pure":
        assert glide == pytest.approx(0.0, abs=1e-5)


@given(FLUIDS, SHARE)
def test_pressure_to_temperature_and_back(fluid: Refrigerant, share: float) -> None:
    pressure = pressure_at(fluid, share)
    bubble = number(fluid.bubble_pressure_pa_abs(number(fluid.bubble_temp_k(pressure))))
    dew = number(fluid.dew_pressure_pa_abs(number(fluid.dew_temp_k(pressure))))
    assert bubble == pytest.approx(pressure, rel=1e-11)
    assert dew == pytest.approx(pressure, rel=1e-11)


@given(FLUIDS, SHARE)
def test_slope_is_the_slope_of_the_line(fluid: Refrigerant, share: float) -> None:
    pressure = pressure_at(fluid, 0.01 + 0.98 * share)
    step = 1e-4 * pressure
    for look_up, slope in (
        (fluid.bubble_temp_k, fluid.bubble_slope_k_per_pa),
        (fluid.dew_temp_k, fluid.dew_slope_k_per_pa),
    ):
        difference = number(look_up(pressure + step)) - number(look_up(pressure - step))
        assert number(slope(pressure)) == pytest.approx(difference / (2.0 * step), rel=1e-4)


@given(FLUIDS, SHARE, SHARE)
def test_liquid_gets_lighter_as_it_gets_warmer(
    fluid: Refrigerant, one: float, other: float
) -> None:
    low, high = sorted((pressure_at(fluid, one), pressure_at(fluid, other)))
    cold, warm = number(fluid.bubble_temp_k(low)), number(fluid.bubble_temp_k(high))
    heavier = number(fluid.saturated_liquid_density_kg_per_m3(cold))
    lighter = number(fluid.saturated_liquid_density_kg_per_m3(warm))
    assert heavier >= lighter > 0.0


@given(FLUIDS, ANY_FLOAT)
def test_any_float_gives_a_finite_number_inside_and_a_reason_outside(
    fluid: Refrigerant, pressure: float
) -> None:
    inside = fluid.pressure_min_pa_abs <= pressure <= fluid.pressure_max_pa_abs
    for value in (
        fluid.bubble_temp_k(pressure),
        fluid.dew_temp_k(pressure),
        fluid.glide_k(pressure),
        fluid.bubble_slope_k_per_pa(pressure),
        fluid.dew_slope_k_per_pa(pressure),
    ):
        if inside:
            assert math.isfinite(number(value))
        else:
            assert isinstance(value, NoValue)
            assert value.reason


@given(FLUIDS, ANY_FLOAT)
def test_any_float_as_temperature_gives_a_pressure_in_range_or_a_reason(
    fluid: Refrigerant, temp: float
) -> None:
    for value in (fluid.bubble_pressure_pa_abs(temp), fluid.dew_pressure_pa_abs(temp)):
        if isinstance(value, NoValue):
            assert value.reason
        else:
            assert fluid.pressure_min_pa_abs <= value <= fluid.pressure_max_pa_abs


@given(FLUIDS, ANY_FLOAT, ANY_FLOAT)
def test_any_two_floats_give_subcooling_and_superheat_or_a_reason(
    fluid: Refrigerant, pressure: float, temp: float
) -> None:
    for value in (subcooling_k(fluid, pressure, temp), superheat_k(fluid, pressure, temp)):
        if isinstance(value, NoValue):
            assert value.reason
        else:
            assert math.isfinite(value)


@given(FLUIDS, st.lists(ANY_FLOAT, max_size=20))
def test_many_at_once_are_the_same_as_one_by_one(
    fluid: Refrigerant, pressures: list[float]
) -> None:
    pairs = (
        (fluid.bubble_temps_k, fluid.bubble_temp_k),
        (fluid.dew_temps_k, fluid.dew_temp_k),
    )
    for at_once, one_by_one in pairs:
        temps = at_once(np.array(pressures, dtype=np.float64))
        for pressure, temp in zip(pressures, temps, strict=True):
            alone = one_by_one(pressure)
            if isinstance(alone, NoValue):
                assert math.isnan(temp)
            else:
                assert temp == pytest.approx(alone, abs=1e-9)
