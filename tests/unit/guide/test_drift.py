"""A settled reading that drifts: what a leak, a creeping zero, weather and a tail look like.

The shares of a loss are those of this project's physical plant; every other number is invented.
"""

import math
import random
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest

from chargeassist.guide import fault_wording, wording
from chargeassist.guide.charging import Findings, advise
from chargeassist.guide.drift import Drift, DriftCause, DriftWatch
from chargeassist.guide.fault_terms import Cause
from chargeassist.guide.fault_verdicts import drift_verdicts
from chargeassist.guide.objection import drifting
from chargeassist.guide.snapshot import Caution
from chargeassist.guide.standing import Moved, Standing
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action
from chargeassist.model.judged import SUPERHEAT
from chargeassist.physics.standing_check import StandingCheck, StandingVerdict
from chargeassist.plant.faults import MachineFaults
from chargeassist.stream.facts import Facts, Measured, SettleState, Settling
from tests.unit.guide.charging_facts import JOB, settled
from tests.unit.guide.faulty_unit import FaultyUnit, target_k

RATE = 0.1
"""Of the subcooling, as in a leak of half the plate charge in an hour [K/min]."""

Course = Callable[[float], tuple[float, float, float, float]]
"""Minutes: change of subcooling, of the liquid line, amps as a share, of outdoor air."""


def leak(minutes: float) -> tuple[float, float, float, float]:
    return -RATE * minutes, 0.7 * RATE * minutes, -0.006 * RATE * minutes, 0.0


def zero(minutes: float) -> tuple[float, float, float, float]:
    return RATE * minutes, 0.0, 0.0, 0.0


def head(minutes: float) -> tuple[float, float, float, float]:
    """Return what a condenser that fouls does before its liquid line warms."""
    return RATE * minutes, 0.0, 0.02 * RATE * minutes, 0.0


def weather(minutes: float) -> tuple[float, float, float, float]:
    return -RATE * minutes, 0.7 * RATE * minutes, 0.0, 0.2 * minutes


def tail(minutes: float) -> tuple[float, float, float, float]:
    """Return what a step's last two thirds of a kelvin do, should they be called settled."""
    part = 1.0 - math.exp(-minutes / 2.0)
    return -0.65 * part, 0.45 * part, 0.0, 0.0


def still(minutes: float) -> tuple[float, float, float, float]:
    del minutes
    return 0.0, 0.0, 0.0, 0.0


class Stretch:
    """A reading that has settled, second by second.

    Parameters
    ----------
    lifted : float, optional
        Of a fixed orifice: what superheat rises by for a kelvin that subcooling falls [1].
    """

    def __init__(self, lifted: float | None = None) -> None:
        self.watch = DriftWatch(orifice=lifted is not None)
        self.lifted = lifted or 0.0
        self.t = 1000.0
        self.since_s = 200.0
        self.superheat_k = 6.0
        self.amps_a = 9.0
        self.typed: frozenset[Role] = frozenset()
        self._noise = random.Random(5)

    def run(self, course: Course, seconds: int = 600) -> Drift | None:
        for second in range(seconds):
            self.t += 1.0
            self.since_s += 1.0
            self.watch.tick(self._facts(*course(second / 60.0)))
        return self.watch.found

    def _facts(self, subcooling: float, line: float, amps: float, air: float) -> Facts:
        noise = self._noise.gauss
        line_k = 305.0 + line + noise(0.0, 0.05)
        saturation_k = 310.0 + subcooling + line + noise(0.0, 0.05)
        return replace(
            settled(5.0),
            t=self.t,
            subcooling=Measured(value_k=saturation_k - line_k, expanded_k=0.5),
            superheat=Measured(value_k=self.superheat_k - self.lifted * subcooling, expanded_k=0.5),
            liquid_saturation_k=saturation_k,
            running_since_t=100.0,
            settling=Settling(state=SettleState.SETTLED, cause="settled", since_s=self.since_s),
            values={
                Role.LIQUID_TEMPERATURE: line_k,
                Role.COMPRESSOR_CURRENT: self.amps_a * (1.0 + amps + noise(0.0, 0.0022)),
                Role.OUTDOOR_AIR_TEMPERATURE: 297.0 + air + noise(0.0, 0.05),
            },
            typed=self.typed,
        )


