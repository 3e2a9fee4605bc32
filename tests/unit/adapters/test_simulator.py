"""The simulator as a Source: addresses, time and marks, on the demonstration's unit."""

import asyncio
import statistics
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.model.units import Quantity, Reference, find_unit
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs
from chargeassist.physics.cycle import subcooling_k
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.uncertainty import MeasurementLimits, subcooling_budget
from chargeassist.session.source import Source
from chargeassist_adapters.simulator import SimulatorSource
from tests.unit.adapters.simulated import ScriptedClock, StrictSink

STATION_PA_ABS = pressure_at_altitude_pa_abs(210.0)
Sample = tuple[float, str, float, Quality]


class Collector(StrictSink):
    """A sink that keeps what it gets."""

    def __init__(self) -> None:
        self.samples: list[Sample] = []

    def reading(
        self,
        channel: str,
        value: float,
        *,
        t: float | None = None,
        quality: Quality = Quality.GOOD,
        device_time: float | None = None,
    ) -> None:
        assert t is not None, "a source that brings its time gives it"
        assert device_time is None
        self.samples.append((t, channel, value, quality))

    def series(self, role: Role) -> dict[float, float]:
        return {t: value for t, channel, value, _ in self.samples if channel == role.value}


def source_of(
    query: str = "",
    options: Mapping[str, str] | None = None,
    probes: Iterable[Channel] = (),
) -> SimulatorSource:
    spec = SourceSpec(
        name="unit",
        url=f"simulator:{'?' if query else ''}{query}",
        options=options or {},
        probes=tuple(ProbeSpec(channel=channel) for channel in probes),
    )
    return SimulatorSource.from_spec(spec, Path())


async def run(query: str, marks: Iterable[Mark] = ()) -> Collector:
    source = source_of(query)
    sink = Collector()
    await source.run(sink, ScriptedClock(source, marks))
    return sink


def begun(t: float, mass_kg: float | None = None) -> Mark:
    return Mark(t=t, kind=MarkKind.STEP_BEGUN, mass_kg=mass_kg)


def ended(t: float, mass_kg: float | None = None) -> Mark:
    return Mark(t=t, kind=MarkKind.STEP_ENDED, mass_kg=mass_kg)


def read_subcooling(sink: Collector, begin: float, end: float) -> list[float]:
    """Subcooling recomputed from the readings through the shipped table [K]."""
    pressures, temps = sink.series(Role.LIQUID_PRESSURE), sink.series(Role.LIQUID_TEMPERATURE)
    values = []
    for t in pressures:
        if begin <= t <= end:
            value = subcooling_k(refrigerant("R-32"), pressures[t] + STATION_PA_ABS, temps[t])
            assert not isinstance(value, NoValue)
            values.append(value)
    return values


def demo_channels() -> tuple[Channel, ...]:
    return source_of().channels


async def test_it_keeps_the_contract_of_a_source() -> None:
    source = source_of("length=60s&rate=2Hz")
    assert isinstance(source, Source)
    assert source.name == "unit"
    assert source.brings_time
    assert source.simulated
    sink = Collector()
    await source.run(sink, ScriptedClock(source))
    names = [channel.name for channel in source.channels]
    assert [t for t, *_ in sink.samples] == [k * 0.5 for k in range(121) for _ in names]
    assert [channel for _, channel, *_ in sink.samples] == names * 121
    assert {quality for *_, quality in sink.samples} == {Quality.GOOD}


def test_default_probes_are_declared_wholly() -> None:
    channels = source_of().channels
    assert {c.role for c in channels} == {
        Role.LIQUID_PRESSURE,
        Role.LIQUID_TEMPERATURE,
        Role.SUCTION_PRESSURE,
        Role.SUCTION_TEMPERATURE,
        Role.DISCHARGE_TEMPERATURE,
        Role.OUTDOOR_AIR_TEMPERATURE,
        Role.RETURN_AIR_TEMPERATURE,
        Role.SUPPLY_AIR_TEMPERATURE,
        Role.COMPRESSOR_CURRENT,
        Role.COMPRESSOR_FREQUENCY,
        Role.CYLINDER_MASS,
    }
    for channel in channels:
        find_unit(channel.unit, channel.quantity)
        assert channel.accuracy is not None
        assert channel.source == "unit"
        assert (channel.reference is Reference.GAUGE) == (channel.quantity is Quantity.PRESSURE)


