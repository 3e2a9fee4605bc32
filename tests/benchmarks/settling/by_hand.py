"""How often readings taken by hand are called settled too early, and how late.

Invented transients with known truth: first order and two lags in series, half of them over a creep
of 150 s, read about once a minute by an eye that scatters, some with a hunting valve::

    python tests/benchmarks/settling/by_hand.py --transients 700 --seed 1
"""

import argparse
import math
import random
from collections.abc import Callable

from chargeassist.stream.settling_by_hand import HandSettling, HandValue

BAND_K, EYE_K, LONGEST_S = 0.3, 0.1, 1800.0
CASES = ((0.08, 0.0), (0.2, 0.0), (0.1, 0.3))
"""Scatter of the eye, and amplitude of the hunting [K]."""


def transient(rng: random.Random) -> Callable[[float], float]:
    """Return what is still to come of one change, over the time since it [K]."""
    tau, size = rng.uniform(20.0, 180.0), rng.gauss(0.0, 1.6) + rng.choice((-0.3, 0.3))
    second = tau * rng.uniform(0.2, 0.9) if rng.random() < 0.5 else 0.0
    creep = rng.gauss(0.0, 0.6) if rng.random() < 0.5 else 0.0

    def left(t: float) -> float:
        quick = math.exp(-t / tau)
        if second:
            quick = (tau * quick - second * math.exp(-t / second)) / (tau - second)
        return size * quick + creep * math.exp(-t / 150.0)

    return left


def called_t(
    rng: random.Random, left: Callable[[float], float], eye_k: float, hunts_k: float
) -> float | None:
    """Return when it was called settled [s]; None if never."""
    phase, period_s = rng.uniform(0.0, 6.0), rng.uniform(40.0, 120.0)
    settling, t = HandSettling(BAND_K), rng.uniform(60.0, 80.0)
    while t < LONGEST_S:
        swing = hunts_k * math.sin(phase + 2.0 * math.pi * t / period_s)
        settling.add(HandValue(t, 5.0 - left(t) + swing + rng.gauss(0.0, eye_k), EYE_K))
        if settling.settled:
            return t
        t += rng.uniform(50.0, 80.0)
    return None


def main() -> None:
    """Print a row for each case."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--transients", type=int, default=700)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    print("eye K  hunts K  early %  over 0.45 K %  never %  delay s: median  p90")
    for eye_k, hunts_k in CASES:
        rng = random.Random(asked.seed)
        delays, early, far = [], 0, 0
        for _ in range(asked.transients):
            left = transient(rng)
            t = called_t(rng, left, eye_k, hunts_k)
            if t is None:
                continue
            early += abs(left(t)) > BAND_K
            far += abs(left(t)) > 1.5 * BAND_K
            true_t = max((u for u in range(0, 3000, 5) if abs(left(u)) > BAND_K), default=0)
            delays.append(t - true_t)
        delays.sort()
        n = len(delays)
        print(
            f"{eye_k:5.2f}  {hunts_k:7.1f}  {100 * early / n:7.1f}  {100 * far / n:13.1f}  "
            f"{100 * (asked.transients - n) / asked.transients:7.1f}  {delays[n // 2]:15.0f}  "
            f"{delays[int(0.9 * n)]:3.0f}"
        )


if __name__ == "__main__":
    main()
