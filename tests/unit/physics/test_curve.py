import math

import numpy as np
import pytest

from chargeassist.physics.curve import LogPressureCurve, node_slopes

LOW, HIGH = 60_000.0, 4_000_000.0


def curve_of(count: int, power: int) -> LogPressureCurve:
    return LogPressureCurve(LOW, HIGH, 200.0 + np.linspace(0.0, 3.0, count) ** power)


@pytest.mark.parametrize("power", [0, 1, 2, 3, 4])
def test_slopes_are_exact_for_quartics(power: int) -> None:
    x = np.linspace(-1.0, 2.0, 13)
    slopes = node_slopes(x**power)
    assert slopes == pytest.approx(power * x ** max(power - 1, 0) * (x[1] - x[0]), abs=1e-12)


@pytest.mark.parametrize("power", [1, 2, 3])
def test_curve_is_exact_for_cubics_in_ln_p(power: int) -> None:
    curve = curve_of(17, power)
    for pressure in np.geomspace(LOW, HIGH, 101)[1:-1]:
        x = 3.0 * math.log(pressure / LOW) / math.log(HIGH / LOW)
        slope = 3.0 / math.log(HIGH / LOW) * power * x ** (power - 1) / pressure
        assert curve.value(float(pressure)) == pytest.approx(200.0 + x**power, abs=1e-11)
        assert curve.slope(float(pressure)) == pytest.approx(slope, rel=1e-9, abs=0.0)


def test_many_values_are_the_same_as_one_by_one() -> None:
    curve = curve_of(17, 4)
    pressures = np.geomspace(LOW, HIGH, 1001)
    pressures[-1] = HIGH
    one_by_one = [curve.value(float(pressure)) for pressure in pressures]
    assert curve.values(pressures) == pytest.approx(one_by_one, abs=1e-12)


def test_inverse_returns_the_pressure_at_both_ends_and_at_each_node() -> None:
    curve = curve_of(17, 1)
    assert curve.pressure(curve.first) == pytest.approx(LOW, rel=1e-14)
    assert curve.pressure(curve.last) == pytest.approx(HIGH, rel=1e-14)
    assert curve.pressure(curve.first) >= LOW
    assert curve.pressure(curve.last) <= HIGH
    for value in 200.0 + np.linspace(0.0, 3.0, 17):
        assert curve.value(curve.pressure(float(value))) == pytest.approx(value, abs=1e-12)


def test_error_falls_with_the_fourth_power_of_the_step() -> None:
    def worst(count: int) -> float:
        nodes = np.exp(np.linspace(0.0, 2.0, count))
        curve = LogPressureCurve(LOW, HIGH, nodes)
        between = np.geomspace(LOW, HIGH, 501)[1:-1]
        exact = np.exp(2.0 * np.log(between / LOW) / math.log(HIGH / LOW))
        return float(np.abs(curve.values(between) - exact).max())

    assert worst(33) / worst(65) == pytest.approx(16.0, rel=0.3)


def test_too_few_nodes_are_refused() -> None:
    with pytest.raises(ValueError, match="at least 5 nodes, came 4"):
        LogPressureCurve(LOW, HIGH, np.arange(4.0))