def test_default_probes_can_judge_the_demo_target() -> None:
    by_role = {c.role: c for c in demo_channels()}
    pressure = by_role[Role.LIQUID_PRESSURE].accuracy
    temp = by_role[Role.LIQUID_TEMPERATURE].accuracy
    assert pressure is not None
    assert temp is not None
    pressure_pa_gauge = 2.25e6
    budget = subcooling_budget(
        refrigerant("R-32"),
        pressure_pa_gauge + STATION_PA_ABS,
        MeasurementLimits(
            pressure_half_width_pa=pressure.half_width(pressure_pa_gauge),
            temp_half_width_k=temp.half_width(305.0),
        ),
    )
    assert not isinstance(budget, NoValue)
    assert budget.expanded_u_k < 0.8


async def test_same_seed_and_marks_give_the_same_readings_bit_for_bit() -> None:
    marks = [begun(40.3), ended(95.7, 0.06), begun(120.0, 0.05), ended(200.1, -0.02)]
    query = "length=300s"
    first = await run(f"seed=7&{query}", marks)
    assert (await run(f"seed=7&{query}", marks)).samples == first.samples
    assert (await run(f"seed=8&{query}", marks)).samples != first.samples


async def test_leaving_probes_out_does_not_change_the_others() -> None:
    whole = await run("length=100s")
    kept = [c for c in demo_channels() if c.role.value.startswith("liquid")]
    source = source_of("length=100s", probes=kept)
    part = Collector()
    await source.run(part, ScriptedClock(source))
    assert part.series(Role.LIQUID_TEMPERATURE) == whole.series(Role.LIQUID_TEMPERATURE)
    assert {channel for _, channel, *_ in part.samples} == {
        "liquid_pressure",
        "liquid_temperature",
    }


async def test_scale_shows_what_flows_between_the_marks_at_their_own_times() -> None:
    sink = await run("length=300s", [begun(100.4), ended(150.7)])
    scale = sink.series(Role.CYLINDER_MASS)
    assert scale[100.0] - scale[300.0] == pytest.approx(50.3 * 0.0011, abs=0.003)
    assert scale[0.0] - scale[100.0] == pytest.approx(0.0, abs=0.003)
    assert scale[160.0] - scale[300.0] == pytest.approx(0.0, abs=0.003)


async def test_mark_between_two_slow_samples_takes_effect_at_its_own_time() -> None:
    # 28 s between the marks, 20 s between the samples that follow them.
    sink = await run("rate=0.1Hz&length=300s", [begun(101.0), ended(129.0)])
    scale = sink.series(Role.CYLINDER_MASS)
    assert scale[0.0] - scale[300.0] == pytest.approx(28.0 * 0.0011, abs=0.003)


async def test_step_with_a_mass_stops_by_itself() -> None:
    sink = await run("length=400s", [begun(50.0, 0.08), ended(390.0)])
    scale = sink.series(Role.CYLINDER_MASS)
    assert scale[0.0] - scale[140.0] == pytest.approx(0.08, abs=0.003)
    assert scale[140.0] - scale[400.0] == pytest.approx(0.0, abs=0.003)


async def test_negative_mass_recovers() -> None:
    filled = [begun(100.0, 0.4), ended(500.0)]
    sink = await run("length=1500s", [*filled, ended(900.0, -0.15)])
    scale = sink.series(Role.CYLINDER_MASS)
    assert scale[1500.0] - scale[899.0] == pytest.approx(0.15, abs=0.003)
    before = statistics.fmean(read_subcooling(sink, 800.0, 899.0))
    after = statistics.fmean(read_subcooling(sink, 1400.0, 1500.0))
    assert before - after > 1.5


