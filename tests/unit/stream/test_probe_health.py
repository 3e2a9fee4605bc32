"""Probe health: silent on healthy probes, quick on spoilt ones; invented readings throughout."""

import math

import numpy as np
import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.events import Reading
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity
from chargeassist.stream.probe_health import ProbeHealth
from tests.unit.stream.traces import PSI, USUAL, Trace, first, kinds


@pytest.mark.parametrize("pressure_step_pa", [0.1 * PSI, 0.5 * PSI])
@pytest.mark.parametrize(
    ("rate_hz", "hours", "noise_share"),
    [(0.2, 6.0, 1.0), (1.0, 3.0, 1.0), (1.0, 2.0, 0.05), (10.0, 0.75, 1.0)],
)
def test_healthy_probes_are_left_in_peace(
    rate_hz: float, hours: float, noise_share: float, pressure_step_pa: float
) -> None:
    """12 channels, in all 282 channel-hours over the eight cases: one alarm in 100 is allowed."""
    trace = Trace(
        seconds=3600.0 * hours,
        rate_hz=rate_hz,
        seed=round(10 * rate_hz) + round(pressure_step_pa),
        pressure_step_pa=pressure_step_pa,
        noise_share=noise_share,
    )
    alarms = trace.run()
    assert len(alarms) <= 12.0 * hours / 100.0, alarms


def test_a_probe_that_freezes_is_stuck_within_a_quarter_of_an_hour_at_any_rate() -> None:
    for rate_hz, within_s in ((1.0, 80.0), (10.0, 80.0), (0.2, 320.0)):
        trace = Trace(seconds=2700.0 if rate_hz < 1 else 1500.0, rate_hz=rate_hz)
        begin_s = trace.seconds - 500.0
        values = trace.values[Role.LIQUID_PRESSURE]
        values[trace.at(begin_s) :] = values[trace.at(begin_s)]
        found = trace.run()
        t, item = first(found, ProbeTrouble.STUCK)
        assert begin_s + 60.0 <= t <= begin_s + within_s, (rate_hz, t)
        assert item.channel == "liquid_pressure"
        assert item.severity is Severity.UNUSABLE
        assert item.since_t == pytest.approx(begin_s, abs=1.01 / min(rate_hz, 1.0))
        assert kinds(found) == {("liquid_pressure", ProbeTrouble.STUCK)}


def test_a_clamp_with_noise_of_half_a_step_cannot_stand_still_for_minutes() -> None:
    """At worst a normal number of 0.5 steps leaves its step one time in three (31.7 %)."""
    trace = Trace(seconds=1200.0)
    values = trace.values[Role.LIQUID_TEMPERATURE]
    values[trace.at(700.0) :] = values[trace.at(700.0)]
    t, item = first(trace.run(), ProbeTrouble.STUCK)
    assert item.channel == "liquid_temperature"
    assert 760.0 <= t <= 900.0


def test_a_quiet_coarse_probe_may_stand_still_for_hours() -> None:
    """Noise of a twentieth of a step: no change at all is what a healthy one shows."""
    trace = Trace(seconds=7200.0, noise_share=0.05, pressure_step_pa=0.5 * PSI)
    for role in (Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE):
        trace.values[role][:] = round(USUAL[role][0] / trace.pressure_step_pa) * (
            trace.pressure_step_pa
        )
    assert not trace.run()


def test_a_quiet_probe_left_behind_by_its_neighbours_is_stuck() -> None:
    """The compressor slows by 15 Hz and every other reading follows; one pipe clamp does not."""
    trace = Trace(seconds=1200.0, noise_share=0.05)
    ramp = np.clip((trace.t - 600.0) / 60.0, 0.0, 1.0)
    trace.values[Role.COMPRESSOR_FREQUENCY] -= 15.0 * ramp
    trace.values[Role.LIQUID_PRESSURE] -= 150e3 * ramp
    trace.values[Role.SUCTION_PRESSURE] += 60e3 * ramp
    trace.values[Role.LIQUID_TEMPERATURE] -= 2.0 * ramp
    trace.values[Role.DISCHARGE_TEMPERATURE] -= 9.0 * ramp
    trace.values[Role.COMPRESSOR_CURRENT] -= 2.0 * ramp
    trace.values[Role.SUCTION_TEMPERATURE][:] = 288.0
    found = trace.run()
    t, item = first(found, ProbeTrouble.STUCK)
    assert item.channel == "suction_temperature"
    assert 600.0 < t < 640.0
    assert kinds(found) == {("suction_temperature", ProbeTrouble.STUCK)}


