"""Settled by hand: the fit against numpy's least squares, and what it may be wrong about."""

import math
import random
from collections.abc import Callable

import numpy as np
import pytest

from chargeassist.stream.settling_by_hand import (
    LEAST_READINGS,
    LEAST_SPAN_S,
    SLOWEST_S,
    HandSettling,
    HandValue,
    prove,
)

Course = Callable[[float], float]


def read(course: Course, times: list[float], scatter_k: float = 0.1) -> list[HandValue]:
    return [HandValue(t, course(t), scatter_k) for t in times]


def test_the_fit_is_that_of_numpy() -> None:
    """Level and what is still to come, with their variances, by numpy.linalg.lstsq."""
    times = [100.0, 163.0, 221.0, 290.0, 348.0]
    noise = [0.04, -0.09, 0.07, 0.02, -0.04]
    values = [
        HandValue(t, 4.0 - 1.1 * math.exp(-t / SLOWEST_S) + e, 0.05)
        for t, e in zip(times, noise, strict=True)
    ]
    found = prove(values)
    assert found is not None
    assert found.readings == 5
    levers = np.exp((times[-1] - np.array(times)) / SLOWEST_S)
    design = np.column_stack([np.ones(5), levers])
    seen = np.array([each.value_k for each in values])
    (level, size), left, _, _ = np.linalg.lstsq(design, seen, rcond=None)
    assert found.remaining_k == pytest.approx(-size, rel=1e-9)
    assert found.value_k == pytest.approx(level + size, rel=1e-9)
    sigma = max(0.05, math.sqrt(left[0] / 3.0))
    covariance = sigma**2 * np.linalg.inv(design.T @ design)
    assert found.remaining_u_k == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-9)
    assert found.slope_k_per_s == pytest.approx(np.polyfit(times, seen, 1)[0], rel=1e-9)
    at_last = np.array([1.0, 1.0])
    assert found.u_k == pytest.approx(math.sqrt(at_last @ covariance @ at_last), rel=1e-9)


def test_uncertainties_add_as_roots_of_squares() -> None:
    """JCGM 100:2008, 5.1.2: U = 2 sqrt(u_i^2 + u_s^2 + b^2 + u_b^2)."""
    found = prove(read(lambda t: 5.0 - 0.2 * math.exp(-t / 180.0), [0.0, 60.0, 120.0, 180.0]))
    assert found is not None
    by_hand = 2.0 * math.sqrt(
        0.25**2 + found.u_k**2 + found.remaining_k**2 + found.remaining_u_k**2
    )
    assert found.combined_k(0.5) == pytest.approx(by_hand)


@pytest.mark.parametrize("times", [[0.0, 60.0, 120.0], [0.0, 30.0, 60.0, 90.0, 120.0, 150.0]])
def test_too_few_or_too_short_prove_nothing(times: list[float]) -> None:
    assert len(times) < LEAST_READINGS or times[-1] < LEAST_SPAN_S
    assert prove(read(lambda t: 5.0, times)) is None


def follow(course: Course, times: list[float], scatter_k: float = 0.1) -> HandSettling:
    settling = HandSettling(0.3)
    for value in read(course, times, scatter_k):
        settling.add(value)
    return settling


MINUTES = [60.0 * n for n in range(1, 6)]


def test_still_is_settled_and_a_creep_of_half_a_band_a_minute_is_not() -> None:
    assert follow(lambda t: 5.0, MINUTES).settled
    creeping = follow(lambda t: 5.0 + 0.15 * t / 60.0, MINUTES)
    assert not creeping.settled
    assert creeping.proof is not None
    assert creeping.proof.slope_k_per_s > 0.0


def test_within_the_gauge_s_accuracy_is_not_settled_while_it_moves() -> None:
    """A gauge of 1 % of 800 psi is good to 1.3 K here; 0.3 K a minute is inside it for long."""
    assert not follow(lambda t: 3.0 + 0.3 * t / 60.0, MINUTES).settled


def test_an_eye_that_scatters_needs_more_readings() -> None:
    bounces = [0.2, -0.2, 0.25, -0.2, 0.2, -0.25, 0.2, -0.2, 0.22, -0.2]
    settling, needed = HandSettling(0.3), 0
    for number, off in enumerate(bounces, start=1):
        settling.add(HandValue(60.0 * number, 5.0 + off, 0.1))
        if settling.settled and not needed:
            needed = number
    assert needed > LEAST_READINGS
    assert settling.proof is not None
    assert settling.proof.u_k > 0.05


def test_a_change_nobody_told_begins_anew() -> None:
    settling = follow(lambda t: 5.0, MINUTES)
    settling.add(HandValue(360.0, 6.5, 0.1))
    assert (settling.settled, settling.unannounced) == (False, True)
    assert len(settling.values) == 1
    for t in (420.0, 480.0, 540.0):
        settling.add(HandValue(t, 6.5, 0.1))
    assert (settling.settled, settling.unannounced) == (True, False)


def test_a_slip_of_the_eye_is_corrected_without_a_trace() -> None:
    settling = follow(lambda t: 5.0, MINUTES)
    before = settling.proof
    settling.add(HandValue(360.0, 8.0, 0.1))
    assert not settling.settled
    settling.correct(HandValue(360.0, 5.0, 0.1))
    assert settling.settled
    assert settling.proof is not None
    assert before is not None
    assert settling.proof.readings == before.readings + 1


@pytest.mark.parametrize("scatter_k", [0.05, 0.1, 0.2])
def test_of_transients_the_circuit_can_have_few_are_called_settled_too_early(
    scatter_k: float,
) -> None:
    """First order and two lags, 20 to 180 s, some over a creep of 150 s: truth is known."""
    rng = random.Random(11)
    early, called = 0, 0
    for _ in range(400):
        tau, size = rng.uniform(20.0, 180.0), rng.gauss(0.0, 1.6)
        second = tau * rng.uniform(0.2, 0.9) if rng.random() < 0.5 else 0.0
        creep = rng.gauss(0.0, 0.6) if rng.random() < 0.5 else 0.0

        def left(
            t: float, tau: float = tau, second: float = second, size: float = size, c: float = creep
        ) -> float:
            quick = math.exp(-t / tau)
            if second:
                quick = (tau * quick - second * math.exp(-t / second)) / (tau - second)
            return size * quick + c * math.exp(-t / 150.0)

        settling, last_t, t = HandSettling(0.3), 0.0, rng.uniform(60.0, 80.0)
        while t < 2400.0 and not settling.settled:
            settling.add(HandValue(t, 5.0 - left(t) + rng.gauss(0.0, scatter_k), 0.1))
            last_t, t = t, t + rng.uniform(45.0, 80.0)
        called += settling.settled
        early += settling.settled and abs(left(last_t)) > 0.3
    assert called >= 396
    assert early <= 0.03 * called
