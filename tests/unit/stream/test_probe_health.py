"""Probe health: silent on healthy probes, quick on spoilt ones; invented readings throughout."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.events import InputEvent, Mark, MarkKind, Reading
from chargeassist.model.job import SourceSpec
from chargeassist.model.units import Reference
from chargeassist.stream.facts import Measured
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble, Severity, worst
from chargeassist.stream.probe_health import ProbeHealth
from chargeassist.stream.probe_watch import ProbeWatch, jump_limits
from chargeassist_adapters.simulator import SimulatorSource

PSI = 6894.757293168361
TENTH_F = 1.0 / 18.0
FloatArray = NDArray[np.float64]

# Role: mean, white noise, slow drift (standard deviation, correlation 15 s), resolution [SI].
USUAL: Mapping[Role, tuple[float, float, float, float]] = {
    Role.LIQUID_PRESSURE: (2.3e6, 1700.0, 600.0, 0.1 * PSI),
    Role.SUCTION_PRESSURE: (0.9e6, 800.0, 300.0, 0.1 * PSI),
    Role.LIQUID_TEMPERATURE: (305.0, 0.028, 0.015, TENTH_F),
    Role.SUCTION_TEMPERATURE: (288.0, 0.028, 0.015, TENTH_F),
    Role.DISCHARGE_TEMPERATURE: (345.0, 0.05, 0.03, TENTH_F),
    Role.OUTDOOR_AIR_TEMPERATURE: (297.0, 0.03, 0.02, TENTH_F),
    Role.RETURN_AIR_TEMPERATURE: (297.0, 0.03, 0.02, TENTH_F),
    Role.SUPPLY_AIR_TEMPERATURE: (286.0, 0.03, 0.02, TENTH_F),
    Role.COMPRESSOR_CURRENT: (9.0, 0.04, 0.02, 0.01),
    Role.COMPRESSOR_FREQUENCY: (72.0, 0.03, 0.0, 0.1),
    Role.CYLINDER_MASS: (9.2, 0.0004, 0.0, 0.001),
    Role.BAROMETER: (98_800.0, 10.0, 0.0, 10.0),
}


def drift(random: np.random.Generator, n: int, dt_s: float, sd: float, tau_s: float) -> FloatArray:
    """A first-order coloured noise of standard deviation `sd`, shape (n,)."""
    keep = float(np.exp(-dt_s / tau_s))
    kicks = random.normal(0.0, sd * np.sqrt(1.0 - keep * keep), n)
    values = np.empty(n)
    level = random.normal(0.0, sd)
    for k in range(n):
        level = keep * level + kicks[k]
        values[k] = level
    return values


@dataclass
class Trace:
    """Readings of all channels at one rate, to be spoilt by a test and then run."""

    seconds: float
    rate_hz: float = 1.0
    seed: int = 1
    pressure_step_pa: float = 0.1 * PSI
    noise_share: float = 1.0
    roles: Iterable[Role] = tuple(USUAL)
    t: FloatArray = field(init=False)
    values: dict[Role, FloatArray] = field(init=False)

    def __post_init__(self) -> None:
        random = np.random.default_rng(self.seed)
        n = int(self.seconds * self.rate_hz)
        self.t = np.arange(n) / self.rate_hz
        gust = drift(random, n, 1.0 / self.rate_hz, 0.2, 40.0)
        self.values = {}
        for role in self.roles:
            mean, noise, slow, _ = USUAL[role]
            value = mean + self.noise_share * random.normal(0.0, noise, n)
            value += drift(random, n, 1.0 / self.rate_hz, slow, 15.0)
            if role in {Role.LIQUID_TEMPERATURE, Role.OUTDOOR_AIR_TEMPERATURE}:
                value += gust
            if role is Role.LIQUID_PRESSURE:
                value += 60e3 * gust
            self.values[role] = value

    def channel(self, role: Role) -> Channel:
        step = USUAL[role][3]
        if role in {Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE}:
            step = self.pressure_step_pa
        return Channel(
            name=role.value,
            role=role,
            unit="SI",
            reference=Reference.GAUGE,
            resolution_si=step,
            max_age_s=max(10.0, 3.0 / self.rate_hz),
        )

    def run(
        self, told_t: float = math.inf, superheat_k: float | None = None
    ) -> list[tuple[float, tuple[ProbeFinding, ...]]]:
        """Feed everything and tick every second; return (t, findings) whenever they change.

        At `told_t` the health is told of a charge step; of the superheat from the beginning.
        """
        health = ProbeHealth()
        superheat = None if superheat_k is None else Measured(value_k=superheat_k)
        rows: list[tuple[ProbeWatch, list[float]]] = []
        for role, values in self.values.items():
            channel = self.channel(role)
            watch = health.declare(channel)
            step = channel.resolution_si or 0.0
            shown = np.round(values / step) * step
            rows.append((watch, shown.tolist()))
        seen: list[tuple[float, tuple[ProbeFinding, ...]]] = []
        tick = 1.0
        last: tuple[ProbeFinding, ...] = ()
        for k, t in enumerate(self.t.tolist()):
            while tick <= t:
                if tick == told_t:
                    health.disturbed(tick)
                found = health.tick(tick, superheat)
                if [(f.channel, f.kind) for f in found] != [(f.channel, f.kind) for f in last]:
                    seen.append((tick, found))
                last = found
                tick += 1.0
            for watch, shown_values in rows:
                value = shown_values[k]
                if value == value:  # NaN marks a sample that never came
                    watch.take(t, value)
        return seen

    def at(self, t: float) -> int:
        """Index of the first sample at or after `t` [s]."""
        return int(np.searchsorted(self.t, t))


def kinds(found: list[tuple[float, tuple[ProbeFinding, ...]]]) -> set[tuple[str, ProbeTrouble]]:
    return {(item.channel, item.kind) for _, findings in found for item in findings}


def first(
    found: list[tuple[float, tuple[ProbeFinding, ...]]], kind: ProbeTrouble
) -> tuple[float, ProbeFinding]:
    for t, findings in found:
        for item in findings:
            if item.kind is kind:
                return t, item
    raise AssertionError(f"no {kind} in {kinds(found)}")


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
    assert ProbeTrouble.LOOSE not in {kind for _, kind in kinds(trace.run())}


def test_a_step_that_was_told_of_explains_a_pipe_that_cools_alone() -> None:
    for told in (True, False):
        trace = Trace(seconds=900.0, roles=[r for r in USUAL if r is not Role.CYLINDER_MASS])
        share = 1.0 - np.exp(-np.clip(trace.t - 600.0, 0.0, None) / 40.0)
        trace.values[Role.LIQUID_TEMPERATURE] -= 2.6 * share
        found = trace.run(told_t=600.0 if told else math.inf)
        assert (("liquid_temperature", ProbeTrouble.LOOSE) in kinds(found)) is not told


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


def test_a_current_that_varies_by_less_than_three_percent_keeps_still() -> None:
    """At 9 A, 0.24 A of weather do not hide a clamp that lets go; 0.6 A would."""
    for swing_a, hidden in ((0.2, False), (0.6, True)):
        trace = Trace(seconds=1200.0)
        after = np.clip(trace.t - 600.0, 0.0, None)
        trace.values[Role.LIQUID_TEMPERATURE] -= 5.2 * (1.0 - np.exp(-after / 70.0))
        trace.values[Role.COMPRESSOR_CURRENT] += swing_a * np.sin(trace.t / 25.0) / 2.0
        assert (ProbeTrouble.LOOSE not in {kind for _, kind in kinds(trace.run())}) is hidden


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


class Ears:
    """A sink that keeps the readings."""

    def __init__(self) -> None:
        self.heard: list[Reading] = []

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        assert t is not None
        self.heard.append(Reading(t=t, channel=channel, value=value, quality=quality))

    def bad_input(self, reason: str, raw: str | bytes = b"", *, count: int = 1) -> None:
        raise AssertionError(reason)

    def dropped(self, count: int) -> None:
        raise AssertionError(count)

    def lost(self, reason: str, *, part: str = "") -> None:
        raise AssertionError(reason)

    def back(self, *, part: str = "") -> None:
        raise AssertionError("never lost")

    def event(self, event: InputEvent) -> None:
        raise AssertionError(event)


class NoClock:
    """A clock that is always there."""

    def now(self) -> float:
        return 0.0

    async def sleep_until(self, t: float) -> None:
        return

    async def sleep(self, seconds: float) -> None:
        return


UNIT = """
title = "A unit whose probes are watched"
about = "Invented; the demonstration's."
expect = "wait"
job = "library"
[plant]
charge = "1.90 kg"
[probes]
grade = "good"
"""


async def simulated(
    options: str, folder: Path, faults: str = "", marks: tuple[Mark, ...] = ()
) -> tuple[list[tuple[float, tuple[ProbeFinding, ...]]], ProbeHealth]:
    (folder / "unit.toml").write_text(UNIT + faults, encoding="utf-8")
    spec = SourceSpec(name="unit", url=f"simulator:unit.toml?{options}")
    source = SimulatorSource.from_spec(spec, folder)
    for mark in marks:
        source.technician(mark)
    ears = Ears()
    await source.run(ears, NoClock())
    health = ProbeHealth()
    for channel in source.channels:
        health.declare(channel)
    found: list[tuple[float, tuple[ProbeFinding, ...]]] = []
    tick = 1.0
    for reading in ears.heard:
        while tick <= reading.t:
            found.append((tick, health.tick(tick)))
            tick += 1.0
        health.take(reading)
    return found, health


@pytest.mark.parametrize("seed", [1, 2, 3])
async def test_the_simulators_loose_clamp_is_found(seed: int, tmp_path: Path) -> None:
    """Let go at 900 s, time constant 70 s: found within a minute and a half, and nothing else."""
    loose = (
        '[[probes.fault]]\nrole = "liquid_temperature"\nkind = "loose"\namount = "35 %"\n'
        'at = "900 s"\n'
    )
    found, _ = await simulated(f"seed={seed}&length=25min", tmp_path, loose)
    t, item = first(found, ProbeTrouble.LOOSE)
    assert item.channel == "liquid_temperature"
    assert 915.0 < t < 990.0
    assert kinds([entry for entry in found if entry[0] > 400.0]) == {
        ("liquid_temperature", ProbeTrouble.LOOSE)
    }
    late = found[-1][1][0]
    assert late.since_t == pytest.approx(900.0, abs=130.0)
    assert 35.0 < late.figures["tau_s"] < 140.0
    assert late.figures["change_k"] < -2.0


@pytest.mark.parametrize("rate", ["0.2Hz", "1Hz", "10Hz"])
async def test_a_simulated_charge_with_steps_and_no_fault_raises_nothing(
    rate: str, tmp_path: Path
) -> None:
    """Start-up, four steps of 80 g and an hour of gusts; nobody tells of the steps."""
    marks = tuple(
        mark
        for k in range(4)
        for mark in (
            Mark(t=600.0 + 500.0 * k, kind=MarkKind.STEP_BEGUN, mass_kg=0.08),
            Mark(t=690.0 + 500.0 * k, kind=MarkKind.STEP_ENDED),
        )
    )
    length = "20min" if rate == "10Hz" else "60min"
    found, _ = await simulated(f"seed=5&rate={rate}&length={length}", tmp_path, "", marks)
    assert not kinds(found)


async def test_a_simulated_frequency_drop_and_silence_are_not_the_probes_fault(
    tmp_path: Path,
) -> None:
    troubles = (
        '[[fault]]\nkind = "frequency drop"\namount = "45 Hz"\nat = "15 min"\nuntil = "16 min"\n'
        '[[fault]]\nkind = "radio gap"\nat = "1300 s"\nuntil = "1345 s"\n'
    )
    found, _ = await simulated("seed=6&length=30min", tmp_path, troubles)
    assert not kinds(found)


def _letting_go(trace: Trace, role: Role, begin_s: float, share: float) -> None:
    """Let a clamp go: a share of the pipe is left, and it takes 70 s."""
    after = np.maximum(trace.t - begin_s, 0.0)
    gap = trace.values[Role.OUTDOOR_AIR_TEMPERATURE] - trace.values[role]
    trace.values[role] = trace.values[role] + (1.0 - share) * gap * -np.expm1(-after / 70.0)


@pytest.mark.parametrize(
    ("role", "share"), [(Role.SUCTION_TEMPERATURE, 0.2), (Role.DISCHARGE_TEMPERATURE, 0.6)]
)
def test_a_clamp_that_lets_go_while_refrigerant_goes_in_is_seen(role: Role, share: float) -> None:
    """A step was told of a moment before: pipes may move, but not so far and not alone."""
    trace = Trace(seconds=1500.0)
    _letting_go(trace, role, 800.0, share)
    t, item = first(trace.run(told_t=790.0, superheat_k=8.0), ProbeTrouble.LOOSE)
    assert item.channel == role.value
    assert 800.0 < t <= 1010.0


def test_a_superheat_that_rises_takes_the_discharge_line_with_it() -> None:
    """A starved evaporator warms both lines alike; no clamp is doubted."""
    trace = Trace(seconds=1500.0)
    after = np.maximum(trace.t - 800.0, 0.0)
    warmer = 8.0 * -np.expm1(-after / 60.0)
    trace.values[Role.SUCTION_TEMPERATURE] += warmer
    trace.values[Role.DISCHARGE_TEMPERATURE] += 1.1 * warmer
    found = trace.run(told_t=790.0, superheat_k=8.0)
    assert not [item for item in kinds(found) if item[1] is ProbeTrouble.LOOSE]


@pytest.mark.parametrize("superheat_k", [0.5, None])
def test_a_discharge_line_cooled_by_liquid_is_no_loose_clamp(superheat_k: float | None) -> None:
    trace = Trace(seconds=1500.0)
    _letting_go(trace, Role.DISCHARGE_TEMPERATURE, 800.0, 0.6)
    found = trace.run(told_t=790.0, superheat_k=superheat_k)
    begun = [t for t, items in found if any(i.kind is ProbeTrouble.LOOSE for i in items)]
    assert not [t for t in begun if t < 1030.0]


def test_a_hunting_valve_swings_no_clamp_loose() -> None:
    trace = Trace(seconds=1800.0)
    swing = np.sin(2.0 * np.pi * trace.t / 45.0)
    trace.values[Role.SUCTION_TEMPERATURE] += 5.0 * swing
    trace.values[Role.SUCTION_PRESSURE] -= 40e3 * swing
    found = trace.run(told_t=790.0, superheat_k=8.0)
    assert not [item for item in kinds(found) if item[1] is ProbeTrouble.LOOSE]
