"""Charge steps by key and by scale, double and missing keys, and what is learnt from them."""

import pytest

from chargeassist.model.events import Mark, MarkKind, StepRecorded
from chargeassist.stream.ledger import Ledger
from tests.unit.stream.scale import Scale
from tests.unit.stream.step_marks import begun, ended


def test_a_step_by_keys_and_word() -> None:
    ledger = Ledger(2.0)
    assert ledger.take(begun(10.0)) == ()
    step = ledger.open_step()
    assert step is not None
    assert (step.begun_t, step.so_far_kg) == (10.0, None)
    (done,) = ledger.take(ended(70.0, 0.11))
    assert done == StepRecorded(
        t=70.0, number=1, mass_kg=0.11, begun_t=10.0, ended_t=70.0, measured_by="technician"
    )
    assert ledger.open_step() is None
    assert ledger.total_kg == pytest.approx(2.11)


def test_a_step_by_keys_and_scale_is_read_when_the_scale_has_come_to_rest() -> None:
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(40, 0.0025)
    step = scale.ledger.open_step()
    assert step is not None
    assert step.so_far_kg == pytest.approx(0.1)
    scale.mark(ended(scale.t))
    assert scale.ledger.open_step() is not None  # the hose still swings
    scale.run(3)
    (step_recorded,) = scale.recorded
    assert step_recorded.mass_kg == pytest.approx(0.1)
    assert (step_recorded.begun_t, step_recorded.ended_t) == (10.0, 50.0)
    assert step_recorded.measured_by == "scale"


def test_what_the_technician_says_outranks_the_scale() -> None:
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(40, 0.0025)
    scale.mark(ended(scale.t, 0.085))
    assert scale.masses == [0.085]
    assert scale.recorded[0].measured_by == "technician"


def test_recovered_refrigerant_is_negative_by_word_and_by_scale() -> None:
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(20, -0.002)
    scale.mark(ended(scale.t))
    scale.run(3)
    scale.run(40)
    scale.mark(ended(scale.t, -0.05))
    assert scale.masses == [pytest.approx(-0.04), -0.05]
    assert scale.ledger.total_kg == pytest.approx(1.91)


def test_a_falling_scale_opens_and_ends_a_step_without_a_key() -> None:
    scale = Scale()
    scale.run(10)
    scale.run(30, 0.003)
    assert scale.ledger.open_step() is not None
    scale.run(15)
    assert scale.ledger.open_step() is None
    assert scale.masses == [pytest.approx(0.09)]
    assert scale.recorded[0].measured_by == "scale"


@pytest.mark.parametrize("kg_per_s", [0.0002, 0.0005, 0.0011, 0.05])
def test_no_flow_is_too_slow_or_too_fast_to_be_counted(kg_per_s: float) -> None:
    scale = Scale()
    scale.run(60)
    start_kg = scale.kg
    scale.run(round(0.1 / kg_per_s), kg_per_s)
    scale.run(60)
    told = sum(mass or 0.0 for mass in scale.masses)
    # What is left at the end may lie below the fall that opens a step (12 g).
    assert told == pytest.approx(start_kg - scale.kg, abs=0.0125)


