"""``simulator:SCENARIO``: the technician's marks act on the plant while it runs."""

from collections.abc import Iterable, Mapping
from pathlib import Path

import pytest

from chargeassist.model.channels import VOLTAGE_ROLES, Channel, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, MarkKind, SessionStopped, StepRecorded
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.model.units import Reference
from chargeassist.plant.errors import PlantLimitError
from chargeassist.session.opening import open_new
from chargeassist.session.record.package import open_record
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.source import KnowsTruth, Source
from chargeassist_adapters.simulator import SimulatorSource
from tests.unit.adapters.simulated import ScriptedClock, SeriesSink

SHORT = """
title = "Short"
about = "A test."
expect = "stop"
lasts = "{lasts}"
job = "library"
[plant]
charge = "{charge}"
[weather]
gusts = "0 K"
"""


class Collector(SeriesSink):
    """Keeps the reasons for a loss as well."""

    def __init__(self) -> None:
        super().__init__()
        self.reasons: list[str] = []

    def lost(self, reason: str, *, part: str = "") -> None:
        self.reasons.append(reason)


def write(folder: Path, extra: str = "", *, charge: str = "1.9 kg", lasts: str = "10 min") -> None:
    text = SHORT.format(charge=charge, lasts=lasts) + extra
    (folder / "unit.toml").write_text(text, encoding="utf-8")


def source_of(folder: Path, query: str = "", probes: Iterable[Channel] = ()) -> SimulatorSource:
    spec = SourceSpec(
        name="unit",
        url=f"simulator:unit.toml{query}",
        probes=tuple(ProbeSpec(channel=channel) for channel in probes),
    )
    return SimulatorSource.from_spec(spec, folder)


async def run(folder: Path, *marks: Mark, query: str = "") -> dict[str, dict[float, float]]:
    source = source_of(folder, query)
    sink = Collector()
    await source.run(sink, ScriptedClock(source, marks))
    assert not sink.reasons
    return sink.series


async def test_it_keeps_the_contract_of_a_source(tmp_path: Path) -> None:
    write(tmp_path, lasts="1 min")
    source = source_of(tmp_path)
    assert isinstance(source, Source)
    assert source.brings_time
    assert source.simulated
    assert {channel.role for channel in source.channels} == set(Role) - {
        Role.BAROMETER, Role.VACUUM, Role.RETURN_AIR_WET_BULB, Role.RETURN_AIR_HUMIDITY,
        *VOLTAGE_ROLES,
    }  # fmt: skip
    assert {channel.source for channel in source.channels} == {"unit"}
    series = await run(tmp_path)
    assert list(series) == [channel.name for channel in source.channels]
    assert all(list(values) == [float(t) for t in range(61)] for values in series.values())


async def test_same_seed_same_readings_and_another_seed_others(tmp_path: Path) -> None:
    write(tmp_path, lasts="2 min")
    assert await run(tmp_path) == await run(tmp_path)
    assert await run(tmp_path) == await run(tmp_path, query="?seed=1")
    assert await run(tmp_path) != await run(tmp_path, query="?seed=2")


async def test_a_step_of_the_technician_raises_head_pressure_and_empties_the_cylinder(
    tmp_path: Path,
) -> None:
    write(tmp_path)
    begun = Mark(t=200.0, kind=MarkKind.STEP_BEGUN)
    ended = Mark(t=300.0, kind=MarkKind.STEP_ENDED)
    idle, charged = await run(tmp_path), await run(tmp_path, begun, ended)
    mass, pressure = charged["cylinder_mass"], charged["liquid_pressure"]
    assert mass[199.0] - mass[320.0] == pytest.approx(0.11, abs=0.01)  # 1.1 g/s for 100 s
    assert mass[600.0] == pytest.approx(mass[320.0], abs=0.003)
    assert pressure[600.0] - idle["liquid_pressure"][600.0] > 10e3
    colder = idle["liquid_temperature"][600.0] - charged["liquid_temperature"][600.0]
    assert colder > 0.5  # more of the condenser subcools


async def test_recovering_lowers_head_pressure(tmp_path: Path) -> None:
    write(tmp_path, charge="2.5 kg")
    recovered = Mark(t=200.0, kind=MarkKind.STEP_ENDED, mass_kg=-0.2)
    idle, less = await run(tmp_path), await run(tmp_path, recovered)
    assert idle["liquid_pressure"][600.0] - less["liquid_pressure"][600.0] > 20e3


async def test_the_technician_takes_the_unit_in_and_out_of_charge_mode(tmp_path: Path) -> None:
    write(tmp_path)
    hertz = (
        await run(
            tmp_path,
            Mark(t=200.0, kind=MarkKind.FREQUENCY_LEFT),
            Mark(t=400.0, kind=MarkKind.FREQUENCY_HELD),
        )
    )["compressor_frequency"]
    assert hertz[10.0] == pytest.approx(30.0, abs=0.2)
    assert hertz[190.0] == pytest.approx(72.0, abs=0.2)
    assert hertz[390.0] == pytest.approx(40.0, abs=0.2)
    assert hertz[590.0] == pytest.approx(72.0, abs=0.2)


async def test_a_switch_that_opened_is_reset_with_the_charge_mode(tmp_path: Path) -> None:
    stuck = '[[fault]]\nkind = "stuck valve"\namount = "2 %"\nat = "2 min"\nuntil = "5 min"\n'
    write(tmp_path, stuck)
    again = Mark(t=400.0, kind=MarkKind.FREQUENCY_HELD)
    stopped, started = await run(tmp_path), await run(tmp_path, again)
    assert stopped["compressor_frequency"][590.0] == pytest.approx(0.0, abs=0.2)
    assert started["compressor_frequency"][590.0] == pytest.approx(72.0, abs=0.2)


