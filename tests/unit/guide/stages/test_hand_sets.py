"""Pressures and pipe temperatures that are typed, put together. The readings are invented."""

from dataclasses import replace

import pytest

from chargeassist.guide.stages.hand_sets import HandSets
from chargeassist.model.entries import Entry
from chargeassist.model.events import Mark, MarkKind
from tests.unit.guide.stages.test_typed_late import STATION_PA, nothing, typed

PRESSURE, LIQUID, SUCTION = Entry.TEST_PRESSURE, Entry.LIQUID_PIPE, Entry.SUCTION_PIPE


@pytest.fixture
def sets() -> HandSets:
    return HandSets(together_s=300.0)


def tell(sets: HandSets, t: float, *told: tuple[Entry, float], live: float | None = None) -> None:
    for entry, value_si in told:
        sets.take(typed(entry, value_si, t))
    sets.sort_in(nothing(t), live)


def withdraw(sets: HandSets, t: float, entry: Entry) -> None:
    sets.take(Mark(t=t, kind=MarkKind.WITHDRAWN, text=entry.value))


def test_a_pressure_and_the_pipes_typed_soon_after_it_are_one_reading(sets: HandSets) -> None:
    assert not sets.has_readings
    tell(sets, 1000.0, (PRESSURE, 2.0e6))
    tell(sets, 1200.0, (LIQUID, 293.0))
    tell(sets, 1299.0, (SUCTION, 295.0))
    (reading,) = sets.readings(1299.0, 0.0, STATION_PA)
    assert (reading.t, reading.pipe_temps_k) == (1000.0, (293.0, 295.0))
    assert reading.pressure_pa_abs == pytest.approx(2.0e6 + STATION_PA)
    assert sets.pipes_at(1000.0) == [LIQUID, SUCTION]
    assert sets.typed == {PRESSURE, LIQUID, SUCTION}


def test_a_pipe_waits_for_the_pressure_typed_after_it_and_not_for_ever(sets: HandSets) -> None:
    tell(sets, 1000.0, (LIQUID, 293.0))
    assert not sets.has_readings
    tell(sets, 1200.0, (PRESSURE, 2.0e6))
    assert sets.pipes_at(1200.0) == [LIQUID]
    tell(sets, 2000.0, (LIQUID, 293.0))
    tell(sets, 2301.0, (PRESSURE, 2.0e6))
    assert sets.pipes_at(2301.0) == []


def test_with_a_probe_for_the_pressure_a_pipe_is_a_reading(sets: HandSets) -> None:
    tell(sets, 1000.0, (LIQUID, 293.0), live=2.1e6)
    (reading,) = sets.readings(1000.0, 0.0, STATION_PA)
    assert reading.pressure_pa_abs == pytest.approx(2.1e6 + STATION_PA)


def test_readings_are_compared_by_the_pipes_that_first_and_last_have(sets: HandSets) -> None:
    tell(sets, 1000.0, (PRESSURE, 2.0e6), (LIQUID, 293.0))
    tell(sets, 5000.0, (PRESSURE, 2.0e6), (SUCTION, 295.0))
    assert sets.readings(5500.0, 0.0, STATION_PA) == [], "nothing stands for both"
    tell(sets, 9000.0, (PRESSURE, 2.0e6), (LIQUID, 292.0), (SUCTION, 295.0))
    compared = sets.readings(9500.0, 0.0, STATION_PA)
    assert [(each.t, each.pipe_temps_k) for each in compared] == [
        (1000.0, (293.0,)),
        (9000.0, (292.0,)),
    ]


def test_a_pressure_typed_again_soon_is_the_same_one_put_right(sets: HandSets) -> None:
    sets.take(Mark(t=900.0, kind=MarkKind.NITROGEN_OFF))
    tell(sets, 1000.0, (PRESSURE, 0.2e6))
    tell(sets, 1005.0, (PRESSURE, 2.0e6))
    assert sets.pressures_from(0.0) == ((1000.0, 2.0e6),)
    assert sets.changed
    assert sets.pressure_pa == 2.0e6


def test_a_pressure_after_the_supply_was_shut_is_another_one(sets: HandSets) -> None:
    tell(sets, 1000.0, (PRESSURE, 1.9e6))
    sets.take(Mark(t=1003.0, kind=MarkKind.NITROGEN_OFF))
    tell(sets, 1005.0, (PRESSURE, 2.0e6))
    assert sets.pressures_from(0.0) == ((1000.0, 1.9e6), (1005.0, 2.0e6))
    assert not sets.changed


def test_a_pressure_taken_back_leaves_its_pipes_for_the_one_typed_anew(sets: HandSets) -> None:
    tell(sets, 1000.0, (PRESSURE, 2.0e6), (LIQUID, 293.0))
    tell(sets, 5000.0, (PRESSURE, 1.0e6), (LIQUID, 292.0))
    withdraw(sets, 5020.0, PRESSURE)
    assert sets.changed
    assert sets.pressure_pa == 2.0e6
    tell(sets, 5030.0, (PRESSURE, 1.99e6))
    assert sets.pipes_at(5030.0) == [LIQUID]


def test_a_pipe_taken_back_is_the_newest_and_what_is_not_sorted_in_yet_goes_first(
    sets: HandSets,
) -> None:
    tell(sets, 1000.0, (PRESSURE, 2.0e6), (LIQUID, 293.0))
    tell(sets, 5000.0, (PRESSURE, 2.0e6), (LIQUID, 292.0))
    withdraw(sets, 5010.0, LIQUID)
    assert sets.pipes_at(5000.0) == []
    assert sets.pipes_at(1000.0) == [LIQUID]
    sets.take(typed(PRESSURE, 3.0e6, 6000.0))
    withdraw(sets, 6000.0, PRESSURE)
    assert sets.sort_in(nothing(6001.0), None) == ()
    assert len(sets.pressures_from(0.0)) == 2
    withdraw(sets, 6002.0, SUCTION)  # there is none: nothing happens


def test_a_reading_is_open_while_something_can_join_it(sets: HandSets) -> None:
    tell(sets, 1000.0, (PRESSURE, 2.0e6))
    newest = sets.open_set(1300.0)
    assert newest is not None
    assert newest.lacks() == [LIQUID, SUCTION]
    assert sets.open_set(1301.0) is None
    assert sets.open_set(1100.0, from_t=1050.0) is None, "it was begun before"


def test_what_is_impossible_or_of_another_stage_is_no_reading(sets: HandSets) -> None:
    sets.take(typed(Entry.VACUUM, 60.0, 1000.0))
    sets.take(replace(typed(PRESSURE, 2.0e6, 1000.0), value_si=None))
    assert sets.sort_in(nothing(1001.0), None) == ()
    assert not sets.has_readings
