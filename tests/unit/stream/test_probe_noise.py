"""Probes that become noisy, jump, or read what no probe can."""

import math

import numpy as np
import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.events import Reading
from chargeassist.stream.probe_findings import ProbeTrouble, Severity, worst
from chargeassist.stream.probe_health import ProbeHealth
from chargeassist.stream.probe_watch import ProbeWatch, jump_limits
from tests.unit.stream.traces import Trace, first, kinds


@pytest.mark.parametrize(
    ("role", "sigma"),
    [
        (Role.LIQUID_PRESSURE, 12e3),
        (Role.SUCTION_TEMPERATURE, 0.4),
        (Role.COMPRESSOR_CURRENT, 0.5),
    ],
)
def test_a_probe_that_becomes_noisy_is_found_and_forgiven(role: Role, sigma: float) -> None:
    trace = Trace(seconds=1800.0)
    random = np.random.default_rng(9)
    bad = slice(trace.at(900.0), trace.at(1200.0))
    trace.values[role][bad] += random.normal(0.0, sigma, bad.stop - bad.start)
    found = trace.run()
    t, item = first(found, ProbeTrouble.NOISY)
    assert item.channel == role.value
    assert 900.0 < t < 960.0
    assert item.figures["sigma_si"] > 3.0 * item.figures["usual_si"]
    assert 890.0 < item.since_t < t
    assert found[-1][1] == ()
    assert kinds(found) == {(role.value, ProbeTrouble.NOISY)}


def test_a_probe_noisy_from_the_beginning_is_found() -> None:
    trace = Trace(seconds=600.0)
    random = np.random.default_rng(9)
    trace.values[Role.LIQUID_TEMPERATURE] += random.normal(0.0, 1.2, len(trace.t))
    assert ("liquid_temperature", ProbeTrouble.NOISY) in kinds(trace.run())


@pytest.mark.parametrize("rate_hz", [0.2, 1.0])
def test_a_hunting_valve_is_not_a_noisy_probe(rate_hz: float) -> None:
    """Superheat swings by 7 K either way every 42 s, and pressures with it."""
    trace = Trace(seconds=2400.0, rate_hz=rate_hz)
    swing = np.where(trace.t > 1200.0, np.sin(2.0 * math.pi * trace.t / 42.0), 0.0)
    trace.values[Role.SUCTION_TEMPERATURE] += 6.0 * swing
    trace.values[Role.SUCTION_PRESSURE] += 40e3 * swing
    trace.values[Role.LIQUID_PRESSURE] += 45e3 * swing
    trace.values[Role.LIQUID_TEMPERATURE] += 1.5 * swing
    trace.values[Role.COMPRESSOR_CURRENT] += 0.3 * swing
    assert not kinds(trace.run())


@pytest.mark.parametrize(
    ("role", "jump"),
    [(Role.LIQUID_TEMPERATURE, 25.0), (Role.LIQUID_PRESSURE, 2.0e6), (Role.SUCTION_PRESSURE, 2e6)],
)
def test_a_jump_no_pipe_can_make_is_told_for_a_minute(role: Role, jump: float) -> None:
    trace = Trace(seconds=900.0)
    trace.values[role][trace.at(600.0)] += jump
    found = trace.run()
    t, item = first(found, ProbeTrouble.JUMPING)
    assert 600.0 <= t <= 606.0
    assert item.channel == role.value
    assert item.figures["times"] >= 1.0
    assert kinds(found) == {(role.value, ProbeTrouble.JUMPING)}
    assert found[-1][1] == ()
    assert 655.0 < found[-1][0] < 672.0


def test_a_jump_that_was_seen_to_does_not_come_back() -> None:
    trace = Trace(seconds=900.0)
    trace.values[Role.LIQUID_TEMPERATURE][trace.at(600.0)] += 25.0
    found = trace.run(seen_to=(620.0, "liquid_temperature"))
    assert first(found, ProbeTrouble.JUMPING)[0] < 620.0
    assert found[-1][1] == ()
    assert found[-1][0] == 620.0


def test_a_clamp_put_on_a_hot_pipe_is_no_jump() -> None:
    """40 K with a lag of 8 s is 5 K/s at first: fast, and possible."""
    watch = ProbeWatch(
        Channel(name="c", role=Role.DISCHARGE_TEMPERATURE, unit="K", resolution_si=0.1)
    )
    for t in range(60):
        watch.take(float(t), 300.0 + 40.0 * (1.0 - math.exp(-t / 8.0)))
    watch.look()
    assert watch.jumps == 0


@pytest.mark.parametrize("sigma", [0.1, 1.0])
def test_white_noise_is_measured_as_what_it_is(sigma: float) -> None:
    """The mean of 100 looks at the running estimate; a slope of 0.05 K/s does not disturb it."""
    watch = ProbeWatch(Channel(name="c", role=Role.LIQUID_TEMPERATURE, unit="K"))
    random = np.random.default_rng(2)
    found = []
    for t in range(3000):
        watch.take(float(t), 290.0 + 0.02 * t + float(random.normal(0.0, sigma)))
        if t > 300 and t % 27 == 0:
            watch.look()
            found.append(watch.fast_sigma)
    assert sum(found) / len(found) == pytest.approx(sigma, rel=0.07)


