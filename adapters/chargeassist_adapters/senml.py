r"""Sensor Measurement Lists in JSON (RFC 8428). Pure.

Wire format ``senml``, one example of two records::

    [{"bn": "urn:dev:mac:0024befffe804ff1/", "bt": 1.7e9, "n": "liquid", "u": "Cel", "v": 35.2},
     {"n": "head", "u": "Pa", "v": 1711000}]

`select` is the full name: base name and name put together. Base values are carried from record to
record and added (``bv``, ``bt``, ``bs``), ``bu`` stands in for a missing ``u``. A name may come
several times; all its values are delivered in the order of the pack.

Units: ``K Cel Pa A Hz V kg g %RH % /`` of the registry of RFC 8428 and ``hPa mA`` of RFC 8798 are
converted, whatever the declared unit; a unit outside the registry must be the declared one; no
unit at all means the declared one. ``C`` and ``F`` are refused: they are coulomb and farad there.
A pressure counts from the reference the channel declares, because SenML does not say.

Time: from 2**28 on it is Unix time; below, it counts from the arrival and is given as session time
(section 4.5.3). No time at all means "now" and gives no device time. A value older than the
channel's longest age is not live and is marked ``Quality.RETAINED``; of Unix times, by a clock that
may be wrong, only how far one lies behind the newest of its pack counts.

Junk: whatever is not a list of records, a version or a mandatory field we do not know (sections
4.4), a text, boolean, data value or a bare sum where a value belongs are faults; so is a pack that
has none of the names.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import msgspec

from chargeassist.model.channels import Channel, Quality
from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.job import ProbeSpec
from chargeassist.model.text import json_words, plain
from chargeassist.model.units import Unit, find_unit
from chargeassist_adapters.conversion import Fault, Found, ProbeValue, Sample

ABSOLUTE_TIME_FROM_S = float(2**28)
"""From here on a time is Unix time [s]; below, relative. Reference: RFC 8428, section 4.5.3."""

MAX_PACK_BYTES = 64 * 1024
MAX_RECORDS = 1000

LAST_PLAIN_VERSION = 10
VERSION_BITS = 0b11010
"""Versions up to 10 are read; above, a version is a sum of feature bits, and these are known.