@pytest.mark.parametrize(
    ("course", "cause", "rate"), [(leak, DriftCause.LEAK, -RATE), (zero, DriftCause.ZERO, RATE)]
)
def test_a_leak_and_a_creeping_zero_are_told_apart(
    course: Course, cause: DriftCause, rate: float
) -> None:
    found = Stretch().run(course)
    assert found is not None
    assert found.cause is cause
    assert 60.0 * found.rate_k_per_s == pytest.approx(rate, rel=0.2)


@pytest.mark.parametrize(
    ("course", "lifted", "cause"),
    [
        (leak, 0.8, DriftCause.LEAK),
        (leak, 0.0, None),  # superheat behind an orifice would have followed a loss
        (zero, 0.0, DriftCause.ZERO),
        (zero, -0.8, None),  # and stays where a zero creeps
        (weather, 0.8, None),
        (still, 0.0, None),
    ],
)
def test_behind_an_orifice_superheat_bears_a_cause_out(
    course: Course, lifted: float, cause: DriftCause | None
) -> None:
    """0.75 to 0.84 K for a kelvin: four random machines of this project's physical plant."""
    found = Stretch(lifted).run(course, 900)
    assert (None if found is None else found.cause) is cause


def test_behind_an_orifice_a_superheat_that_falls_begins_another_start() -> None:
    stretch = Stretch(0.8)
    assert stretch.run(still, 60) is None
    stretch.superheat_k -= 4.0
    assert stretch.run(leak, 600) is None
    stretch = Stretch(0.8)
    assert stretch.run(leak, 1500) is not None  # its own rise, of 2 K by then, begins none


def test_a_zero_on_the_liquid_line_leaves_a_charge_by_superheat_alone() -> None:
    for cause, drift in DRIFTS.items():
        by_superheat = replace(settled(5.0), judged=SUPERHEAT)
        found = drifting(by_superheat, drift)
        assert (found is None) is (cause is DriftCause.ZERO)


def test_a_clamp_that_shows_no_amps_says_nothing_of_a_creeping_zero() -> None:
    stretch = Stretch()
    stretch.amps_a = 0.0
    found = stretch.run(zero)
    assert found is not None
    assert found.cause is DriftCause.ZERO


@pytest.mark.parametrize("course", [still, head, weather, tail])
def test_nothing_is_said_where_something_else_explains_it(course: Course) -> None:
    assert Stretch().run(course, 900) is None


@pytest.mark.parametrize("place", [Role.LIQUID_TEMPERATURE, Role.LIQUID_PRESSURE])
def test_a_typed_place_that_stands_beside_a_probe_that_moves_is_no_creeping_zero(
    place: Role,
) -> None:
    """A pipe read off some minutes ago cannot follow the pressure, whatever moves it."""
    stretch = Stretch()
    stretch.typed = frozenset({place})
    assert stretch.run(zero, 900) is None


def test_both_places_read_by_hand_together_still_show_a_leak() -> None:
    stretch = Stretch()
    stretch.typed = frozenset({Role.LIQUID_TEMPERATURE, Role.LIQUID_PRESSURE})
    found = stretch.run(leak, 900)
    assert found is not None
    assert found.cause is DriftCause.LEAK


def test_it_ends_when_the_reading_stands_or_the_probe_was_seen_to() -> None:
    stretch = Stretch()
    assert stretch.run(leak) is not None
    stretch.since_s = 0.0  # a change: nothing is known of the new stretch yet, and it stands
    assert stretch.run(still, 100) is not None
    assert stretch.run(still, 600) is None
    stretch = Stretch()
    assert stretch.run(zero) is not None
    stretch.watch.forget(DriftCause.LEAK)
    assert stretch.watch.found is not None
    stretch.watch.forget(DriftCause.ZERO)
    assert stretch.watch.found is None


def test_a_low_side_that_changed_begins_another_start() -> None:
    """A valve that was freed: refrigerant comes back over minutes, and superheat has moved."""
    stretch = Stretch()
    assert stretch.run(still, 60) is None
    stretch.superheat_k += 4.0
    assert stretch.run(leak, 600) is None
    assert stretch.run(leak, 500) is not None  # a leak it is, if it goes on


