"""``simulator:SCENARIO`` before charging: marks act on the circuit, probes read it."""

import math
from collections.abc import Mapping
from pathlib import Path

import pytest

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.source import KnowsTruth, Source
from chargeassist_adapters.simulator import SimulatorSource
from tests.unit.adapters.simulated import ScriptedClock, SeriesSink

HEAD = 'title = "T"\nabout = "A test."\nstage = "{stage}"\njob = "library"\nlasts = "{lasts}"\n'
WEATHER = '[weather]\noutdoor = "22 °C"\nindoor = "22 °C"\n'
PSI_PA = 6894.757293168361
STATION_PA = 98_826.0


class Session:
    """What one scenario read and what was so."""

    def __init__(self, folder: Path, stage: str, lasts: str, extra: str) -> None:
        text = HEAD.format(stage=stage, lasts=lasts) + extra
        (folder / "stage.toml").write_text(text, encoding="utf-8")
        spec = SourceSpec(name="unit", url="simulator:stage.toml")
        self.source = SimulatorSource.from_spec(spec, folder)
        self.truth: dict[float, Mapping[str, float]] = {}
        self._sink = SeriesSink()

    async def run(self, *marks: tuple[float, MarkKind]) -> dict[str, dict[float, float]]:
        assert isinstance(self.source, Source)
        assert isinstance(self.source, KnowsTruth)
        self.source.tell_truth(lambda t, so: self.truth.update({t: so}))
        clock = ScriptedClock(self.source, [Mark(t=t, kind=kind) for t, kind in marks])
        await self.source.run(self._sink, clock)
        return self._sink.series


ON, OFF, VENTED = MarkKind.NITROGEN_ON, MarkKind.NITROGEN_OFF, MarkKind.VENTED
PUMP, SHUT, OPEN = MarkKind.PUMP_ON, MarkKind.VALVE_SHUT, MarkKind.VALVE_OPENED


async def test_nitrogen_fills_to_the_regulator_stands_and_is_vented(tmp_path: Path) -> None:
    session = Session(tmp_path, "tightness", "50 min", '[nitrogen]\npressure = "3 MPa(g)"\n')
    read = await session.run((10.0, ON), (300.0, OFF), (2700.0, VENTED))
    pressure = read["liquid_pressure"]
    assert pressure[5.0] == pytest.approx(0.0, abs=5e3)
    assert pressure[299.0] == pytest.approx(3e6, abs=10e3)
    assert pressure[2990.0] == pytest.approx(0.0, abs=5e3)
    # Both probes are on the one circuit; the heat of filling has gone to the pipes by the end.
    assert read["suction_pressure"][2000.0] == pytest.approx(pressure[2000.0], abs=8e3)
    assert pressure[1500.0] < pressure[301.0] - 5e3
    amounts = [so["amount_mol"] for t, so in session.truth.items() if 300.0 < t < 2700.0]
    assert max(amounts) - min(amounts) < 1e-9 * max(amounts)


async def test_a_staged_raise_stops_where_the_supply_is_shut(tmp_path: Path) -> None:
    session = Session(tmp_path, "tightness", "5 min", "")
    read = await session.run((10.0, ON), (24.0, OFF))
    assert 0.2e6 < read["liquid_pressure"][280.0] < 0.5e6


async def test_a_leak_loses_gas_until_it_is_mended(tmp_path: Path) -> None:
    leak = '[[fault]]\nkind = "leak"\namount = "0.002 Pa m3/s"\nplace = "indoor"\n'
    session = Session(tmp_path, "tightness", "60 min", leak)
    await session.run((10.0, ON), (600.0, OFF), (2400.0, MarkKind.LEAK_MENDED))
    amount = {t: so["amount_mol"] for t, so in session.truth.items()}
    assert amount[600.0] - amount[2400.0] > 0.01 * amount[600.0]
    assert amount[3600.0] == pytest.approx(amount[2401.0], rel=1e-9)
    assert session.truth[2000.0]["leak_mol_per_s"] > 0.0
    assert session.truth[3000.0]["leak_mol_per_s"] == 0.0