async def test_only_the_probe_that_was_seen_to_is_put_right(tmp_path: Path) -> None:
    lies = "".join(
        f'[[probes.fault]]\nrole = "{role}"\nkind = "zero"\namount = "5 K"\n'
        for role in ("liquid_temperature", "suction_temperature")
    )
    write(tmp_path, lies, lasts="5 min")
    lying = await run(tmp_path)
    seen = Mark(t=200.0, kind=MarkKind.PROBE_SEEN_TO, text="liquid_temperature")
    mended = await run(tmp_path, seen)
    fell = lying["liquid_temperature"][300.0] - mended["liquid_temperature"][300.0]
    assert fell == pytest.approx(5.0, abs=0.4)
    assert lying["suction_temperature"] == mended["suction_temperature"]


async def test_probes_of_the_job_file_are_read_in_their_own_way(tmp_path: Path) -> None:
    write(tmp_path, lasts="1 min")
    gauge = Channel(name="p", role=Role.LIQUID_PRESSURE, unit="psig", reference=Reference.GAUGE)
    absolute = Channel(name="p", role=Role.LIQUID_PRESSURE, unit="psi", reference=None)
    with pytest.raises(ConfigError, match="gauge or absolute"):
        source_of(tmp_path, probes=[absolute])
    absolute = Channel(
        name="p", role=Role.LIQUID_PRESSURE, unit="psia", reference=Reference.ABSOLUTE
    )
    means = []
    for channel in (gauge, absolute):
        source = source_of(tmp_path, probes=[channel])
        assert source.channels == (channel,)
        sink = Collector()
        await source.run(sink, ScriptedClock(source))
        values = sink.series["p"].values()
        means.append(sum(values) / len(values))
    assert means[1] - means[0] == pytest.approx(98825.0, abs=500.0)  # 210 m, US Standard Atmosphere


async def test_a_plant_without_equations_is_a_lost_source_and_no_crash() -> None:
    class Limited:
        """A unit whose plant comes to its limit in the fifth second."""

        def run_until(self, t: float) -> None:
            if t > 4.0:
                raise PlantLimitError("the simulated machine ran empty")

        def act(self, mark: Mark) -> None:
            pytest.fail(f"unexpected: {mark}")

        def truth(self) -> dict[str, float]:
            return {}

        def read(self, t: float, dt_s: float) -> dict[str, float]:
            return {"liquid_pressure": 1e6}

    gauge = Channel(name="liquid_pressure", role=Role.LIQUID_PRESSURE, unit="psig")
    source = SimulatorSource("unit", (gauge,), Limited())
    sink = Collector()
    await source.run(sink, ScriptedClock(source))
    assert sink.reasons == ["the simulated machine ran empty"]
    assert list(sink.series["liquid_pressure"]) == [0.0, 1.0, 2.0, 3.0, 4.0]


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("simulator:nowhere", "no shipped scenario.*clean-charge"),
        ("simulator:nowhere.toml", "nowhere.toml: cannot be read"),
        ("simulator:clean-charge?seed=x", "seed: expected a whole number"),
        ("simulator:clean-charge?charge=2kg", "unknown option 'charge'; known ones: seed"),
    ],
)
def test_an_address_that_cannot_be_used_is_refused(url: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=said):
        SimulatorSource.from_spec(SourceSpec(name="u", url=url), tmp_path)


def test_a_probe_the_scenario_does_not_have_is_refused(tmp_path: Path) -> None:
    write(tmp_path)
    barometer = Channel(name="b", role=Role.BAROMETER, unit="hPa", reference=Reference.ABSOLUTE)
    with pytest.raises(ConfigError, match="has no probe barometer"):
        source_of(tmp_path, probes=[barometer])


async def test_a_session_on_a_scenario_hears_the_technician_while_it_runs(tmp_path: Path) -> None:
    """The keys of the dashboard and of nobody else make these marks."""
    write(tmp_path)
    scenario = find_scenario("unit.toml", tmp_path)
    record = tmp_path / "a.session"
    opened = open_new(scenario.job, scenario.folder, record=record, speed=None)
    done: list[float] = []

    def at(snapshot_t: float) -> None:
        if snapshot_t >= 200.0 and not done:
            done.append(snapshot_t)
            opened.session.mark(MarkKind.STEP_BEGUN, mass_kg=0.1)
        elif snapshot_t >= 320.0 and len(done) == 1:
            done.append(snapshot_t)
            opened.session.mark(MarkKind.STEP_ENDED)

    await opened.session.run(lambda snapshot: at(snapshot.t))
    with open_record(record) as kept:
        events = tuple(kept.events())
    assert isinstance(events[-1], SessionStopped)
    steps = [event for event in events if isinstance(event, StepRecorded)]
    assert [step.measured_by for step in steps] == ["scale"]
    assert steps[0].mass_kg == pytest.approx(0.1, abs=0.006)


async def test_the_truth_is_told_at_every_period_and_changes_no_reading(tmp_path: Path) -> None:
    lie = '[[probes.fault]]\nrole = "liquid_temperature"\nkind = "zero"\namount = "5 K"\n'
    write(tmp_path, lie, lasts="2 min")
    source = source_of(tmp_path)
    assert isinstance(source, KnowsTruth)
    told: dict[float, Mapping[str, float]] = {}
    source.tell_truth(lambda t, truth: told.update({t: truth}))
    sink = Collector()
    await source.run(sink, ScriptedClock(source))
    assert sink.series == await run(tmp_path)
    assert list(told) == [float(t) for t in range(121)]
    so, read = told[120.0]["liquid_temperature_k"], sink.series["liquid_temperature"][120.0]
    assert read - so == pytest.approx(5.0, abs=0.4)
    assert told[0.0]["circuit_kg"] == pytest.approx(1.9)
