"""What is told of the cylinder is what goes in and out, in whatever order. All invented."""

import pytest

from chargeassist.plant.stores import Cylinder

TOLD_KG = 0.2


def flowed_kg(cylinder: Cylinder, seconds: int) -> float:
    """Return what the unit has gained after a time [kg]."""
    before_kg = cylinder.cylinder_kg + cylinder.hose_kg
    for _ in range(4 * seconds):
        cylinder.give(0.25, 1.0)
        cylinder.take(0.25, 10.0)
    return before_kg - cylinder.cylinder_kg - cylinder.hose_kg


@pytest.fixture
def cylinder() -> Cylinder:
    return Cylinder(5.0, 0.0011, 0.002, 6.0)


def test_two_recoveries_told_one_after_the_other_are_both_made(cylinder: Cylinder) -> None:
    cylinder.end(-TOLD_KG)
    gained_kg = flowed_kg(cylinder, 20)  # a fifth of it is out by then
    cylinder.end(-TOLD_KG)
    gained_kg += flowed_kg(cylinder, 600)
    assert gained_kg == pytest.approx(-2.0 * TOLD_KG, abs=1e-8)


def test_a_recovery_under_way_is_not_forgotten_when_the_valve_is_opened(cylinder: Cylinder) -> None:
    cylinder.end(-TOLD_KG)
    gained_kg = flowed_kg(cylinder, 20)
    cylinder.begin(0.05)
    gained_kg += flowed_kg(cylinder, 100)
    cylinder.end(None)
    gained_kg += flowed_kg(cylinder, 600)
    assert gained_kg == pytest.approx(0.05 - TOLD_KG, abs=1e-8)


def test_two_steps_told_that_were_not_seen_are_both_made_up_for(cylinder: Cylinder) -> None:
    cylinder.end(0.1)
    gained_kg = flowed_kg(cylinder, 20)
    cylinder.end(0.05)
    gained_kg += flowed_kg(cylinder, 600)
    assert gained_kg == pytest.approx(0.15, abs=1e-8)


def test_an_open_recovery_comes_to_what_is_told_of_it_as_a_whole(cylinder: Cylinder) -> None:
    cylinder.begin(-0.1)
    gained_kg = flowed_kg(cylinder, 20)
    cylinder.end(-0.1)
    gained_kg += flowed_kg(cylinder, 600)
    assert gained_kg == pytest.approx(-0.1, abs=1e-8)


def test_a_shut_valve_ends_what_the_open_one_let_through(cylinder: Cylinder) -> None:
    cylinder.begin(None)
    gained_kg = flowed_kg(cylinder, 40)
    cylinder.end(None)
    gained_kg += flowed_kg(cylinder, 600)
    assert gained_kg == pytest.approx(40 * 0.0011, abs=1e-8)