async def test_a_leak_comes_and_goes_when_the_file_says(tmp_path: Path) -> None:
    leak = '[[fault]]\nkind = "leak"\namount = "0.01 Pa m3/s"\nat = "20 min"\nuntil = "25 min"\n'
    session = Session(tmp_path, "tightness", "30 min", leak)
    await session.run((10.0, ON), (600.0, OFF))
    leaked = {t: so["leaked_mol"] for t, so in session.truth.items()}
    assert leaked[1200.0] == 0.0
    assert leaked[1500.0] > 0.01
    assert leaked[1800.0] == pytest.approx(leaked[1501.0])


async def test_a_sun_that_follows_another_at_once_is_not_ended_by_it(tmp_path: Path) -> None:
    sun = '[[fault]]\nkind = "sun"\namount = "10 K"\n'
    both = f'{sun}until = "10 min"\n{sun}at = "10 min"\n'
    session = Session(tmp_path, "tightness", "50 min", WEATHER + both)
    await session.run()
    assert session.truth[2990.0]["outdoor_pipe_k"] == pytest.approx(295.15 + 10.0, abs=1.0)


async def test_the_sun_warms_the_outdoor_pipes_and_not_the_shaded_air(tmp_path: Path) -> None:
    sun = '[[fault]]\nkind = "sun"\namount = "10 K"\nat = "5 min"\nuntil = "30 min"\n'
    session = Session(tmp_path, "tightness", "50 min", WEATHER + sun)
    read = await session.run((10.0, ON), (250.0, OFF))
    pipe, air = read["liquid_temperature"], read["outdoor_air_temperature"]
    assert pipe[1790.0] - pipe[290.0] > 5.0
    assert pipe[2990.0] < pipe[1790.0] - 3.0
    assert max(air.values()) - min(air.values()) < 0.5
    pressure = read["liquid_pressure"]
    # At constant volume pressure goes as temperature: 7 of 10 litres some 6 K warmer.
    warmed = pipe[1790.0] - pipe[2990.0]
    rose = pressure[1790.0] / pressure[2990.0] - 1.0
    assert rose == pytest.approx(0.7 * warmed / 300.0, rel=0.35)


async def test_a_dry_tight_circuit_goes_down_and_stays_down(tmp_path: Path) -> None:
    session = Session(tmp_path, "dryness", "30 min", WEATHER)
    read = await session.run((10.0, PUMP), (900.0, SHUT))
    vacuum = read["vacuum"]
    assert 0.0 not in vacuum  # above its range a gauge shows no figure
    assert min(vacuum) > 10.0
    assert vacuum[890.0] < 10.0
    assert vacuum[1800.0] < 20.0
    assert read["liquid_pressure"][890.0] == pytest.approx(-STATION_PA, abs=6e3)
    assert all(value > -1.0 for value in vacuum.values())


async def test_a_leak_rises_in_a_straight_line_and_water_levels_off(tmp_path: Path) -> None:
    async def rise(extra: str) -> tuple[float, float]:
        session = Session(tmp_path, "dryness", "60 min", WEATHER + extra)
        await session.run((10.0, PUMP), (1200.0, SHUT))
        far = {t: so["far_pa_abs"] for t, so in session.truth.items()}
        return far[2400.0] - far[1260.0], far[3600.0] - far[2460.0]

    early, late = await rise('[[fault]]\nkind = "leak"\namount = "0.003 Pa m3/s"\n')
    assert late == pytest.approx(early, rel=0.05)
    # By its definition 0.003 Pa m3/s into ten litres is 0.3 Pa/s.
    assert early / 1140.0 == pytest.approx(0.3, rel=0.05)
    narrow = '[evacuation]\nhose = "quarter inch"\ncore = "in"\nwater_far = "1 g"\n'
    early, late = await rise(narrow)
    assert abs(late) < 0.3 * early  # the compressor's oil takes some of it up again


async def test_nitrogen_breaks_the_vacuum_to_the_pressure_of_the_file(tmp_path: Path) -> None:
    text = WEATHER + '[evacuation]\nbreak_to = "20 kPa(g)"\n'
    session = Session(tmp_path, "dryness", "20 min", text)
    read = await session.run((10.0, PUMP), (600.0, SHUT), (660.0, ON), (1000.0, OPEN))
    assert session.truth[960.0]["near_pa_abs"] == pytest.approx(STATION_PA + 20e3, rel=0.02)
    assert not [t for t in read["vacuum"] if 700.0 < t < 1000.0]
    assert session.truth[1200.0]["near_pa_abs"] < 200.0


