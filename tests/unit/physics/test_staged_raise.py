"""A staged raise, its holds and its one hard limit; stages invented for the test."""

import math

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.stage_plan import PressureStep
from chargeassist.model.values import NoValue
from chargeassist.physics.staged_raise import RaiseState, RaiseStep, StagedRaise

STAGES = (
    PressureStep(pressure_pa_gauge=0.3e6, hold_s=180.0, source="invented"),
    PressureStep(pressure_pa_gauge=1.5e6, hold_s=180.0, source="invented"),
    PressureStep(pressure_pa_gauge=4.0e6, hold_s=600.0, source="invented"),
)


def raise_to(stages: tuple[PressureStep, ...] = STAGES, highest: float = 4.2e6) -> StagedRaise:
    return StagedRaise(stages, highest_pa_gauge=highest, tolerance_pa=20e3, fall_pa=30e3)


def step(raising: StagedRaise, t: float, pressure: float) -> RaiseStep:
    found = raising.update(t, pressure)
    assert isinstance(found, RaiseStep), found
    return found


def test_each_stage_is_held_for_its_time() -> None:
    raising = raise_to()
    t, seen = 0.0, []
    for stage in STAGES:
        assert step(raising, t, stage.pressure_pa_gauge - 100e3).state is RaiseState.RAISE
        t += 10.0
        assert step(raising, t, stage.pressure_pa_gauge).remaining_s == stage.hold_s
        at = step(raising, t + stage.hold_s - 1.0, stage.pressure_pa_gauge)
        assert (at.state, at.remaining_s) == (RaiseState.HOLD, 1.0)
        t += stage.hold_s
        seen.append(step(raising, t, stage.pressure_pa_gauge).state)
    assert seen == [RaiseState.RAISE, RaiseState.RAISE, RaiseState.DONE]
    assert step(raising, t + 1e5, 3.9e6).state is RaiseState.DONE
    # Until the standing test begins, what has left the last stage is not there.
    raising.look_again(3.96e6)
    assert step(raising, t + 1e5, 3.96e6).state is RaiseState.DONE
    raising.look_again(3.9e6)
    assert step(raising, t + 1e5, 3.9e6).state is RaiseState.RAISE
    assert step(raising, t + 1e5, 4.0e6).state is RaiseState.HOLD
    assert step(raising, t + 2e5, 4.0e6).state is RaiseState.DONE
    raising.reopen()
    assert step(raising, t + 2e5, 3.96e6).state is RaiseState.RAISE


def test_a_fall_during_a_hold_starts_it_anew() -> None:
    raising = raise_to()
    step(raising, 0.0, 0.32e6)
    assert step(raising, 100.0, 0.285e6).state is RaiseState.FALLS
    assert step(raising, 190.0, 0.285e6).state is RaiseState.HOLD
    assert step(raising, 279.0, 0.285e6).state is RaiseState.HOLD
    assert step(raising, 280.0, 0.285e6).state is RaiseState.RAISE


def test_what_was_let_out_must_be_raised_again() -> None:
    raising = raise_to()
    step(raising, 0.0, 0.3e6)
    assert step(raising, 10.0, 0.1e6).state is RaiseState.FALLS
    assert step(raising, 20.0, 0.1e6).state is RaiseState.RAISE
    assert step(raising, 30.0, 0.3e6).state is RaiseState.HOLD


def test_above_the_highest_nothing_else_is_said() -> None:
    raising = raise_to()
    assert step(raising, 0.0, 4.21e6).state is RaiseState.TOO_HIGH
    assert step(raising, 1.0, 0.0).state is RaiseState.RAISE
    assert isinstance(raising.update(2.0, math.nan), NoValue)


@pytest.mark.parametrize(
    ("stages", "words"),
    [
        ((), "at least one"),
        ((STAGES[1], STAGES[0]), "rise"),
        ((PressureStep(pressure_pa_gauge=1e6, hold_s=-1.0, source="x"),), "hold"),
        ((PressureStep(pressure_pa_gauge=1e6, hold_s=1.0, source=" "),), "source"),
        ((PressureStep(pressure_pa_gauge=5e6, hold_s=1.0, source="x"),), "plate"),
    ],
)
def test_stages_that_cannot_be_are_refused(stages: tuple[PressureStep, ...], words: str) -> None:
    with pytest.raises(ConfigError, match=words):
        raise_to(stages)
