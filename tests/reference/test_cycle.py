"""Subcooling and superheat against published worked examples and laboratory tables.

NISTIR 7350 gives measured means of a residential unit at 16 conditions. Its subcooling belongs to
the exit of the condensing unit, not of the condenser: only there do pressure, temperature and
subcooling agree at all 16 conditions (to 0.02 K among each other).
"""

import csv
from pathlib import Path

import pytest

from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import absolute_from_gauge, pressure_at_altitude_pa_abs
from chargeassist.physics.cycle import subcooling_k, superheat_k
from chargeassist.physics.saturation import refrigerant

PSI = 0.45359237 * 9.80665 / 0.0254**2
SEA_LEVEL = 101_325.0

with (Path(__file__).parent / "data" / "cycle_cases.csv").open(encoding="utf-8") as file:
    CASES = list(csv.DictReader(file))


def fahrenheit(temp_f: float) -> float:
    return (temp_f + 459.67) / 1.8


def test_every_case_has_a_source_and_a_reason_for_its_tolerance() -> None:
    assert len([case for case in CASES if case["kind"] == "subcooling"]) >= 18
    assert len([case for case in CASES if case["kind"] == "superheat"]) >= 30
    for case in CASES:
        assert all(value.strip() for value in case.values()), case


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['kind']} {case['as_published']}")
def test_published_case(case: dict[str, str]) -> None:
    formula = {"subcooling": subcooling_k, "superheat": superheat_k}[case["kind"]]
    found = formula(
        refrigerant(case["refrigerant"]), float(case["pressure_pa_abs"]), float(case["temp_k"])
    )
    tolerance = float(case["tolerance_k"])
    assert found == pytest.approx(float(case["expected_k"]), abs=tolerance), case["source"]


def test_subcooling_and_superheat_of_r410a_computed_by_hand() -> None:
    """Regression only: computed once with CoolProp 8.0.0, printed to 0.01 Fahrenheit."""
    fluid = refrigerant("R-410A")
    subcooling = subcooling_k(fluid, 317.2 * PSI + SEA_LEVEL, fahrenheit(90.0))
    superheat = superheat_k(fluid, 118.0 * PSI + SEA_LEVEL, fahrenheit(52.0))
    assert subcooling == pytest.approx(9.71 / 1.8, abs=0.02)
    assert superheat == pytest.approx(12.16 / 1.8, abs=0.02)


@pytest.mark.parametrize(
    ("name", "wrong_by_k"), [("R-410A", 0.12), ("R-454B", 1.46), ("R-407C", 4.90), ("R-32", 0.0)]
)
def test_the_two_lines_are_not_exchanged(name: str, wrong_by_k: float) -> None:
    """With the dew line subcooling would be too large by the glide (regression values)."""
    fluid = refrigerant(name)
    pressure = fluid.bubble_pressure_pa_abs(313.15)
    assert isinstance(pressure, float)
    assert subcooling_k(fluid, pressure, 308.15) == pytest.approx(5.0, abs=1e-6)
    assert superheat_k(fluid, pressure, 318.15) == pytest.approx(5.0 - wrong_by_k, abs=0.006)


@pytest.mark.parametrize(
    ("altitude_ft", "bubble_f", "dew_f"),
    [
        (1000.0, -0.14, -0.23),
        (3000.0, -0.40, -0.67),
        (5280.0, -0.69, -1.15),
        (7000.0, -0.89, -1.49),
        (10000.0, -1.22, -2.05),
    ],
)
def test_sea_level_pressure_used_on_a_mountain_misleads_by_known_amounts(
    altitude_ft: float, bubble_f: float, dew_f: float
) -> None:
    """Regression only: fluids.ATMOSPHERE_1976 with CoolProp 8.0.0, printed to 0.01 Fahrenheit.

    R-410A, 248 psig on the liquid side and 118 psig on the suction side.
    """
    fluid = refrigerant("R-410A")
    atmosphere = pressure_at_altitude_pa_abs(altitude_ft * 0.3048)
    for gauge_psi, look_up, shift_f in (
        (248.0, fluid.bubble_temp_k, bubble_f),
        (118.0, fluid.dew_temp_k, dew_f),
    ):
        there = look_up(absolute_from_gauge(gauge_psi * PSI, atmosphere))
        at_sea = look_up(absolute_from_gauge(gauge_psi * PSI, SEA_LEVEL))
        assert isinstance(there, float)
        assert isinstance(at_sea, float)
        assert (there - at_sea) * 1.8 == pytest.approx(shift_f, abs=0.0055)


@pytest.mark.parametrize(
    ("temp_k", "reason"),
    [
        (float("nan"), "the {} temperature is not a finite number"),
        (float("inf"), "the {} temperature is not a finite number"),
        (0.0, "0 K is no {} temperature: it must be above zero"),
        (-40.0, "-40 K is no {} temperature: it must be above zero"),
    ],
)
def test_a_temperature_that_cannot_be_gives_no_value_and_its_reason(
    temp_k: float, reason: str
) -> None:
    fluid = refrigerant("R-410A")
    assert subcooling_k(fluid, 2e6, temp_k) == NoValue(reason.format("liquid-line"))
    assert superheat_k(fluid, 9e5, temp_k) == NoValue(reason.format("suction-line"))
    # Above zero it is a temperature, however cold; whether it can be right is not asked here.
    assert isinstance(subcooling_k(fluid, 2e6, 0.05), float)
    assert isinstance(superheat_k(fluid, 9e5, 0.05), float)