10 is RFC 8428 itself, 26 adds feature 4, secondary units. References: RFC 8428, section 4.4; RFC
9100, section 2 (from memory).
"""

REGISTERED = frozenset({"K", "Cel", "Pa", "A", "Hz", "V", "kg", "g", "%RH", "%", "hPa", "mA"})
SPELLED_HERE = {"/": "1"}
"""The registry's sign of a ratio, which no probe's own unit is written with."""

OTHER_MEANING = {"C": "coulomb", "F": "farad"}


class Record(msgspec.Struct):
    """The fields of one record, as sent (RFC 8428, table 1)."""

    bn: str | None = None
    bt: float | None = None
    bu: str | None = None
    bv: float | None = None
    bs: float | None = None
    bver: int | None = None
    n: str | None = None
    u: str | None = None
    v: float | None = None
    vs: str | None = None
    vb: bool | None = None
    vd: str | None = None
    s: float | None = None
    t: float | None = None
    ut: float | None = None


@dataclass(frozen=True, slots=True)
class Resolved:
    """One record with the base fields applied.

    Attributes
    ----------
    name : str
    unit : str
        Empty when the pack does not say.
    value, total : float or None
        ``v`` with its base, ``s`` with its base; None when the record has none.
    time_s : float
        As sent [s]; 0 for "roughly now".
    """

    name: str
    unit: str
    value: float | None
    total: float | None
    time_s: float


class PackError(ValueError):
    """The pack as a whole cannot be used."""


def resolve(raw: bytes) -> Iterator[Resolved]:
    """Yield the records of a pack in its order, base fields applied (RFC 8428, section 4.5).

    Raises
    ------
    PackError
        With the reason; nothing is yielded then.
    """
    if len(raw) > MAX_PACK_BYTES:
        raise PackError(f"pack of {len(raw)} bytes passed over (more than {MAX_PACK_BYTES})")
    try:
        plain_records = msgspec.json.decode(raw, type=list[dict[str, Any]])
        records = [msgspec.convert(r, Record) for r in plain_records]
    except (
        msgspec.DecodeError,
        UnicodeDecodeError,
        RecursionError,
        OverflowError,
    ) as exc:
        raise PackError(f"expected a SenML pack: {plain(json_words(exc), 80)}") from exc
    if len(records) > MAX_RECORDS:
        raise PackError(f"pack of {len(records)} records passed over (more than {MAX_RECORDS})")
    for sent in plain_records:
        for label in sent:
            if label.endswith("_"):
                raise PackError(f"field {plain(label, 40)!r} must be understood and is not")
    for record in records:
        if record.bver is not None and not _understood(record.bver):
            raise PackError(f"expected SenML version 10, got {record.bver}")
    return _resolved(records)


def _understood(version: int) -> bool:
    if version <= LAST_PLAIN_VERSION:
        return version >= 1
    return version & ~VERSION_BITS == 0


def _resolved(records: list[Record]) -> Iterator[Resolved]:
    name, unit, time, value, total = "", "", 0.0, None, None
    for r in records:
        name = name if r.bn is None else r.bn
        unit = unit if r.bu is None else r.bu
        time = time if r.bt is None else r.bt
        value = value if r.bv is None else r.bv
        total = total if r.bs is None else r.bs
        other = r.vs is not None or r.vb is not None or r.vd is not None
        has_value = r.v is not None or (value is not None and not other and r.s is None)
        yield Resolved(
            name=name + (r.n or ""),
            unit=unit if r.u is None else r.u,
            value=(value or 0.0) + (r.v or 0.0) if has_value else None,
            total=None if r.s is None and total is None else (total or 0.0) + (r.s or 0.0),
            time_s=time + (r.t or 0.0),
        )


class SenmlParser:
    """Values of a pack, picked by full name."""

    def __init__(self, probes: Sequence[ProbeSpec]) -> None:
        self._values: dict[str, list[ProbeValue]] = {}
        for probe in probes:
            if not probe.select:
                raise ConfigError(
                    f"{plain(probe.channel.name)}: format 'senml' needs select = the full name "
                    "(base name and name put together)"
                )
            self._values.setdefault(probe.select, []).append(ProbeValue(probe))

    def parse(self, raw: bytes, now: float) -> tuple[Found, ...]:
        """Return a reading or fault for each record that bears a selected name."""
        try:
            records = list(resolve(raw))
        except PackError as exc:
            return (Fault(str(exc), raw),)
        found: list[Found] = []
        newest_s = max((r.time_s for r in records if _is_absolute(r.time_s)), default=0.0)
        for record in records:
            for value in self._values.get(record.name, ()):
                found.append(_read(record, value, raw, now, newest_s))
        if not found:
            there = plain(", ".join(dict.fromkeys(r.name for r in records)), 80) or "none"
            wanted = plain(", ".join(self._values), 80)
            return (Fault(f"expected the name {wanted} in the pack (names: {there})", raw),)
        return tuple(found)


def _read(record: Resolved, value: ProbeValue, raw: bytes, now: float, newest_s: float) -> Found:
    if record.value is None:
        kind = "a sum" if record.total is not None else "a text, a boolean or nothing"
        return value.fault(f"expected a value, got {kind}", raw)
    unit = _unit(record.unit, value)
    if isinstance(unit, str):
        return value.fault(unit, raw)
    stamp, age_s = _time(record.time_s, now, newest_s)
    found = value.from_number(record.value, raw, unit=unit, device_time=stamp)
    if isinstance(found, Sample) and _stale(age_s, value.channel):
        return replace(found, quality=Quality.RETAINED)
    return found


def _unit(sent: str, value: ProbeValue) -> Unit | str:
    """Return the unit of a record, or in words why its value cannot be used."""
    declared = value.unit
    if not sent:
        return declared
    wrong = (
        f"wrong unit: expected one that converts to {value.channel.unit}, got {plain(sent, 20)!r}"
    )
    if sent in OTHER_MEANING:
        return f"{wrong} ({OTHER_MEANING[sent]} in SenML; degrees Celsius are 'Cel')"
    try:
        unit = find_unit(SPELLED_HERE.get(sent, sent), value.channel.quantity)
    except UnitError:
        return wrong
    registered = sent in REGISTERED or sent in SPELLED_HERE
    return unit if registered or value.agrees(unit) else wrong


def _is_absolute(time_s: float) -> bool:
    return ABSOLUTE_TIME_FROM_S <= time_s < math.inf


def _time(time_s: float, now: float, newest_s: float) -> tuple[float | None, float]:
    """Return the device time [s] and the least age on arrival [s], 0 where it is not known."""
    if time_s == 0.0 or not math.isfinite(time_s):
        return None, 0.0
    if _is_absolute(time_s):
        return time_s, newest_s - time_s
    return now + time_s, -time_s


def _stale(age_s: float, channel: Channel) -> bool:
    return age_s > channel.max_age_s
