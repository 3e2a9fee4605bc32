"""Registers of Modbus devices: which a probe names, which are read at once, what they hold. Pure.

A register is an unsigned number of 16 bits, the high byte first on the wire. Numbers of 32 bits
stand in two registers, as a rule the high word first, but many devices send the low word first.

Reference: Modbus Application Protocol Specification V1.1b3 (Modbus Organization, 2012): sections
4.2 and 4.3 (encoding, tables), 6.3 and 6.4 (at most 125 registers a request), 7 (exceptions).
"""

import re
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain
from chargeassist_adapters.conversion import Found, ProbeValue

FUNCTIONS: Final = {"holding": 3, "input": 4}
"""Function code that reads each table. Coils and discrete inputs hold no numbers."""

MOST_REGISTERS: Final = 125
HIGHEST_DEVICE: Final = 247

_KINDS: Final = {"int16": "h", "uint16": "H", "int32": "i", "uint32": "I", "float32": "f"}
_ENDS: Final = {
    "int16": (-(2.0**15), 2.0**15 - 1.0),
    "uint16": (2.0**16 - 1.0,),
    "int32": (-(2.0**31), 2.0**31 - 1.0),
    "uint32": (2.0**32 - 1.0,),
}
"""Numbers that say "no sensor", or that the number is larger than the register."""

