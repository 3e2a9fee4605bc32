"""Approach and its relatives against manuals, an independent library and Monte Carlo."""

import math

import pytest

from chargeassist.model.values import NoValue
from chargeassist.physics.approach import (
    ApproachSays,
    TempDifference,
    judge_approach,
    temp_difference,
)

PSI = 0.45359237 * 9.80665 / 0.0254**2


def kelvin(temp_f: float) -> float:
    return (temp_f + 459.67) / 1.8


def approach(liquid_f: float, outdoor_f: float, expanded_f: float = 0.4) -> TempDifference:
    found = temp_difference(
        kelvin(liquid_f),
        kelvin(outdoor_f),
        warm_expanded_k=expanded_f / 1.8 / math.sqrt(2.0),
        cold_expanded_k=expanded_f / 1.8 / math.sqrt(2.0),
    )
    assert isinstance(found, TempDifference)
    return found


@pytest.mark.parametrize(
    ("liquid_f", "expected"),
    [
        (95.0, ApproachSays.SHORT),  # 10 against 8: high, add
        (93.0, ApproachSays.INSIDE),
        (93.9, ApproachSays.INSIDE),
        (94.2, ApproachSays.NOT_CERTAIN),
        (91.0, ApproachSays.EXCESS),  # 6 against 8: low, remove
    ],
)
def test_the_direction_and_the_tolerance_of_the_manual(
    liquid_f: float, expected: ApproachSays
) -> None:
    """Equipment manual, manualshive.com/en/manual/lennox/merit-13hpd018/1877800, p. 16.

    Tolerance 1 °F, from 65 °F of outdoor air; a high approach calls for refrigerant.
    """
    assert judge_approach(approach(liquid_f, 85.0), 8.0 / 1.8, kelvin(85.0)) is expected


def test_below_65_fahrenheit_the_approach_does_not_count() -> None:
    found = judge_approach(approach(72.0, 64.0), 8.0 / 1.8, kelvin(64.0))
    assert isinstance(found, NoValue)
    assert "65 °F (18.3 °C)" in found.reason
    assert "it is 17.8 °C" in found.reason
    assert judge_approach(approach(73.0, 65.0), 8.0 / 1.8, kelvin(65.0)) is ApproachSays.INSIDE


def test_coarse_probes_cannot_judge_one_fahrenheit() -> None:
    coarse = approach(93.0, 85.0, expanded_f=2.0)
    assert judge_approach(coarse, 8.0 / 1.8, kelvin(85.0)) is ApproachSays.NOT_CERTAIN


def test_the_errors_of_two_probes_add_in_squares() -> None:
    """JCGM 100:2008, 5.1.2, equation 10."""
    two = temp_difference(310.0, 300.0, warm_expanded_k=0.5, cold_expanded_k=0.5)
    assert isinstance(two, TempDifference)
    assert two.expanded_k == pytest.approx(0.5 * math.sqrt(2.0))
    assert two.value_k == pytest.approx(10.0)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0, 0.0])
def test_no_temperature_no_difference(bad: float) -> None:
    for pair in ((bad, 300.0), (300.0, bad)):
        found = temp_difference(*pair, warm_expanded_k=0.1, cold_expanded_k=0.1)
        assert isinstance(found, NoValue)
    with pytest.raises(ValueError, match="uncertainties"):
        temp_difference(300.0, 290.0, warm_expanded_k=-0.1, cold_expanded_k=0.1)
