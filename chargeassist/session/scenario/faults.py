"""What goes wrong in a scenario, by the words of its file: ``[[fault]]``.

::

    [[fault]]
    kind = "indoor airflow"     # a key of `FAULTS`
    amount = "45 %"             # in the unit of its kind
    at = "6 min"                # when it begins; 0 s when left out
    over = "2 min"              # how long it takes to be whole; a jump when left out
    until = "20 min"            # when it is over; never when left out
    # probes = ["liquid_pressure"]      of a radio gap: which are not heard; all when left out
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.plant.faults import FaultCourse, MachineFaults
from chargeassist.session.job.toml_table import TomlTable, came
from chargeassist.session.scenario.amounts import (
    GAS,
    HERTZ,
    LEAK,
    PRESSURE_DIFFERENCE,
    SECONDS,
    SHARE,
    amount,
    begin_and_end_s,
    check_apart,
    time_s,
)

HUNTING_FRONT_LAG_S: Final = 4.0
"""Lag of the boiling front that, with a late bulb, makes the valve hunt [s]."""

LONGEST_OIL_RETURN_S: Final = 600.0
LONGEST_DEFROST_S: Final = 900.0
"""Longer ones are typing errors [s]."""


@dataclass(frozen=True, slots=True)
class MachineFaultKind:
    """A fault of the machine: the amounts it moves, the first by as much as the file says.

    Attributes
    ----------
    field : str
        Of `chargeassist.plant.faults.MachineFaults`.
    units : mapping of str to float
        Units the amount may be written in, each with its SI factor.
    also : tuple of (str, float)
        Further fields with the amounts that belong to it.
    """

    field: str
    units: Mapping[str, float]
    also: tuple[tuple[str, float], ...] = ()


MACHINE: Final = {
    "non-condensables": MachineFaultKind("non_condensable_mol", GAS),
    "liquid line restriction": MachineFaultKind("restriction_pa", PRESSURE_DIFFERENCE),
    "outdoor airflow": MachineFaultKind("outdoor_air_share", SHARE),
    "condenser surface": MachineFaultKind("condenser_surface_share", SHARE),
    "indoor airflow": MachineFaultKind("indoor_air_share", SHARE),
    "stuck valve": MachineFaultKind("valve_stuck", SHARE),
    "hunting valve": MachineFaultKind(
        "bulb_lag_s", SECONDS, (("front_lag_s", HUNTING_FRONT_LAG_S),)
    ),
    "compressor leakage": MachineFaultKind("compressor_leakage", SHARE),
    "leak": MachineFaultKind("leak_kg_per_s", LEAK),
}
"""Faults inside the machine, by kind."""

_NEVER_HALF: Final = ("stuck valve", "hunting valve")
FAULTS: Final = (*MACHINE, "frequency drop", "oil return", "defrost", "radio gap")
"""Every kind."""


@dataclass(frozen=True, slots=True)
class Silence:
    """Probes that are not heard for a while.

    Attributes
    ----------
    start_s, end_s : float
    roles : frozenset of Role
        Empty for all of them.
    """

    start_s: float
    end_s: float
    roles: frozenset[Role] = frozenset()

    def covers(self, role: Role, t: float) -> bool:
        """Return whether the probe is silent at `t` [s]."""
        return self.start_s <= t < self.end_s and (not self.roles or role in self.roles)


@dataclass(frozen=True, slots=True)
class ScenarioFaults:
    """All faults of one scenario.

    Attributes
    ----------
    courses : tuple of FaultCourse
    commands : tuple of (float, float or None)
        When the compressor is told which frequency, None for the required one [s], [Hz].
    oil_return : (float, float, float) or None
        Begin, length and frequency of an oil return [s], [s], [Hz].
    silences : tuple of Silence
    defrost : (float, float) or None
        Begin and length of an interruption for a defrost [s], [s].
    """

    courses: tuple[FaultCourse, ...]
    commands: tuple[tuple[float, float | None], ...]
    oil_return: tuple[float, float, float] | None
    silences: tuple[Silence, ...]
    defrost: tuple[float, float] | None = None


def read_faults(top: TomlTable, required_hz: float) -> ScenarioFaults:
    """Return the ``[[fault]]`` tables of a scenario file.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    courses: list[FaultCourse] = []
    commands: list[tuple[float, float | None]] = []
    silences: list[Silence] = []
    oil_return: tuple[float, float, float] | None = None
    defrost: tuple[float, float] | None = None
    spans: dict[str, list[tuple[float, float]]] = {}
    for table in top.tables("fault"):
        kind = table.choice("kind", FAULTS)
        at_s, until_s = begin_and_end_s(table)
        if kind in MACHINE or kind == "frequency drop":
            check_apart(table, (at_s, until_s), spans.setdefault(kind, []))
        if kind in MACHINE:
            courses += _courses(table, kind, at_s, until_s)
        elif kind == "radio gap":
            silences.append(read_silence(table, at_s, until_s))
        elif kind == "frequency drop":
            commands.append((at_s, _frequency(table, required_hz)))
            if until_s < math.inf:
                commands.append((until_s, None))
        elif kind == "defrost":
            if defrost is not None:
                raise table.error("kind", "expected one defrost at most", "another")
            lasts_s = _end(table, until_s) - at_s
            if lasts_s > LONGEST_DEFROST_S:
                raise table.error("until", "expected a defrost of up to 15 min", f"{lasts_s:g} s")
            defrost = (at_s, lasts_s)
        elif oil_return is not None:
            raise table.error("kind", "expected one oil return at most", "another")
        else:
            lasts_s = _end(table, until_s) - at_s
            if lasts_s > LONGEST_OIL_RETURN_S:
                raise table.error(
                    "until", "expected an oil return of up to 10 min", f"{lasts_s:g} s"
                )
            oil_return = (at_s, lasts_s, _frequency(table, required_hz))
        table.finish()
    # What ends as the next of its kind begins does not end that one too, in whatever order they
    # stand in the file.
    commands.sort(key=lambda each: (each[0], each[1] is not None))
    return ScenarioFaults(tuple(courses), tuple(commands), oil_return, tuple(silences), defrost)


