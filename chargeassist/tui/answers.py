"""What the technician types, read into SI; every refusal says what was expected."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model import display, units
from chargeassist.model.channels import Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.errors import ConfigError, UnitError
from chargeassist.model.mark_event import RECOVERED, MarkDetails
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Reference
from chargeassist.session.typed_time import Now, split_read_time
from chargeassist.stream.facts import ChargeStep, Facts

NOT_KNOWN = "?"
_MINUS = "-−"
_THOUSANDS = re.compile(r"(?<![\d.,])[1-9]\d{0,2}(,\d{3})+(?![\d,])", re.ASCII)

_CORRECTS_S = 30.0
"""So long after a step that only the scale has seen, its amount may be put right."""


@dataclass(frozen=True, slots=True)
class Amount:
    """A mass [kg], positive; None: by the scale, or not known."""

    mass_kg: float | None


def lacking_amount(snapshot: Snapshot | None) -> ChargeStep | None:
    """Return the step that an amount said now belongs to, or None."""
    if snapshot is None or not snapshot.facts.ledger:
        return None
    last = snapshot.facts.ledger[-1]
    fresh = snapshot.t - last.ended_t <= _CORRECTS_S and last.measured_by != "technician"
    if fresh:
        return last
    lacking = (step for step in reversed(snapshot.facts.ledger) if step.mass_kg is None)
    return next((step for step in lacking if not step.came_out), None)


def lacking_recovered(snapshot: Snapshot | None) -> ChargeStep | None:
    """Return the recovery that an amount of refrigerant said now belongs to, or None."""
    ledger = () if snapshot is None else snapshot.facts.ledger
    lacking = (step for step in reversed(ledger) if step.mass_kg is None)
    return next((step for step in lacking if step.came_out), None)


def came_out(amount: Amount) -> MarkDetails:
    """Return what a mark tells of an amount that was recovered, known or not."""
    if amount.mass_kg is None:
        return {"text": RECOVERED}
    return {"mass_kg": -amount.mass_kg}


def mass_unit(system: UnitSystem) -> str:
    """Return the unit a bare number is taken in: "g" or "oz"."""
    return "oz" if system is UnitSystem.US else "g"


def amount(text: str, system: UnitSystem, *, scale: bool) -> Amount:
    """Return the amount typed at the end of a charge step.

    Parameters
    ----------
    text : str
        "85 g", "3 oz", "1 lb 2 oz"; a bare number is in the shown unit. Blank: by the scale.
    system : UnitSystem
    scale : bool
        Whether the cylinder stands on a scale that delivers.

    Raises
    ------
    UnitError
        If it is no mass, not more than zero, or blank without a scale.
    """
    typed = text.strip()
    unit = mass_unit(system)
    if typed == NOT_KNOWN:
        return Amount(None)
    if not typed:
        if scale:
            return Amount(None)
        raise UnitError(f"no scale reads this: type the amount in {unit}, or ? if nobody knows")
    if typed[0] in _MINUS:
        raise UnitError(
            f"expected an amount without a minus, got {typed}; what came out is recovered"
        )
    mass_kg = units.parse(_with_unit(typed, unit), Quantity.MASS)
    if not math.isfinite(mass_kg) or mass_kg <= 0.0:
        raise UnitError(f"expected more than 0 {unit}, got {typed}")
    return Amount(mass_kg)


def recovered(text: str, system: UnitSystem) -> Amount:
    """Return the amount typed for what was recovered, still positive.

    Raises
    ------
    UnitError
        If it is no mass or not more than zero.
    """
    typed = text.strip()
    if not typed:
        raise UnitError(f"type what came out, in {mass_unit(system)}, or ? if nobody knows")
    if typed[0] in _MINUS:
        raise UnitError(f"expected an amount without a minus, got {typed}")
    return amount(typed, system, scale=False)


def dose(text: str, system: UnitSystem) -> Amount:
    """Return an amount that must be known.

    Raises
    ------
    UnitError
        If it is no mass or not more than zero.
    """
    if text.strip() in {"", NOT_KNOWN}:
        raise UnitError(f"type how much, in {mass_unit(system)}")
    return amount(text, system, scale=False)


def frequency(text: str) -> float:
    """Return a compressor frequency [Hz]; a bare number is in hertz.

    Raises
    ------
    UnitError
        If it is no frequency, or not one a compressor runs at.
    """
    typed = text.strip()
    if not typed:
        raise UnitError("type the frequency the unit shows, in Hz")
    value_hz = units.parse(_with_unit(typed, "Hz"), Quantity.FREQUENCY)
    if not 0.0 < value_hz <= 500.0:
        raise UnitError(f"expected more than 0 and up to 500 Hz, got {typed}")
    return value_hz


@dataclass(frozen=True, slots=True)
class Held:
    """A confirmed frequency [Hz], and since when it has been held [s]; None: as it is typed."""

    frequency_hz: float
    since_t: float | None = None


def frequency_held(text: str, *, now: Callable[[], Now]) -> Held:
    """Return a frequency as `frequency` reads it, and after it "12 min ago" or "at 14:05".

    Raises
    ------
    ConfigError
        If it is no such frequency, or the time is yet to come or before the session began.
    """
    number, since_t = split_read_time(text, now())
    if since_t is not None and since_t < 0.0:
        raise ConfigError("that was before the session began: expected a time since then")
    return Held(frequency(number), since_t)


_ENTRY_UNIT = {
    Quantity.VOLTAGE: ("V", "V"),
    Quantity.CURRENT: ("A", "A"),
    Quantity.AIRFLOW: ("L/s", "cfm"),
    Quantity.TEMPERATURE: ("°C", "°F"),
    Quantity.MASS: ("kg", "lb"),
    Quantity.PRESSURE: ("kPag", "psig"),
    Quantity.POWER: ("W", "Btu/h"),
    Quantity.DURATION: ("h", "h"),
}
_EXAMPLES = {
    Quantity.VOLTAGE: (230.0, 230.0),
    Quantity.CURRENT: (11.6, 11.6),
    Quantity.AIRFLOW: (500.0, 1050.0),
    Quantity.TEMPERATURE: (18.5, 65.0),
    Quantity.MASS: (13.2, 29.0),
    Quantity.PRESSURE: (1500.0, 217.0),
    Quantity.POWER: (9600.0, 32_700.0),
    Quantity.DURATION: (5.0, 5.0),
}


def entry_unit(kind: Entry, system: UnitSystem) -> str:
    """Return the unit a bare number is taken in."""
    if kind.reference is Reference.ABSOLUTE:
        return "micron" if system is UnitSystem.US else "Pa"
    return _ENTRY_UNIT[kind.quantity][system is UnitSystem.US]


def example(kind: Entry, system: UnitSystem) -> str:
    """Return an example of what can be typed: "1050 cfm"."""
    number = _EXAMPLES[kind.quantity][system is UnitSystem.US]
    if kind.reference is Reference.ABSOLUTE:
        number = 450.0 if system is UnitSystem.US else 60.0
    return f"{number:g} {entry_unit(kind, system)}"


def entry(text: str, kind: Entry, system: UnitSystem) -> float:
    """Return what was typed for an entry, in SI; a bare number is in the shown unit.

    Raises
    ------
    UnitError
        If it is no such quantity, or beyond what is believed.
    """
    typed = text.strip()
    if not typed:
        raise UnitError(f"type {kind.label}, such as {example(kind, system)}")
    text = _with_unit(typed, entry_unit(kind, system))
    if kind.reference is not None:
        value_si, reference = units.parse_pressure(text, kind.reference)
        if reference is not kind.reference:
            raise UnitError(f"expected a pressure that is {kind.reference.value}, got {typed}")
    else:
        value_si = units.parse(text, kind.quantity)
    low, high = kind.span_si
    if not low <= value_si <= high:
        shown = (
            display.reading(each, kind.quantity, kind.reference, system) for each in kind.span_si
        )
        raise UnitError(f"expected {' to '.join(shown)}, got {typed}")
    return value_si


@dataclass(frozen=True, slots=True)
class Typed:
    """A typed reading [SI], and the session time it was read at [s]; None: as it is typed."""

    value_si: float
    read_t: float | None = None


def reading(
    text: str, kind: Entry, system: UnitSystem, *, now: Callable[[], Now], last_t: float | None
) -> Typed:
    """Return what was typed for an entry, with its time where that is said.

    Parameters
    ----------
    text : str
        As `entry` takes it, and after it "2 min ago" or "at 14:05".
    kind : Entry
    system : UnitSystem
    now : callable
        The present moment.
    last_t : float or None
        When the last reading of its kind was read [s].

    Raises
    ------
    ConfigError
        If it is no such quantity, or was read before the last one, or is yet to be read.
    """
    number, read_t = split_read_time(text, now())
    value_si = entry(number, kind, system)
    if read_t is not None and read_t < 0.0:
        raise ConfigError("that was before the session began: expected a time since then")
    if read_t is not None and last_t is not None and read_t <= last_t:
        raise ConfigError(
            f"the last one was read at {display.clock(last_t)} of the session, this one at "
            f"{display.clock(read_t)}: expected a later one"
        )
    return Typed(value_si, read_t)


_OTHER_LINE = {
    Entry.LIQUID_PRESSURE: Role.SUCTION_PRESSURE,
    Entry.LIQUID_PIPE: Role.SUCTION_TEMPERATURE,
    Entry.SUCTION_PRESSURE: Role.LIQUID_PRESSURE,
    Entry.SUCTION_PIPE: Role.LIQUID_TEMPERATURE,
}
_HIGHER = {Entry.LIQUID_PRESSURE, Entry.LIQUID_PIPE}


def doubt_line(typed: Typed, kind: Entry, facts: Facts, system: UnitSystem) -> str:
    """Return why a reading looks like one of the other line; empty when it does not.

    While a unit cools its liquid line is under more pressure than the suction line, and warmer.
    """
    role = _OTHER_LINE.get(kind)
    other = None if role is None else facts.live(role)
    if role is None or other is None:
        return ""
    if (typed.value_si > other) is (kind in _HIGHER):
        return ""
    shown = display.reading(other, kind.quantity, kind.reference, system)
    than = "above" if kind in _HIGHER else "below"
    return f"that is not {than} {shown}, the {role.label}: it looks like the other line's"


_MOSTLY_GONE = 0.5
"""A test pressure under this share of the last one is asked about [1]: what is left of a slip of
the key or of another instrument's number; a test that really fell so far says so twice."""


