"""The probes of a scenario: how good they are, and how they lie.

::

    [probes]
    grade = "usual"             # good, usual or coarse: noise, lag, steps and declared limits
    without = ["supply_air_temperature"]
    with = ["return_air_wet_bulb"]      # probes that are not there unless asked for

    [[probes.own]]              # one probe that differs from its grade
    role = "liquid_temperature"
    noise = "3 times"
    lag = "20 s"
    zero = "0.4 K"              # it reads so much too high all the time

    [[probes.fault]]
    role = "liquid_pressure"
    kind = "zero"               # zero, loose, stuck or noisy
    amount = "8 psi"            # zero: what is added; noisy: "6 times"; stuck: none;
    at = "10 min"               # loose: what it still feels of the pipe, "35 %"
    over = "5 min"              # a zero that creeps
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.units import Quantity, Reference
from chargeassist.plant.probe_grades import GRADES, ProbeGrade
from chargeassist.plant.probe_set import ProbeFault, ProbeFaultKind
from chargeassist.plant.probes import (
    EXTRA_PROBE_MODELS,
    PROBE_MODELS,
    VACUUM_MODEL,
    ProbeModel,
)
from chargeassist.session.job.toml_table import TomlTable, came
from chargeassist.session.scenario.amounts import (
    FACTOR,
    SECONDS,
    SHARE,
    amount,
    error_units,
    time_s,
)

_PRESSURES: Final = (Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE)
_LINES: Final = (Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE)
_NEEDED: Final = (Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE)
_READ: Final[tuple[Role, ...]] = tuple(role for role in PROBE_MODELS if role is not Role.BAROMETER)
_EXTRA: Final[tuple[Role, ...]] = tuple(EXTRA_PROBE_MODELS)
_MODELS: Final = {**PROBE_MODELS, **EXTRA_PROBE_MODELS, Role.VACUUM: VACUUM_MODEL}
_AIR_LIMIT: Final = Accuracy(absolute_si=0.5)
_LIMITS: Final = {
    Role.DISCHARGE_TEMPERATURE: Accuracy(absolute_si=1.0),
    Role.OUTDOOR_AIR_TEMPERATURE: _AIR_LIMIT,
    Role.RETURN_AIR_TEMPERATURE: _AIR_LIMIT,
    Role.SUPPLY_AIR_TEMPERATURE: _AIR_LIMIT,
    Role.RETURN_AIR_WET_BULB: _AIR_LIMIT,
    Role.RETURN_AIR_HUMIDITY: Accuracy(absolute_si=0.02),
    Role.COMPRESSOR_CURRENT: Accuracy(relative=0.01),
    Role.COMPRESSOR_FREQUENCY: Accuracy(absolute_si=0.1),
    Role.CYLINDER_MASS: Accuracy(absolute_si=0.002),
    Role.VACUUM: Accuracy(absolute_si=1.5, relative=0.1),
}
"""Declared limits of error of the probes that no grade speaks of (assumptions)."""

_RANGES: Final = {
    Role.LIQUID_PRESSURE: (-1.2e5, 5.516e6),
    Role.SUCTION_PRESSURE: (-1.2e5, 5.516e6),
    Role.LIQUID_TEMPERATURE: (233.15, 398.15),
    Role.SUCTION_TEMPERATURE: (233.15, 398.15),
    Role.DISCHARGE_TEMPERATURE: (233.15, 423.15),
    Role.OUTDOOR_AIR_TEMPERATURE: (233.15, 343.15),
    Role.RETURN_AIR_TEMPERATURE: (233.15, 343.15),
    Role.SUPPLY_AIR_TEMPERATURE: (233.15, 343.15),
    Role.RETURN_AIR_WET_BULB: (233.15, 343.15),
    Role.RETURN_AIR_HUMIDITY: (0.0, 1.0),
    Role.COMPRESSOR_CURRENT: (0.0, 60.0),
    Role.COMPRESSOR_FREQUENCY: (-1.0, 200.0),
    Role.CYLINDER_MASS: (-0.1, 60.0),
    Role.VACUUM: (-1.0, 3400.0),
}
"""Range of each probe; those of what can be nothing leave room for noise around it."""

_UNITS: Final = {
    Quantity.PRESSURE: "psig",
    Quantity.TEMPERATURE: "°F",
    Quantity.CURRENT: "A",
    Quantity.FREQUENCY: "Hz",
    Quantity.MASS: "kg",
    Quantity.FRACTION: "%",
}


@dataclass(frozen=True, slots=True)
class ScenarioProbes:
    """The probes of one scenario.

    Attributes
    ----------
    models : mapping of Role to ProbeModel
        Of the probes that are there.
    limits : mapping of Role to Accuracy
        As declared.
    faults : tuple of ProbeFault
    """

    models: Mapping[Role, ProbeModel]
    limits: Mapping[Role, Accuracy]
    faults: tuple[ProbeFault, ...]

    def channels(self, source: str) -> tuple[Channel, ...]:
        """Return the channels of the probes, declared as fed by `source`."""
        return tuple(
            Channel(
                name=role.value,
                role=role,
                unit="micron" if role is Role.VACUUM else _UNITS[role.quantity],
                reference=_reference(role),
                accuracy=self.limits[role],
                low_si=_RANGES[role][0],
                high_si=_RANGES[role][1],
                resolution_si=model.resolution_si,
                source=source,
            )
            for role, model in self.models.items()
        )


def _reference(role: Role) -> Reference | None:
    if role.quantity is not Quantity.PRESSURE:
        return None
    return Reference.ABSOLUTE if role is Role.VACUUM else Reference.GAUGE


def read_probes(table: TomlTable, roles: tuple[Role, ...] = _READ) -> ScenarioProbes:
    """Return the ``[probes]`` of a scenario file.

    Parameters
    ----------
    table : TomlTable
    roles : tuple of Role
        Where probes can be; all are, but those the file leaves out.

    Raises
    ------
    ConfigError
        Naming file, key, what was expected and what came.
    """
    grade = GRADES[table.choice("grade", tuple(GRADES), default="usual")]
    models: dict[Role, ProbeModel] = {}
    limits: dict[Role, Accuracy] = {}
    extra = _EXTRA if Role.RETURN_AIR_TEMPERATURE in roles else ()
    left_out = _roles(table, "without", [role for role in roles if role not in _NEEDED])
    more = _roles(table, "with", list(extra)) if extra else frozenset()
    for role in (*roles, *extra):
        if role in more or (role in roles and role not in left_out):
            models[role], limits[role] = _graded(role, grade)
    faults: list[ProbeFault] = []
    for own in table.tables("own"):
        role = _role(own, models)
        model = models[role]
        models[role] = replace(
            model,
            lag_s=_not_negative(own, "lag", amount(own, "lag", SECONDS, model.lag_s)),
            noise_si=model.noise_si * _not_negative(own, "noise", amount(own, "noise", FACTOR, 1)),
        )
        zero_si = amount(own, "zero", error_units(role), 0.0)
        if zero_si != 0.0:
            faults.append(ProbeFault(role=role, trouble=ProbeFaultKind.ZERO, amount=zero_si))
        own.finish()
    faults += [_fault(each, models) for each in table.tables("fault")]
    table.finish()
    return ScenarioProbes(models, limits, tuple(faults))


def _graded(role: Role, grade: ProbeGrade) -> tuple[ProbeModel, Accuracy]:
    model = _MODELS[role]
    if role in _PRESSURES:
        step, limit = grade.pressure_step_pa, grade.pressure_limit_pa
    elif role in _LINES:
        step, limit = grade.temp_step_k, grade.temp_limit_k
    else:
        return model, _LIMITS[role]
    graded = replace(
        model,
        lag_s=model.lag_s * grade.lag,
        noise_si=model.noise_si * grade.noise,
        drift_si=model.drift_si * grade.noise,
        resolution_si=step,
    )
    return graded, Accuracy(absolute_si=limit)


def _roles(table: TomlTable, key: str, choice: list[Role]) -> frozenset[Role]:
    named = table.get(key)
    if named is None:
        return frozenset()
    known = [role.value for role in choice]
    if not isinstance(named, list) or not all(item in known for item in named):
        raise table.error(key, f"expected some of {', '.join(known)}", came(named))
    return frozenset(Role(item) for item in named)


def _role(table: TomlTable, models: Mapping[Role, ProbeModel]) -> Role:
    return Role(table.choice("role", tuple(role.value for role in models)))


def _not_negative(table: TomlTable, key: str, value: float) -> float:
    if value < 0.0:
        raise table.error(key, "expected 0 or more", f"{value:g}")
    return value


def _fault(table: TomlTable, models: Mapping[Role, ProbeModel]) -> ProbeFault:
    role = _role(table, models)
    trouble = ProbeFaultKind(table.choice("kind", tuple(ProbeFaultKind)))
    at_s = time_s(table, "at", 0.0)
    full_s, value = at_s, 0.0
    if trouble is ProbeFaultKind.ZERO:
        value = amount(table, "amount", error_units(role))
        full_s = at_s + time_s(table, "over", 0.0)
    elif trouble is not ProbeFaultKind.STUCK:
        value = amount(table, "amount", SHARE if trouble is ProbeFaultKind.LOOSE else FACTOR)
    try:
        fault = ProbeFault(role=role, trouble=trouble, amount=value, start_s=at_s, full_s=full_s)
    except ConfigError as error:
        raise ConfigError(f"{table.where('amount')}: {error}") from error
    table.finish()
    return fault
