"""Clamps that let go on the simulated unit, and sound probes on it."""

from pathlib import Path

import numpy as np
import pytest

from chargeassist.model.channels import Quality, Role
from chargeassist.model.events import InputEvent, Mark, MarkKind, Reading
from chargeassist.model.job import SourceSpec
from chargeassist.stream.probe_findings import ProbeFinding, ProbeTrouble
from chargeassist.stream.probe_health import ProbeHealth
from chargeassist_adapters.simulator import SimulatorSource
from tests.unit.stream.traces import Trace, first, kinds


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
    ("role", "share"),
    [
        (Role.LIQUID_TEMPERATURE, 0.3),
        (Role.SUCTION_TEMPERATURE, 0.2),
        (Role.DISCHARGE_TEMPERATURE, 0.6),
    ],
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


@pytest.mark.parametrize(("follows", "doubted"), [(0.05, True), (0.2, False)])
def test_refrigerant_that_cools_the_liquid_line_takes_the_pressure_along(
    follows: float, doubted: bool
) -> None:
    """A line comes nearer to the air by 6 of 12 K; the condensing temperature by a share of it."""
    trace = Trace(seconds=1500.0)
    trace.values[Role.LIQUID_TEMPERATURE] += 4.0
    came = 6.0 * -np.expm1(-np.maximum(trace.t - 800.0, 0.0) / 60.0)
    trace.values[Role.LIQUID_TEMPERATURE] -= came
    trace.values[Role.LIQUID_PRESSURE] += follows * came * 55e3  # R-410A about 40 °C (CoolProp)
    found = trace.run(told_t=790.0, superheat_k=8.0)
    assert (("liquid_temperature", ProbeTrouble.LOOSE) in kinds(found)) is doubted


def test_a_valve_that_is_freed_cools_the_liquid_line_and_no_clamp_is_doubted() -> None:
    """It had let liquid through: the line's seal comes back, and the suction pressure falls."""
    trace = Trace(seconds=1500.0)
    trace.values[Role.LIQUID_TEMPERATURE] += 4.0
    freed = -np.expm1(-np.maximum(trace.t - 800.0, 0.0) / 30.0)
    trace.values[Role.LIQUID_TEMPERATURE] -= 6.0 * freed
    trace.values[Role.SUCTION_PRESSURE] -= 80e3 * freed
    found = trace.run(told_t=790.0, superheat_k=8.0)
    assert not [item for item in kinds(found) if item[1] is ProbeTrouble.LOOSE]


def _put_on_late(trace: Trace, at_s: float) -> None:
    gap = trace.values[Role.OUTDOOR_AIR_TEMPERATURE] - trace.values[Role.SUCTION_TEMPERATURE]
    left = np.where(trace.t < at_s, 1.0, np.exp(-np.maximum(trace.t - at_s, 0.0) / 75.0))
    trace.values[Role.SUCTION_TEMPERATURE] += gap * left


def test_a_suction_clamp_put_on_while_refrigerant_goes_in_still_creeps() -> None:
    trace = Trace(seconds=1200.0)
    _put_on_late(trace, 420.0)
    found = trace.run(told_t=400.0, superheat_k=8.0)
    t, item = first(found, ProbeTrouble.LAGGING)
    assert item.channel == "suction_temperature"
    assert 420.0 < t <= 520.0
    assert not found[-1][1]


def test_a_suction_line_cooled_by_a_step_from_the_airs_temperature_is_no_creeping_clamp() -> None:
    """A starved line as warm as the air: refrigerant comes by at once, and goes by as quickly."""
    trace = Trace(seconds=1200.0)
    trace.values[Role.SUCTION_TEMPERATURE] += 9.0
    step = np.where((trace.t >= 420.0) & (trace.t < 480.0), 1.0, 0.0)
    trace.values[Role.SUCTION_TEMPERATURE] -= 6.0 * np.minimum((trace.t - 420.0) / 60.0, 1.0) * step
    found = trace.run(told_t=420.0, superheat_k=18.0)
    assert not [item for item in kinds(found) if item[1] is ProbeTrouble.LAGGING]
