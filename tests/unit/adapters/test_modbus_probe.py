"""Addresses and options of the Modbus source; the line itself is tested live."""

import asyncio
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.source import Source
from chargeassist.testing import CollectingSink, SteadyClock
from chargeassist_adapters import handover, modbus_probe
from chargeassist_adapters.conversion import Sample
from chargeassist_adapters.modbus_line import Timing, frame_time_s, gap_s
from chargeassist_adapters.modbus_probe import ModbusSource
from chargeassist_adapters.port import PortSettings

MakeProbe = Callable[..., ProbeSpec]
SELECT = "1/input:0:int16"


def source_of(
    url: str, *probes: ProbeSpec, payload_format: str = "number", **options: str
) -> ModbusSource:
    spec = SourceSpec(name="line", url=url, format=payload_format, options=options, probes=probes)
    return ModbusSource.from_spec(spec, Path())


def test_address_and_options(temperature: MakeProbe) -> None:
    source = source_of(
        "modbus:/dev/ttyUSB0?baud=9600&frame=8n2", temperature(select=SELECT), period="2.5"
    )
    assert source._settings == PortSettings("/dev/ttyUSB0", 9600, 8, "N", 2.0)
    assert source._timing == Timing(period_s=2.5, timeout_s=0.5)
    assert [c.name for c in source.channels] == ["liquid_t"]
    assert isinstance(source, Source)
    assert not source.brings_time
    assert not source.simulated


def test_without_options_it_is_what_the_standard_has_by_default(temperature: MakeProbe) -> None:
    """Modbus over Serial Line V1.02, section 3.4: 19 200 baud; 2.5.1: even parity."""
    source = source_of("modbus:COM3", temperature(select=SELECT))
    assert source._settings == PortSettings("COM3", 19_200, 8, "E", 1.0)


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("modbus:", "expected modbus: and a device"),
        ("modbus:loop://", "or socket://, hwgrep://; got 'loop://'"),
        ("modbus:/dev/x?parity=E", "unknown option 'parity'; known ones: baud .* frame"),
        ("modbus:/dev/x?frame=7E1", "Modbus RTU has eight data bits"),
        ("modbus:/dev/x?frame=8M1", "expected a frame such as 8E1, 8N1 or 8N2"),
        ("modbus:/dev/x?frame=8N1.5", "expected a frame such as 8E1, 8N1 or 8N2"),
        ("modbus:/dev/x?timeout=0", "option 'timeout': expected seconds from 0.02 to 10"),
        ("modbus:/dev/x?timeout=1e1", "option 'timeout': expected seconds"),
        ("modbus:/dev/x?period=soon", "option 'period': expected seconds from 0.05 to 60"),
        ("modbus:/dev/x?period=10", "the 10 s after which liquid_t counts as silent"),
        ("modbus:/dev/x?echo=maybe", "option 'echo': expected yes or no"),
    ],
)
def test_addresses_refused(temperature: MakeProbe, url: str, says: str) -> None:
    with pytest.raises(ConfigError, match=says):
        source_of(url, temperature(select=SELECT))


def test_probes_and_formats_are_checked(temperature: MakeProbe) -> None:
    with pytest.raises(ConfigError, match="at least one probe"):
        source_of("modbus:/dev/x")
    with pytest.raises(ConfigError, match="liquid_t: select: expected device/table"):
        source_of("modbus:/dev/x", temperature(select="30004"))
    with pytest.raises(ConfigError, match="leave format out, got 'csv'"):
        source_of("modbus:/dev/x", temperature(select=SELECT), payload_format="csv")
    with pytest.raises(ConfigError, match="degC2"):
        source_of("modbus:/dev/x", temperature("degC2", select=SELECT))


def test_time_on_the_wire() -> None:
    """Modbus over Serial Line V1.02: 11 bits a character with parity, 3.5 characters of silence."""
    slow = PortSettings("x", 9600, 8, "N", 1.0)
    assert gap_s(slow) == pytest.approx(3.5 * 10 / 9600)
    assert frame_time_s(slow, 1) == pytest.approx((8 + 7 + 7) * 10 / 9600)
    even = PortSettings("x", 19_200, 8, "E", 1.0)
    assert gap_s(even) == pytest.approx(3.5 * 11 / 19_200)
    assert gap_s(PortSettings("x", 115_200, 8, "E", 1.0)) == 0.00175


async def test_what_was_read_before_the_hold_and_handed_over_after_it_is_let_go(
    temperature: MakeProbe, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = 1000.0
    monkeypatch.setattr(handover, "steady_s", lambda: now)

    class Line:
        """Hands over what the test says, in the place of a line with devices."""

        def __init__(self, *given: object, **_: object) -> None:
            self.handover = next(each for each in given if isinstance(each, handover.Handover))
            self.stopped = threading.Event()
            lines.append(self)

        def work(self) -> None:
            self.stopped.wait(10.0)

        def stop(self) -> None:
            self.stopped.set()

    lines: list[Line] = []
    monkeypatch.setattr(modbus_probe, "ModbusLine", Line)
    source = source_of("modbus:COM3", temperature(select=SELECT))
    clock = SteadyClock()
    sink = CollectingSink("line", clock)
    run = asyncio.create_task(source.run(sink, clock))
    await asyncio.sleep(0)
    line = lines[0]
    line.handover.put([Sample("liquid_t", 301.0)])
    await sink.until(lambda k: len(k.readings) == 1)
    line.handover.put([Sample("liquid_t", 302.0)])
    now += 10.0
    await sink.until(lambda k: k.let_go == 1)
    line.handover.put([Sample("liquid_t", 303.0)])
    await sink.until(lambda k: len(k.readings) == 2)
    run.cancel()
    await asyncio.wait({run})
    assert sink.values("liquid_t") == [301.0, 303.0]
