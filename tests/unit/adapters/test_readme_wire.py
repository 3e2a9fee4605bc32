"""The README's table of adapters, and the examples of the modules: each is read as it is said."""

import re
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest
from pymodbus.framer.rtu import FramerRTU

from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.plugins import source_names
from chargeassist_adapters import lines, mqtt_probe, payloads, senml, serial_probe
from chargeassist_adapters.conversion import Sample
from chargeassist_adapters.modbus_probe import ModbusSource
from chargeassist_adapters.modbus_registers import read_select
from chargeassist_adapters.payloads import make_parser

ROOT = Path(__file__).resolve().parents[3]
# 248.1 psig; 1 psi = 6894.757 293 168 Pa (NIST SP 811, appendix B.8).
PRESSURE_PA = 248.1 * 6894.757293168


def rows() -> list[tuple[str, str, str, str]]:
    """Return address, format, example and select of each row, an address standing on downwards."""
    section = (ROOT / "README.md").read_text(encoding="utf-8").partition("| address | format |")[2]
    found: list[tuple[str, str, str, str]] = []
    for line in section.partition("\n\n")[0].splitlines()[2:]:
        address, payload, example, select = (cell.strip() for cell in line.strip("|").split("|"))
        found.append((address or found[-1][0], payload.strip("`"), example, select))
    return found


def quoted(cell: str) -> list[str]:
    return re.findall(r"`([^`]+)`", cell)


PAYLOADS = [row for row in rows() if row[1]]


def test_every_adapter_and_every_format_has_a_row() -> None:
    schemes = {re.split(r"[:]", name)[0] for row in rows() for name in quoted(row[0])}
    assert schemes == set(source_names())
    serial = [row[1] for row in PAYLOADS if "serial:" in row[0]]
    mqtt = [row[1] for row in PAYLOADS if "mqtt" in row[0]]
    assert tuple(serial) == serial_probe.FORMATS
    assert tuple(mqtt) == mqtt_probe.FORMATS


@pytest.mark.parametrize("row", PAYLOADS, ids=lambda row: f"{row[0][1:5]} {row[1]}")
def test_a_line_or_a_message_is_the_pressure_it_is_said_to_be(
    row: tuple[str, str, str, str], pressure: Callable[..., ProbeSpec]
) -> None:
    _, payload, example, select = row
    probe = pressure(select=(quoted(select) or [""])[0])
    (found,) = make_parser(payload, [probe], {}).parse(quoted(example)[0].encode(), 0.0)
    assert isinstance(found, Sample)
    # In the SenML example it is given in whole kilopascals.
    assert found.value == pytest.approx(PRESSURE_PA, abs=1000.0 if payload == "senml" else 1e-3)


def test_the_modbus_frames_ask_and_answer_what_they_are_said_to(
    pressure: Callable[..., ProbeSpec],
) -> None:
    (row,) = [row for row in rows() if "modbus:" in row[0]]
    asked, answered = (bytes.fromhex(frame) for frame in quoted(row[2]))
    for frame in (asked, answered):
        assert FramerRTU.compute_CRC(frame[:-2]).to_bytes(2, "big") == frame[-2:]
    register = read_select(quoted(row[3])[0], "pressure")
    # Device, function code 4 (read input registers), address, how many (V1.1b3, section 6.4).
    assert asked[:-2] == bytes([1, 4, 0, register.address, 0, register.words])
    number = register.number([int.from_bytes(answered[3:5], "big")])
    probe = pressure(select=quoted(row[3])[0], scale=0.1)
    spec = SourceSpec(name="line", url=quoted(row[0])[0], probes=(probe,))
    assert ModbusSource.from_spec(spec, ROOT).channels == (probe.channel,)
    assert number * probe.scale * 6894.757293168 == pytest.approx(PRESSURE_PA, abs=1e-3)


def example(module: ModuleType, after: str) -> bytes:
    """Return the first example of a module's docstring after some words, as it stands there."""
    text = (module.__doc__ or "").partition(after)[2]
    found = re.search(r"``(?!`)(.+?)``(?!`)", text, re.DOTALL)
    assert found is not None
    return found[1].encode().replace(rb"\r\n", b"\r\n")


@pytest.mark.parametrize(
    ("module", "after", "payload_format", "selects", "options"),
    [
        (lines, "\n``number``", "number", ("", ""), {}),
        (lines, "\n``csv``", "csv", ("2", "3"), {"time": "1"}),
        (lines, "\n``keyvalue``", "keyvalue", ("p", "t"), {}),
        (serial_probe, "example", "keyvalue", ("p", "t"), {}),
        (payloads, "one example", "json", ("line.p", "line.t[0]"), {"time": "s"}),
        (mqtt_probe, "reading-room/liquid``, payload", "json", ("p", ""), {}),
    ],
)
def test_an_example_of_a_module_is_read_verbatim(
    module: ModuleType,
    after: str,
    payload_format: str,
    selects: tuple[str, str],
    options: dict[str, str],
    pressure: Callable[..., ProbeSpec],
    temperature: Callable[..., ProbeSpec],
) -> None:
    probes = [pressure(select=selects[0])]
    probes += [temperature(select=selects[1])] if selects[1] else []
    raw = example(module, after)
    found = make_parser(payload_format, probes, options).parse(raw, 0.0)
    values = [each.value for each in found if isinstance(each, Sample)]
    assert values == pytest.approx([PRESSURE_PA, 35.2 + 273.15][: len(probes)], abs=1e-3), raw
    if options:
        assert all(isinstance(each, Sample) and each.device_time for each in found)


def test_the_pack_of_the_module_is_read_verbatim(
    pressure: Callable[..., ProbeSpec], temperature: Callable[..., ProbeSpec]
) -> None:
    text = (senml.__doc__ or "").partition("::\n\n")[2].partition("\n\n")[0]
    base = "urn:dev:mac:0024befffe804ff1/"
    probes = [temperature(select=f"{base}liquid"), pressure(select=f"{base}head")]
    found = make_parser("senml", probes, {}).parse(text.encode(), 0.0)
    assert [(each.value, each.device_time) for each in found if isinstance(each, Sample)] == [
        (pytest.approx(35.2 + 273.15), 1.7e9),
        (1711000.0, 1.7e9),
    ]
