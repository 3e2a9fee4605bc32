"""The Modbus source on pseudo-terminals, against the server of pymodbus and against raw bytes."""

import asyncio
import sys
import threading
from pathlib import Path
from random import Random

import pytest
import serial
from pymodbus.client import AsyncModbusSerialClient as Client

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.events import BadInput, Reading, SourceBack, SourceLost
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.model.units import Reference
from chargeassist.testing import CollectingSink, check_source, running
from chargeassist_adapters.modbus_probe import ModbusSource
from chargeassist_adapters.retry import Backoff
from tests.peers.line import Line, serve_registers

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

LIQUID_PA = 2481 * 0.1 * 6894.757293168361


def probe(role: Role, unit: str, select: str, *, scale: float = 1.0) -> ProbeSpec:
    gauge = Reference.GAUGE if unit == "psi" else None
    channel = Channel(name=role.value, role=role, unit=unit, reference=gauge)
    return ProbeSpec(channel=channel, select=select, scale=scale)


LIQUID_P = probe(Role.LIQUID_PRESSURE, "psi", "1/input:0:uint16", scale=0.1)
LIQUID_T = probe(Role.LIQUID_TEMPERATURE, "°C", "1/input:1:int16", scale=0.1)
AMPS = probe(Role.COMPRESSOR_CURRENT, "A", "2/holding:10:float32")
SUCTION_T = probe(Role.SUCTION_TEMPERATURE, "°C", "2/holding:12:int16", scale=0.1)
DEVICES = {
    1: {"input": {0: [2481, 352]}},
    2: {"holding": {10: [*Client.convert_to_registers(7.25, Client.DATATYPE.FLOAT32), 65411]}},
}


def source_at(wire: Line, *probes: ProbeSpec, options: str = "timeout=0.1") -> ModbusSource:
    url = f"modbus:{wire.near}?baud=9600&frame=8N1&period=0.05&{options}"
    source = ModbusSource.from_spec(SourceSpec(name="line", url=url, probes=probes), Path())
    source.retry = Backoff(0.02, 0.1)
    return source


def amiss(sink: CollectingSink) -> list[BadInput]:
    """Return what could not be read, but for what was: a busy machine lets a device be late."""
    return [each for each in sink.bad if not each.reason.startswith("answered when asked again")]


async def test_contract_with_two_devices_of_the_library_s_server(wire: Line) -> None:
    async with serve_registers(wire.far, DEVICES):
        source = source_at(wire, LIQUID_P, LIQUID_T, AMPS, SUCTION_T)
        kept = await check_source(source, readings=12)
    assert set(kept.values("liquid_pressure")) == {LIQUID_PA}
    assert set(kept.values("liquid_temperature")) == {352 * 0.1 + 273.15}
    assert set(kept.values("compressor_current")) == {7.25}
    assert set(kept.values("suction_temperature")) == {-125 * 0.1 + 273.15}
    assert amiss(kept) == []
    assert kept.losses == []


@pytest.mark.parametrize(
    ("number", "kind", "data_type"),
    [
        (-32767, "int16", Client.DATATYPE.INT16),
        (65534, "uint16", Client.DATATYPE.UINT16),
        (-123456, "int32", Client.DATATYPE.INT32),
        (4000000000, "uint32", Client.DATATYPE.UINT32),
        (-0.15625, "float32", Client.DATATYPE.FLOAT32),
    ],
)
@pytest.mark.parametrize("order", ["big", "little"])
async def test_types_and_word_order_as_the_library_writes_them(
    wire: Line, number: float, kind: str, data_type: object, order: str
) -> None:
    assert isinstance(data_type, Client.DATATYPE)
    words = Client.convert_to_registers(
        number, data_type, word_order="big" if order == "big" else "little"
    )
    swap = ":swap" if order == "little" and len(words) == 2 else ""
    volts = probe(Role.COMPRESSOR_FREQUENCY, "Hz", f"17/input:300:{kind}{swap}")
    async with (
        serve_registers(wire.far, {17: {"input": {300: words}}}),
        running(source_at(wire, volts)) as sink,
    ):
        await sink.until(lambda k: len(k.readings) >= 1)
    assert sink.readings[0].value == number
    assert sink.readings[0].quality is Quality.GOOD