def test_a_coarse_scale_that_falls_step_by_step_is_followed() -> None:
    scale = Scale()
    for i in range(400):
        scale.kg = 10.0 - 0.005 * (max(0, i - 30) // 10)  # 5 g every 10 s
        scale.run(1)
    assert sum(mass or 0.0 for mass in scale.masses) == pytest.approx(0.18, abs=0.02)


def test_a_noisy_or_drifting_scale_opens_nothing() -> None:
    scale = Scale()
    for i in range(600):
        scale.run(1, 0.0)
        scale.kg = 10.0 + 0.002 * ((i * 7) % 3 - 1) - 0.00001 * i
    assert scale.ledger.open_step() is None
    assert scale.ledger.steps == ()


def test_the_technician_takes_over_a_step_the_scale_has_seen() -> None:
    scale = Scale()
    scale.run(10)
    scale.run(10, 0.003)
    scale.mark(begun(scale.t))
    scale.run(30)  # the scale rests, but now only the key ends the step
    assert scale.ledger.open_step() is not None
    scale.mark(ended(scale.t))
    scale.run(3)
    assert scale.masses == [pytest.approx(0.03)]


@pytest.mark.parametrize("again", [None, 0.11])
def test_keys_pressed_twice_count_once(again: float | None) -> None:
    ledger = Ledger(2.0)
    ledger.take(begun(10.0))
    ledger.take(begun(11.0))
    ledger.take(ended(70.0, 0.11))
    assert ledger.take(ended(71.0, again)) == ()
    assert [step.mass_kg for step in ledger.steps] == [0.11]
    assert ledger.steps[0].begun_t == 10.0


def test_an_end_pressed_twice_while_the_scale_comes_to_rest_counts_once() -> None:
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(30, 0.003)
    for _ in range(2):
        scale.mark(ended(scale.t))
        scale.run(1)
    scale.run(20)
    assert scale.masses == [pytest.approx(0.09)]


def test_an_amount_said_while_the_scale_comes_to_rest_is_taken() -> None:
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(30, 0.003)
    scale.mark(ended(scale.t))
    scale.run(1)
    scale.mark(ended(scale.t, 0.1))
    scale.run(20)
    assert scale.masses == [0.1]


def test_the_next_step_may_begin_before_the_scale_came_to_rest() -> None:
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(30, 0.003)
    scale.mark(ended(scale.t))
    scale.run(1)
    scale.mark(begun(scale.t))
    scale.run(20, 0.002)
    scale.mark(ended(scale.t))
    scale.run(10)
    assert scale.masses == [pytest.approx(0.09), pytest.approx(0.04)]
    assert [step.number for step in scale.recorded] == [1, 2]


def test_an_end_without_a_beginning_is_a_step_of_its_own() -> None:
    ledger = Ledger(2.0)
    (step,) = ledger.take(ended(50.0, 0.1))
    assert step is not None
    assert (step.begun_t, step.ended_t, step.mass_kg) == (50.0, 50.0, 0.1)
    assert len(ledger.take(ended(90.0, 0.1))) == 1
    assert len(ledger.steps) == 2


def test_a_slip_of_the_keyboard_counts_as_not_said() -> None:
    ledger = Ledger(2.0)
    for mass_kg in (1e308, -1e308, float("inf"), float("nan")):
        ledger.take(begun(0.0))
        ledger.take(ended(100.0, mass_kg))
        assert ledger.steps[-1].mass_kg is None
    assert ledger.total_kg == 2.0


def test_a_scale_that_dies_in_a_step_leaves_the_amount_unknown() -> None:
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(10, 0.003)
    scale.run(20, silent=True)
    scale.mark(ended(scale.t))
    scale.run(3, silent=True)
    assert scale.masses == [None]
    assert scale.recorded[0].measured_by == "technician"


def test_a_scale_that_dies_in_a_step_of_its_own_leaves_it_open_until_told() -> None:
    scale = Scale()
    scale.run(10)
    scale.run(10, 0.003)
    scale.run(60, silent=True)
    assert scale.ledger.open_step() is not None
    scale.mark(ended(scale.t, 0.05))
    assert scale.masses == [0.05]


def test_a_value_that_only_stands_is_not_a_scale_at_rest() -> None:
    """Until a silent probe is given up its last value stands, while the valve may be open."""
    scale = Scale()
    scale.run(10)
    scale.run(10, 0.003)
    for _ in range(30):
        scale.t += 1.0
        assert scale.ledger.tick(scale.t, scale.kg, heard=False) is None
    assert scale.ledger.open_step() is not None
    assert scale.ledger.tick(scale.t + 1.0, scale.kg) is not None  # it says so: now it is still


def test_lifting_the_cylinder_is_no_step() -> None:
    scale = Scale()
    scale.run(10)
    scale.run(1, 0.1)  # a hand takes hold
    scale.run(1, 4.0)
    scale.run(1, 5.9)
    scale.run(20)
    scale.run(1, -12.0)  # a full cylinder is put down
    scale.run(30)
    assert scale.ledger.open_step() is None
    assert scale.ledger.steps == ()
    scale.run(30, 0.003)
    scale.run(15)
    assert scale.masses == [pytest.approx(0.09)]


def test_lifting_the_cylinder_slowly_is_no_step_either() -> None:
    scale = Scale()
    scale.run(10)
    scale.run(3, 0.2)
    scale.run(4, 2.0)
    scale.run(30)
    assert scale.ledger.open_step() is None
    assert scale.ledger.steps == ()


def test_exchanging_the_cylinder_in_a_step_leaves_the_amount_to_the_technician() -> None:
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(10, 0.003)
    scale.run(1, 9.0)
    scale.run(20)
    scale.mark(ended(scale.t))
    scale.run(10)
    assert scale.masses == [None]


def test_a_step_the_scale_saw_keeps_its_amount_when_the_cylinder_is_lifted_after() -> None:
    scale = Scale()
    scale.run(10)
    scale.run(20, 0.003)
    scale.run(3)
    scale.run(1, 9.0)
    scale.run(20)
    assert scale.masses == [pytest.approx(0.06)]


def test_an_open_step_says_that_its_scale_is_lost_and_back() -> None:
    scale = Scale()
    scale.run(10)
    scale.run(6, 0.005)  # the scale itself begins the step
    for silent in (False, True, False):
        scale.run(1, silent=silent)
        step = scale.ledger.open_step()
        assert step is not None
        assert step.scale_lost is silent
    without = Ledger(2.0)
    without.take(begun(10.0))
    without.tick(11.0, None)
    step = without.open_step()
    assert step is not None
    assert not step.scale_lost  # there was none to lose


@pytest.mark.parametrize("next_kind", [None, MarkKind.STEP_BEGUN])
def test_an_end_that_nobody_began_and_nothing_flowed_in_is_no_step(
    next_kind: MarkKind | None,
) -> None:
    """The wrong key: a step of 0 g would disturb what has settled, and stand in the record."""
    ledger = Ledger(0.0)
    recorded: list[StepRecorded | None] = []
    for tick in range(1, 40):
        recorded.append(ledger.tick(float(tick), 10.0))
        if tick == 20:
            recorded += ledger.take(Mark(t=20.5, kind=MarkKind.STEP_ENDED))
        if tick == 22 and next_kind is not None:
            recorded += ledger.take(Mark(t=22.5, kind=next_kind))
    assert [step for step in recorded if step is not None] == []
    assert ledger.steps == ()
    assert ledger.is_open is (next_kind is MarkKind.STEP_BEGUN)
