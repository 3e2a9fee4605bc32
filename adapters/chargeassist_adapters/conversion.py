"""From the number a probe sends to a reading in SI, or to a fault that says why not. Pure.

Every parser of this package ends here, so that one set of rules holds for all transports:

- a number is a plain decimal number in ASCII, finite, smaller than 1e20 in size; spaces may
  stand between its sign and it;
- ``value * scale + offset`` of the probe comes first, then its declared unit;
- a unit that comes with the value must be the declared one; where one may differ (SenML) the value
  is converted to the declared unit first;
- a value outside the declared range of the probe is kept and marked ``Quality.RANGE``;
- a temperature of 150 K (-123 °C) or less is a fault: thermometers send such numbers (-127, -999)
  for "no sensor".
"""

import codecs
import math
import re
from dataclasses import dataclass
from typing import Protocol

from chargeassist.model.channels import Quality
from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.job import ProbeSpec
from chargeassist.model.quick_init import quick_init
from chargeassist.model.sent_number import why_no_reading
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Unit, find_unit

READS_COMMA = " (csv with delimiter ';' reads a decimal comma)"

# Scales pad between sign and number: "ST,GS,-   0.456 kg".
_NUMBER = re.compile(r"([+-]?) *((?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)", re.ASCII)
_NO_READING = frozenset(
    {
        *("nan", "+nan", "-nan", "inf", "+inf", "-inf", "infinity", "+infinity", "-infinity"),
        *("null", "none", "n/a", "--", "---", "----", "ol", "-ol", "over", "open", "err", "error"),
    }
)


@quick_init
@dataclass(frozen=True, slots=True)
class Sample:
    """One value for one channel.

    Attributes
    ----------
    channel : str
    value : float
        In the SI unit of the channel.
    quality : Quality
    device_time : float or None
        The device's own time [s].
    """

    channel: str
    value: float
    quality: Quality = Quality.GOOD
    device_time: float | None = None


@dataclass(frozen=True, slots=True)
class Fault:
    """Why something could not be read, and what it was."""

    reason: str
    raw: bytes = b""


Found = Sample | Fault
"""What a parser makes of a piece of input; never an exception."""


def bare(raw: bytes) -> bytes:
    """Return a message without the byte-order mark before it and the zero bytes after it.

    Some devices send a text as their editor or their C compiler keeps it.
    """
    return raw.removeprefix(codecs.BOM_UTF8).rstrip(b"\0 \t\r\n")


class PayloadParser(Protocol):
    """Reads one line or one message."""

    def parse(self, raw: bytes, now: float) -> tuple[Found, ...]:
        """Return what `raw` holds for the probes of this parser; never raises.

        Parameters
        ----------
        raw : bytes
        now : float
            Session time of arrival [s]; what relative times in the payload count from.
        """
        ...


