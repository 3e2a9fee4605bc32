"""What a trainee can call, and how it is written in a file of calls.

One call a line, with its session time; a time with a plus counts from the call before::

    # anything after a hash is a remark
    6:40   settled
    +15 s  add 100 g
    +4 min settled
    +10 s  fix: clamp
    14:20  stop
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from chargeassist.guide.fault_terms import Cause
from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, parse


class CallKind(StrEnum):
    """The calls."""

    SETTLED = "settled"
    ADD = "add"
    RECOVER = "recover"
    STOP = "stop"
    FIX = "fix"


@dataclass(frozen=True, slots=True)
class Fix:
    """Something to be put right first.

    Attributes
    ----------
    words : str
        As shown.
    fields : frozenset of str
        Amounts of `chargeassist.plant.faults.MachineFaults` that mean it.
    roles : frozenset of Role
        Probes that are seen to when it is called; then the drill goes on.
    cause : Cause or None
        What the tool calls it.
    """

    words: str
    fields: frozenset[str] = frozenset()
    roles: frozenset[Role] = frozenset()
    cause: Cause | None = None


FIXES: Final[Mapping[str, Fix]] = {
    "restriction": Fix(
        Cause.RESTRICTION.value,
        frozenset({"restriction_pa", "stuck shut"}),
        cause=Cause.RESTRICTION,
    ),
    "gas": Fix(
        Cause.NON_CONDENSABLES.value,
        frozenset({"non_condensable_mol"}),
        cause=Cause.NON_CONDENSABLES,
    ),
    "outdoor coil": Fix(
        Cause.LOW_OUTDOOR_AIRFLOW.value,
        frozenset({"outdoor_air_share", "condenser_surface_share"}),
        cause=Cause.LOW_OUTDOOR_AIRFLOW,
    ),
    "indoor coil": Fix(
        Cause.LOW_INDOOR_AIRFLOW.value,
        frozenset({"indoor_air_share"}),
        cause=Cause.LOW_INDOOR_AIRFLOW,
    ),
    "valve open": Fix(Cause.VALVE_OPEN.value, frozenset({"stuck open"}), cause=Cause.VALVE_OPEN),
    "valve hunts": Fix("expansion valve hunts", frozenset({"bulb_lag_s", "front_lag_s"})),
    "compressor": Fix(
        Cause.VALVE_LEAKAGE.value, frozenset({"compressor_leakage"}), cause=Cause.VALVE_LEAKAGE
    ),
    "leak": Fix("refrigerant leaks out", frozenset({"leak_kg_per_s"})),
    "clamp": Fix(
        "pipe clamp loose, or its probe wrong",
        roles=frozenset(
            {Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE, Role.DISCHARGE_TEMPERATURE}
        ),
        cause=Cause.PROBE_LOOSE,
    ),
    "zero": Fix(
        "pressure probe wrong: zero, stuck or noisy",
        roles=frozenset({Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE}),
        cause=Cause.ZERO_SHIFTED,
    ),
    "frequency": Fix("compressor not at its frequency"),
}
"""By the word it is called with. "clamp", "zero" and "frequency" are put right at once and the
drill goes on; after any other the drill is over: that cannot be cured with a cylinder."""

LATEST_S: Final = 7 * 86_400.0

GOES_ON: Final = frozenset({"clamp", "zero", "frequency"})


@dataclass(frozen=True, slots=True)
class Call:
    """One call at session time `t` [s]; `mass_kg` of a step, `fix` a key of `FIXES`."""

    t: float
    kind: CallKind
    mass_kg: float | None = None
    fix: str = ""


def read_calls(lines: Iterable[str], where: str) -> tuple[Call, ...]:
    """Return the calls of a file, one a line; see the module.

    Parameters
    ----------
    lines : iterable of str
    where : str
        Stands in errors.

    Raises
    ------
    ConfigError
        Naming the line, what was expected and what came.
    """
    calls: list[Call] = []
    for number, line in enumerate(lines, 1):
        text = line.partition("#")[0].strip()
        if not text:
            continue
        before = calls[-1].t if calls else 0.0
        try:
            call = _call(text, before)
        except ConfigError as error:
            raise ConfigError(f"{where}: line {number}: {error}") from error
        if call.t < before:
            raise ConfigError(f"{where}: line {number}: expected a time after {before:g} s")
        calls.append(call)
    return tuple(calls)


def _call(text: str, before: float) -> Call:
    match = re.fullmatch(r"(\+?)(\d+:\d\d(?::\d\d)?|\d+(?:\.\d+)? ?(?:s|min|h))\s+(.+)", text)
    if match is None:
        raise ConfigError(
            f'expected a time and a call, such as "6:40 settled" or "+15 s add 100 g", '
            f"got {plain(text, 60)!r}"
        )
    plus, when, rest = match.groups()
    t = _time(when) + (before if plus else 0.0)
    if not t <= LATEST_S:
        raise ConfigError(
            f"expected a time within {LATEST_S / 3600.0:g} h, got {plain(when, 40)!r}"
        )
    word, _, what = rest.replace(":", ": ", 1).partition(" ")
    what = what.strip()
    match word.rstrip(":").lower():
        case "settled" | "stop" as kind if not what:
            return Call(t, CallKind(kind))
        case "add" | "recover" as kind:
            mass_kg = parse(what, Quantity.MASS)
            if not 0.0 < mass_kg < 50.0:
                raise ConfigError(f"expected more than 0 and less than 50 kg, got {what!r}")
            return Call(t, CallKind(kind), mass_kg)
        case "fix" if what.lower() in FIXES:
            return Call(t, CallKind.FIX, fix=what.lower())
        case "fix":
            raise ConfigError(f"expected one of {', '.join(FIXES)}, got {plain(what, 40)!r}")
        case _:
            raise ConfigError(
                f"expected settled, add AMOUNT, recover AMOUNT, stop or fix: CAUSE, "
                f"got {plain(rest, 60)!r}"
            )


def _time(text: str) -> float:
    if ":" not in text:
        return parse(text, Quantity.DURATION)
    first, *rest = (float(part) for part in text.split(":"))
    if any(part >= 60.0 for part in rest):
        raise ConfigError(f"expected minutes and seconds below 60 after a colon, got {text!r}")
    seconds = first
    for part in rest:
        seconds = seconds * 60.0 + part
    return seconds
