"""Which roles and units a number may have: only units of the quantity, and a hint how usual. Pure.

The hint is no check: it is there to catch bar taken for psi and °F taken for °C while the probe is
being named. It looks at one number, and what a running or resting unit in ordinary weather shows.
"""

from dataclasses import dataclass
from enum import StrEnum

from chargeassist.model.channels import Role
from chargeassist.model.errors import UnitError
from chargeassist.model.units import (
    KELVIN_AT_0_C,
    PASCAL_PER_TORR,
    Quantity,
    Reference,
    Unit,
    find_unit,
    unit_symbols,
)
from chargeassist.physics.atmosphere import SEA_LEVEL_PA_ABS
from chargeassist.session.wiring.arrived import words_of


def _celsius(low: float, high: float) -> tuple[float, float]:
    return low + KELVIN_AT_0_C, high + KELVIN_AT_0_C


USUAL: dict[Role, tuple[float, float]] = {
    Role.LIQUID_PRESSURE: (0.35e6, 4.6e6),
    Role.SUCTION_PRESSURE: (0.15e6, 2.2e6),
    Role.LIQUID_TEMPERATURE: _celsius(-5.0, 65.0),
    Role.SUCTION_TEMPERATURE: _celsius(-20.0, 45.0),
    Role.DISCHARGE_TEMPERATURE: _celsius(5.0, 130.0),
    Role.OUTDOOR_AIR_TEMPERATURE: _celsius(-20.0, 50.0),
    Role.RETURN_AIR_TEMPERATURE: _celsius(10.0, 40.0),
    Role.RETURN_AIR_WET_BULB: _celsius(5.0, 30.0),
    Role.RETURN_AIR_HUMIDITY: (0.10, 1.0),
    Role.SUPPLY_AIR_TEMPERATURE: _celsius(0.0, 40.0),
    Role.COMPRESSOR_CURRENT: (0.5, 60.0),
    Role.COMPRESSOR_FREQUENCY: (10.0, 150.0),
    Role.CYLINDER_MASS: (1.0, 80.0),
    Role.BAROMETER: (60e3, 108e3),
    Role.VACUUM: (1.0 * PASCAL_PER_TORR * 1e-3, 110e3),
    Role.VOLTAGE_AB: (90.0, 510.0),
    Role.VOLTAGE_BC: (90.0, 510.0),
    Role.VOLTAGE_CA: (90.0, 510.0),
}
"""Lowest and highest usual value by role, SI; pressures gauge, of barometer and vacuum absolute.

Common practice, no published source: split air conditioners on today's refrigerants, running or
at rest, in weather in which they are charged. A vacuum gauge reads from one micron to the air.
"""

_ABSOLUTE_ONLY = frozenset({Role.BAROMETER, Role.VACUUM})
_FIRST = ("psig", "barg", "kPag", "MPag", "°C", "°F", "micron", "hPaa", "mbara", "kPaa", "psia")
"""What probes of the trade mostly send; common practice. Told before units as likely as these."""


class Fit(StrEnum):
    """How a number looks in a role and unit."""

    USUAL = "usual"
    UNUSUAL = "not usual here"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True)
class UnitFit:
    """A unit the probe may send.

    Attributes
    ----------
    unit : Unit
    reference : Reference or None
        Gauge or absolute; None for what is no pressure.
    value_si : float or None
        The number in SI; None where there is no number.
    fit : Fit or None
        None where there is no number.
    """

    unit: Unit
    reference: Reference | None
    value_si: float | None
    fit: Fit | None


def fit_of(role: Role, value_si: float, reference: Reference | None) -> Fit:
    """Return how usual `value_si` is for `role`."""
    if role.quantity is Quantity.PRESSURE:
        if reference is Reference.ABSOLUTE and role not in _ABSOLUTE_ONLY:
            value_si -= SEA_LEVEL_PA_ABS  # near enough to tell gauge from absolute anywhere
        lowest = 0.0 if role in _ABSOLUTE_ONLY else -SEA_LEVEL_PA_ABS
        if value_si < lowest:
            return Fit.IMPOSSIBLE
    elif (role.quantity is Quantity.TEMPERATURE and value_si <= 0.0) or (
        role.quantity in (Quantity.FREQUENCY, Quantity.FRACTION) and value_si < 0.0
    ):
        return Fit.IMPOSSIBLE
    low, high = USUAL[role]
    return Fit.USUAL if low <= value_si <= high else Fit.UNUSUAL


def units_for(role: Role, number: float | None, said: str = "") -> tuple[UnitFit, ...]:
    """Return the units a probe in `role` may send, the likely ones first.

    Parameters
    ----------
    role : Role
    number : float or None
        As sent, its scale applied.
    said : str
        Unit sent beside the number: only those that agree with it are left, for a source refuses
        a value whose unit is another than the declared one.
    """
    sent = _unit(said, role.quantity) if said else None
    if said and sent is None:
        return ()
    fits = []
    for symbol in unit_symbols(role.quantity):
        unit = find_unit(symbol, role.quantity)
        reference = _reference(unit, role)
        if role.quantity is Quantity.PRESSURE and reference is None:
            continue  # a job file asks for gauge or absolute
        if role in _ABSOLUTE_ONLY and reference is not Reference.ABSOLUTE:
            continue
        if sent is not None and not _agrees(sent, unit, reference):
            continue
        value_si = None if number is None else unit.to_si(number)
        fit = None if value_si is None else fit_of(role, value_si, reference)
        fits.append(UnitFit(unit, reference, value_si, fit))
    order = {Fit.USUAL: 0, None: 0, Fit.UNUSUAL: 1, Fit.IMPOSSIBLE: 2}
    first = {symbol: place for place, symbol in enumerate(_FIRST)}
    fits.sort(key=lambda f: (order[f.fit], first.get(f.unit.symbol, len(first))))
    return tuple(fits)


def roles_for(
    name: str, number: float | None, said: str, taken: frozenset[Role]
) -> tuple[Role, ...]:
    """Return the roles a field may have, those first whose words stand in its name.

    Parameters
    ----------
    name : str
        Topic and select.
    number : float or None
    said : str
        Unit sent beside the number; roles of another quantity are left out.
    taken : frozenset of Role
        Those of other probes of the job.
    """
    words = words_of(name)
    open_roles = [r for r in Role if r not in taken and units_for(r, number, said)]
    return tuple(
        sorted(open_roles, key=lambda role: -_alike(words, words_of(f"{role.value} {role.label}")))
    )


def _alike(said: frozenset[str], words: frozenset[str]) -> int:
    """Return how many of `words` stand in a name, whole or by their first four letters or more."""
    return sum(
        any(word.startswith(each) or each.startswith(word) for each in said if len(each) >= 4)
        for word in words
    )


def _reference(unit: Unit, role: Role) -> Reference | None:
    if role.quantity is not Quantity.PRESSURE:
        return None
    if role is Role.VACUUM:
        return unit.reference or Reference.ABSOLUTE
    return unit.reference


def _unit(text: str, quantity: Quantity) -> Unit | None:
    try:
        return find_unit(text, quantity)
    except UnitError:
        return None


def _agrees(sent: Unit, unit: Unit, reference: Reference | None) -> bool:
    same = (sent.scale, sent.offset) == (unit.scale, unit.offset)
    return same and sent.reference in (None, reference)
