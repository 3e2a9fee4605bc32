"""Amounts and recoveries that are told after their step, and whose they are."""

import pytest

from chargeassist.model.events import Mark, MarkKind, StepRecorded
from chargeassist.model.mark_event import RECOVERED
from chargeassist.stream.ledger import Ledger
from tests.unit.stream.scale import Scale
from tests.unit.stream.step_marks import begun, ended


def test_an_unknown_amount_can_be_said_later() -> None:
    ledger = Ledger(2.0)
    ledger.take(begun(10.0))
    (first,) = ledger.take(ended(70.0))
    assert first is not None
    assert first.mass_kg is None
    assert ledger.total_kg == 2.0
    (said,) = ledger.take(ended(400.0, 0.12))
    assert said == StepRecorded(
        t=400.0, number=1, mass_kg=0.12, begun_t=10.0, ended_t=70.0, measured_by="technician"
    )
    assert len(ledger.steps) == 1
    assert ledger.total_kg == pytest.approx(2.12)


def test_a_recovery_after_an_unknown_amount_is_not_taken_for_it() -> None:
    ledger = Ledger(2.0)
    ledger.take(begun(10.0))
    ledger.take(ended(70.0))
    ledger.take(ended(400.0, -0.05))
    assert [step.mass_kg for step in ledger.steps] == [None, -0.05]


@pytest.mark.parametrize("told", [-0.05, None])
@pytest.mark.parametrize("waited_s", [0, 1, 2, 3])
def test_what_is_recovered_while_the_scale_comes_to_rest_is_no_part_of_what_went_in(
    told: float | None, waited_s: int
) -> None:
    """100 g in by the scale and 50 g out again: said at once, or when the scale has been read."""
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(50, 0.002)
    scale.mark(ended(scale.t))
    end_t = scale.t
    scale.run(waited_s)
    text = RECOVERED if told is None else ""
    scale.mark(Mark(t=scale.t, kind=MarkKind.STEP_ENDED, mass_kg=told, text=text))
    scale.run(12)
    assert scale.masses == [pytest.approx(0.1, abs=0.003), told]
    assert [step.came_out for step in scale.ledger.steps] == [False, told is None]
    assert scale.ledger.steps[0].ended_t == end_t
    assert [step.number for step in scale.recorded] == [1, 2]
    assert scale.ledger.total_kg == pytest.approx(2.1 + (told or 0.0), abs=0.003)


@pytest.mark.parametrize("told", [-0.05, None])
def test_what_is_recovered_is_the_step_where_nothing_went_in(told: float | None) -> None:
    """Begun with a, ended with e although it was a recovery: the scale of the cylinder stood."""
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.run(30)
    scale.mark(ended(scale.t))
    scale.run(1)
    text = RECOVERED if told is None else ""
    scale.mark(Mark(t=scale.t, kind=MarkKind.STEP_ENDED, mass_kg=told, text=text))
    scale.run(12)
    assert scale.masses == [told]
    assert scale.ledger.steps[0].came_out is (told is None)


@pytest.mark.parametrize("later_s", [20.0, 400.0])
def test_the_amount_of_a_recovery_can_be_said_later(later_s: float) -> None:
    ledger = Ledger(2.0)
    ledger.take(begun(10.0))
    ledger.take(Mark(t=70.0, kind=MarkKind.STEP_ENDED, text=RECOVERED))
    assert [step.mass_kg for step in ledger.steps] == [None]
    (said,) = ledger.take(ended(70.0 + later_s, -0.12))
    assert said is not None
    assert (said.number, said.mass_kg) == (1, -0.12)
    assert ledger.total_kg == pytest.approx(1.88)


def test_what_is_added_is_not_taken_for_the_amount_of_a_recovery() -> None:
    ledger = Ledger(2.0)
    ledger.take(ended(50.0))
    ledger.take(Mark(t=70.0, kind=MarkKind.STEP_ENDED, text=RECOVERED))
    ledger.take(ended(400.0, 0.1))
    assert [step.mass_kg for step in ledger.steps] == [0.1, None]
    ledger.take(ended(500.0, 0.05))
    ledger.take(ended(600.0, -0.03))
    assert [step.mass_kg for step in ledger.steps] == [0.1, -0.03, 0.05]


def test_a_recovery_of_an_unknown_amount_is_not_read_from_the_scale_of_another_cylinder() -> None:
    scale = Scale()
    scale.run(10)
    scale.mark(begun(scale.t))
    scale.mark(Mark(t=scale.t, kind=MarkKind.STEP_ENDED, text=RECOVERED))
    scale.run(12)
    assert [step.mass_kg for step in scale.ledger.steps] == [None]


def test_an_amount_typed_for_a_step_the_scale_just_ended_corrects_it() -> None:
    scale = Scale()
    scale.run(10)
    scale.run(30, 0.003)
    scale.run(12)
    assert len(scale.masses) == 1
    scale.mark(ended(scale.t, 0.1))
    assert scale.masses == [0.1]
    assert scale.ledger.total_kg == pytest.approx(2.1)


def test_an_amount_said_after_another_step_goes_to_the_step_that_lacks_it() -> None:
    """Otherwise nothing could be proposed any more: the step before last is never asked for."""
    ledger = Ledger(2.0)
    ledger.take(begun(10.0))
    ledger.take(ended(70.0))
    ledger.take(begun(100.0))
    ledger.take(ended(160.0, 0.1))
    (said,) = ledger.take(ended(400.0, 0.12))
    assert said == StepRecorded(
        t=400.0, number=1, mass_kg=0.12, begun_t=10.0, ended_t=70.0, measured_by="technician"
    )
    assert [step.mass_kg for step in ledger.steps] == [0.12, 0.1]
    assert ledger.total_kg == pytest.approx(2.22)
    ledger.take(ended(500.0, 0.05))  # nothing lacks an amount any more: a step of its own
    assert [step.mass_kg for step in ledger.steps] == [0.12, 0.1, 0.05]


def test_a_step_just_ended_by_the_scale_is_corrected_before_an_earlier_one_is_told() -> None:
    scale = Scale()
    scale.mark(begun(0.0))
    scale.mark(ended(0.5))
    scale.run(10)
    scale.run(30, 0.003)
    scale.run(12)
    assert scale.masses == [None, pytest.approx(0.09, abs=0.005)]
    scale.mark(ended(scale.t, 0.1))
    assert scale.masses == [None, 0.1]


def test_what_is_recovered_right_after_a_step_does_not_take_its_place() -> None:
    """100 g in and 50 g out again are 50 g more, not 50 g less."""
    ledger = Ledger(2.0)
    ledger.take(begun(10.0))
    ledger.take(ended(70.0, 0.1))
    ledger.take(ended(90.0, -0.05))
    assert [step.mass_kg for step in ledger.steps] == [0.1, -0.05]
    assert ledger.total_kg == pytest.approx(2.05)
