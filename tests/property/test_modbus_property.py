"""Registers: what is asked for, what is in it, whatever a job file or a device says."""

import struct
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.job import ProbeSpec
from chargeassist_adapters.conversion import Fault, ProbeValue, Sample
from chargeassist_adapters.modbus_registers import (
    Register,
    RegisterProbe,
    blocks_of,
    read_select,
)

KINDS = {"int16": "h", "uint16": "H", "int32": "i", "uint32": "I", "float32": "f"}
VALUE = ProbeValue(
    ProbeSpec(channel=Channel(name="a", role=Role.COMPRESSOR_CURRENT, unit="A"), select="")
)


@st.composite
def registers(draw: st.DrawFn) -> Register:
    kind = draw(st.sampled_from(sorted(KINDS)))
    order = "abcd" if kind.endswith("16") else draw(st.sampled_from(["abcd", "cdab", "dcba"]))
    return Register(
        device=draw(st.integers(1, 4)),
        table=draw(st.sampled_from(["input", "holding"])),
        address=draw(st.integers(0, 300)),
        kind=kind,
        order=order,
    )


@given(registers())
def test_a_select_says_all_of_a_register(register: Register) -> None:
    order = "" if register.words == 1 else f":{register.order}"
    text = f"{register.device}/{register.table}:{register.address}:{register.kind}{order}"
    assert read_select(text, "p") == register


@given(st.text(max_size=40))
def test_any_text_is_a_register_or_refused(text: str) -> None:
    with suppress(ConfigError):
        assert isinstance(read_select(text, "p"), Register)


@given(st.lists(registers(), min_size=1, max_size=40))
def test_each_probe_is_in_one_block_and_no_block_has_a_hole(found: list[Register]) -> None:
    blocks = blocks_of([RegisterProbe(each, VALUE) for each in found])
    assert sorted(str(p.register) for b in blocks for p in b.probes) == sorted(map(str, found))
    for block in blocks:
        assert 1 <= block.count <= 125
        asked = {
            at
            for probe in block.probes
            for at in range(probe.register.address, probe.register.address + probe.register.words)
        }
        assert asked == set(range(block.address, block.address + block.count))
        assert {(p.register.device, p.register.table) for p in block.probes} == {
            (block.device, block.table)
        }


@given(registers(), st.data())
def test_a_number_comes_back_as_it_was_written(register: Register, data: st.DataObject) -> None:
    code = KINDS[register.kind]
    size = struct.calcsize(f">{code}")
    sent = data.draw(st.binary(min_size=size, max_size=size))
    (number,) = struct.unpack(f">{code}", sent)
    if size == 4:
        sent = {"abcd": sent, "cdab": sent[2:] + sent[:2], "dcba": sent[::-1]}[register.order]
    words = struct.unpack(f">{size // 2}H", sent)
    assert register.number(words) == pytest.approx(number, rel=0, abs=0, nan_ok=True)


@given(registers(), st.lists(st.integers(0, 0xFFFF), min_size=2, max_size=2))
def test_any_words_are_a_reading_or_a_fault(register: Register, words: list[int]) -> None:
    (block,) = blocks_of([RegisterProbe(register, VALUE)])
    (found,) = block.found(words[: register.words])
    assert isinstance(found, Sample | Fault)