async def test_a_shut_supply_and_a_standing_pump_leave_what_is_there(tmp_path: Path) -> None:
    session = Session(tmp_path, "dryness", "20 min", WEATHER)
    await session.run(
        (10.0, PUMP), (600.0, SHUT), (660.0, ON), (661.0, OFF), (700.0, MarkKind.PUMP_OFF),
        (710.0, OPEN),
    )  # fmt: skip
    at = {t: so["near_pa_abs"] for t, so in session.truth.items()}
    assert 50.0 < at[690.0] < 20e3
    assert at[1200.0] == pytest.approx(at[730.0], rel=0.05)  # the pump's check valve is shut


async def test_wet_pump_oil_holds_the_pull_up_until_it_is_changed(tmp_path: Path) -> None:
    text = WEATHER + '[evacuation]\npump_oil_water = "2 g"\n'
    session = Session(tmp_path, "dryness", "40 min", text)
    await session.run((10.0, PUMP), (1200.0, MarkKind.OIL_CHANGED))
    at = {t: so["near_pa_abs"] for t, so in session.truth.items()}
    assert at[1190.0] > 100.0
    assert at[1190.0] == pytest.approx(at[900.0], rel=0.3)
    assert at[2400.0] < 10.0
    assert session.truth[1190.0]["pump_oil_water_kg"] > 1e-3
    assert session.truth[1210.0]["pump_oil_water_kg"] < 1e-4


async def test_a_heat_lamp_thaws_and_the_clamp_feels_it(tmp_path: Path) -> None:
    cold = '[weather]\noutdoor = "5 °C"\nindoor = "3 °C"\n[evacuation]\nwater_far = "2 g"\n'
    lamp = '[[fault]]\nkind = "heat"\namount = "30 K"\nplace = "far"\nat = "16 min"\n'
    session = Session(tmp_path, "dryness", "40 min", cold + lamp)
    read = await session.run((10.0, PUMP), (900.0, SHUT), (950.0, ON))
    assert session.truth[890.0]["far_ice_share"] == 1.0
    assert session.truth[2400.0]["far_ice_share"] == 0.0
    warmed = read["suction_temperature"][2390.0] - read["suction_temperature"][890.0]
    assert warmed == pytest.approx(30.0, abs=0.5)


async def test_a_probe_is_put_right_alone(tmp_path: Path) -> None:
    lies = (
        '[[probes.own]]\nrole = "vacuum"\nzero = "300 micron"\n'
        '[[probes.own]]\nrole = "liquid_temperature"\nzero = "2 K"\n'
    )
    session = Session(tmp_path, "dryness", "20 min", WEATHER + lies)
    session.source.tell_truth(lambda t, so: None)
    clock_marks = [
        Mark(t=10.0, kind=PUMP),
        Mark(t=900.0, kind=MarkKind.PROBE_SEEN_TO, text="vacuum"),
    ]
    sink = SeriesSink()
    await session.source.run(sink, ScriptedClock(session.source, clock_marks))
    vacuum = sink.series["vacuum"]
    assert vacuum[890.0] - vacuum[1190.0] == pytest.approx(40.0, abs=3.0)  # 300 micron
    assert sink.series["liquid_temperature"][1190.0] == pytest.approx(297.15, abs=0.3)


async def test_same_seed_same_readings_whatever_the_marks_were_called(tmp_path: Path) -> None:
    async def once() -> dict[str, dict[float, float]]:
        return await Session(tmp_path, "dryness", "5 min", WEATHER).run((10.0, PUMP))

    one = await once()
    assert one == await once()
    assert all(math.isfinite(v) for series in one.values() for v in series.values())


def test_a_probe_the_stage_has_not_is_refused(tmp_path: Path) -> None:
    (tmp_path / "stage.toml").write_text(HEAD.format(stage="tightness", lasts="5 min"), "utf-8")
    channel = Channel(name="hot", role=Role.DISCHARGE_TEMPERATURE, unit="°C")
    probes = (ProbeSpec(channel=channel),)
    spec = SourceSpec(name="unit", url="simulator:stage.toml", probes=probes)
    with pytest.raises(ConfigError, match="the scenario has no probe discharge_temperature"):
        SimulatorSource.from_spec(spec, tmp_path)
