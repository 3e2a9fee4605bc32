"""Hunting is found when it goes on, says where a shortage may be why, and ends."""

import math
from dataclasses import replace

import pytest

from chargeassist.guide.fault_watch import FaultWatch
from chargeassist.guide.hunting import QUIET_FOR_S, Hunting, HuntingWatch
from chargeassist.model.judged import SUBCOOLING, SUPERHEAT
from chargeassist.stream.facts import Facts, Measured, OpenStep, Settling
from tests.unit.guide.bare_facts import bare_facts
from tests.unit.stream.rig import make_job


def facts(t: float, superheat_k: float, period_s: float | None, subcooling_k: float = 5.0) -> Facts:
    return bare_facts(
        t=t,
        subcooling=Measured(value_k=subcooling_k),
        superheat=Measured(value_k=superheat_k),
        settling=Settling(since_s=t, hunting_period_s=period_s),
        total_kg=2.0,
    )


def swing(t: float, size_k: float = 8.0) -> float:
    return 8.0 + 0.5 * size_k * math.sin(2.0 * math.pi * t / 40.0)


def followed(watch: HuntingWatch, begin: int, end: int, **more: float) -> Hunting | None:
    found = None
    for t in range(begin, end):
        found = watch.tick(facts(t, swing(t), 40.0, **more), 4.2)
    return found


def test_a_swing_that_goes_on_is_found_with_its_period_and_size() -> None:
    watch = HuntingWatch()
    assert followed(watch, 1, 200) is None
    found = followed(watch, 200, 300)
    assert found is not None
    assert found.period_s == 40.0
    assert 7.0 < found.swing_k <= 8.0
    assert not found.starved


def test_a_circuit_short_of_liquid_is_said_to_be() -> None:
    found = followed(HuntingWatch(), 1, 300, subcooling_k=0.2)
    assert found is not None
    assert found.starved


def test_a_transient_a_small_swing_and_a_silent_filter_are_none() -> None:
    decay, small, silent = HuntingWatch(), HuntingWatch(), HuntingWatch()
    for t in range(1, 400):
        assert decay.tick(facts(t, 8.0 + 20.0 * math.exp(-t / 80.0), 40.0), 4.2) is None
        assert small.tick(facts(t, swing(t, 1.0), 40.0), 4.2) is None
        assert silent.tick(facts(t, swing(t), None), 4.2) is None


@pytest.mark.parametrize(
    ("kept", "hunts"), [(0.6, False), (0.75, False), (0.86, False), (0.97, True)]
)
def test_a_sound_valve_that_rings_after_a_start_does_not_hunt(kept: float, *, hunts: bool) -> None:
    """Each period of 40 s keeps a share of the one before; 12 K at first."""
    watch, seen = HuntingWatch(), []
    for t in range(1, 400):
        swing_k = 8.0 + (swing(t, 12.0) - 8.0) * kept ** (t / 40.0)
        seen.append(watch.tick(facts(t, swing_k, 40.0), 4.2))
    assert any(each is not None for each in seen) is hunts


def test_it_ends_when_the_valve_has_been_quiet_for_long_enough() -> None:
    watch = HuntingWatch()
    assert followed(watch, 1, 300) is not None
    t = 300
    while watch.tick(facts(t, 8.0, None), 4.2) is not None:
        t += 1
    # The last swings are still in sight for a while.
    assert 300 + QUIET_FOR_S <= t <= 300 + QUIET_FOR_S + 160


def test_an_open_step_neither_finds_nor_ends_it() -> None:
    watch = HuntingWatch()
    assert followed(watch, 1, 300) is not None
    for t in range(300, 1000):
        open_ = replace(facts(t, 8.0, None), step_open=OpenStep(begun_t=300.0))
        assert watch.tick(open_, 4.2) is not None


def test_behind_a_fixed_orifice_nothing_can_hunt() -> None:
    for judged, hunts in ((SUBCOOLING, True), (SUPERHEAT, False)):
        watch = FaultWatch(make_job())
        for t in range(1, 300):
            watch.tick(replace(facts(t, swing(t), 40.0), judged=judged))
        assert (watch.hunting is not None) is hunts