async def test_late_mark_takes_effect_now_and_other_marks_do_nothing() -> None:
    source = source_of("length=200s")
    source.technician(Mark(t=0.0, kind=MarkKind.NOTE, text="gauges on"))
    source.technician(begun(150.0, 0.02))
    source.technician(begun(0.0, 0.02))
    sink = Collector()
    await source.run(sink, ScriptedClock(source))
    scale = sink.series(Role.CYLINDER_MASS)
    assert scale[0.0] - scale[100.0] == pytest.approx(0.02, abs=0.003)
    assert scale[0.0] - scale[200.0] == pytest.approx(0.04, abs=0.003)


async def test_value_outside_the_probes_range_says_so() -> None:
    base = next(c for c in demo_channels() if c.role is Role.LIQUID_PRESSURE)
    source = source_of("length=5s", probes=[replace(base, high_si=1.0e6)])
    sink = Collector()
    await source.run(sink, ScriptedClock(source))
    assert {quality for *_, quality in sink.samples} == {Quality.RANGE}


async def test_options_of_the_job_file_and_of_the_address_are_the_same_options() -> None:
    samples = []
    for source in (source_of("rate=5Hz&seed=3&length=10s"),
                   source_of("seed=3", {"length": "10 s", "rate": "5 Hz"})):  # fmt: skip
        sink = Collector()
        await source.run(sink, ScriptedClock(source))
        samples.append(sink.samples)
    assert samples[0] == samples[1]
    assert {t for t, *_ in samples[0]} == {k * 0.2 for k in range(51)}


async def test_without_a_place_it_is_the_demonstrations_unit() -> None:
    bare = await run("length=20s&seed=7")
    spec = SourceSpec(name="unit", url="simulator:millrace-lane-library?length=20s")
    named = SimulatorSource.from_spec(spec, Path())
    sink = Collector()
    await named.run(sink, ScriptedClock(named))
    assert sink.samples == bare.samples


def test_slow_rate_is_not_called_stale() -> None:
    assert source_of("rate=0.1Hz").channels[0].max_age_s == pytest.approx(30.0)


@pytest.mark.parametrize(
    ("query", "options", "said"),
    [
        ("sed=1", {}, r"unknown option 'sed'; known ones: seed \(.*rate \(.*length \("),
        ("charge=1.9kg", {}, r"unknown option 'charge'"),
        ("seed=-1", {}, r"seed: expected a whole number from 0, came '-1'"),
        ("seed=1&seed=2", {}, r"option 'seed' is given twice"),
        ("seed=1", {"seed": "2"}, r"option 'seed' is given twice"),
        ("rate=50Hz", {}, r"rate: expected 0.1 to 20 Hz, came '50Hz'"),
        ("rate=5", {}, r"rate: '5' has no unit"),
        ("length=2000h", {}, r"length: expected 1 s to 24 h"),
        ("seed", {}, r"expected option=value"),
    ],
)
def test_what_cannot_be_used_is_refused_with_what_was_expected(
    query: str, options: Mapping[str, str], said: str
) -> None:
    with pytest.raises(ConfigError, match=said):
        source_of(query, options)


def test_a_place_that_is_no_scenario_is_refused() -> None:
    with pytest.raises(ConfigError, match="simulator: 'here' is no shipped scenario"):
        SimulatorSource.from_spec(SourceSpec(name="u", url="simulator:here?seed=1"), Path())


def test_pressure_probe_that_says_neither_gauge_nor_absolute_is_refused() -> None:
    base = next(c for c in demo_channels() if c.role is Role.LIQUID_PRESSURE)
    with pytest.raises(ConfigError, match="gauge or absolute"):
        source_of(probes=[replace(base, unit="psi", reference=None)])


async def test_cancelling_ends_it_at_once_and_leaves_nothing() -> None:
    reached = asyncio.Event()

    class Stopped(ScriptedClock):
        async def sleep_until(self, t: float) -> None:
            if t > 5.0:
                reached.set()
                await asyncio.Event().wait()
            await super().sleep_until(t)

    source = source_of()
    sink = Collector()
    task = asyncio.create_task(source.run(sink, Stopped(source)))
    await reached.wait()
    assert sink.samples[-1][0] == 5.0
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await asyncio.wait_for(task, 1.0)
    assert asyncio.all_tasks() == {asyncio.current_task()}
