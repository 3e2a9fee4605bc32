"""A period is believed where it is one: the bend of a transient has none."""

import math

import numpy as np
import pytest

from chargeassist.stream.settling import SettlingDetector
from chargeassist.stream.settling_hunting import AMPLITUDE_K, HuntingFinder

BIN_S = 4.0


def found(
    period_s: float,
    amplitude_k: float,
    *,
    seconds: float = 360.0,
    rise_k: float = 0.0,
    tau_s: float = 60.0,
    onset_s: float = 0.0,
    noise_k: float = 0.03,
) -> tuple[float, float] | None:
    """Look for the period of a swing over a rise nobody has announced."""
    rng = np.random.default_rng(5)
    finder = HuntingFinder()
    for t in np.arange(0.0, seconds, BIN_S).tolist():
        rise = rise_k * (1.0 - math.exp(-max(t - onset_s, 0.0) / tau_s))
        swing = amplitude_k * math.sin(2.0 * math.pi * t / period_s)
        finder.push(t, 9.0 + rise + swing + float(rng.normal(0.0, noise_k)))
    return finder.find((), known_s=None)


@pytest.mark.parametrize("period_s", [30.0, 55.0, 90.0, 120.0])
def test_a_swing_is_found_with_its_period_and_amplitude(period_s: float) -> None:
    seen = found(period_s, 0.8)
    assert seen is not None
    assert seen[0] == pytest.approx(period_s, rel=0.05)
    assert seen[1] == pytest.approx(0.8, rel=0.15)


@pytest.mark.parametrize("tau_s", [20.0, 45.0, 90.0, 150.0])
@pytest.mark.parametrize("onset_s", [60.0, 150.0, 240.0, 300.0])
def test_a_change_nobody_announced_is_no_swing(tau_s: float, onset_s: float) -> None:
    assert found(60.0, 0.0, rise_k=1.5, tau_s=tau_s, onset_s=onset_s) is None


def test_a_swing_too_small_to_matter_is_noise() -> None:
    assert found(50.0, 0.8 * AMPLITUDE_K) is None
    assert found(50.0, 1.3 * AMPLITUDE_K) is not None
    # While the record is short it may be the first of a larger one.
    assert found(50.0, 0.8 * AMPLITUDE_K, seconds=200.0) is not None


STEPS_S = ((400.0, 505.0), (650.0, 755.0), (860.0, 930.0))
"""When the cylinder's valve is opened and shut [s], as in the demonstration."""


def periods_seen(*, swing_k: float, told: bool = True) -> list[float | None]:
    """Charge three times; return the period in use at each second from the second opening on.

    While refrigerant flows, superheat falls by 2.2 K, as on the physical plant.
    """
    rng = np.random.default_rng(11)
    detector = SettlingDetector()
    acts = [at for step in STEPS_S for at in step]
    seen: list[float | None] = []
    for t in range(1130):
        while told and acts and acts[0] <= t:
            detector.disturbed(acts.pop(0))
        superheat = 7.0 + swing_k * math.sin(2.0 * math.pi * t / 110.0)
        subcooling = 2.0 + 0.5 * swing_k * math.sin(2.0 * math.pi * t / 110.0)
        for opened, shut in STEPS_S:
            superheat -= 2.2 * (1.0 - math.exp(-max(t - opened, 0.0) / 18.0))
            superheat += 2.2 * (1.0 - math.exp(-max(t - shut, 0.0) / 14.0))
            subcooling += 1.5 * (1.0 - math.exp(-max(t - opened - 40.0, 0.0) / 45.0))
        noise = rng.normal(0.0, 0.04, 2).tolist()
        detector.update(
            float(t), {"subcooling": subcooling + noise[0], "superheat": superheat + noise[1]}
        )
        if t >= STEPS_S[1][0]:
            seen.append(detector.hunting_period_s)
    return seen


def test_what_the_flow_of_a_step_does_to_superheat_is_no_swing() -> None:
    assert set(periods_seen(swing_k=0.0)) == {None}


def test_slow_hunting_is_found_through_charge_steps() -> None:
    periods = periods_seen(swing_k=0.9)
    found = [each for each in periods if each is not None]
    assert len(found) > 0.9 * len(periods)
    assert np.median(found) == pytest.approx(110.0, rel=0.05)


def test_a_known_period_that_has_grown_to_the_end_of_the_range_is_a_bend() -> None:
    finder = HuntingFinder()
    for t in np.arange(0.0, 360.0, BIN_S).tolist():
        dip = 2.2 * (math.exp(-max(t - 240.0, 0.0) / 20.0) - 1.0) if t < 340.0 else -0.8
        finder.push(t, 9.0 + dip)
    assert finder.find((), known_s=140.0) is None
