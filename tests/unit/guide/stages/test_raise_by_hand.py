"""A raise of nitrogen by readings that are typed now and then. The readings are invented."""

import pytest

from chargeassist.guide.stages.nitrogen import Supply
from chargeassist.guide.stages.raise_by_hand import RaiseByHand
from chargeassist.guide.stages.stage import typed
from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, MarkKind
from tests.unit.guide.stages.conftest import make_job

TABLES = """
[plate]
high_side = "4.2 MPa(g)"
low_side = "2.4 MPa(g)"
source = "unit plate"
[tightness]
steps = ["0.3 MPa(g) for 3 min", "1.0 MPa(g) for 5 min", "2.0 MPa(g) for 24 h"]
source = "installation sheet 2"
"""
READ = typed(Entry.TEST_PRESSURE)


@pytest.fixture
def raised() -> RaiseByHand:
    return RaiseByHand(make_job(TABLES))


def says(each: RaiseByHand, t: float, supply: Supply) -> tuple[str, MarkKind | Entry | None]:
    advice, mark = each.advise(t, supply, 0.3e6, READ)
    return advice.cause, None if mark is None else (mark.entry or mark.kind)


def test_before_the_first_reading_the_supply_is_opened_and_then_read(raised: RaiseByHand) -> None:
    assert raised.at is None
    assert says(raised, 1.0, Supply.SHUT) == ("nitrogen_raise_by_hand", MarkKind.NITROGEN_ON)
    assert says(raised, 2.0, Supply.OPEN) == ("nitrogen_reached", Entry.TEST_PRESSURE)
    advice, mark = raised.advise(2.0, Supply.OPEN, None, None)
    assert mark is not None
    assert mark.kind is MarkKind.NITROGEN_OFF, "a probe tells the pressure"
    assert "value_pa" not in advice.figures


def test_a_hold_counts_from_the_supply_shut_and_ends_with_a_reading(raised: RaiseByHand) -> None:
    raised.follow(100.0, 0.3e6)
    assert says(raised, 200.0, Supply.OPEN) == ("nitrogen_step", MarkKind.NITROGEN_OFF)
    raised.shut(250.0)
    advice, mark = raised.advise(260.0, Supply.SHUT, 0.3e6, READ)
    assert (advice.cause, advice.action, mark) == ("nitrogen_hold", Action.WAIT, None)
    assert advice.figures["seconds_s"] == pytest.approx(170.0)
    assert says(raised, 429.0, Supply.SHUT)[0] == "nitrogen_hold"
    assert says(raised, 430.0, Supply.SHUT) == ("read_after_hold", Entry.TEST_PRESSURE)
    raised.follow(431.0, 0.3e6)
    assert raised.at is not None
    assert raised.at.index == 1
    assert says(raised, 432.0, Supply.SHUT) == ("nitrogen_raise_by_hand", MarkKind.NITROGEN_ON)


def test_a_supply_that_was_shut_before_the_step_was_read_counts_from_the_reading(
    raised: RaiseByHand,
) -> None:
    raised.shut(50.0)
    raised.follow(100.0, 0.3e6)
    assert raised.advise(110.0, Supply.SHUT, 0.3e6, READ)[0].figures["seconds_s"] == 170.0


def test_a_fall_in_a_hold_is_said_and_the_hold_begins_anew(raised: RaiseByHand) -> None:
    raised.follow(100.0, 0.3e6)
    raised.follow(150.0, 0.2e6)
    assert says(raised, 151.0, Supply.SHUT) == ("nitrogen_falls", MarkKind.LEAK_MENDED)
    raised.shut(160.0)  # no hold runs: the one to come counts from its own reading
    raised.follow(200.0, 0.3e6)
    assert raised.advise(210.0, Supply.SHUT, 0.3e6, READ)[0].figures["seconds_s"] == 170.0


def to_the_top(raised: RaiseByHand) -> None:
    for t, pressure_pa in (
        (100.0, 0.3e6), (300.0, 0.3e6), (400.0, 1.0e6), (720.0, 1.0e6), (800.0, 2.0e6)
    ):  # fmt: skip
        raised.follow(t, pressure_pa)


def test_the_top_is_reached_step_by_step_and_the_supply_is_to_be_shut(raised: RaiseByHand) -> None:
    to_the_top(raised)
    assert raised.at_top
    assert not raised.is_too_high
    assert says(raised, 801.0, Supply.OPEN) == ("nitrogen_shut", MarkKind.NITROGEN_OFF)


def test_too_much_is_not_the_top_and_back_below_it_is(raised: RaiseByHand) -> None:
    to_the_top(raised)
    raised.follow(900.0, 2.6e6)
    assert raised.is_too_high
    assert not raised.at_top
    raised.shut(905.0)  # moves nothing: no hold runs
    raised.follow(910.0, 2.0e6)
    assert raised.at_top


def test_followed_again_without_a_wrong_reading_a_hold_goes_on_from_where_it_was(
    raised: RaiseByHand,
) -> None:
    raised.follow(100.0, 0.3e6)
    raised.shut(160.0)
    raised.again([(100.0, 0.31e6)])
    assert raised.advise(170.0, Supply.SHUT, 0.31e6, READ)[0].figures["seconds_s"] == 170.0
    raised.again([])
    assert raised.at is None
    assert says(raised, 180.0, Supply.SHUT)[0] == "nitrogen_raise_by_hand"


def test_a_job_without_steps_is_never_anywhere() -> None:
    raised = RaiseByHand(make_job())
    raised.follow(10.0, 0.3e6)
    assert raised.at is None
    assert not raised.at_top
