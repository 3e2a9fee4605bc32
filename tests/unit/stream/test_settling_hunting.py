"""A period is believed where it is one: the bend of a transient has none."""

import math

import numpy as np
import pytest

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
    return finder.find(-math.inf, known_s=None)


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
