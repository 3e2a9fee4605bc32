"""What the standing pressure test promises of its leaks, over circuits drawn at random.

A leak of exactly the size a test says it could have seen is called falling in 95 of 100 tests or
more, and a tight circuit in 1 of 100 or fewer (ISO 11843-1, capability of detection; from memory).
Bounds are binomial: what fewer than one run in a thousand of a test that keeps its promise fails.
Pressures are CoolProp's real nitrogen; weather and instruments are invented.
"""

import math
import random
from functools import cache

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.stats import binom

from chargeassist.physics.tightness import Tightness, TightnessTest, TightVerdict
from chargeassist.physics.tightness_settings import TightnessSettings

HOLD_S, EVERY_S = 3600.0, 30.0
DRIFT_PA, DRIFT_K, NOISE_PA, NOISE_K = 2000.0, 0.3, 600.0, 0.05
START_PA = 2.5e6
CIRCUITS = 150
CHANCE = 1e-3
GAPS = [(0.0, 0.0), (900.0, 3000.0)]
"""Time in which nothing arrives [s], none at first: a dead battery, a broken radio link."""

SETTINGS = TightnessSettings(
    hold_s=HOLD_S,
    pressure_drift_half_width_pa=DRIFT_PA,
    temp_drift_half_width_k=DRIFT_K,
    pressure_noise_pa=NOISE_PA / 2.0,
)


@cache
def pressures() -> tuple[np.ndarray, np.ndarray]:
    """Return pressures of the filling at its own density over temperature [Pa], [K]."""
    temps = np.linspace(270.0, 325.0, 23)
    density = PropsSI("Dmolar", "P", START_PA, "T", 297.0, "Nitrogen")
    return np.array([PropsSI("P", "Dmolar", density, "T", k, "Nitrogen") for k in temps]), temps


def stood(seed: int, change_pa_per_s: float, gap: tuple[float, float]) -> Tightness:
    """Return the verdict at the end of the hold on one drawn circuit, not read during `gap` [s].

    The errors are within what was declared: probes drift as far as a rectangle allows, both parts
    follow the weather, and their shares of the volume are nobody's knowledge.
    """
    rng = random.Random(seed)
    table_pa, table_k = pressures()
    share = rng.uniform(0.1, 0.9)
    start_k = (rng.uniform(285.0, 305.0), rng.uniform(288.0, 300.0))
    warms_k = (rng.uniform(-3.0, 3.0), rng.uniform(-1.0, 1.0))
    wave_k, phase = rng.uniform(0.0, 0.4), rng.uniform(0.0, 2.0 * math.pi)
    drift_pa = rng.uniform(-DRIFT_PA, DRIFT_PA) - rng.uniform(-DRIFT_PA, DRIFT_PA)
    drift_k = [rng.uniform(-DRIFT_K, DRIFT_K) - rng.uniform(-DRIFT_K, DRIFT_K) for _ in range(2)]
    test = TightnessTest(SETTINGS, 0.0)
    found = None
    for k in range(1, int(HOLD_S / EVERY_S) + 3):
        t = EVERY_S * k
        part = t / HOLD_S
        swing = wave_k * math.sin(2.0 * math.pi * t / 900.0 + phase)
        parts = (start_k[0] + warms_k[0] * part + swing, start_k[1] + warms_k[1] * part)
        # One pressure in both parts: the gas has the temperature at which their mean 1/T stands.
        gas_k = 1.0 / (share / parts[0] + (1.0 - share) / parts[1])
        pressure = float(np.interp(gas_k, table_k, table_pa)) + change_pa_per_s * t
        read_pa = pressure + drift_pa * part + rng.gauss(0.0, NOISE_PA)
        read_k = [
            temp + drift * part + rng.gauss(0.0, NOISE_K)
            for temp, drift in zip(parts, drift_k, strict=True)
        ]
        if not gap[0] < t < gap[1]:
            found = test.update(t, read_pa, read_k)
    assert isinstance(found, Tightness)
    return found


@cache
def tight(gap: tuple[float, float]) -> tuple[Tightness, ...]:
    return tuple(stood(seed, 0.0, gap) for seed in range(CIRCUITS))


@pytest.mark.parametrize("gap", GAPS)
def test_tight_circuits_are_called_falling_or_rising_no_oftener_than_promised(
    gap: tuple[float, float],
) -> None:
    """0.5 % either way."""
    wrong = [each for each in tight(gap) if each.verdict is not TightVerdict.TIGHT]
    assert len(wrong) <= binom.ppf(1.0 - CHANCE, CIRCUITS, 0.01)


@pytest.mark.parametrize("gap", GAPS)
@pytest.mark.parametrize(
    ("sign", "verdict"), [(-1.0, TightVerdict.FALLING), (1.0, TightVerdict.RISING)]
)
def test_a_change_of_the_size_that_could_be_seen_is_seen_and_named(
    sign: float, verdict: TightVerdict, gap: tuple[float, float]
) -> None:
    """The same circuits with the same errors, and a change as large as the test itself claims.

    A rise is no leak, but it is named as one names a fall: a supply that is not shut, or a part
    that warms where no probe is.
    """
    seen = 0
    for seed, sound in enumerate(tight(gap)):
        found = stood(seed, sign * sound.smallest_leak_pa_per_s, gap)
        seen += found.verdict is verdict
    assert seen >= binom.ppf(CHANCE, CIRCUITS, 0.95)
