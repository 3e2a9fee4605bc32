"""One channel: robust means and slopes against numpy, age, and what never counts as live."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.events import Reading
from chargeassist.model.job import Processing
from chargeassist.model.units import Quantity
from chargeassist.stream.entered import TypedNumbers
from chargeassist.stream.facts import ChannelState
from chargeassist.stream.places import Places
from chargeassist.stream.probe_watch import NOISE_FLOOR_SI
from chargeassist.stream.windows import (
    ALLOWED_SI_PER_S,
    LARGEST_SI,
    OUTLIER_FLOOR_SI,
    ChannelWindow,
    PairedMeans,
    robust_mean,
    slope_per_s,
)
from tests.unit.stream.rig import channel, make_job

PIPE = Channel(name="liquid_t", role=Role.LIQUID_TEMPERATURE, unit="°C", max_age_s=10.0)


def read(t: float, value: float, quality: Quality = Quality.GOOD) -> Reading:
    return Reading(t=t, channel=PIPE.name, value=value, quality=quality)


def test_robust_mean_leaves_out_a_spike() -> None:
    assert robust_mean([300.0, 300.1, 299.9, 300.0, 900.0], 0.3) == pytest.approx(300.0)
    assert robust_mean([300.0, 300.1, 299.9, 300.0, -1e12], 0.3) == pytest.approx(300.0)


def test_robust_mean_of_a_quantised_probe_keeps_its_second_value() -> None:
    # Median absolute deviation 0: without a floor every 300.5 would count as an outlier.
    assert robust_mean([300.0, 300.0, 300.0, 300.5], 0.6) == pytest.approx(300.125)
    assert robust_mean([300.0, 300.0, 300.0, 300.5], 0.3) == 300.0


def test_robust_mean_of_one_or_two_is_their_mean() -> None:
    assert robust_mean([300.0], 0.3) == 300.0
    assert robust_mean([300.0, 400.0], 0.3) == 350.0


@given(
    samples=st.lists(st.floats(250.0, 350.0), min_size=3, max_size=60),
    floor=st.floats(0.0, 1.0),
)
def test_robust_mean_is_the_formula_of_its_docstring(samples: list[float], floor: float) -> None:
    values = np.array(samples)
    middle = np.median(values)
    spread = np.median(np.abs(values - middle))
    kept = values[np.abs(values - middle) <= max(4.0 * 1.4826 * spread, floor)]
    assert robust_mean(samples, floor) == pytest.approx(float(kept.mean()), rel=1e-12)


@given(
    start_t=st.floats(0.0, 1e5),
    level=st.sampled_from([0.0, 293.15, 2.4e6]),
    noise=st.lists(st.floats(-1.0, 1.0), min_size=5, max_size=61),
)
def test_slope_agrees_with_numpy(start_t: float, level: float, noise: list[float]) -> None:
    points = [(start_t + i, level + 0.01 * i + x) for i, x in enumerate(noise)]
    t = np.array([p[0] for p in points]) - start_t
    y = np.array([p[1] for p in points]) - level
    expected = float(np.polyfit(t, y, 1)[0])
    assert slope_per_s(points) == pytest.approx(expected, abs=1e-8)


def test_slope_wants_five_points_spread_in_time() -> None:
    assert slope_per_s([(float(i), 1.0) for i in range(4)]) is None
    assert slope_per_s([(3.0, float(i)) for i in range(9)]) is None


def test_window_slope_is_of_the_last_minute_only() -> None:
    window = ChannelWindow(PIPE)
    for t in range(1, 301):
        value = 300.0 + (0.5 * t if t <= 200 else 100.0 - 0.002 * (t - 200))
        window.take(read(t - 0.5, value))
        window.tick(float(t))
    facts = window.facts(300.0)
    assert facts.slope_si_per_s == pytest.approx(-0.002)
    assert facts.state is ChannelState.SETTLED


def test_one_wild_number_does_not_make_a_channel_move() -> None:
    # A line that lost its end runs into the next one: 3 and 300.0 arrive as 3300.0.
    window = ChannelWindow(PIPE)
    for t in range(1, 61):
        window.take(read(t - 0.5, 3300.0 if t == 42 else 300.0 + 0.01 * (t % 3)))
        window.tick(float(t))
        slope = window.facts(float(t)).slope_si_per_s
        assert slope is None or abs(slope) < 0.001
        assert window.value == pytest.approx(300.0, abs=0.03)
    assert window.facts(60.0).state is ChannelState.SETTLED


def test_a_leap_counts_once_it_is_seen_twice() -> None:
    window = ChannelWindow(PIPE)
    for t, value in enumerate((300.0, 300.0, 340.0, 340.1, 340.0), start=1):
        window.take(read(t - 0.5, value))
        window.tick(float(t))
        if t == 3:
            assert (window.value, window.new) == (300.0, None)
    assert window.value == pytest.approx(340.0)


def test_a_ramp_steeper_than_a_leap_is_followed() -> None:
    window = ChannelWindow(PIPE)
    for t in range(1, 9):
        window.take(read(t - 0.5, 280.0 + 20.0 * t))
        window.tick(float(t))
        assert window.value == pytest.approx(280.0 + 20.0 * t, abs=20.0)


def test_what_comes_back_after_a_silence_is_believed_at_once() -> None:
    window = ChannelWindow(PIPE)
    window.take(read(0.5, 300.0))
    for t in range(1, 31):
        window.tick(float(t))
    window.take(read(30.5, 340.0))
    window.tick(31.0)
    assert window.value == 340.0


def test_amps_may_leap() -> None:
    window = ChannelWindow(Channel(name="a", role=Role.COMPRESSOR_CURRENT, unit="A"))
    for t, value in enumerate((0.0, 0.0, 12.0), start=1):
        window.take(Reading(t=t - 0.5, channel="a", value=value))
        window.tick(float(t))
    assert window.value == 12.0


def test_a_moving_channel_says_so() -> None:
    window = ChannelWindow(PIPE)
    for t in range(1, 31):
        window.take(read(t - 0.5, 300.0 + 0.01 * t))
        window.tick(float(t))
    facts = window.facts(30.0)
    assert facts.state is ChannelState.MOVING
    assert facts.slope_si_per_s == pytest.approx(0.01)


def test_a_value_lives_as_long_as_the_channel_allows_and_no_longer() -> None:
    window = ChannelWindow(PIPE)
    window.take(read(1.0, 300.0))
    window.tick(1.0)
    assert window.value == window.new == 300.0
    window.tick(11.0)
    assert window.value == 300.0
    assert window.new is None
    window.tick(11.001)
    assert window.value is None
    window.tick(20.0)
    facts = window.facts(20.0)
    assert facts.state is ChannelState.NO_SIGNAL
    assert facts.value_si is None
    assert facts.slope_si_per_s is None
    assert facts.why == "nothing for 19 s"


@pytest.mark.parametrize(
    ("quality", "why"),
    [
        (Quality.RETAINED, "last known value only"),
        (Quality.RANGE, "out of the probe's range"),
    ],
)
def test_retained_and_out_of_range_readings_are_never_live(quality: Quality, why: str) -> None:
    window = ChannelWindow(PIPE)
    for t in range(1, 20):
        window.take(read(float(t), 300.0, quality))
        window.tick(float(t))
        assert window.value is None
        assert window.new is None
    assert window.facts(19.0).why == why
    assert window.facts(19.0).age_s is None


def test_why_there_is_no_signal_is_what_happened_last() -> None:
    window = ChannelWindow(PIPE)
    assert window.facts(0.0).why == "nothing yet"
    window.take(read(1.0, 300.0))
    window.take(read(2.0, 999.0, Quality.RANGE))
    window.tick(2.0)
    window.tick(11.5)
    assert window.facts(11.5).why == "out of the probe's range"
    window.tick(13.0)
    assert window.facts(13.0).why == "nothing for 12 s"


def test_a_retained_reading_does_not_make_an_old_value_young() -> None:
    window = ChannelWindow(PIPE)
    window.take(read(1.0, 300.0))
    window.tick(1.0)
    for t in range(2, 15):
        window.take(read(float(t), 310.0, Quality.RETAINED))
        window.tick(float(t))
    assert window.value is None


@pytest.mark.parametrize("value", [1e308, -1e308, 2 * LARGEST_SI, float("inf"), float("nan")])
def test_a_number_no_probe_can_show_is_out_of_range(value: float) -> None:
    window = ChannelWindow(PIPE)
    window.take(read(1.0, value))
    window.tick(1.0)
    assert window.value is None
    assert window.facts(1.0).why == "out of the probe's range"


def pairs(steps: list[tuple[float | None, float | None]]) -> list[tuple[float, float] | None]:
    """Return what `PairedMeans` gives at each second for values of two channels."""
    one, other = ChannelWindow(PIPE), ChannelWindow(PIPE)
    means = PairedMeans()
    found = []
    for t, values in enumerate(steps, start=1):
        for window, value in zip((one, other), values, strict=True):
            if value is not None:
                window.take(read(float(t), value))
            window.tick(float(t))
        found.append(means.take(one, other))
    return found


def test_paired_means_wait_for_the_slower_channel_and_use_each_period_once() -> None:
    assert pairs([(300.0, 280.0), (301.0, None), (303.0, 281.0), (None, 282.0)]) == [
        (300.0, 280.0),
        None,
        (302.0, 281.0),
        None,
    ]


def test_paired_means_drop_what_had_no_partner_in_time() -> None:
    silent = [(300.0 + i, None) for i in range(12)]
    assert pairs([(290.0, 280.0), *silent, (320.0, 281.0)])[-1] == (320.0, 281.0)


def test_every_channel_gets_its_slope_whatever_its_stagger() -> None:
    for stagger in range(12):
        window = ChannelWindow(PIPE, stagger)
        for t in range(1, 26):
            window.take(read(float(t), 300.0))
            window.tick(float(t))
        assert window.facts(25.0).slope_si_per_s == 0.0


@pytest.mark.parametrize("quantity", sorted({role.quantity for role in Role}))
def test_whatever_a_probe_can_measure_has_a_change_and_a_noise_that_are_let_pass(
    quantity: Quantity,
) -> None:
    assert ALLOWED_SI_PER_S[quantity] > 0.0
    assert OUTLIER_FLOOR_SI[quantity] > 0.0
    assert NOISE_FLOOR_SI[quantity] > 0.0


@pytest.mark.parametrize("period_s", [0.2, 1.0, 3.0, 5.0, 10.0])
def test_a_slope_is_told_at_every_period_a_job_may_have(period_s: float) -> None:
    job = make_job(processing=Processing(period_s=period_s))
    places = Places(job, TypedNumbers.of(job))
    window = places.declare(channel(Role.LIQUID_TEMPERATURE))
    t = 0.0
    while t < 180.0:
        t += period_s
        window.take_live(t, 300.0 + 0.01 * t)
        places.tick(t, 0.0)
    facts = places.table(t)[0]
    assert facts.slope_si_per_s == pytest.approx(0.01, rel=1e-6)
    assert facts.state is ChannelState.MOVING
