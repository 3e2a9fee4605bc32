"""How white the noise of single readings is, told from what a reading does otherwise."""

import math

import numpy as np
import pytest

from chargeassist.stream.settling_bins import BEND_WITHIN_S, BinMean


def white_var(values: list[float], *, step_s: float = 1.0) -> float:
    bins = BinMean(4.0)
    for k, value in enumerate(values):
        bins.push(k * step_s, value)
    return bins.white_var


def white(sd: float, seed: int, count: int = 4000) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, sd, count)


@pytest.mark.parametrize("step_s", [0.1, 1.0, 5.0])
def test_white_noise_is_found_at_any_rate(step_s: float) -> None:
    seen = [white_var((5.0 + white(0.2, seed)).tolist(), step_s=step_s) for seed in range(8)]
    assert float(np.mean(seen)) == pytest.approx(0.04, rel=0.1)


def test_neither_a_slope_nor_a_level_is_noise() -> None:
    assert white_var([3.0 + 0.2 * k for k in range(400)]) == pytest.approx(0.0, abs=1e-9)
    ramp = 0.05 * np.arange(4000)
    both = [white_var((ramp + white(0.2, seed)).tolist()) for seed in range(8)]
    assert float(np.mean(both)) == pytest.approx(0.04, rel=0.1)


def test_coloured_noise_counts_only_by_what_the_next_reading_does_not_know() -> None:
    # Second differences of a first-order autoregressive series of variance v have the variance
    # v (6 - 8 a + 2 a^2): a sixth of it is v (1 - a) (3 - a) / 3.
    a, seen = math.exp(-1.0 / 10.0), []
    for seed in range(8):
        shocks, value, values = white(1.0, seed).tolist(), 0.0, []
        for shock in shocks:
            value = a * value + 0.3 * math.sqrt(1.0 - a * a) * shock
            values.append(value)
        seen.append(white_var(values))
    assert float(np.mean(seen)) == pytest.approx(0.09 * (1.0 - a) * (3.0 - a) / 3.0, rel=0.1)


def test_nothing_is_known_of_readings_too_far_apart() -> None:
    assert math.isnan(white_var([1.0, 2.0], step_s=1.0))
    assert math.isnan(white_var(white(0.2, 1, 50).tolist(), step_s=BEND_WITHIN_S + 1.0))


def test_a_gap_is_not_bridged() -> None:
    bins = BinMean(4.0)
    for k in range(40):
        bins.push(k + (60.0 if k >= 20 else 0.0), 5.0 if k < 20 else 6.0)
    assert bins.white_var == pytest.approx(0.0, abs=1e-9)
