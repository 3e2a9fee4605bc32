"""What must hold of the settling detector for any readings."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from chargeassist.stream.settling import DetectorState, SettlingDetector

Trace = list[tuple[float, float, float]]


def trace(seed: int, *, noise_k: float, seconds: int = 420, step_s: float = 2.0) -> Trace:
    """Return (t, subcooling, superheat) of an invented first-order rise."""
    rng = np.random.default_rng([77, seed])
    tau, change = float(rng.uniform(20.0, 120.0)), float(rng.uniform(-2.0, 2.5))
    t = np.arange(0.0, seconds, step_s)
    noise = rng.normal(0.0, noise_k, (2, t.size))
    subcooling = 5.0 + change * (1.0 - np.exp(-t / tau)) + noise[0]
    superheat = 9.0 - 0.5 * change * (1.0 - np.exp(-t / (0.6 * tau))) + noise[1]
    return list(zip(t.tolist(), subcooling.tolist(), superheat.tolist(), strict=True))


def play(detector: SettlingDetector, rows: Trace, *, shift_s: float = 0.0) -> list[object]:
    seen: list[object] = []
    for t, subcooling, superheat in rows:
        flag = detector.update(t + shift_s, {"subcooling": subcooling, "superheat": superheat})
        seen.append((flag, detector.state, detector.remaining_k, detector.chance_settled))
    seen.append((detector.forecast_k, detector.forecast_low_k, detector.seconds_to_go))
    return seen


@given(seed=st.integers(0, 10_000), noise_k=st.floats(0.01, 0.4))
@settings(max_examples=15, deadline=None)
def test_same_calls_give_bit_identical_answers(seed: int, noise_k: float) -> None:
    rows = trace(seed, noise_k=noise_k)
    assert play(SettlingDetector(), rows) == play(SettlingDetector(), rows)


@given(seed=st.integers(0, 10_000), shift_s=st.sampled_from([1024.0, 65536.0, 2.0**20]))
@settings(max_examples=15, deadline=None)
def test_only_differences_of_time_count(seed: int, shift_s: float) -> None:
    # Powers of two and a 2 s step: the shifted times are exact, so the answers are too, but for
    # the mean time of a bin.
    rows = trace(seed, noise_k=0.1)
    here, there = SettlingDetector(), SettlingDetector()
    for t, subcooling, superheat in rows:
        values = {"subcooling": subcooling, "superheat": superheat}
        assert here.update(t, values) == there.update(t + shift_s, values)
        assert here.state is there.state
    assert here.forecast_k is not None
    assert there.forecast_k is not None
    assert math.isclose(here.forecast_k, there.forecast_k, rel_tol=0.0, abs_tol=1e-6)


@given(seed=st.integers(0, 10_000), offset_k=st.floats(-20.0, 20.0))
@settings(max_examples=15, deadline=None)
def test_only_differences_of_the_reading_count(seed: int, offset_k: float) -> None:
    rows = trace(seed, noise_k=0.1)
    here, there = SettlingDetector(), SettlingDetector()
    for t, subcooling, superheat in rows:
        here.update(t, {"subcooling": subcooling, "superheat": superheat})
        there.update(t, {"subcooling": subcooling + offset_k, "superheat": superheat})
    assert here.forecast_k is not None
    assert there.forecast_k is not None
    assert math.isclose(here.forecast_k + offset_k, there.forecast_k, rel_tol=0.0, abs_tol=1e-5)


@given(
    seed=st.integers(0, 10_000),
    at=st.lists(st.integers(90, 290), min_size=1, max_size=6),
    gap_s=st.floats(0.01, 25.0),
)
@settings(max_examples=25, deadline=None)
def test_a_settled_flag_never_survives_a_disturbance(
    seed: int, at: list[int], gap_s: float
) -> None:
    detector = SettlingDetector()
    for k, (t, subcooling, superheat) in enumerate(trace(seed, noise_k=0.03, seconds=600)):
        values = {"subcooling": subcooling, "superheat": superheat}
        detector.update(t, values)
        if k in at:
            detector.disturbed(t)
            assert detector.state is not DetectorState.SETTLED
            # Any reading that comes sooner than the least age finds it down.
            assert not detector.update(t + min(gap_s, 1.9), values)


readings = st.one_of(
    st.none(),
    st.just(math.nan),
    st.just(math.inf),
    st.sampled_from([1e308, -1e308, 1e5, 0.0, -40.0, 80.0]),
    st.floats(-30.0, 60.0),
)


@given(
    calls=st.lists(
        st.tuples(
            st.floats(-5.0, 400.0, allow_nan=False) | st.sampled_from([math.nan, math.inf, 1e308]),
            readings,
            readings,
            st.booleans(),
        ),
        max_size=80,
    )
)
@settings(max_examples=100, deadline=None)
def test_junk_never_raises_nor_spoils_the_numbers(
    calls: list[tuple[float, float | None, float | None, bool]],
) -> None:
    detector = SettlingDetector()
    for advance, subcooling, superheat, changed in calls:
        values = {}
        if subcooling is not None:
            values["subcooling"] = subcooling
        if superheat is not None:
            values["superheat"] = superheat
        if changed:
            detector.disturbed(advance)
        detector.update(advance, values)
        for number in (detector.remaining_k, detector.remaining_sd_k, detector.forecast_low_k):
            assert number is None or math.isfinite(number)
        assert detector.reason
        assert 0.0 <= detector.chance_settled <= 1.0 + 1e-9


@given(seed=st.integers(0, 1000))
@settings(max_examples=10, deadline=None)
def test_missing_readings_alone_never_settle(seed: int) -> None:
    rng = np.random.default_rng(seed)
    detector = SettlingDetector()
    for t in np.cumsum(rng.uniform(0.05, 5.0, 400)).tolist():
        assert not detector.update(t, {"subcooling": math.nan, "superheat": 9.0})
    assert detector.state is DetectorState.WAITING


def test_more_noise_never_makes_it_settle_sooner_on_average() -> None:
    means = []
    for noise_k in (0.03, 0.12, 0.35):
        firsts = []
        for seed in range(12):
            detector = SettlingDetector()
            first = 900.0
            for t, subcooling, superheat in trace(seed, noise_k=noise_k, seconds=900):
                if detector.update(t, {"subcooling": subcooling, "superheat": superheat}):
                    first = t
                    break
            firsts.append(first)
        means.append(float(np.mean(firsts)))
    assert means == sorted(means)
    assert means[2] > means[0] + 20.0
