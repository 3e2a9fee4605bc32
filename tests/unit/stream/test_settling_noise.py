"""The first guess of the noise, and how readings that wander are told from white ones."""

import math

import numpy as np
import pytest

from chargeassist.stream.settling_noise import (
    COLOURED_LEAST,
    COLOURED_MOST,
    WANDER_MOST,
    FirstNoise,
    NoiseFilter,
    Wander,
)


def test_the_first_guess_is_made_once_from_twelve_differences_that_follow_closely() -> None:
    first = FirstNoise(2.0, 1e-4)
    assert first.take(9.0, 30.0) is None  # too far apart to be noise alone
    steps = [0.01 * k for k in range(1, 13)]
    assert [first.take(step, 4.0) for step in steps[:-1]] == [None] * 11
    # The eighth of twelve squared differences, twice.
    assert first.take(steps[-1], 4.0) == pytest.approx(2.0 * 0.08**2)
    assert first.take(5.0, 4.0) is None


def test_the_first_guess_keeps_to_its_least() -> None:
    first = FirstNoise(2.0, 1e-4)
    assert [first.take(0.0, 4.0) for _ in range(12)][-1] == 1e-4


def test_what_is_not_white_is_coloured_but_never_all_of_it_nor_none() -> None:
    noise = NoiseFilter()
    noise.var = 0.04
    noise.colour(0.02)
    assert noise.coloured_share == pytest.approx(0.5)
    noise.colour(0.08)
    assert noise.coloured_share == COLOURED_LEAST
    noise.colour(0.0)
    assert noise.coloured_share == COLOURED_MOST


def level_sd(white_var: float) -> float:
    """Return how sure the level is after 200 s of a noise of 0.04 K^2, so much of it white [K]."""
    noise = NoiseFilter()
    noise.var = 0.04
    noise.colour(white_var)
    noise.start(5.0, 1.0)
    for _ in range(50):
        noise.predict(4.0)
        noise.take(0.0, 1.0)
    return math.sqrt(noise.p[0][0])


def test_white_noise_averages_out_sooner_than_coloured() -> None:
    # The mean of n white readings has a standard deviation of sd / sqrt(n); coloured ones count for
    # sqrt((1 + a) / (1 - a)) times less (Priestley, as below).
    assert level_sd(0.02) < 0.95 * level_sd(0.01) < 0.95 * level_sd(0.004)


def mean_factor(memory: float, seed: int) -> float:
    """Return the mean factor of a first-order autoregressive series of unit variance."""
    rng = np.random.default_rng(seed)
    wander, z, factors = Wander(), 0.0, []
    for shock in rng.normal(size=4000).tolist():
        z = memory * z + math.sqrt(1.0 - memory * memory) * shock
        wander.take(0.2 * z, 0.04)
        factors.append(wander.factor)
    return float(np.mean(factors))


def test_white_innovations_wander_hardly_and_gusts_do() -> None:
    # The sum of four of an autoregressive series has 1 + 2 (3 a + 2 a^2 + a^3) / 4 times the
    # variance of a white one (Priestley, Spectral Analysis and Time Series, 1981, chapter 5; from
    # memory): 2.4 for a = 0.6. No factor is below 1, so that noise about 1 shows as a little more.
    assert mean_factor(0.0, 1) < 1.4
    assert mean_factor(0.6, 2) == pytest.approx(2.4, abs=0.4)


def test_one_change_does_not_pass_for_wander() -> None:
    wander = Wander()
    for k in range(60):
        wander.take(0.1 if k % 2 else -0.1, 0.01)
    for _ in range(4):
        wander.take(5.0, 0.01)
    assert wander.factor < 1.5
    for _ in range(200):
        wander.take(5.0, 0.01)
    assert wander.factor == WANDER_MOST


def test_a_sum_never_spans_two_transients() -> None:
    wander = Wander()
    for _ in range(40):
        wander.begin()
        for _ in range(3):
            wander.take(1.0, 0.1)
    assert wander.factor == 1.0
