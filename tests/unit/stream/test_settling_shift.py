"""A witness that shifts: how soon it is heard, how seldom in error, what it does to a verdict."""

import math
import random

import pytest

from chargeassist.stream.settling import SettlingDetector
from chargeassist.stream.settling_shift import SILENT_S, WitnessShift

BIN_S = 4.0
DOUBT = 3.5


def heard(shift: WitnessShift, values_k: list[float], *, calm: bool = True) -> list[float]:
    """Push bins from t = 0 on; return the odds after each."""
    odds = []
    for k, value_k in enumerate(values_k):
        shift.push(k * BIN_S, value_k, calm=calm)
        odds.append(shift.odds(k * BIN_S))
    return odds


def noise(n: int, sd_k: float, seed: int) -> list[float]:
    draw = random.Random(seed)
    return [8.0 + draw.gauss(0.0, sd_k) for _ in range(n)]


@pytest.mark.parametrize("sd_k", [0.05, 0.3, 1.0])
def test_noise_alone_seldom_looks_like_a_shift(sd_k: float) -> None:
    # Evidence that exceeds k where nothing has changed has a chance of 1/k at the most (Markov's
    # inequality on a likelihood ratio), here for two pairs of windows.
    odds = heard(WitnessShift(), noise(4000, sd_k, seed=5))[200:]
    assert sum(each > DOUBT for each in odds) / len(odds) < 2.0 * math.exp(-DOUBT)


def test_a_shift_of_a_kelvin_is_heard_within_sixteen_seconds() -> None:
    calm = noise(60, 0.1, seed=6)
    odds = heard(WitnessShift(), calm + [value_k - 1.0 for value_k in calm[:4]])
    assert max(odds[40:60]) < DOUBT
    assert odds[-1] > DOUBT


def test_a_hunting_valve_swings_it_and_is_learnt() -> None:
    wave = [8.0 + math.sin(2.0 * math.pi * k * BIN_S / 60.0) for k in range(150)]
    odds = heard(WitnessShift(), wave)
    assert max(odds[75:]) < DOUBT


def test_what_it_does_while_all_moves_is_not_taken_for_wander() -> None:
    ramp = [8.0 - 0.1 * k for k in range(60)]
    assert heard(WitnessShift(), ramp, calm=False)[-1] > heard(WitnessShift(), ramp)[-1] + 5.0


def test_a_silent_witness_says_nothing_and_is_compared_with_nothing_before() -> None:
    shift = WitnessShift()
    calm = noise(60, 0.1, seed=7)
    heard(shift, [*calm, 6.0, 6.0, 6.0, 6.0])
    last_t = 63 * BIN_S
    assert shift.odds(last_t + SILENT_S) > DOUBT
    assert shift.odds(last_t + SILENT_S + 0.1) == 0.0
    back_t = last_t + SILENT_S + 0.1
    for k in range(30):
        shift.push(back_t + k * BIN_S, 6.0, calm=True)
        assert shift.odds(back_t + k * BIN_S) == 0.0


@pytest.mark.parametrize("told", [False, True])
def test_superheat_that_falls_lowers_a_verdict_until_it_comes_to_nothing(told: bool) -> None:
    detector = SettlingDetector()
    draw = random.Random(8)
    flags = {}
    for t in range(1, 701):
        if told and t == 30:
            detector.disturbed(30.0)
        fallen_k = 1.5 if t > 400 else 0.0
        flags[t] = detector.update(
            float(t),
            {
                "subcooling": 5.0 + draw.gauss(0.0, 0.08),
                "superheat": 9.0 - fallen_k + draw.gauss(0.0, 0.15),
            },
        )
    assert all(flags[t] for t in range(350, 401))
    # Where changes are announced, a witness alone takes no verdict back.
    assert all(flags[t] for t in range(420, 440)) is told
    assert flags[700]
