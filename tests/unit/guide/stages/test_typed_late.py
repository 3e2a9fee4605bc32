"""Readings of the tests before the charge that are typed a while after they were read."""

import pytest

from chargeassist.guide.stages.hand_sets import HandSets
from chargeassist.guide.stages.hand_vacuum import HandVacuum
from chargeassist.model.entries import Entry
from chargeassist.model.events import Mark, MarkKind
from chargeassist.stream.facts import Facts
from tests.unit.guide.bare_facts import bare_facts

STATION_PA = 101_325.0


def typed(entry: Entry, value_si: float, t: float, read_t: float | None = None) -> Mark:
    return Mark(t=t, kind=MarkKind.ENTERED, text=entry.value, value_si=value_si, read_t=read_t)


def nothing(t: float) -> Facts:
    return bare_facts(t=t, total_kg=0.0)


def test_a_vacuum_read_before_the_valve_was_shut_is_none_of_the_rise() -> None:
    hand = HandVacuum()
    hand.take(typed(Entry.VACUUM, 40.0, 100.0))
    assert hand.tick() == ((100.0, 40.0),)
    hand.restart(200.0)  # the valve is shut
    hand.take(typed(Entry.VACUUM, 30.0, 230.0, read_t=190.0))
    assert hand.tick() == ()
    hand.take(typed(Entry.VACUUM, 45.0, 400.0, read_t=300.0))
    assert hand.tick() == ((300.0, 45.0),)
    assert hand.newest_t == 300.0


def test_a_standing_test_s_reading_stands_at_the_time_it_was_read() -> None:
    sets = HandSets(together_s=300.0)
    sets.take(typed(Entry.TEST_PRESSURE, 2.4e6, 1000.0))
    sets.take(typed(Entry.LIQUID_PIPE, 293.0, 1010.0))
    sets.sort_in(nothing(1011.0), None)
    sets.take(typed(Entry.TEST_PRESSURE, 2.39e6, 5400.0, read_t=4650.0))
    sets.take(typed(Entry.LIQUID_PIPE, 292.5, 5410.0, read_t=4640.0))
    sets.sort_in(nothing(5411.0), None)
    first, last = sets.readings(5411.0, 900.0, STATION_PA)
    assert (first.t, last.t) == (1000.0, 4650.0)
    assert last.pipe_temps_k == (292.5,)
    assert last.pressure_pa_abs == pytest.approx(2.39e6 + STATION_PA)


def test_a_reading_in_between_that_lacks_a_pipe_takes_it_from_none_of_the_others() -> None:
    sets = HandSets(together_s=300.0)
    for t, pipes in ((1000.0, 2), (2500.0, 1), (4700.0, 2)):
        sets.take(typed(Entry.TEST_PRESSURE, 2.4e6, t))
        for entry, value in ((Entry.LIQUID_PIPE, 293.0), (Entry.SUCTION_PIPE, 295.0))[:pipes]:
            sets.take(typed(entry, value, t + 10.0))
        sets.sort_in(nothing(t + 11.0), None)
    readings = sets.readings(5100.0, 900.0, STATION_PA)
    # The change is told by both pipes; one of them does not stand for the whole circuit.
    assert [each.t for each in readings] == [1000.0, 4700.0]
    assert {each.pipe_temps_k for each in readings} == {(293.0, 295.0)}