def test_runs_of_equal_values_are_counted() -> None:
    watch = ProbeWatch(Channel(name="c", role=Role.LIQUID_TEMPERATURE, unit="K"))
    for t, value in enumerate([1, 1, 1, 1, 2, 2, 3, 3, 3]):
        watch.take(float(t), 290.0 + value)
    watch.look()
    assert watch.longest_same == 3
    assert watch.same_samples == 2
    assert watch.same_t == 6.0
    assert watch.samples == 9


def test_a_current_that_varies_little_hides_no_clamp_that_lets_go() -> None:
    """At 9 A, 0.2 A of weather hide nothing, nor 0.6 A while the pressure stays; 1.2 A would."""
    for swing_a, hidden in ((0.2, False), (0.6, False), (1.2, True)):
        trace = Trace(seconds=1200.0)
        after = np.clip(trace.t - 600.0, 0.0, None)
        trace.values[Role.LIQUID_TEMPERATURE] -= 5.2 * (1.0 - np.exp(-after / 70.0))
        trace.values[Role.COMPRESSOR_CURRENT] += swing_a * np.sin(trace.t / 25.0) / 2.0
        assert (ProbeTrouble.LOOSE not in {kind for _, kind in kinds(trace.run())}) is hidden


@pytest.mark.parametrize(
    ("back_k", "jumps"), [(310.0, 0), (290.0, 0), (620.0, 1)], ids=["warmer", "colder", "wild"]
)
def test_what_changed_while_it_could_not_be_read_is_no_jump(back_k: float, jumps: int) -> None:
    """Ten kelvin in a minute is a door; 320 K in a minute no air does."""
    channel = Channel(
        name="c", role=Role.OUTDOOR_AIR_TEMPERATURE, unit="K", low_si=100.0, high_si=700.0
    )
    watch = ProbeWatch(channel)
    for t in range(60):
        watch.take(float(t), 300.0)
    watch.look()
    for t in range(60, 120):
        watch.out_of_range(float(t), 999.0)
    watch.take(120.0, back_k)
    watch.look()
    assert watch.jumps == jumps
    if jumps:
        assert watch.jump_si_per_s == pytest.approx((back_k - 300.0) / 61.0)


def test_currents_and_scales_may_jump() -> None:
    for role in (Role.COMPRESSOR_CURRENT, Role.CYLINDER_MASS):
        assert jump_limits(role) == (math.inf, math.inf)


@pytest.mark.parametrize("value", [-2e5, 1.6e7, math.nan, math.inf])
def test_values_no_probe_can_read_are_out_of_range(value: float) -> None:
    health = ProbeHealth()
    watch = health.declare(Channel(name="p", role=Role.LIQUID_PRESSURE, unit="Pa"))
    for t in range(60):
        watch.take(float(t), value if 40 <= t < 50 else 2e6 + 100.0 * (t % 3))
        found = health.tick(float(t))
        if t == 45:
            (item,) = found
            assert item.kind is ProbeTrouble.OUT_OF_RANGE
            assert item.severity is Severity.UNUSABLE
            assert item.since_t == 40.0
    assert not health.tick(60.0)


def test_the_sources_own_word_counts_and_a_retained_value_does_not() -> None:
    health = ProbeHealth()
    health.declare(Channel(name="p", role=Role.LIQUID_PRESSURE, unit="Pa", low_si=0.0, high_si=3e6))
    for t in range(6):
        health.take(Reading(t=float(t), channel="p", value=9e6, quality=Quality.RETAINED))
    assert not health.tick(6.0)
    for t in range(6, 12):
        health.take(Reading(t=float(t), channel="p", value=2e6, quality=Quality.RANGE))
    found = health.tick(12.0)
    grave = worst(found, "p")
    assert grave is not None
    assert grave.kind is ProbeTrouble.OUT_OF_RANGE
    assert worst(found, "other") is None
    health.take(Reading(t=13.0, channel="nobody", value=1.0))
    health.acknowledge("p")
    assert not health.tick(13.0)


def test_the_same_calls_give_the_same_findings() -> None:
    runs = []
    for _ in range(2):
        trace = Trace(seconds=900.0, seed=4)
        trace.values[Role.LIQUID_TEMPERATURE][trace.at(700.0) :] -= 5.0
        runs.append(trace.run())
    assert runs[0] == runs[1]
    assert runs[0]


def test_a_long_silence_hides_nothing_and_invents_nothing() -> None:
    """Every channel silent for two minutes, then back where it was."""
    trace = Trace(seconds=1500.0)
    for values in trace.values.values():
        values[trace.at(600.0) : trace.at(720.0)] = math.nan
    assert not trace.run()


def test_a_leap_over_hours_leaves_no_old_slot_to_compare_with() -> None:
    """After six hours away the unit stands elsewhere: no window reaches back over the gap."""
    trace = Trace(seconds=1200.0)
    trace.t[trace.at(600.0) :] += 6 * 3600.0
    for role, change in ((Role.LIQUID_TEMPERATURE, -5.0), (Role.SUCTION_TEMPERATURE, 5.0)):
        trace.values[role][600:] += change
    assert ProbeTrouble.LOOSE not in {kind for _, kind in kinds(trace.run())}


def test_a_compressor_may_stop_at_once_and_nothing_else_jumps_like_that() -> None:
    watch = ProbeWatch(Channel(name="f", role=Role.COMPRESSOR_FREQUENCY, unit="Hz"))
    for t in range(60):
        watch.take(float(t), 72.0 if t < 30 else 0.1)
    watch.look()
    assert watch.jumps == 0
    watch.take(60.0, 72.0)
    watch.look()
    assert watch.jumps == 1
