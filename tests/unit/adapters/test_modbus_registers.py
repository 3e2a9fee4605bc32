"""Selecting, gathering and decoding registers; examples of the standard where it has some."""

import math
from collections.abc import Callable

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec
from chargeassist_adapters.conversion import Fault, ProbeValue, Sample
from chargeassist_adapters.modbus_registers import (
    Block,
    Register,
    RegisterProbe,
    blocks_of,
    exception_words,
    read_select,
)

MakeProbe = Callable[..., ProbeSpec]


def gathered(pressure: MakeProbe, *selects: str) -> tuple[Block, ...]:
    probes = []
    for number, select in enumerate(selects):
        spec = pressure(name=f"p{number}", select=select)
        probes.append(RegisterProbe(read_select(select, spec.channel.name), ProbeValue(spec)))
    return blocks_of(probes)


@pytest.mark.parametrize(
    ("select", "register"),
    [
        ("2/input:3:int16", Register(2, "input", 3, "int16")),
        ("247/holding:65535:uint16", Register(247, "holding", 65535, "uint16")),
        ("1/Holding:0:FLOAT32", Register(1, "holding", 0, "float32")),
        (" 1/input:8:int32:swap ", Register(1, "input", 8, "int32", "cdab")),
        ("1/input:8:uint32:DCBA", Register(1, "input", 8, "uint32", "dcba")),
    ],
)
def test_selects_that_are_read(select: str, register: Register) -> None:
    assert read_select(select, "p") == register


@pytest.mark.parametrize(
    ("select", "says"),
    [
        ("", "expected device/table:register:type such as 1/input:3:int16, got ''"),
        ("3", "expected device/table:register:type"),
        ("1/input:3", "expected device/table:register:type"),
        ("0/input:3:int16", "a device from 1 to 247, got '0'"),
        ("248/input:3:int16", "a device from 1 to 247"),
        ("1/coil:3:int16", "table holding or input, got 'coil'"),
        ("1/input:65536:int16", "a register from 0 to 65535"),
        ("1/input:65535:int32", "a register from 0 to 65535"),
        ("1/input:3:int8", "type int16, uint16, int32, uint32, float32, got 'int8'"),
        ("1/input:3:int16:swap", "no order of words with the 16 bits of int16"),
        ("1/input:3:int32:bcda", "order swap, abcd, cdab, badc, dcba, got 'bcda'"),
        ("1/input:-3:int16", "expected device/table:register:type"),
        ("1/input:३:int16", "expected device/table:register:type"),
    ],
)
def test_selects_that_are_refused(select: str, says: str) -> None:
    with pytest.raises(ConfigError, match="p: select: ") as caught:
        read_select(select, "p")
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("select", "words", "number"),
    [
        # Examples of sections 6.3 and 6.4 of the Application Protocol V1.1b3.
        ("1/holding:107:uint16", (0x022B,), 555.0),
        ("1/holding:109:uint16", (0x0064,), 100.0),
        ("1/input:8:uint16", (0x000A,), 10.0),
        # Two's complement and IEEE 754, by hand.
        ("1/input:0:int16", (0xFF83,), -125.0),
        ("1/input:0:int16", (0x8000,), -32768.0),
        ("1/input:0:int32", (0xFFFE, 0x1DC0), -123456.0),
        ("1/input:0:uint32", (0xEE6B, 0x2800), 4e9),
        ("1/input:0:float32", (0x40E8, 0x0000), 7.25),
        ("1/input:0:float32:cdab", (0x0000, 0x40E8), 7.25),
        ("1/input:0:float32:swap", (0x0000, 0x40E8), 7.25),
        ("1/input:0:float32:badc", (0xE840, 0x0000), 7.25),
        ("1/input:0:float32:dcba", (0x0000, 0xE840), 7.25),
    ],
)
def test_numbers_in_words(select: str, words: tuple[int, ...], number: float) -> None:
    assert read_select(select, "p").number(words) == number


