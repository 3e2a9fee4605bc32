"""Uncertainty budgets against Monte Carlo, published rules and independent arithmetic."""

import math
from statistics import NormalDist

import numpy as np
import pytest

from chargeassist.physics.curve import FloatArray
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.uncertainty import (
    PROPERTY_EXPANDED_RELATIVE,
    Budget,
    Decision,
    MeasurementLimits,
    Source,
    conformance_probability,
    decide,
    expanded_from_half_width,
    rectangular_u,
    subcooling_budget,
    superheat_budget,
)

PSI = 0.45359237 * 9.80665 / 0.0254**2
DRAWS = 1_000_000
HALF_PERCENT_OF_800_PSI = 0.005 * 800.0 * PSI
NAMES = ["R-32", "R-410A", "R-454B", "R-22", "R-407C", "R-134a", "R-290", "R-744"]


def limits(pressure_pa: float, temp_k: float) -> MeasurementLimits:
    return MeasurementLimits(pressure_half_width_pa=pressure_pa, temp_half_width_k=temp_k)


def liquid_pressure(name: str) -> float:
    """Bubble pressure at 40 degrees Celsius (25 for R-744, critical at 31)."""
    pressure = refrigerant(name).bubble_pressure_pa_abs(298.15 if name == "R-744" else 313.15)
    assert isinstance(pressure, float)
    return pressure


def suction_pressure(name: str) -> float:
    """Dew pressure at 7 degrees Celsius."""
    pressure = refrigerant(name).dew_pressure_pa_abs(280.15)
    assert isinstance(pressure, float)
    return pressure


def budget_of(kind: str, name: str, of: MeasurementLimits) -> Budget:
    fluid = refrigerant(name)
    if kind == "subcooling":
        budget = subcooling_budget(fluid, liquid_pressure(name), of)
    else:
        budget = superheat_budget(fluid, suction_pressure(name), of)
    assert isinstance(budget, Budget)
    return budget


def drawn_results(kind: str, name: str, of: MeasurementLimits) -> FloatArray:
    """Subcooling or superheat of `DRAWS` imagined measurements through the real curve.

    JCGM 101:2008: rectangular for limits, normal for the table's expanded uncertainty.
    """
    random = np.random.default_rng(20_240_607)

    def within(half_width: float) -> FloatArray:
        return random.uniform(-half_width, half_width, DRAWS)

    fluid = refrigerant(name)
    true_pressure = liquid_pressure(name) if kind == "subcooling" else suction_pressure(name)
    pressure = (
        true_pressure + within(of.pressure_half_width_pa) + within(of.barometer_half_width_pa)
    )
    relative = PROPERTY_EXPANDED_RELATIVE[fluid.model] / 2.0
    pressure *= np.exp(random.normal(0.0, relative, DRAWS))
    line = within(of.temp_half_width_k) + within(of.contact_half_width_k)
    if kind == "subcooling":
        return fluid.bubble_temps_k(pressure) - line
    return line - fluid.dew_temps_k(pressure)


@pytest.mark.parametrize("kind", ["subcooling", "superheat"])
@pytest.mark.parametrize("name", NAMES)
def test_first_order_budget_agrees_with_monte_carlo(kind: str, name: str) -> None:
    """2 % of u: first order neglects curvature; 1e6 draws scatter by 0.1 %."""
    of = limits(HALF_PERCENT_OF_800_PSI, 0.5)
    results = drawn_results(kind, name, of)
    assert np.isfinite(results).all()
    budget = budget_of(kind, name, of)
    assert float(results.std()) == pytest.approx(budget.combined_u_k, rel=0.02)
    inside = np.abs(results - results.mean()) <= budget.expanded_u_k
    assert 0.95 <= float(inside.mean()) <= 0.995


@pytest.mark.parametrize(
    ("name", "subcooling_k", "superheat_k"),
    [
        ("R-410A", 0.89, 1.27),
        ("R-32", 0.86, 1.24),
        ("R-454B", 0.98, 1.38),
        ("R-22", 1.09, 1.80),
        ("R-407C", 1.03, 1.79),
        ("R-134a", 1.35, 2.58),
        ("R-290", 1.21, 2.00),
    ],
)
def test_expanded_uncertainty_agrees_with_an_earlier_computation(
    name: str, subcooling_k: float, superheat_k: float
) -> None:
    """Independent implementation, printed to 0.01 K: 0.5 % of 800 psi, 0.5 K clamp."""
    of = limits(HALF_PERCENT_OF_800_PSI, 0.5)
    assert budget_of("subcooling", name, of).expanded_u_k == pytest.approx(subcooling_k, abs=0.01)
    assert budget_of("superheat", name, of).expanded_u_k == pytest.approx(superheat_k, abs=0.01)