class ProbeValue:
    """The conversion of one probe, looked up once.

    Raises
    ------
    ConfigError
        If the unit does not measure what the channel measures, if a pressure says neither gauge
        nor absolute or both, or if scale or offset cannot be used.
    """

    def __init__(self, probe: ProbeSpec) -> None:
        channel = probe.channel
        where = f"probe {plain(channel.name)!r}"
        try:
            self.unit = find_unit(channel.unit, channel.quantity)
        except UnitError as exc:
            raise ConfigError(f"{where}: {exc}") from exc
        said = self.unit.reference
        if channel.quantity is Quantity.PRESSURE:
            if said is None and channel.reference is None:
                raise ConfigError(
                    f"{where}: unit {channel.unit!r} does not say gauge or absolute; "
                    f"write {self.unit.symbol}g or {self.unit.symbol}a"
                )
            if said is not None and channel.reference not in (None, said):
                raise ConfigError(
                    f"{where}: unit {channel.unit!r} is {said.value}, "
                    f"but the channel is declared {channel.reference}"
                )
        if not (math.isfinite(probe.scale) and math.isfinite(probe.offset)) or probe.scale == 0:
            raise ConfigError(
                f"{where}: expected a finite scale other than 0 and a finite offset, "
                f"got scale {probe.scale} and offset {probe.offset}"
            )
        self.channel = channel
        self._reference = said or channel.reference
        self._scale = probe.scale
        self._offset = probe.offset
        self._corrected = (probe.scale, probe.offset) != (1.0, 0.0)

    def fault(self, reason: str, raw: bytes) -> Fault:
        """Return a fault that names the channel."""
        return Fault(f"{self.channel.name}: {reason}", raw)

    def agrees(self, unit: Unit) -> bool:
        """Return whether a value said to be in `unit` may be read in the declared one.

        "psi" from a probe declared "psig" agrees: the device says less than the job does, and
        nothing else. "psia" does not.
        """
        mine = self.unit
        return (
            unit.quantity is mine.quantity
            and (unit.scale, unit.offset) == (mine.scale, mine.offset)
            and unit.reference in (None, self._reference)
        )

    def from_text(
        self,
        text: str,
        raw: bytes,
        *,
        device_time: float | None = None,
        decimal_comma: bool = False,
    ) -> Found:
        """Return the reading in a text such as "248.1" or "248.1 psig".

        Parameters
        ----------
        text : str
        raw : bytes
            What a fault shows.
        device_time : float, optional
            [s]
        decimal_comma : bool
            Whether "35,2" is a number too.
        """
        text = text.strip()
        if text.casefold() in _NO_READING or not text:
            return self.fault(f"no reading (the probe sent {plain(text, 20)!r})", raw)
        found = number_and_rest(text, decimal_comma=decimal_comma)
        if found is None:
            return self.fault(f"expected a number, got {plain(text, 40)!r}", raw)
        number, rest = found
        if rest:
            problem = self._wrong_suffix(rest)
            if problem:
                return self.fault(problem, raw)
        return self.from_number(number, raw, device_time=device_time)

    def _wrong_suffix(self, rest: str) -> str:
        declared = self.channel.unit
        if rest[0] in ",.+-0123456789":
            more = f"expected one number, got more after it: {plain(rest, 20)!r}"
            comma = re.match(r",\d", rest, re.ASCII) is not None
            return f"{more}{READS_COMMA}" if comma else more
        try:
            unit = find_unit(rest, self.channel.quantity)
        except UnitError:
            return f"wrong unit: expected {declared}, got {plain(rest, 20)!r}"
        return "" if self.agrees(unit) else f"wrong unit: expected {declared}, got {unit.symbol}"

    def from_number(
        self,
        number: float,
        raw: bytes,
        *,
        unit: Unit | None = None,
        device_time: float | None = None,
    ) -> Found:
        """Return the reading for `number` as sent.

        Parameters
        ----------
        number : float
            In `unit`.
        raw : bytes
            What a fault shows.
        unit : Unit, optional
            Of the same quantity; the declared one if not given.
        device_time : float, optional
            [s]
        """
        channel = self.channel
        own = unit or self.unit
        if self._corrected and (own.scale, own.offset) != (self.unit.scale, self.unit.offset):
            in_own = self.unit.from_si(own.to_si(number))
            value = self.unit.to_si(in_own * self._scale + self._offset)
        else:
            value = own.to_si(number * self._scale + self._offset)
        problem = why_no_reading(number, value, channel.quantity)
        if problem:
            return self.fault(problem, raw)
        return Sample(channel.name, value, channel.quality_of(value), device_time)


def number_and_rest(text: str, *, decimal_comma: bool = False) -> tuple[float, str] | None:
    """Return the number that `text` begins with and what follows it, or None.

    Parameters
    ----------
    text : str
    decimal_comma : bool
        Whether "35,2" is a number too.
    """
    if decimal_comma and "." not in text:
        text = text.replace(",", ".", 1)
    match = _NUMBER.match(text)
    if match is None:
        return None
    return float(match[1] + match[2]), text[match.end() :].strip()


def time_from_text(text: str, *, decimal_comma: bool = False) -> float | None:
    """Return the device's own time [s] in `text`, or None if it is not a plain number.

    Parameters
    ----------
    text : str
    decimal_comma : bool
        Whether "12,5" is a number too.
    """
    found = number_and_rest(text.strip(), decimal_comma=decimal_comma)
    return found[0] if found is not None and not found[1] and math.isfinite(found[0]) else None
