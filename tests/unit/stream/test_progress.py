"""In which words a detector's state is told: a real detector, on traces that bring it there."""

import math
from collections.abc import Callable, Mapping

import numpy as np
import pytest

from chargeassist.stream.facts import Measured, Settling
from chargeassist.stream.progress import MOVING_K_PER_S, PROVING, Progress
from chargeassist.stream.settling import SettlingCause, SettlingDetector

LEVEL = Measured(value_k=5.0, expanded_k=0.3)
SECONDS = 720
CHANGES_AT_S = 600.0
_Trace = Callable[[float], Mapping[str, float]]


def steady(t: float) -> Mapping[str, float]:
    del t
    return {"subcooling": 5.0}


def response(change_k: float, tau_s: float, since_s: float = 0.0) -> _Trace:
    """A first-order response that begins at `since_s`."""

    def values(t: float) -> Mapping[str, float]:
        passed_s = max(t - since_s, 0.0)
        return {"subcooling": 5.0 + change_k * (1.0 - math.exp(-passed_s / tau_s))}

    return values


def hunting(t: float) -> Mapping[str, float]:
    wave = 1.2 * math.sin(2.0 * math.pi * t / 60.0)
    return {"subcooling": 5.0 + 0.5 * wave, "superheat": 9.0 + wave}


def silent_after_a_minute(t: float) -> Mapping[str, float]:
    return steady(t) if t < 60.0 else {}


def way(slope_k_per_s: float) -> str:
    if abs(slope_k_per_s) < MOVING_K_PER_S:
        return "flat"
    return "up" if slope_k_per_s > 0.0 else "down"


def told_where(trace: _Trace, cause: SettlingCause, slope: str) -> Settling:
    """Return what is told once the detector has come to this cause with such a slope."""
    detector = SettlingDetector()
    progress = Progress(detector, 60.0)
    random = np.random.default_rng(1)
    for t in range(SECONDS):
        noise_k = random.normal(0.0, 0.02)
        values = {name: value + noise_k for name, value in trace(float(t)).items()}
        flag = detector.update(float(t), values)
        told = progress.settling(float(t), float(t), LEVEL, flag=flag, blocked="")
        if detector.cause is cause and slope in ("", way(detector.slope_k_per_s or 0.0)):
            assert not flag
            return told
    raise AssertionError(f"the trace never leads to {cause.name} {slope}")


CASES = (
    (steady, SettlingCause.NO_READING, "", "too_early"),
    (silent_after_a_minute, SettlingCause.LOST, "", "too_early"),
    (response(2.0, 60.0), SettlingCause.YOUNG_STEP, "up", "too_early"),
    (response(2.0, 60.0), SettlingCause.MOVING, "up", "rising"),
    (response(-2.0, 60.0), SettlingCause.MOVING, "down", "falling"),
    (response(2.0, 60.0, CHANGES_AT_S), SettlingCause.UNANNOUNCED, "up", "rising"),
    (response(-2.0, 60.0, CHANGES_AT_S), SettlingCause.UNANNOUNCED, "down", "falling"),
    (response(1.3, 5.0, CHANGES_AT_S), SettlingCause.UNANNOUNCED, "flat", "unannounced"),
    (steady, SettlingCause.YOUNG_RUN, "flat", "young_run"),
    (hunting, SettlingCause.HUNTING, "", "hunting"),
    (response(2.0, 60.0), SettlingCause.UNPROVEN, "up", "not_proven"),
)


@pytest.mark.parametrize(("trace", "cause", "slope", "told"), CASES)
def test_why_it_has_not_settled(trace: _Trace, cause: SettlingCause, slope: str, told: str) -> None:
    settling = told_where(trace, cause, slope)
    assert settling.cause == told
    # While only the proof is missing nobody knows how long that takes.
    if told in PROVING and settling.forecast is not None:
        assert settling.forecast.seconds is None


def test_every_cause_but_the_settled_one_has_a_word() -> None:
    assert {cause for _, cause, *_ in CASES} == set(SettlingCause) - {SettlingCause.STEADY}
