"""States, reasons and forecast of the settling detector on invented traces."""

import math

import numpy as np
import pytest

from chargeassist.stream.settling import SettlingDetector, SettlingState


def rise(
    detector: SettlingDetector,
    *,
    start_k: float = 3.0,
    change_k: float = 2.0,
    tau_s: float = 60.0,
    t_from: float = 0.0,
    seconds: int = 600,
    noise_k: float = 0.05,
    seed: int = 1,
) -> list[bool]:
    """Feed a first-order response at 1 Hz; return the flag after each sample."""
    rng = np.random.default_rng(seed)
    flags = []
    for u in range(seconds):
        value = start_k + change_k * (1.0 - math.exp(-u / tau_s)) + rng.normal(0.0, noise_k)
        flags.append(detector.update(t_from + u, {"subcooling": value}))
    return flags


def test_waits_for_data_before_any_reading() -> None:
    detector = SettlingDetector()
    assert detector.state is SettlingState.WAITING
    assert detector.reason == "no subcooling reading yet"
    assert detector.forecast_k is None
    assert detector.seconds_to_go is None


def test_runs_through_every_state_in_order_on_a_clean_rise() -> None:
    detector = SettlingDetector()
    seen: list[SettlingState] = []
    rng = np.random.default_rng(3)
    for t in range(700):
        value = 3.0 + 2.0 * (1.0 - math.exp(-t / 60.0)) + rng.normal(0.0, 0.05)
        detector.update(float(t), {"subcooling": value})
        if not seen or seen[-1] is not detector.state:
            seen.append(detector.state)
    assert seen == list(SettlingState)
    assert detector.forecast_k == pytest.approx(5.0, abs=0.1)
    assert detector.reason.startswith("steady: ")


def test_flag_comes_only_after_the_rise_is_inside_the_band() -> None:
    flags = rise(SettlingDetector())
    first = flags.index(True)
    assert 2.0 * math.exp(-first / 60.0) < 0.3
    assert first < 350


def test_disturbed_drops_the_flag_at_once_and_says_why() -> None:
    detector = SettlingDetector()
    assert rise(detector)[-1]
    detector.disturbed(600.0)
    assert detector.state is SettlingState.MOVING
    assert not detector.update(600.5, {"subcooling": 5.0})
    detector.update(635.0, {"subcooling": 5.0})
    detector.disturbed(640.0)
    detector.update(641.0, {"subcooling": 5.0})
    detector.update(643.0, {"subcooling": 5.0})
    assert detector.reason.startswith("too early: ")


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, 1e308, -1e308])
def test_unusable_values_count_as_missing(bad: float) -> None:
    clean, dirty = SettlingDetector(), SettlingDetector()
    rng = np.random.default_rng(5)
    for t in range(400):
        value = 4.0 + rng.normal(0.0, 0.05)
        a = clean.update(float(t), {"subcooling": value})
        dirty.update(t - 0.5, {"subcooling": bad, "superheat": bad})
        b = dirty.update(float(t), {"subcooling": value})
        assert a == b
    assert clean.forecast_k == dirty.forecast_k


def test_lost_reading_drops_the_flag_and_says_so() -> None:
    detector = SettlingDetector()
    assert rise(detector)[-1]
    for t in range(600, 680):
        detector.update(float(t), {"subcooling": math.nan})
    assert detector.state is SettlingState.WAITING
    assert detector.reason == "no subcooling reading for 80 s"
    assert not detector.update(680.0, {})


def test_late_and_repeated_times_are_ignored() -> None:
    detector = SettlingDetector()
    rise(detector, seconds=300)
    before = (detector.forecast_k, detector.state, detector.since_s)
    detector.update(299.0, {"subcooling": 99.0})
    detector.update(10.0, {"subcooling": 99.0})
    detector.update(math.nan, {"subcooling": 99.0})
    assert (detector.forecast_k, detector.state, detector.since_s) == before


def test_refuses_settings_without_meaning() -> None:
    with pytest.raises(ValueError, match="band_k must lie between"):
        SettlingDetector(band_k=0.0)
    with pytest.raises(ValueError, match="chance_off"):
        SettlingDetector(chance_on=0.3, chance_off=0.6)