def test_a_stuck_probe_that_moves_again_is_no_longer_stuck() -> None:
    trace = Trace(seconds=1500.0)
    values = trace.values[Role.LIQUID_PRESSURE]
    values[trace.at(900.0) : trace.at(1200.0)] = values[trace.at(900.0)]
    found = trace.run()
    assert found[-1][1] == ()
    assert 1200.0 <= found[-1][0] <= 1206.0


@pytest.mark.parametrize("roles", [tuple(USUAL), tuple(set(USUAL) - {Role.COMPRESSOR_FREQUENCY})])
def test_pipes_of_a_unit_that_stands_go_to_the_air_by_themselves(roles: tuple[Role, ...]) -> None:
    trace = Trace(seconds=1200.0, roles=roles)
    after = np.clip(trace.t - 600.0, 0.0, None)
    trace.values[Role.LIQUID_TEMPERATURE] -= 5.2 * (1.0 - np.exp(-after / 70.0))
    trace.values[Role.COMPRESSOR_CURRENT] -= 8.9
    if Role.COMPRESSOR_FREQUENCY in roles:
        trace.values[Role.COMPRESSOR_FREQUENCY] -= 72.0
    assert not any(kind is ProbeTrouble.LOOSE for _, kind in kinds(trace.run()))


@pytest.mark.parametrize("tau_s", [8.0, 40.0, 70.0, 110.0])
def test_a_liquid_clamp_that_lets_go_is_found(tau_s: float) -> None:
    """From 8 K over outdoor air to about a third of that, alone."""
    trace = Trace(seconds=1200.0)
    after = np.clip(trace.t - 600.0, 0.0, None)
    trace.values[Role.LIQUID_TEMPERATURE] -= 5.2 * (1.0 - np.exp(-after / tau_s))
    found = trace.run()
    t, item = first(found, ProbeTrouble.LOOSE)
    assert item.channel == "liquid_temperature"
    assert item.severity is Severity.CAUTION
    assert t < 600.0 + 0.7 * tau_s + 25.0
    assert kinds(found) == {("liquid_temperature", ProbeTrouble.LOOSE)}
    assert found[-1][1], "stays until the reading comes back"


def test_a_suction_clamp_that_lets_go_warms_towards_outdoor_air() -> None:
    trace = Trace(seconds=1200.0)
    after = np.clip(trace.t - 600.0, 0.0, None)
    trace.values[Role.SUCTION_TEMPERATURE] += 6.0 * (1.0 - np.exp(-after / 70.0))
    found = trace.run()
    assert kinds(found) == {("suction_temperature", ProbeTrouble.LOOSE)}


def test_a_clamp_put_back_is_lagging_and_then_well() -> None:
    trace = Trace(seconds=1500.0)
    after = np.clip(trace.t - 600.0, 0.0, None)
    back = np.clip(trace.t - 900.0, 0.0, None)
    loose = 5.2 * (1.0 - np.exp(-after / 70.0))
    trace.values[Role.LIQUID_TEMPERATURE] -= np.where(
        trace.t < 900.0, loose, 5.2 * np.exp(-back / 25.0)
    )
    found = trace.run()
    assert first(found, ProbeTrouble.LOOSE)[0] < 700.0
    t, item = first(found, ProbeTrouble.LAGGING)
    assert 900.0 < t < 960.0
    assert item.severity is Severity.NOTE
    assert found[-1][1] == ()
    assert found[-1][0] < 1100.0


@pytest.mark.parametrize("on_again", [True, False])
def test_a_clamp_that_was_seen_to_is_loose_again_only_where_it_does_not_come_back(
    on_again: bool,
) -> None:
    """Loose at 600 s, pressed on at 900 s, and said so; the pipe comes back within two minutes."""
    trace = Trace(seconds=1800.0)
    after = np.clip(trace.t - 600.0, 0.0, None)
    back = np.clip(trace.t - 900.0, 0.0, None)
    away = 5.2 * (1.0 - np.exp(-after / 40.0))
    if on_again:
        away *= np.exp(-back / 25.0)
    trace.values[Role.LIQUID_TEMPERATURE] -= away
    found = trace.run(seen_to=(900.0, "liquid_temperature"))
    loose = [t for t, items in found if any(i.kind is ProbeTrouble.LOOSE for i in items)]
    later = [t for t in loose if t >= 900.0]
    assert loose
    assert loose[0] < 700.0
    if on_again:
        assert not later
        assert found[-1][1] == ()
    else:
        assert 980.0 <= later[0] <= 1010.0  # once the time a clamp takes to settle is over
        assert found[-1][1], "stays until the reading comes back"