async def test_a_register_that_is_not_there_costs_only_itself(wire: Line) -> None:
    absent = probe(Role.COMPRESSOR_CURRENT, "A", "1/input:2:int16")
    async with (
        serve_registers(wire.far, DEVICES),
        running(source_at(wire, LIQUID_P, LIQUID_T, absent)) as sink,
    ):
        await sink.until(lambda k: len(k.readings) >= 20)
    assert {r.channel for r in sink.readings} == {"liquid_pressure", "liquid_temperature"}
    assert sink.losses == []
    assert amiss(sink)[0].reason.startswith(
        "compressor_current: device 1, input 2: exception 2, it has no such register"
    )
    # Asked again ever less often: the line is there for those that answer.
    assert len(amiss(sink)) <= 2


async def test_a_table_the_device_does_not_have_is_told(wire: Line) -> None:
    other = probe(Role.COMPRESSOR_CURRENT, "A", "1/holding:0:int16")
    async with serve_registers(wire.far, DEVICES), running(source_at(wire, other)) as sink:
        await sink.until(lambda k: len(k.bad) >= 1)
    assert "exception" in sink.bad[0].reason


async def test_a_silent_device_is_lost_and_back_and_the_others_go_on(wire: Line) -> None:
    async with (
        serve_registers(wire.far, DEVICES),
        running(source_at(wire, LIQUID_P, AMPS)) as sink,
    ):
        await sink.until(lambda k: len(k.values("compressor_current")) >= 2)
        wire.to_devices = lambda data: b"" if data[:1] == b"\x02" else data
        await sink.until(lambda k: len(k.losses) == 1)
        others = len(sink.values("liquid_pressure"))
        await sink.until(lambda k: len(k.values("liquid_pressure")) >= others + 5)
        amps = len(sink.values("compressor_current"))
        wire.to_devices = bytes
        await sink.until(lambda k: len(k.values("compressor_current")) > amps)
    kinds = [type(e) for e in sink.events if not isinstance(e, Reading | BadInput)]
    assert (kinds, amiss(sink)) == ([SourceLost, SourceBack], [])
    assert sink.losses[0].source == sink.returns[0].source == "line, device 2"
    assert sink.losses[0].reason.startswith(f"no answer from device 2 on {wire.near} within 0.")
    assert "at 9600 8N1" in sink.losses[0].reason


async def test_one_answer_that_does_not_come_is_not_a_loss(wire: Line) -> None:
    dropped = 0

    def drop_every_third(data: bytes) -> bytes:
        nonlocal dropped
        dropped += 1
        return data if dropped % 3 else b""

    wire.to_devices = drop_every_third
    async with serve_registers(wire.far, DEVICES), running(source_at(wire, LIQUID_P)) as sink:
        await sink.until(lambda k: len(k.readings) >= 6)
    assert sink.losses == []


async def test_answers_that_come_too_late_are_never_taken_for_others(wire: Line) -> None:
    """Modbus RTU does not say which request an answer is to."""
    chance = Random(5)
    timers: list[threading.Timer] = []

    def delay(data: bytes) -> bytes:
        timers.append(
            threading.Timer(chance.choice((0.0, 0.0, 0.0, 0.08, 0.15)), wire.send, (data,))
        )
        timers[-1].start()
        return b""

    devices = {1: {"input": {0: [250], 10: [260], 20: [270]}}}
    probes = (
        probe(Role.OUTDOOR_AIR_TEMPERATURE, "K", "1/input:0:uint16"),
        probe(Role.RETURN_AIR_TEMPERATURE, "K", "1/input:10:uint16"),
        probe(Role.SUPPLY_AIR_TEMPERATURE, "K", "1/input:20:uint16"),
    )
    wire.to_program = delay
    async with (
        serve_registers(wire.far, devices),
        running(source_at(wire, *probes, options="timeout=0.05")) as sink,
    ):
        await sink.until(lambda k: len(k.readings) >= 24, within_s=30.0)
        wire.to_program = bytes
        for timer in timers:
            timer.join()
    assert set(sink.values("outdoor_air_temperature")) == {250.0}
    assert set(sink.values("return_air_temperature")) == {260.0}
    assert set(sink.values("supply_air_temperature")) == {270.0}


