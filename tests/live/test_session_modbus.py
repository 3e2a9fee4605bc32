"""A whole session whose probes are registers: devices by pymodbus's server on a pseudo-terminal."""

import asyncio
import sys
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path
from typing import Protocol

import pytest
from pymodbus.client import AsyncModbusSerialClient as Client
from pymodbus.server import ModbusSerialServer

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import (
    Action,
    BadInput,
    Event,
    Outcome,
    Reading,
    SourceBack,
    SourceLost,
)
from chargeassist.session.compare import VerdictComparison
from chargeassist.session.job.jobfile import load_job
from chargeassist.session.opening import open_new, open_replay
from chargeassist.session.record.store import SessionReader

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

JOB = """
name = "invented"
refrigerant = "R-32"

[site]
altitude = "210 m"

[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "invented"

[charge]
plate = "2.30 kg"
step_cap = "110 g"

[processing]
period = "0.5 s"

[[source]]
name = "cart"
url = "modbus:{port}?baud=9600&frame=8N1&period=0.2&timeout=0.1"

[[source.probe]]
role = "liquid_pressure"
select = "1/input:0:uint16"
scale = 0.1
unit = "psig"
accuracy = "2 psi"
max_age = "1 s"

[[source.probe]]
role = "liquid_temperature"
select = "1/input:1:int16"
scale = 0.1
unit = "°F"
accuracy = "0.5 K"
max_age = "1 s"

[[source.probe]]
role = "compressor_current"
select = "2/holding:10:float32:swap"
unit = "A"
max_age = "1 s"
"""


class Wire(Protocol):
    near: Path
    far: str
    to_devices: Callable[[bytes], bytes]


async def test_registers_become_readings_advice_and_a_record_that_replays(
    wire: Wire,
    serve_registers: Callable[..., AbstractAsyncContextManager[ModbusSerialServer]],
    tmp_path: Path,
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.format(port=wire.near), encoding="utf-8")
    amps = Client.convert_to_registers(7.25, Client.DATATYPE.FLOAT32, word_order="little")
    devices = {1: {"input": {0: [3390, 930]}}, 2: {"holding": {10: amps}}}
    told: list[Event] = []
    shown: list[Snapshot] = []
    record = tmp_path / "a.session"

    async def until(holds: Callable[[], object]) -> None:
        async with asyncio.timeout(20.0):
            while not holds():  # noqa: ASYNC110  what is waited for has no event of its own
                await asyncio.sleep(0.02)

    def values(channel: str) -> list[float]:
        return [e.value for e in told if isinstance(e, Reading) and e.channel == channel]

    async with serve_registers(wire.far, devices) as server:
        opened = open_new(load_job(path), tmp_path, record=record, listeners=[told.append])
        running = asyncio.create_task(opened.session.run(shown.append))
        try:
            await until(lambda: values("compressor_current"))
            await until(lambda: len(shown) > 4)
            await server.async_setValues(1, 4, 1, [895])
            await until(lambda: values("liquid_temperature")[-1] < 306.0)
            wire.to_devices = lambda data: b"" if data[:1] == b"\x01" else data
            await until(lambda: any(isinstance(e, SourceLost) for e in told))
            await asyncio.sleep(2.0)
            wire.to_devices = bytes
            await until(lambda: any(isinstance(e, SourceBack) for e in told))
            await asyncio.sleep(1.0)
            assert not running.done()
            await opened.session.stop(Outcome.COMPLETE)
            await running
        finally:
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)

    assert values("liquid_pressure")[0] == pytest.approx(339.0 * 6894.757, abs=1.0)
    warm_k, cold_k = ((f - 32.0) / 1.8 + 273.15 for f in (93.0, 89.5))
    assert {round(v, 3) for v in values("liquid_temperature")} == {
        round(warm_k, 3),
        round(cold_k, 3),
    }
    assert set(values("compressor_current")) == {7.25}
    with SessionReader(record) as reader:
        report = reader.verify()
        assert report.ok, report.problems
        assert report.finished
        recorded = list(reader.events())
    assert not [e for e in recorded if isinstance(e, BadInput)]
    (lost,) = [e for e in recorded if isinstance(e, SourceLost)]
    (back,) = [e for e in recorded if isinstance(e, SourceBack)]
    assert lost.source == back.source == "cart, device 1"
    away = [e for e in recorded if isinstance(e, Reading) and lost.t < e.t < back.t]
    assert {e.channel for e in away} == {"compressor_current"}, "the others on the line go on"
    quiet = [s for s in shown if lost.t + 1.0 <= s.t <= back.t]
    assert {s.advice.action for s in quiet} == {Action.FIX_FIRST}
    assert all(
        any(c.cause == "source_lost" and c.subject == "cart, device 1" for c in s.cautions)
        for s in quiet
    )
    comparison = VerdictComparison(record)
    replay = open_replay(record, speed=None, listeners=[comparison])
    await asyncio.wait_for(replay.session.run(lambda snapshot: None), 30.0)
    assert comparison.differences() == ()
    assert comparison.compared >= 2
