"""Decisions while a charge step is open: how much is in, when the valve is to be shut."""

from dataclasses import replace
from typing import Any

import pytest

from chargeassist.guide import wording
from chargeassist.model.display import UnitSystem
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Facts, OpenStep
from chargeassist.tui import words
from tests.unit.guide.charging_facts import (
    JOB,
    channels,
    moving,
    said,
    settled,
)


def test_an_open_step_remembers_what_was_proposed() -> None:
    add = said(settled(3.0))
    one = said(moving("step_open", step_open=OpenStep(begun_t=1.0, so_far_kg=0.02)), add)
    two = said(moving("step_open", step_open=OpenStep(begun_t=1.0, so_far_kg=0.05)), one)
    assert wording.reason(two, UnitSystem.SI).startswith("50 g of 105 g in by the scale")
    full = said(moving("step_open", step_open=OpenStep(begun_t=1.0, so_far_kg=0.106)), two)
    assert full.cause == "step_full"


def test_a_step_that_follows_at_once_has_no_amount_of_the_one_before() -> None:
    """The valve was shut and opened again before the scale came to rest; nobody advised more."""
    add = said(settled(3.0))
    assert add.mass_kg is not None
    first = moving("step_open", step_open=OpenStep(begun_t=999.0, so_far_kg=0.1))
    one = said(first, add)
    assert one.figures["wanted_kg"] == add.mass_kg
    second = replace(first, t=1010.0, step_open=OpenStep(begun_t=1008.0, so_far_kg=0.0))
    two = said(second, one)
    assert "wanted_kg" not in two.figures
    assert "wanted_kg" not in said(replace(second, t=1011.0), two).figures


def open_at(so_far_kg: float, **changes: object) -> Facts:
    """Return the facts while a step is open of which so much is in."""
    return moving("step_open", step_open=OpenStep(begun_t=1.0, so_far_kg=so_far_kg), **changes)


def test_a_step_nobody_advised_ends_at_the_most_that_is_proposed_at_once() -> None:
    """Otherwise a hand at the valve reads "Wait" however much goes in."""
    most_kg = JOB.charge.step_cap_kg
    going = said(open_at(most_kg - 0.02))
    assert going.cause == "step_open"
    coarse = replace(JOB, charge=replace(JOB.charge, scale_resolution_kg=most_kg))
    assert said(open_at(0.0), None, coarse).cause == "step_open"
    full = said(open_at(most_kg + 0.01), going)
    assert wording.sentence(full, UnitSystem.SI) == (
        f"Shut the valve: {1000 * most_kg + 10:.0f} g in by the scale; none was advised, and "
        f"{1000 * most_kg:.0f} g is the most at once; then end the step"
    )


def test_a_step_of_one_count_of_the_scale_is_not_full_before_it_has_begun() -> None:
    one_kg = JOB.charge.scale_resolution_kg
    add = replace(said(settled(3.0)), mass_kg=one_kg)
    assert said(open_at(0.0), add).cause == "step_open"
    assert said(open_at(one_kg), add).cause == "step_full"


def test_a_limit_that_had_the_valve_shut_is_no_amount_that_is_in() -> None:
    """The pressure is back under its limit, and hardly anything has gone in."""
    add = replace(said(settled(3.0)), mass_kg=2.0 * JOB.charge.scale_resolution_kg)
    high = said(open_at(0.0, channels=channels(liquid_pressure=3.1e6)), add)
    assert high.cause == "liquid_pressure_high"
    assert said(open_at(0.0), high).cause == "step_open"


@pytest.mark.parametrize("advised", [True, False])
def test_a_scale_on_the_edge_of_the_amount_does_not_open_the_valve_again(*, advised: bool) -> None:
    """Shut just as the amount was in, the scale swings by a gram or two about it."""
    add = said(settled(3.0)) if advised else None
    full_kg = JOB.charge.step_cap_kg
    if add is not None and add.mass_kg is not None:
        full_kg = add.mass_kg - JOB.charge.scale_resolution_kg
    previous = said(open_at(full_kg), add)
    assert previous.cause == "step_full"
    for so_far_kg in (full_kg - 0.002, full_kg + 0.001, full_kg - 0.003):
        previous = said(open_at(so_far_kg), previous)
        assert previous.cause == "step_full"
    assert said(open_at(full_kg - 0.02), previous).cause == "step_open"


@pytest.mark.parametrize(
    ("cause", "wild"),
    [
        ("suction_pressure_low", {"suction_pressure": 1e5}),
        ("discharge_temp_high", {"discharge_temperature": 400.0}),
        ("no_signal", {"liquid_temperature": None}),
    ],
)
@pytest.mark.parametrize("advised", [True, False])
def test_what_comes_before_an_open_step_does_not_hide_that_its_amount_is_in(
    cause: str, wild: dict[str, float | None], advised: bool
) -> None:
    changes: dict[str, Any] = {"channels": channels(**wild)}
    if cause == "no_signal":
        changes["subcooling"] = NoValue("no signal")
    before = said(settled(3.0)) if advised else None
    one = said(open_at(0.02, **changes), before)
    assert one.cause == cause
    assert wording.headline(one, UnitSystem.SI) == "Fix first"
    two = said(open_at(0.05, **changes), one)
    amount_kg = 0.105 if advised else JOB.charge.step_cap_kg
    full = said(open_at(amount_kg + 0.002, **changes), two)
    assert (full.cause, wording.headline(full, UnitSystem.SI)) == (cause, "Shut the valve")
    so_far = "107 g of 105 g" if advised else f"{1000 * amount_kg + 2:.0f} g"
    assert wording.reason(full, UnitSystem.SI).startswith(f"{so_far} in by the scale; ")
    assert ("none was advised" in wording.reason(full, UnitSystem.SI)) is not advised
    assert words.headline(full, UnitSystem.SI) == "SHUT THE VALVE"
    shut = said(moving("rising", **changes), full)
    assert "wanted_kg" not in shut.figures
    assert wording.headline(shut, UnitSystem.SI) == "Fix first"


def test_more_than_may_be_in_the_circuit_has_the_valve_shut() -> None:
    job = replace(JOB, charge=replace(JOB.charge, limit_kg=1.0, limit_source="plate"))
    over = said(open_at(0.02, total_kg=0.99), None, job)
    assert (over.cause, wording.headline(over, UnitSystem.SI)) == ("charge_limit", "Shut the valve")


def test_a_dead_scale_has_the_valve_shut_and_one_that_reads_again_goes_on() -> None:
    add = said(settled(3.0))
    dead = OpenStep(begun_t=1.0, so_far_kg=0.02, scale_lost=True)
    lost = said(moving("step_open", step_open=dead), add)
    assert wording.sentence(lost, UnitSystem.SI) == (
        "Shut the valve: the scale no longer reads; 20 g of 105 g in by the scale when it last "
        "did; then end the step with the amount"
    )
    back = said(moving("step_open", step_open=OpenStep(begun_t=1.0, so_far_kg=0.05)), lost)
    assert back.cause == "step_open"
    assert wording.reason(back, UnitSystem.SI).startswith("50 g of 105 g in by the scale")
