"""States, reasons and forecast of the settling detector on invented traces."""

import math

import numpy as np
import pytest

from chargeassist.stream.settling import DetectorState, SettlingCause, SettlingDetector


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
    assert detector.state is DetectorState.WAITING
    assert detector.reason == "no subcooling reading yet"
    assert detector.forecast_k is None
    assert detector.seconds_to_go is None


def test_runs_through_every_state_in_order_on_a_clean_rise() -> None:
    detector = SettlingDetector()
    seen: list[DetectorState] = []
    rng = np.random.default_rng(3)
    for t in range(700):
        value = 3.0 + 2.0 * (1.0 - math.exp(-t / 60.0)) + rng.normal(0.0, 0.05)
        detector.update(float(t), {"subcooling": value})
        if not seen or seen[-1] is not detector.state:
            seen.append(detector.state)
    assert seen == list(DetectorState)
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
    assert detector.state is DetectorState.MOVING
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
    assert detector.state is DetectorState.WAITING
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


def test_reason_names_rate_and_rest_of_a_rise_under_way() -> None:
    detector = SettlingDetector()
    rise(detector, change_k=4.0, tau_s=90.0, seconds=90)
    assert detector.cause is SettlingCause.MOVING
    assert detector.reason.startswith("still rising about ")
    # d/dt of 4 (1 - exp(-t/90)) at 90 s is 0.98 K/min, and 1.5 K are to come.
    assert detector.slope_k_per_s is not None
    assert detector.remaining_k is not None
    assert 60.0 * detector.slope_k_per_s == pytest.approx(0.98, abs=0.3)
    assert detector.remaining_k == pytest.approx(4.0 * math.exp(-1.0), abs=0.8)


def test_falling_reading_is_called_falling() -> None:
    detector = SettlingDetector()
    rise(detector, change_k=-3.0, tau_s=80.0, seconds=80)
    assert detector.reason.startswith("still falling about ")
    assert detector.remaining_k is not None
    assert detector.remaining_k < -0.3


def test_forecast_interval_narrows_and_closes_on_the_settled_value() -> None:
    detector = SettlingDetector()
    rng = np.random.default_rng(8)
    widths, errors = [], []
    for t in range(600):
        value = 3.0 + 2.0 * (1.0 - math.exp(-t / 70.0)) + rng.normal(0.0, 0.05)
        detector.update(float(t), {"subcooling": value})
        if t in (40, 150, 599):
            low, mid, high = (
                detector.forecast_low_k,
                detector.forecast_k,
                detector.forecast_high_k,
            )
            assert low is not None
            assert mid is not None
            assert high is not None
            assert low < mid < high
            widths.append(high - low)
            errors.append(abs(mid - 5.0))
    assert widths[0] > widths[1] > widths[2]
    assert errors[2] < 0.06
    assert detector.seconds_to_go == 0.0


def test_seconds_to_go_counts_down_to_the_known_instant() -> None:
    # |e| <= 0.3 K and |de/dt| <= 0.1 K/min for e = 2 exp(-t/60): the slope decides,
    # 2/60 exp(-t/60) = 0.1/60 K/s at t = 60 ln 20 = 180 s.
    detector = SettlingDetector()
    rng = np.random.default_rng(9)
    for t in range(130):
        value = 3.0 + 2.0 * (1.0 - math.exp(-t / 60.0)) + rng.normal(0.0, 0.03)
        detector.update(float(t), {"subcooling": value})
    low, mid, high = (
        detector.seconds_to_go_low,
        detector.seconds_to_go,
        detector.seconds_to_go_high,
    )
    assert low is not None
    assert mid is not None
    assert high is not None
    assert low <= 60.0 * math.log(20.0) - 130.0 <= high
    assert mid == pytest.approx(60.0 * math.log(20.0) - 130.0, abs=45.0)