async def test_a_spoilt_checksum_is_told_with_its_bytes_and_believed_in_nothing(wire: Line) -> None:
    async with serve_registers(wire.far, DEVICES), running(source_at(wire, LIQUID_P)) as sink:
        await sink.until(lambda k: len(k.readings) >= 1)
        # One bit of the register's low byte: 2481 would read 2480.
        wire.to_program = lambda data: data[:4] + bytes([data[4] ^ 1]) + data[5:]
        await sink.until(lambda k: len(k.bad) >= 2)
        wire.to_program = bytes
        heard = len(sink.readings)
        await sink.until(lambda k: len(k.readings) > heard)
    assert set(sink.values("liquid_pressure")) == {LIQUID_PA}
    assert sink.losses == []
    assert "device 1, input 0: an answer that does not check" in sink.bad[0].reason
    assert sink.bad[0].raw.startswith("01 04 02 09 b0 ")


@pytest.mark.parametrize("spoilt", ["garbled", "unanswered"])
async def test_a_read_that_fails_once_is_asked_for_again_and_counted(
    wire: Line, spoilt: str
) -> None:
    """No event and no hole: the answer that came counts, and how often it was asked for."""
    answers = 0

    def spoil_every_fourth(data: bytes) -> bytes:
        nonlocal answers
        answers += 1
        if answers % 4:
            return data
        return data[:4] + bytes([data[4] ^ 1]) + data[5:] if spoilt == "garbled" else b""

    wire.to_program = spoil_every_fourth
    async with serve_registers(wire.far, DEVICES), running(source_at(wire, LIQUID_P)) as sink:
        await sink.until(lambda k: len(k.readings) >= 9)
        assert sink.bad == []
    assert set(sink.values("liquid_pressure")) == {LIQUID_PA}
    assert sink.losses == []
    (told,) = sink.bad
    assert told.count in {answers // 4, answers // 4 - 1}
    assert told.count >= 2
    expected = "an answer that does not check" if spoilt == "garbled" else "no answer within"
    assert told.reason.startswith("answered when asked again; the last time: device 1")
    assert expected in told.reason
    assert bool(told.raw) is (spoilt == "garbled")


async def test_an_exception_is_an_answer_and_is_not_asked_for_again_at_once(wire: Line) -> None:
    asked: list[bytes] = []

    def note(data: bytes) -> bytes:
        asked.append(data)
        return data

    wire.to_devices = note
    absent = probe(Role.COMPRESSOR_CURRENT, "A", "1/input:2:int16")
    async with serve_registers(wire.far, DEVICES), running(source_at(wire, absent)) as sink:
        await sink.until(lambda k: len(k.bad) >= 1)
        assert len(asked) == 1
    assert [each.count for each in sink.bad] == [1]


async def test_noise_before_and_between_answers_is_survived(wire: Line) -> None:
    async with (
        serve_registers(wire.far, DEVICES),
        running(source_at(wire, LIQUID_P, AMPS)) as sink,
    ):
        for junk in (b"\x00", b"\xff" * 40, b"\x01\x04", b"ready\r\n" * 100, bytes(range(256))):
            wire.send(junk)
            seen = len(sink.readings)
            await sink.until(lambda k, seen=seen: len(k.readings) >= seen + 4)  # type: ignore[misc]
    assert set(sink.values("liquid_pressure")) == {LIQUID_PA}
    assert set(sink.values("compressor_current")) == {7.25}


async def test_unplugged_and_plugged_in_again(wire: Line) -> None:
    async with serve_registers(wire.far, DEVICES), running(source_at(wire, LIQUID_P)) as sink:
        await sink.until(lambda k: len(k.readings) >= 2)
        wire.unplug()
        await sink.until(lambda k: len(k.losses) == 1)
        before = len(sink.readings)
        await asyncio.sleep(0.2)
        wire.plug_in()
        await sink.until(lambda k: len(k.readings) >= before + 2)
    kinds = [type(e) for e in sink.events if not isinstance(e, Reading)]
    assert kinds == [SourceLost, SourceBack]
    assert sink.losses[0].source == "line"
    assert str(wire.near) in sink.losses[0].reason


async def test_absent_at_the_start_then_there(wire: Line) -> None:
    wire.unplug()
    async with serve_registers(wire.far, DEVICES), running(source_at(wire, LIQUID_P)) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        assert sink.losses[0].reason == f"no port {wire.near}: is the adapter plugged in?"
        wire.plug_in()
        await sink.until(lambda k: len(k.readings) >= 1)
    assert len(sink.returns) == 1


async def test_a_port_in_use_is_told(wire: Line) -> None:
    other = serial.Serial(str(wire.near), exclusive=True)
    try:
        async with running(source_at(wire, LIQUID_P)) as sink:
            await sink.until(lambda k: len(k.losses) == 1)
    finally:
        other.close()
    assert "in use by another program" in sink.losses[0].reason


async def test_a_port_that_fails_while_it_is_set_up_is_told_and_not_kept(wire: Line) -> None:
    """A pseudo-terminal takes no parity: the C library says so while the port is set up."""
    url = f"modbus:{wire.near}?frame=8E1"
    spec = SourceSpec(name="line", url=url, probes=(LIQUID_P,))
    source = ModbusSource.from_spec(spec, Path())
    source.retry = Backoff(0.02, 0.02)
    async with running(source) as sink:
        await sink.until(lambda k: len(k.losses) == 1)
        await asyncio.sleep(0.2)
    assert sink.losses[0].reason.startswith(f"{wire.near} does not take this baud or frame")
    serial.Serial(str(wire.near), exclusive=True).close()


async def test_a_line_without_devices_is_lost_device_by_device_and_the_port_is_closed(
    wire: Line,
) -> None:
    async with running(source_at(wire, LIQUID_P, AMPS)) as sink:
        await sink.until(lambda k: len(k.losses) == 2)
    assert [e.source for e in sink.losses] == ["line, device 1", "line, device 2"]
    assert sink.readings == []
    # Opening exclusively proves that nobody holds it.
    serial.Serial(str(wire.near), exclusive=True).close()


async def test_an_adapter_that_hears_itself(wire: Line) -> None:
    sent: list[bytes] = []

    def keep(data: bytes) -> bytes:
        sent.append(data)
        return data

    wire.to_devices = keep
    wire.to_program = lambda data: sent.pop() + data
    async with serve_registers(wire.far, DEVICES):
        async with running(source_at(wire, LIQUID_P, options="timeout=0.1&echo=yes")) as sink:
            await sink.until(lambda k: len(k.readings) >= 3)
        assert sink.bad == []
        async with running(source_at(wire, LIQUID_P)) as sink:
            await sink.until(lambda k: len(k.bad) >= 1)
    assert "the adapter hears itself; option echo=yes" in sink.bad[0].reason


async def test_it_stops_at_any_moment(wire: Line) -> None:
    async with serve_registers(wire.far, DEVICES):
        for tenths_of_ms in range(0, 120, 3):
            async with running(source_at(wire, LIQUID_P, AMPS)):
                await asyncio.sleep(tenths_of_ms * 1e-4)


async def test_nothing_is_ever_written_to_a_device(wire: Line) -> None:
    asked: set[int] = set()

    def note(data: bytes) -> bytes:
        asked.add(data[1])
        return data

    wire.to_devices = note
    async with (
        serve_registers(wire.far, DEVICES),
        running(source_at(wire, LIQUID_P, LIQUID_T, AMPS)) as sink,
    ):
        await sink.until(lambda k: len(k.readings) >= 9)
    assert asked == {3, 4}
