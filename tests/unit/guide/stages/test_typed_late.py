"""Readings of the tests before the charge that are typed a while after they were read."""

import pytest

from chargeassist.guide.stages.hand_sets import HandSets
from chargeassist.guide.stages.hand_vacuum import HandVacuum
from chargeassist.model.entries import Entry
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Facts, HoldFacts, Settling

STATION_PA = 101_325.0


def typed(entry: Entry, value_si: float, t: float, read_t: float | None = None) -> Mark:
    return Mark(t=t, kind=MarkKind.ENTERED, text=entry.value, value_si=value_si, read_t=read_t)


def nothing(t: float) -> Facts:
    none = NoValue("none")
    return Facts(
        t=t,
        channels=(),
        subcooling=none,
        superheat=none,
        liquid_saturation_k=None,
        suction_saturation_k=None,
        settling=Settling(),
        settled=None,
        settled_superheat_k=None,
        hold=HoldFacts(),
        station_pa_abs=STATION_PA,
        step_open=None,
        ledger=(),
        total_kg=0.0,
    )


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
    sets.tick(nothing(1011.0), None)
    sets.take(typed(Entry.TEST_PRESSURE, 2.39e6, 5400.0, read_t=4650.0))
    sets.take(typed(Entry.LIQUID_PIPE, 292.5, 5410.0, read_t=4640.0))
    sets.tick(nothing(5411.0), None)
    first, last = sets.readings(5411.0, 900.0, STATION_PA)
    assert (first.t, last.t) == (1000.0, 4650.0)
    assert last.pipe_temps_k == (292.5,)
    assert last.pressure_pa_abs == pytest.approx(2.39e6 + STATION_PA)