def test_hunting_is_recognised_in_the_superheat_and_kept_out_of_the_verdict() -> None:
    detector = SettlingDetector()
    rng = np.random.default_rng(4)
    flags = []
    for t in range(700):
        wave = 1.2 * math.sin(2.0 * math.pi * t / 60.0)
        values = {
            "subcooling": 5.0 + 0.5 * wave + rng.normal(0.0, 0.05),
            "superheat": 9.0 + wave + rng.normal(0.0, 0.1),
        }
        flags.append(detector.update(float(t), values))
    assert detector.hunting_period_s == pytest.approx(60.0, rel=0.08)
    assert flags[-1]
    assert np.mean(flags[400:]) > 0.9
    assert detector.forecast_k == pytest.approx(5.0, abs=0.15)


def test_no_hunting_is_seen_where_there_is_none() -> None:
    detector = SettlingDetector()
    rng = np.random.default_rng(6)
    for t in range(600):
        base = 5.0 - 2.0 * math.exp(-t / 50.0)
        values = {
            "subcooling": base + rng.normal(0.0, 0.1),
            "superheat": 14.0 - base + rng.normal(0.0, 0.1),
        }
        detector.update(float(t), values)
        if t % 50 == 0:
            assert detector.hunting_period_s is None


def test_a_change_nobody_announced_drops_the_flag_and_is_called_so() -> None:
    detector = SettlingDetector()
    assert rise(detector)[-1]
    flags = rise(detector, start_k=5.0, change_k=2.0, tau_s=40.0, t_from=600.0, seconds=45, seed=2)
    assert flags[0]
    assert not flags[-1]
    rise(detector, start_k=6.35, change_k=0.65, tau_s=40.0, t_from=645.0, seconds=20, seed=3)
    assert detector.cause is not SettlingCause.STEADY
    assert detector.forecast_k is not None
    assert detector.forecast_k > 5.8


def test_what_a_plant_taught_is_kept_for_the_next_step() -> None:
    detector = SettlingDetector()
    assert detector.learnt_time_s is None
    level = 3.0
    for k in range(4):
        if k:
            detector.disturbed(600.0 * k)
        rise(
            detector,
            start_k=level,
            change_k=1.5,
            tau_s=110.0,
            t_from=600.0 * k,
            seconds=600,
            noise_k=0.03,
            seed=k,
        )
        level += 1.5
    detector.disturbed(2400.0)
    assert detector.learnt_time_s == pytest.approx(110.0, rel=0.25)
    assert detector.learnt_share > 0.5


@pytest.mark.parametrize("rate_hz", [0.2, 1.0, 10.0])
def test_settles_at_every_sampling_rate(rate_hz: float) -> None:
    detector = SettlingDetector()
    rng = np.random.default_rng(11)
    flag = False
    for t in np.arange(0.0, 700.0, 1.0 / rate_hz).tolist():
        value = 3.0 + 1.5 * (1.0 - math.exp(-t / 50.0)) + rng.normal(0.0, 0.08)
        flag = detector.update(t, {"subcooling": value})
    assert flag


def test_single_spikes_do_not_disturb_a_settled_reading() -> None:
    detector = SettlingDetector()
    assert rise(detector)[-1]
    rng = np.random.default_rng(12)
    for t in range(600, 900):
        spike = 6.0 if t % 60 == 0 else 0.0
        assert detector.update(float(t), {"subcooling": 5.0 + spike + rng.normal(0.0, 0.05)})


def test_a_pause_of_an_hour_starts_a_new_run() -> None:
    detector = SettlingDetector()
    assert rise(detector)[-1]
    assert not detector.update(9000.0, {"subcooling": 5.0})
    detector.update(9001.0, {"subcooling": 5.0})
    assert detector.since_s < 5.0


@pytest.mark.parametrize("announced_t", [-1e9, 0.0, 1e9, math.nan, math.inf])
def test_a_disturbance_with_a_wrong_time_counts_from_now(announced_t: float) -> None:
    detector = SettlingDetector()
    assert rise(detector)[-1]
    detector.disturbed(announced_t)
    flags = rise(detector, start_k=5.0, change_k=2.0, tau_s=60.0, t_from=600.0, seed=2)
    assert not any(flags[:60])
    assert flags[-1]
    assert detector.since_s == pytest.approx(599.0, abs=12.0)  # to a calm bin
