"""A whole session whose probes are registers: devices by pymodbus's server on a pseudo-terminal."""

import sys
from pathlib import Path

import pytest
from pymodbus.client import AsyncModbusSerialClient as Client

from chargeassist.model.events import Action, BadInput, Reading, SourceBack, SourceLost
from tests.live.sessions import quiet_while_away, replays_the_same, until, watched, whole_record
from tests.peers.line import Line, serve_registers

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

CART = """
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
PASCAL_PER_PSI = 6894.757  # NIST SP 811, appendix B.8


async def test_registers_become_readings_advice_and_a_record_that_replays(
    wire: Line, tmp_path: Path
) -> None:
    amps = Client.convert_to_registers(7.25, Client.DATATYPE.FLOAT32, word_order="little")
    devices = {1: {"input": {0: [3390, 930]}}, 2: {"holding": {10: amps}}}
    async with (
        serve_registers(wire.far, devices) as server,
        watched(CART.format(port=wire.near), tmp_path) as here,
    ):
        await until(lambda: here.values("compressor_current"))
        await here.shown_for(1.0)
        await server.async_setValues(1, 4, 1, [895])
        await until(lambda: here.values("liquid_temperature")[-1] < 306.0)
        wire.to_devices = lambda data: b"" if data[:1] == b"\x01" else data
        await until(lambda: here.said(SourceLost, "cart, device 1"))
        await here.shown_for(4.0)
        wire.to_devices = bytes
        await until(lambda: here.said(SourceBack, "cart, device 1"))
        await here.shown_for(1.0)

    assert here.values("liquid_pressure")[0] == pytest.approx(339.0 * PASCAL_PER_PSI, abs=1.0)
    warm_k, cold_k = ((f - 32.0) / 1.8 + 273.15 for f in (93.0, 89.5))
    assert {round(v, 3) for v in here.values("liquid_temperature")} == {
        round(warm_k, 3),
        round(cold_k, 3),
    }
    assert set(here.values("compressor_current")) == {7.25}
    recorded = whole_record(here.record)
    bad = [e.reason for e in recorded if isinstance(e, BadInput)]
    # On a busy machine a device may be late; what it answers when asked again is a reading.
    assert not [reason for reason in bad if not reason.startswith("answered when asked again")]
    (lost,) = [e for e in recorded if isinstance(e, SourceLost)]
    (back,) = [e for e in recorded if isinstance(e, SourceBack)]
    assert lost.source == back.source == "cart, device 1"
    away = [e for e in recorded if isinstance(e, Reading) and lost.t < e.t < back.t]
    assert {e.channel for e in away} == {"compressor_current"}, "the others on the line go on"
    quiet = quiet_while_away(here, "cart, device 1", lost.t, back.t)
    assert len(quiet) >= 2
    assert {s.advice.action for s in quiet} == {Action.FIX_FIRST}
    await replays_the_same(here.record)