def test_a_stretch_is_looked_at_each_half_minute_however_long_it_is() -> None:
    looked: list[float] = []
    stretch = Stretch()
    for _ in range(1800):
        unseen = stretch.watch._unseen_bins
        stretch.run(still, 1)
        if stretch.watch._unseen_bins < unseen:
            looked.append(stretch.t)
    assert len(looked) > 40
    assert {later - one for one, later in pairwise(looked)} == {30.0}


def test_four_minutes_of_one_stretch_are_needed() -> None:
    stretch = Stretch()
    for _ in range(6):
        stretch.since_s = 0.0
        assert stretch.run(leak, 240) is None


DRIFTS = {
    cause: Drift(cause=cause, since_t=600.0, rate_k_per_s=rate / 60.0, over_s=420.0)
    for cause, rate in ((DriftCause.LEAK, -RATE), (DriftCause.ZERO, RATE))
}


@pytest.mark.parametrize("value_k", [3.0, 5.0, 9.0])
@pytest.mark.parametrize("cause", DriftCause)
def test_it_comes_before_adding_stopping_and_recovering(cause: DriftCause, value_k: float) -> None:
    advice = advise(JOB, settled(value_k), None, Findings(drift=DRIFTS[cause]))
    assert advice.action is Action.FIX_FIRST
    assert advice.cause == ("leaking" if cause is DriftCause.LEAK else "zero_creeps")
    for system in UnitSystem:
        assert cause.value in wording.sentence(advice, system)
        figures = {"rate_k_per_s": -0.002, "over_s": 300.0}
        said = wording.caution(Caution(cause="drifts", subject="x", figures=figures), system)
        assert said.startswith("subcooling falls by ")


def test_beginning_and_end_are_verdicts() -> None:
    leaks, creeps = DRIFTS[DriftCause.LEAK], DRIFTS[DriftCause.ZERO]
    (found,) = drift_verdicts(None, leaks, 900.0)
    assert found.found
    assert "subcooling falls by 0.1 K/min" in fault_wording.fault(found, UnitSystem.SI)
    assert drift_verdicts(leaks, replace(leaks, over_s=600.0), 930.0) == ()
    gone, other = drift_verdicts(leaks, creeps, 960.0)
    assert (gone.found, gone.cause, other.cause) == (False, leaks.cause.value, creeps.cause.value)
    assert [each.found for each in drift_verdicts(leaks, None, 990.0)] == [False]


def test_a_pressure_at_rest_that_moved_since_the_beginning_is_the_probe() -> None:
    check = StandingCheck(
        offset_pa=9e4, expanded_pa=6e4, limit_pa=5e4, subcooling_shift_k=1.4,
        verdict=StandingVerdict.AGREES_NOT_CERTAIN,
    )  # fmt: skip
    standing = Standing(
        t=1.0, told_by="idle circuit", check=check, moved=Moved(offset_pa=7e4, shift_k=1.1)
    )
    advice = advise(JOB, settled(5.0), None, Findings(standing=standing))
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "zero_moved")
    assert "than at the beginning" in wording.sentence(advice, UnitSystem.US)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_two_checks_at_rest_tell_a_zero_that_moved_though_neither_does_alone(way: float) -> None:
    unit = FaultyUnit(2.3, MachineFaults(), target_k(), weighed_in_kg=0.0)
    unit.settled()
    unit.type_standing(-0.2 * way)
    assert unit.run(2).fault is None
    unit.type_standing(1.1 * way)
    snapshot = unit.run(2)
    assert snapshot.standing is not None
    assert snapshot.standing.check.verdict is not StandingVerdict.SHIFTED
    assert snapshot.fault is not None
    # Liquid that boils off through a leak is colder than its surroundings: lower may be that.
    alternatives = () if way > 0.0 else (DriftCause.LEAK,)
    assert (snapshot.fault.cause, snapshot.fault.alternatives) == (Cause.ZERO_SHIFTED, alternatives)
    assert ("leak detector" in unit.found[-1].next_check) is (way < 0.0)
    advice = unit.run(31).advice
    assert advice.cause == "zero_moved"
    assert ("through a leak" in wording.sentence(advice, UnitSystem.SI)) is (way < 0.0)
    unit.type_standing(-0.1 * way)  # read again, it stands where it stood
    assert unit.run(2).fault is None