def test_a_float_that_is_no_number_is_a_fault_with_its_words(pressure: MakeProbe) -> None:
    (block,) = gathered(pressure, "1/input:0:float32")
    assert math.isnan(block.probes[0].register.number((0x7FC0, 0)))
    (found,) = block.found((0x7FC0, 0))
    assert found == Fault("p0: no reading (not a number, or 1e20 and more)", b"7FC0 0000")


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        # "Not implemented" of the SunSpec information model: 0x8000, 0xFFFF and the like (from
        # memory); 0x7FFF for an open sensor: common practice, no published source.
        ("int16", (0x8000,)),
        ("int16", (0x7FFF,)),
        ("uint16", (0xFFFF,)),
        ("int32", (0x8000, 0x0000)),
        ("int32", (0x7FFF, 0xFFFF)),
        ("uint32", (0xFFFF, 0xFFFF)),
        ("uint32:swap", (0xFFFF, 0xFFFF)),
        ("int32:swap", (0x0000, 0x8000)),
    ],
)
def test_a_register_at_the_end_of_its_type_holds_no_reading(
    pressure: MakeProbe, kind: str, words: tuple[int, ...]
) -> None:
    (block,) = gathered(pressure, f"1/input:0:{kind}")
    (found,) = block.found(words)
    assert isinstance(found, Fault)
    assert f"the end of what {kind.partition(':')[0]} holds" in found.reason
    (next_to_it,) = block.found((*words[:-1], words[-1] ^ 3))
    assert isinstance(next_to_it, Sample)


def test_scale_offset_and_unit_come_after_the_register(pressure: MakeProbe) -> None:
    spec = pressure("kPag", select="1/input:0:int16", scale=0.5, offset=-10.0)
    probe = RegisterProbe(read_select(spec.select, "p"), ProbeValue(spec))
    (block,) = blocks_of([probe])
    assert block.found((0xFFFF,)) == (Sample("head_p", -10_500.0),)


def test_neighbours_are_read_at_once_and_holes_never(pressure: MakeProbe) -> None:
    blocks = gathered(
        pressure,
        "2/input:1:int16",
        "1/input:4:int16",
        "1/input:0:float32",
        "1/input:2:int16",
        "1/holding:3:int16",
        "1/input:1:int16",  # the low word of the float, asked for by itself
    )
    assert [block.words for block in blocks] == [
        "device 1, holding 3",
        "device 1, input 0 to 2",
        "device 1, input 4",
        "device 2, input 1",
    ]
    assert [block.count for block in blocks] == [1, 3, 1, 1]
    found = blocks[1].found((0x40E8, 7, 9))
    values = {item.channel: item.value for item in found if isinstance(item, Sample)}
    psi = 6894.757293168361
    assert values["p5"] == 7 * psi
    assert values["p3"] == 9 * psi


def test_no_request_is_longer_than_the_standard_allows(pressure: MakeProbe) -> None:
    blocks = gathered(pressure, *(f"1/input:{n}:int16" for n in range(130)))
    assert [block.count for block in blocks] == [125, 5]
    twos = gathered(pressure, *(f"1/input:{n}:int32" for n in range(0, 130, 2)))
    assert [block.count for block in twos] == [124, 6]


def test_alone_asks_for_each_probe_by_itself(pressure: MakeProbe) -> None:
    (block,) = gathered(pressure, "1/input:0:float32", "1/input:2:int16")
    assert [one.words for one in block.alone()] == ["device 1, input 0 to 1", "device 1, input 2"]


def test_exceptions_say_what_to_do() -> None:
    # Names of the codes: section 7 of the Application Protocol V1.1b3.
    assert "'holding'" in exception_words(1, "input")
    assert "what a manual calls 30004 is 3" in exception_words(2, "input")
    assert "what a manual calls 40004 is 3" in exception_words(2, "holding")
    assert exception_words(99, "input").startswith("exception 99, ")
