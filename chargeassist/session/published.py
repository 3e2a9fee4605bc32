r"""What a session tells a board elsewhere, and how it is read there: SenML (RFC 8428). Pure.

Two packs. "values", once a second: every channel and the derived values in SI units::

    [{"bn": "chargeassist/", "bt": 1.78e9, "n": "subcooling", "u": "K", "v": 4.87},
     {"n": "liquid_pressure/gauge", "u": "Pa", "v": 2318000.0}, ...]

"Pa" says only how large a pressure is: its name says what it counts from, "/gauge" or "/absolute".

"verdicts", whenever one changes and kept by the broker: instruction, sentence in both systems of
units, settled or not, names of job, refrigerant and stage, as text values. Nothing that is sent can
change a session; reading is all a board allows.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import msgspec

from chargeassist.guide import wording
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Channel
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import PublishedError
from chargeassist.model.text import json_words, plain
from chargeassist.model.units import Quantity, Reference
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Measured

VALUES: Final = "values"
VERDICTS: Final = "verdicts"
BASE: Final = "chargeassist/"
NO_VALUES: Final = b"[]"
"""A pack of values where nothing is measured; it need not be sent."""
LARGEST: Final = 256 * 1024
"""A pack above this is refused [bytes]."""

UNITS: Final = {
    Quantity.PRESSURE: "Pa",
    Quantity.TEMPERATURE: "K",
    Quantity.CURRENT: "A",
    Quantity.FREQUENCY: "Hz",
    Quantity.MASS: "kg",
    Quantity.VOLTAGE: "V",
    Quantity.FRACTION: "/",
}
"""Symbols of the SenML unit registry (RFC 8428, section 12.1)."""
_DERIVED: Final = ("subcooling", "superheat")
_NOT_IN_A_NAME: Final = re.compile(r"[^A-Za-z0-9:./_-]")


class _Record(msgspec.Struct, omit_defaults=True):
    n: str = ""
    bn: str = ""
    bt: float | None = None
    u: str = ""
    v: float | None = None
    vs: str | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """What a pack says.

    Attributes
    ----------
    values : mapping of str to (float, str)
        Number and unit by name, without the base.
    words : mapping of str to str
    unix_s : float or None
        When it was so [s]; None where the pack does not say.
    """

    values: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    unix_s: float | None = None


def values_pack(snapshot: Snapshot, unix_s: float) -> bytes:
    """Return the numbers of `snapshot` as a SenML pack.

    Parameters
    ----------
    snapshot : Snapshot
    unix_s : float
        Its time [s].
    """
    facts = snapshot.facts
    found: list[tuple[str, str, float | None]] = [
        (_name(each.channel), UNITS.get(each.channel.quantity, ""), each.value_si)
        for each in facts.channels
    ]
    for name, value in zip(_DERIVED, (facts.subcooling, facts.superheat), strict=True):
        if isinstance(value, Measured):
            found += [(name, "K", value.value_k), (f"{name}/expanded", "K", value.expanded_k)]
    goal = facts.goal(snapshot.job.target)
    if not isinstance(goal, NoValue):
        found += [("target/low", "K", goal.low_k), ("target/high", "K", goal.high_k)]
    if facts.settling.forecast is not None:
        found.append(("settling/seconds", "s", facts.settling.forecast.seconds))
    records = [
        _Record(n=_NOT_IN_A_NAME.sub("_", name), u=unit, v=value)
        for name, unit, value in found
        if value is not None
    ]
    return _pack(records, unix_s)


def _name(channel: Channel) -> str:
    """Return what the values of a channel are called: a pressure says what it counts from.

    A job may call a probe what a derived value is called, and the two are not to be confused.
    """
    reference = channel.counted_from
    if reference is not None:
        return f"{channel.name}/{reference.value}"
    return f"{channel.name}/probe" if channel.name in _DERIVED else channel.name


def channel_of(name: str) -> tuple[str, Reference | None]:
    """Return the channel that a value in a pack is of, and what it counts from if it says so."""
    channel, _, word = name.rpartition("/")
    return (channel, Reference(word)) if word in tuple(Reference) else (name, None)


def verdicts_pack(snapshot: Snapshot, unix_s: float) -> bytes:
    """Return the words of `snapshot` as a SenML pack; the same words give the same records."""
    advice, settling = snapshot.advice, snapshot.facts.settling
    mode = "replay" if snapshot.replayed else snapshot.mode.value
    said = {
        "job": snapshot.job.name,
        "refrigerant": snapshot.job.refrigerant,
        "mode": mode,
        "stage": snapshot.stage.value,
        "judged": snapshot.facts.judged.name,
        "action": advice.action.value,
        "cause": advice.cause,
        "settling": settling.state.value,
        "ended": "yes" if snapshot.finished else "no",
        **{
            f"{part}/{system.value}": say(advice, system)
            for system in UnitSystem
            for part, say in (("headline", wording.headline), ("sentence", wording.sentence))
        },
    }
    return _pack([_Record(n=name, vs=plain(text, 400)) for name, text in said.items()], unix_s)


def _pack(records: list[_Record], unix_s: float) -> bytes:
    if records:
        records[0].bn, records[0].bt = BASE, round(unix_s, 3)
    return msgspec.json.encode(records)


def read_pack(payload: bytes) -> Told:
    """Read a pack of either kind; names it does not know are kept, bases are taken off.

    Raises
    ------
    PublishedError
        If it is no SenML pack of this program, or too large.
    """
    expected = "expected a SenML pack of chargeassist (live --publish)"
    if len(payload) > LARGEST:
        raise PublishedError(f"{expected}, got {len(payload)} bytes")
    try:
        records = msgspec.json.decode(payload, type=list[_Record])
    except (msgspec.DecodeError, RecursionError) as error:
        raise PublishedError(f"{expected}: {plain(json_words(error), 160)}") from error
    if not records or records[0].bn != BASE:
        raise PublishedError(f"{expected}, got {plain(payload, 60)!r}")
    return Told(
        values={plain(r.n, 80): (r.v, plain(r.u, 12)) for r in records if r.v is not None},
        words={plain(r.n, 80): plain(r.vs, 400) for r in records if r.vs is not None},
        unix_s=records[0].bt,
    )