_ORDERS: Final = {
    "abcd": (0, 1, 2, 3),
    "cdab": (2, 3, 0, 1),
    "badc": (1, 0, 3, 2),
    "dcba": (3, 2, 1, 0),
}
_SWAP: Final = "swap"
_SELECT = re.compile(
    r"(\d{1,3})/([a-z]+):(\d{1,5}):([a-z]+\d+)(?::([a-z]+))?", re.ASCII | re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Register:
    """Where a number stands and how it is written.

    Attributes
    ----------
    device : int
        1 to 247.
    table : str
        "input" or "holding".
    address : int
        As sent on the wire, counted from 0.
    kind : str
        "int16", "uint16", "int32", "uint32" or "float32".
    order : str
        Order in which the four bytes of 32 bits are sent, "a" being the highest.
    """

    device: int
    table: str
    address: int
    kind: str
    order: str = "abcd"

    @property
    def words(self) -> int:
        """How many registers it takes."""
        return 1 if self.kind.endswith("16") else 2

    def number(self, words: Sequence[int]) -> float:
        """Return the number in `words`, `self.words` of 0 to 65535; may be NaN."""
        sent = struct.pack(f">{len(words)}H", *words)
        if len(words) == 2:
            sent = bytes(sent[place] for place in _ORDERS[self.order])
        (number,) = struct.unpack(f">{_KINDS[self.kind]}", sent)
        return float(number)


def read_select(select: str, name: str) -> Register:
    """Return the register that a text such as "2/input:3:int16" names.

    Parameters
    ----------
    select : str
        ``device/table:register:type``, and for 32 bits ``:swap`` where the low word comes first,
        or the order of bytes in letters: ``:abcd``, ``:cdab``, ``:badc``, ``:dcba``.
    name : str
        Of the channel, for errors.

    Raises
    ------
    ConfigError
    """
    match = _SELECT.fullmatch(select.strip())
    if match is None:
        raise _refused(name, "device/table:register:type such as 1/input:3:int16", select)
    device, table, address = int(match[1]), match[2].lower(), int(match[3])
    kind, order = match[4].lower(), (match[5] or "").lower()
    if not 1 <= device <= HIGHEST_DEVICE:
        raise _refused(name, f"a device from 1 to {HIGHEST_DEVICE}", match[1])
    if table not in FUNCTIONS:
        raise _refused(name, f"table {' or '.join(FUNCTIONS)}", table)
    if kind not in _KINDS:
        raise _refused(name, f"type {', '.join(_KINDS)}", kind)
    found = Register(device, table, address, kind)
    if address + found.words > 0x10000:
        raise _refused(name, "a register from 0 to 65535, counted from 0", match[3])
    if not order:
        return found
    if found.words == 1:
        raise _refused(name, f"no order of words with the 16 bits of {kind}", order)
    if order != _SWAP and order not in _ORDERS:
        raise _refused(name, f"order {_SWAP}, {', '.join(_ORDERS)}", order)
    return Register(device, table, address, kind, "cdab" if order == _SWAP else order)


def _refused(name: str, expected: str, got: str) -> ConfigError:
    return ConfigError(f"{plain(name)}: select: expected {expected}, got {plain(got)!r}")


@dataclass(frozen=True, slots=True)
class RegisterProbe:
    """A probe and its register."""

    register: Register
    value: ProbeValue


@dataclass(frozen=True, slots=True)
class Block:
    """Registers that are read by one request, and the probes in them.

    Attributes
    ----------
    count : int
        Of registers, from `address` on, without a hole.
    """

    device: int
    table: str
    address: int
    count: int
    probes: tuple[RegisterProbe, ...]

    @property
    def words(self) -> str:
        """What is read, in words: "device 2, input 3 to 6"."""
        last = self.address + self.count - 1
        place = f"{self.address}" if self.count == 1 else f"{self.address} to {last}"
        return f"device {self.device}, {self.table} {place}"

    def found(self, words: Sequence[int]) -> tuple[Found, ...]:
        """Return a reading or fault per probe.

        Parameters
        ----------
        words : sequence of int
            `count` of them.
        """
        out: list[Found] = []
        for probe in self.probes:
            start = probe.register.address - self.address
            own = words[start : start + probe.register.words]
            raw = " ".join(f"{word:04X}" for word in own).encode()
            number = probe.register.number(own)
            if number in _ENDS.get(probe.register.kind, ()):
                reason = f"no reading ({number:.0f} is the end of what {probe.register.kind} holds)"
                out.append(probe.value.fault(reason, raw))
            else:
                out.append(probe.value.from_number(number, raw))
        return tuple(out)

    def alone(self) -> tuple["Block", ...]:
        """Return a block for each probe."""
        return tuple(_block((probe,)) for probe in self.probes)


def blocks_of(probes: Sequence[RegisterProbe]) -> tuple[Block, ...]:
    """Return what is to be read, in order of device, table and register.

    Neighbours are read at once; a register nobody asked for never is, since a device may refuse
    a whole request for one that it does not have.
    """

    def place(probe: RegisterProbe) -> tuple[int, str, int]:
        return probe.register.device, probe.register.table, probe.register.address

    gathered: list[Block] = []
    for probe in sorted(probes, key=place):
        register = probe.register
        last = gathered[-1] if gathered else None
        if (
            last is not None
            and (last.device, last.table) == (register.device, register.table)
            and register.address <= last.address + last.count
            and register.address + register.words - last.address <= MOST_REGISTERS
        ):
            gathered[-1] = _block((*last.probes, probe))
        else:
            gathered.append(_block((probe,)))
    return tuple(gathered)


def _block(probes: tuple[RegisterProbe, ...]) -> Block:
    first = probes[0].register
    end = max(p.register.address + p.register.words for p in probes)
    return Block(first.device, first.table, first.address, end - first.address, probes)


OF_ONE_REGISTER: Final = frozenset({1, 2, 3, 4})
"""Exceptions that a single register may bring on its whole block: then each is asked for alone."""


def exception_words(code: int, table: str) -> str:
    """Return in one clause what an exception answer means and what to do."""
    first = 40001 if table == "holding" else 30001
    said = {
        1: f"it cannot read table {table!r}: does its manual say {_other(table)!r}?",
        2: f"it has no such register: counted from 0, what a manual calls {first + 3} is 3",
        3: "it refuses the request: does the number begin in this register?",
        4: "it failed while it answered: is its sensor connected?",
        5: "it says that it is still working on it",
        6: "it is busy",
        8: "its memory is damaged",
        10: "the gateway has no way to it",
        11: "the gateway gets no answer from it",
    }
    return f"exception {code}, {said.get(code, 'which the standard does not know')}"


def _other(table: str) -> str:
    return next(name for name in FUNCTIONS if name != table)