def doubt_test(typed: Typed, kind: Entry, facts: Facts, system: UnitSystem) -> str:
    """Return why a test pressure looks like another instrument's number; empty when not."""
    last = facts.entered.get(kind)
    if kind is not Entry.TEST_PRESSURE or last is None:
        return ""
    if typed.value_si >= _MOSTLY_GONE * last.value_si:
        return ""
    shown = display.reading(last.value_si, kind.quantity, kind.reference, system)
    return f"that is less than half of {shown}, read last: let out, or another number?"


def note(text: str) -> str:
    """Return a note made plain.

    Raises
    ------
    UnitError
        If it is empty.
    """
    typed = plain(text.strip(), 300)
    if not typed:
        raise UnitError("nothing is written yet")
    return typed


def doubt(answer: Amount, full_kg: float, system: UnitSystem) -> str:
    """Return why an amount looks like a slip of the unit; empty when it does not."""
    if answer.mass_kg is None or answer.mass_kg <= full_kg:
        return ""
    return (
        f"{display.mass(answer.mass_kg, system)} in one step is more than the whole circuit takes "
        f"({display.mass(full_kg, system)})"
    )


def _with_unit(typed: str, unit: str) -> str:
    if re.search(r"\d,\d", typed):
        if _THOUSANDS.search(typed):
            either = f"{typed.replace(',', '')} or {typed.replace(',', '.')}"
            raise UnitError(f"a comma can mean two numbers: write {either}")
        raise UnitError(f"write a point, not a comma: {typed.replace(',', '.')}")
    if re.fullmatch(r"[+\-−]?(\d+\.?\d*|\.\d+)", typed):
        return f"{typed} {unit}"
    if re.fullmatch(r"[+\d. ]+", typed):
        raise UnitError(f"expected one number, such as 85 or 85 {unit}, got {typed}")
    return typed