def read_silence(table: TomlTable, at_s: float, until_s: float) -> Silence:
    """Return the "radio gap" of a table from `at_s` until `until_s` [s], which must be finite.

    Raises
    ------
    ConfigError
        If it is never over, or its probes are no roles.
    """
    return Silence(at_s, _end(table, until_s), _roles(table))


def _courses(table: TomlTable, kind: str, at_s: float, until_s: float) -> list[FaultCourse]:
    fault = MACHINE[kind]
    value = amount(table, "amount", fault.units)
    full_s = at_s + time_s(table, "over", 0.0)
    if kind in _NEVER_HALF and full_s > at_s:
        raise table.error("over", f"expected none: a {kind} comes at once", "one")
    if full_s > until_s:
        raise table.error(
            "over",
            f"expected a fault that is whole before it is over, at {until_s:g} s",
            f"one that is whole at {full_s:g} s",
        )
    moved = ((fault.field, value), *fault.also)
    healthy = MachineFaults()
    try:
        grown = [FaultCourse(name=n, amount=v, start_s=at_s, full_s=full_s) for n, v in moved]
        if until_s < math.inf:
            grown += [
                FaultCourse(name=n, amount=getattr(healthy, n), start_s=until_s, full_s=until_s)
                for n, _ in moved
            ]
    except ConfigError as error:
        raise ConfigError(f"{table.where('amount')}: {error}") from error
    return grown


def _end(table: TomlTable, until_s: float) -> float:
    if until_s == math.inf:
        raise table.error("until", 'expected when it is over, such as "12 min"', "nothing")
    return until_s


def _frequency(table: TomlTable, required_hz: float) -> float:
    frequency_hz = amount(table, "amount", HERTZ)
    low_hz, high_hz = 0.15 * required_hz, 1.5 * required_hz
    if not low_hz <= frequency_hz <= high_hz:
        raise table.error(
            "amount", f"expected {low_hz:.0f} to {high_hz:.0f} Hz", f"{frequency_hz:g} Hz"
        )
    return frequency_hz


def _roles(table: TomlTable) -> frozenset[Role]:
    named = table.get("probes")
    if named is None:
        return frozenset()
    if not isinstance(named, list) or not named or not all(item in tuple(Role) for item in named):
        raise table.error("probes", "expected roles such as liquid_pressure", came(named))
    return frozenset(Role(item) for item in named)
