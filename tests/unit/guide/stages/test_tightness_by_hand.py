"""Raise and standing test by hand together: which marks begin, move and end the test."""

import pytest

from chargeassist.guide.stages.tightness_by_hand import TightnessByHand
from chargeassist.model.entries import Entry
from chargeassist.model.events import Mark, MarkKind
from tests.unit.guide.stages.conftest import make_job
from tests.unit.guide.stages.test_standing_by_hand import TABLES
from tests.unit.guide.stages.test_typed_late import nothing, typed

WARM_S = 900.0


@pytest.fixture
def stage() -> TightnessByHand:
    """At the top, with the supply shut at 100 s."""
    each = TightnessByHand(make_job(TABLES))
    each.take(Mark(t=10.0, kind=MarkKind.NITROGEN_ON))
    each.take(typed(Entry.TEST_PRESSURE, 2.0e6, 90.0))
    assert each.tick(nothing(91.0)).advice.cause == "nitrogen_shut"
    each.take(Mark(t=100.0, kind=MarkKind.NITROGEN_OFF))
    assert says(each, 101.0) == "warm_from_filling"
    return each


def says(stage: TightnessByHand, t: float) -> str:
    return stage.tick(nothing(t)).advice.cause


def left_s(stage: TightnessByHand, t: float) -> float:
    return stage.tick(nothing(t)).advice.figures["seconds_s"]


def test_a_supply_shut_again_while_the_pressure_is_too_high_does_not_move_the_test(
    stage: TightnessByHand,
) -> None:
    begun_s = left_s(stage, 200.0)
    stage.take(typed(Entry.TEST_PRESSURE, 2.6e6, 300.0))
    assert says(stage, 301.0) == "nitrogen_too_high"
    stage.take(Mark(t=310.0, kind=MarkKind.NITROGEN_OFF))
    assert says(stage, 311.0) == "nitrogen_too_high"
    stage.take(typed(Entry.TEST_PRESSURE, 2.0e6, 400.0))
    assert left_s(stage, 401.0) == pytest.approx(begun_s - 201.0)


def test_a_supply_shut_again_at_the_top_begins_the_test_anew(stage: TightnessByHand) -> None:
    begun_s = left_s(stage, 200.0)
    stage.take(Mark(t=300.0, kind=MarkKind.NITROGEN_OFF))
    assert left_s(stage, 400.0) == pytest.approx(begun_s)


def test_nitrogen_that_flows_again_ends_the_test_until_it_is_shut(stage: TightnessByHand) -> None:
    stage.take(Mark(t=200.0, kind=MarkKind.NITROGEN_ON))
    assert says(stage, 201.0) == "nitrogen_reached"
    stage.take(typed(Entry.TEST_PRESSURE, 2.0e6, 205.0))
    assert says(stage, 206.0) == "nitrogen_shut"
    stage.take(Mark(t=210.0, kind=MarkKind.NITROGEN_OFF))
    assert says(stage, 211.0) == "warm_from_filling"


@pytest.mark.parametrize("withdrawn", [False, True])
def test_what_was_at_the_top_before_nitrogen_flowed_again_is_read_anew(
    stage: TightnessByHand, *, withdrawn: bool
) -> None:
    """A test is at its pressure, not at what is left of it."""
    stage.take(Mark(t=200.0, kind=MarkKind.NITROGEN_ON))
    stage.take(typed(Entry.TEST_PRESSURE, 0.5e6, 205.0))
    if withdrawn:
        says(stage, 206.0)
        stage.take(Mark(t=207.0, kind=MarkKind.WITHDRAWN, text=Entry.TEST_PRESSURE.value))
    assert says(stage, 208.0) == "nitrogen_reached"
    stage.take(Mark(t=210.0, kind=MarkKind.NITROGEN_OFF))
    assert says(stage, 211.0) == "nitrogen_raise_by_hand"


@pytest.mark.parametrize("kind", [MarkKind.VENTED, MarkKind.LEAK_MENDED])
def test_what_is_let_out_or_mended_is_raised_from_the_beginning(
    stage: TightnessByHand, kind: MarkKind
) -> None:
    stage.take(Mark(t=200.0, kind=kind))
    step = stage.tick(nothing(201.0))
    assert step.advice.cause == "nitrogen_raise_by_hand"
    assert step.next_mark is not None
    assert step.next_mark.kind is MarkKind.NITROGEN_ON
    stage.take(Mark(t=202.0, kind=MarkKind.NITROGEN_OFF))
    assert says(stage, 203.0) == "nitrogen_raise_by_hand", "there is nothing to shut in yet"


def test_a_reading_of_a_vented_circuit_is_no_step_of_a_raise(stage: TightnessByHand) -> None:
    stage.take(Mark(t=200.0, kind=MarkKind.VENTED))
    stage.take(typed(Entry.TEST_PRESSURE, 2.0e6, 210.0))
    assert says(stage, 211.0) == "nitrogen_raise_by_hand"


def test_a_top_that_was_typed_wrong_takes_the_test_with_it(stage: TightnessByHand) -> None:
    withdrawn = Mark(t=110.0, kind=MarkKind.WITHDRAWN, text=Entry.TEST_PRESSURE.value)
    stage.take(withdrawn)
    assert says(stage, 111.0) == "nitrogen_raise_by_hand"