def test_a_clamp_pressed_on_before_a_resumed_session_is_compared_with_nothing() -> None:
    """Loose at 600 s, pressed on at 900 s; the session goes on at 920 s with a warmer line."""
    trace = Trace(seconds=1500.0)
    after = np.clip(trace.t - 600.0, 0.0, None)
    trace.values[Role.LIQUID_TEMPERATURE] -= np.where(
        trace.t < 900.0, 5.2 * (1.0 - np.exp(-after / 40.0)), 7.0
    )
    found = trace.run(seen_to=(900.0, "liquid_temperature"), resumed_t=920.0)
    loose = [t for t, items in found if any(i.kind is ProbeTrouble.LOOSE for i in items)]
    assert loose
    assert max(loose) < 920.0


def test_a_clamp_put_on_while_the_unit_runs_creeps() -> None:
    """Attached at 300 s at outdoor temperature; silent before."""
    trace = Trace(seconds=900.0)
    values = trace.values[Role.LIQUID_TEMPERATURE]
    after = trace.t - 300.0
    values[:] = np.where(after < 0.0, values - 8.0, values - 8.0 * np.exp(-after.clip(0.0) / 30.0))
    found = trace.run()
    t, item = first(found, ProbeTrouble.LAGGING)
    assert 305.0 <= t <= 340.0
    assert item.figures["change_k"] > 1.5
    assert found[-1][1] == ()
    assert found[-1][0] < 480.0


@pytest.mark.parametrize(
    ("role", "change"),
    [
        (Role.LIQUID_PRESSURE, -150e3),
        (Role.COMPRESSOR_CURRENT, -1.5),
        (Role.COMPRESSOR_FREQUENCY, -6.0),
        (Role.OUTDOOR_AIR_TEMPERATURE, -3.0),
        (Role.CYLINDER_MASS, -0.1),
    ],
)
def test_a_pipe_that_moves_with_the_unit_is_not_called_loose(role: Role, change: float) -> None:
    trace = Trace(seconds=1200.0)
    share = 1.0 - np.exp(-np.clip(trace.t - 600.0, 0.0, None) / 70.0)
    trace.values[Role.LIQUID_TEMPERATURE] -= 4.0 * share
    trace.values[role] += change * share
    if role is Role.CYLINDER_MASS:  # what goes in raises the condensing temperature by 0.8 K
        trace.values[Role.LIQUID_PRESSURE] += 45e3 * share
    assert ProbeTrouble.LOOSE not in {kind for _, kind in kinds(trace.run())}


def test_a_step_that_was_told_of_explains_a_pipe_that_cools_alone() -> None:
    for told in (True, False):
        trace = Trace(seconds=900.0, roles=[r for r in USUAL if r is not Role.CYLINDER_MASS])
        share = 1.0 - np.exp(-np.clip(trace.t - 600.0, 0.0, None) / 40.0)
        trace.values[Role.LIQUID_TEMPERATURE] -= 2.6 * share
        found = trace.run(told_t=600.0 if told else math.inf)
        assert (("liquid_temperature", ProbeTrouble.LOOSE) in kinds(found)) is not told


def test_a_probe_that_never_read_inside_its_range_is_out_of_range_and_stops_nothing() -> None:
    """With a declared resolution its neighbours are asked for what it should have shown."""
    health = ProbeHealth()
    health.declare(Channel(name="p", role=Role.LIQUID_PRESSURE, unit="psig", resolution_si=1000.0))
    health.declare(Channel(name="f", role=Role.COMPRESSOR_FREQUENCY, unit="Hz"))
    found: tuple[ProbeFinding, ...] = ()
    for second in range(120):
        t = float(second)
        health.take(Reading(t=t, channel="p", value=2e7, quality=Quality.RANGE))
        health.take(Reading(t=t, channel="f", value=40.0 + 0.5 * second))
        found = health.tick(t)
    assert [(each.channel, each.kind) for each in found] == [("p", ProbeTrouble.OUT_OF_RANGE)]


def test_a_fast_probe_is_not_out_of_range_for_a_tenth_of_a_second() -> None:
    """Three samples in a row are three seconds at any rate, not three samples at 20 Hz."""
    health = ProbeHealth()
    health.declare(Channel(name="p", role=Role.LIQUID_PRESSURE, unit="psig"))
    for sample in range(101):
        t = 0.05 * sample
        out = t > 4.8
        health.take(
            Reading(
                t=t,
                channel="p",
                value=2e7 if out else 2.3e6,
                quality=Quality.RANGE if out else Quality.GOOD,
            )
        )
    assert health.tick(5.0) == ()
