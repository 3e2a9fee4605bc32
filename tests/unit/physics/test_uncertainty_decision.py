import math

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.uncertainty import (
    Budget,
    Decision,
    MeasurementLimits,
    conformance_probability,
    decide,
    subcooling_budget,
    superheat_budget,
)

LIMITS = MeasurementLimits(pressure_half_width_pa=20_000.0, temp_half_width_k=0.5)


@pytest.mark.parametrize(
    ("value", "expanded_u", "decision"),
    [
        (5.0, 0.5, Decision.PASS),
        (4.7, 0.5, Decision.PASS),
        (4.6, 0.5, Decision.PASS_NOT_CERTAIN),
        (4.2, 0.5, Decision.PASS_NOT_CERTAIN),
        (5.8, 0.5, Decision.PASS_NOT_CERTAIN),
        (4.1, 0.5, Decision.FAIL_NOT_CERTAIN),
        (6.3, 0.5, Decision.FAIL_NOT_CERTAIN),
        (3.6, 0.5, Decision.FAIL),
        (6.4, 0.5, Decision.FAIL),
        (5.0, 0.8, Decision.PASS),
        (5.0, 0.81, Decision.TOO_COARSE),
        (4.0, 0.81, Decision.TOO_COARSE),
        (5.0, math.inf, Decision.TOO_COARSE),
        (-2.0, 0.81, Decision.FAIL),
        (12.0, 3.0, Decision.FAIL),
        (5.0, 0.0, Decision.PASS),
        (5.9, 0.0, Decision.FAIL),
        (math.inf, 0.5, Decision.FAIL),
    ],
)
def test_decision_on_the_band_4_2_to_5_8(
    value: float, expanded_u: float, decision: Decision
) -> None:
    # The limits give way by 1e-12 because sums such as 4.2 + 0.5 are not exact.
    assert decide(value, expanded_u, 4.2 - 1e-12, 5.8 + 1e-12) is decision


def test_both_limits_lie_inside_a_band_and_may_meet() -> None:
    for value in (4.25, 5.75):  # binary numbers: the sums are exact
        assert decide(value, 0.0, 4.25, 5.75) is Decision.PASS
        assert decide(value, 0.5, 4.25, 5.75) is Decision.PASS_NOT_CERTAIN
    assert decide(5.0, 0.75, 4.25, 5.75) is Decision.PASS
    assert decide(5.0, 0.0, 5.0, 5.0) is Decision.PASS
    assert conformance_probability(5.0, 1.0, 5.0, 5.0) == 0.0


def test_a_single_limit_is_never_too_coarse() -> None:
    assert decide(9.0, 2.0, 3.0, math.inf) is Decision.PASS
    assert decide(4.0, 2.0, 3.0, math.inf) is Decision.PASS_NOT_CERTAIN
    assert decide(2.0, 2.0, 3.0, math.inf) is Decision.FAIL_NOT_CERTAIN
    assert decide(0.0, 2.0, 3.0, math.inf) is Decision.FAIL


@pytest.mark.parametrize(
    ("value", "u", "lowest", "highest"),
    [
        (math.nan, 0.5, 1.0, 2.0),
        (1.0, -0.5, 1.0, 2.0),
        (1.0, math.nan, 1.0, 2.0),
        (1.0, 0.5, 2.0, 1.0),
        (1.0, 0.5, math.nan, 1.0),
    ],
)
def test_numbers_that_cannot_be_are_refused(
    value: float, u: float, lowest: float, highest: float
) -> None:
    with pytest.raises(ValueError, match="expected a number"):
        decide(value, u, lowest, highest)
    with pytest.raises(ValueError, match="expected a number"):
        conformance_probability(value, u, lowest, highest)


def test_conformance_probability_without_uncertainty_is_certain() -> None:
    assert conformance_probability(1.5, 0.0, 1.0, 2.0) == 1.0
    assert conformance_probability(2.0, 0.0, 1.0, 2.0) == 1.0
    assert conformance_probability(1.0, 0.0, 1.0, 2.0) == 1.0
    assert conformance_probability(0.9, 0.0, 1.0, 2.0) == 0.0
    assert conformance_probability(2.1, 0.0, 1.0, 2.0) == 0.0


def test_conformance_probability_keeps_its_digits_far_from_the_band() -> None:
    above = conformance_probability(0.0, 1.0, 10.0, 11.0)
    below = conformance_probability(0.0, 1.0, -11.0, -10.0)
    # Upper tail of the normal law at 10 sigma: 7.62e-24 (tabulated widely, from memory).
    assert above == pytest.approx(7.62e-24, rel=1e-3, abs=0.0)
    assert below == pytest.approx(above, abs=0.0)


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
@pytest.mark.parametrize(
    "name",
    [
        "pressure_half_width_pa",
        "temp_half_width_k",
        "barometer_half_width_pa",
        "contact_half_width_k",
        "property_expanded_relative",
    ],
)
def test_limits_that_cannot_be_are_refused_by_name(name: str, bad: float) -> None:
    values = {"pressure_half_width_pa": 1.0, "temp_half_width_k": 1.0, name: bad}
    with pytest.raises(ConfigError, match=name):
        MeasurementLimits(**values)


@pytest.mark.parametrize("pressure", [math.nan, -1.0, 1e308, math.inf])
def test_no_budget_without_a_saturation_temperature(pressure: float) -> None:
    fluid = refrigerant("R-410A")
    assert isinstance(subcooling_budget(fluid, pressure, LIMITS), NoValue)
    assert isinstance(superheat_budget(fluid, pressure, LIMITS), NoValue)


def test_table_uncertainty_follows_the_model_and_can_be_declared() -> None:
    def properties_k(name: str, limits: MeasurementLimits) -> float:
        budget = subcooling_budget(refrigerant(name), 2.0e6, limits)
        assert isinstance(budget, Budget)
        return budget.components[-1].u_k

    declared = MeasurementLimits(
        pressure_half_width_pa=0.0, temp_half_width_k=0.0, property_expanded_relative=0.004
    )
    assert properties_k("R-32", declared) == pytest.approx(2.0 * properties_k("R-32", LIMITS))
    assert (
        properties_k("R-32", LIMITS)
        < properties_k("R-410A", LIMITS)
        < properties_k("R-454B", LIMITS)
    )