def test_components_of_r410a_agree_with_hand_arithmetic() -> None:
    """s = 1.700 K/bar at 40 C; 4 psi / sqrt 3 gives 0.271 K, and so on (by hand)."""
    budget = budget_of("subcooling", "R-410A", limits(HALF_PERCENT_OF_800_PSI, 0.5))
    found = {component.name: component.u_k for component in budget.components}
    assert found == pytest.approx(
        {
            Source.PRESSURE_PROBE: 0.271,
            Source.BAROMETER: 0.015,
            Source.TEMP_PROBE: 0.289,
            Source.CONTACT: 0.173,
            Source.PROPERTIES: 0.103,
        },
        abs=0.0006,
    )
    assert budget.combined_u_k == pytest.approx(0.444, abs=0.0006)
    assert budget.largest.name is Source.TEMP_PROBE


def test_accuracy_class_of_7_psi_and_1_4_fahrenheit_gives_2_4_fahrenheit() -> None:
    """Worked by hand for R-410A at 100 F: slope 0.2198 F/psi; U = 2 sqrt((1.54^2 + 1.4^2) / 3)."""
    fluid = refrigerant("R-410A")
    pressure = fluid.bubble_pressure_pa_abs((100.0 + 459.67) / 1.8)
    assert isinstance(pressure, float)
    slope = fluid.bubble_slope_k_per_pa(pressure)
    assert isinstance(slope, float)
    assert slope * PSI * 1.8 == pytest.approx(0.2198, abs=0.0005)
    budget = subcooling_budget(
        fluid,
        pressure,
        MeasurementLimits(
            pressure_half_width_pa=7.0 * PSI,
            temp_half_width_k=1.4 / 1.8,
            barometer_half_width_pa=0.0,
            contact_half_width_k=0.0,
            property_expanded_relative=0.0,
        ),
    )
    assert isinstance(budget, Budget)
    assert budget.expanded_u_k * 1.8 == pytest.approx(
        2.0 * math.sqrt((1.54**2 + 1.4**2) / 3.0), abs=0.005
    )


def test_rectangular_limits_follow_the_gum_example() -> None:
    """JCGM 100:2008, 4.3.7 example 1: copper expansion 16.52 +- 0.40 (1e-6/K) gives u 0.23."""
    assert rectangular_u(0.40) == pytest.approx(0.23, abs=0.005)


def test_declared_limits_become_expanded_uncertainties() -> None:
    assert expanded_from_half_width(0.3) == pytest.approx(0.6 / math.sqrt(3.0))


@pytest.mark.parametrize(
    ("k", "probability"), [(0.84, 0.80), (1.28, 0.90), (1.64, 0.95), (2.33, 0.99), (3.09, 0.999)]
)
def test_conformance_probability_of_a_one_sided_limit(k: float, probability: float) -> None:
    """JCGM 106:2012, table 1 (from memory): value k u inside a single limit."""
    found = conformance_probability(10.0 - k * 0.7, 0.7, -math.inf, 10.0)
    assert found == pytest.approx(probability, abs=0.0015)


def test_conformance_probability_of_the_breakdown_voltage_example() -> None:
    """JCGM 106:2012, 7.3 (from memory): -5.47 V, u 0.05 V, upper limit -5.40 V gives 0.92."""
    found = conformance_probability(-5.47, 0.05, -math.inf, -5.40)
    assert found == pytest.approx(0.92, abs=0.005)


def test_conformance_probability_agrees_with_the_standard_library() -> None:
    for value in (-3.0, 3.9, 4.2, 5.0, 5.8, 6.1, 20.0):
        for standard_u in (0.05, 0.444, 3.0):
            law = NormalDist(value, standard_u)
            expected = law.cdf(5.8) - law.cdf(4.2)
            found = conformance_probability(value, standard_u, 4.2, 5.8)
            assert found == pytest.approx(expected, abs=1e-12)


def test_certain_pass_means_at_least_95_percent_and_certain_fail_at_most_5() -> None:
    """Guard band U = 2 u against either limit leaves 2.3 % on that side (JCGM 106:2012, 8.3)."""
    for value in np.linspace(0.0, 10.0, 201):
        for standard_u in (0.05, 0.2, 0.39, 0.6):
            decision = decide(float(value), 2.0 * standard_u, 4.2, 5.8)
            chance = conformance_probability(float(value), standard_u, 4.2, 5.8)
            if decision is Decision.PASS:
                assert chance > 0.95
            if decision is Decision.FAIL:
                assert chance < 0.05
