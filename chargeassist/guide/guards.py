"""Guards: limits of the job that come before any reading and call for something else.

Each function returns its instruction, or None if the limit is kept.
"""

from collections.abc import Callable
from operator import attrgetter

from chargeassist.guide import by_hand
from chargeassist.guide.idle import compressor_stands
from chargeassist.model.channels import TEMP_ROUNDING_K, Role
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Guards, Job
from chargeassist.model.limits import LimitKey
from chargeassist.stream.facts import Facts, Measured

GUARD_HYSTERESIS, GUARD_HYSTERESIS_K = 0.01, 1.0
"""How far back inside a limit a value must come before the warning ends, as a fraction of the limit
or in kelvin: otherwise noise would switch the warning on and off."""


FLOODING_SLACK_K = 0.5
"""How far above its limit superheat must come before liquid at the compressor, once told of, counts
as over [K]: as beside a settled reading (`witness.HYSTERESIS_K`)."""

_ROUNDING = {"pa": 0.01, "k": TEMP_ROUNDING_K, "a": 1e-4}
"""What recording may add to a value [SI]: at its limit it has not passed it."""

EMPTY_PA_GAUGE = 20e3
"""Where the high side stands under this, and so does the low side, there is no refrigerant. At rest
R-600a comes to it below -7 °C, R-515B and R-1234ze(E) below -14 °C, R-450A below -18 °C, all others
known here below -22 °C (dew pressure of the table made with CoolProp, at sea level)."""

DRIVEN_UP, STEP_OPEN = frozenset({"liquid_pressure_high", "current_high"}), "step_open"
"""Limits that refrigerant going in drives a value past, and the figure that says that it does."""

_GUARDED: tuple[tuple[Role, str, str, Callable[[Guards], float | None], bool], ...] = (
    (
        Role.LIQUID_PRESSURE,
        "liquid_pressure_high",
        "pa",
        attrgetter("liquid_pressure_high_pa_gauge"),
        True,
    ),
    (
        Role.SUCTION_PRESSURE,
        "suction_pressure_low",
        "pa",
        attrgetter("suction_pressure_low_pa_gauge"),
        False,
    ),
    (
        Role.DISCHARGE_TEMPERATURE,
        "discharge_temp_high",
        "k",
        attrgetter("discharge_temp_high_k"),
        True,
    ),
    (Role.COMPRESSOR_CURRENT, "current_high", "a", attrgetter("current_high_a"), True),
)
"""Role, cause, suffix of the unit, limit of the job, and whether it is an upper limit."""


def empty(facts: Facts) -> Advice | None:
    """Warn of a circuit that is open, evacuated or not connected: no compressor is to run on it."""
    liquid_pa, suction_pa = map(facts.live, (Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE))
    if facts.step_open is not None or liquid_pa is None:
        return None
    highest_pa = max(liquid_pa, liquid_pa if suction_pa is None else suction_pa)
    if highest_pa >= EMPTY_PA_GAUGE:
        return None
    figures = {"value_pa": highest_pa}
    return Advice(t=facts.t, action=Action.FIX_FIRST, cause="circuit_empty", figures=figures)


def guard(job: Job, facts: Facts, previous: Advice | None) -> Advice | None:
    """Return the first limit of the job file that is passed; None if all are kept."""
    said = "" if previous is None else previous.cause
    for role, cause, unit, limit_of, is_high in _GUARDED:
        limit = limit_of(job.guards)
        if limit is None:
            continue
        value = facts.live(role)
        if value is None and role is Role.COMPRESSOR_CURRENT:
            value = by_hand.amps(job, facts)
        if value is None:
            continue
        slack = -_ROUNDING[unit]
        if said == cause:
            slack = GUARD_HYSTERESIS_K if unit == "k" else GUARD_HYSTERESIS * abs(limit)
        if value <= limit - slack if is_high else value >= limit + slack:
            continue
        figures = {f"value_{unit}": value, f"limit_{unit}": limit}
        if facts.step_open is not None and cause in DRIVEN_UP:
            figures[STEP_OPEN] = 1.0
        return Advice(
            t=facts.t,
            action=Action.FIX_FIRST,
            cause=cause,
            subject=job.guards.source,
            figures=figures,
        )
    return None


def charge_limit(job: Job, facts: Facts) -> Advice | None:
    """Stop at more refrigerant in the circuit than plate, code or room size allow.

    What an open step has added by the scale counts already.
    """
    limit_kg = job.charge.limit_kg
    if limit_kg is None:
        return None
    step = facts.step_open
    so_far_kg = 0.0 if step is None else step.so_far_kg or 0.0
    total_kg = facts.total_kg + so_far_kg
    if total_kg <= limit_kg + 1e-9:
        return None
    return Advice(
        t=facts.t,
        action=Action.FIX_FIRST,
        cause="charge_limit",
        subject=job.charge.limit_source,
        figures={"total_kg": total_kg, "limit_kg": limit_kg},
    )


def floodback(job: Job, facts: Facts, lasted_s: float) -> Advice | None:
    """Warn of liquid at the compressor before the reading settles; afterwards the reading does.

    Parameters
    ----------
    job : Job
    facts : Facts
    lasted_s : float
        How long superheat has been too low without a break, with the valve shut [s].
    """
    superheat = facts.superheat
    settled = facts.settled is not None
    if lasted_s <= 0.0 or settled or not isinstance(superheat, Measured):
        return None
    if lasted_s < job.limit_or_usual(LimitKey.FLOODBACK_TIME).value_si:
        return None
    figures = {"superheat_k": superheat.value_k, "limit_k": job.target.superheat_low_k}
    return Advice(t=facts.t, action=Action.FIX_FIRST, cause="low_superheat", figures=figures)


def is_flooding(job: Job, facts: Facts, slack_k: float = 0.0) -> bool:
    """Return whether superheat is certainly under the least that protects the compressor.

    With `slack_k` it has to come back so far above that [K].
    """
    superheat = facts.superheat
    if facts.step_open is not None or not isinstance(superheat, Measured):
        return False
    low_k = job.target.superheat_low_k + slack_k
    if superheat.value_k + (superheat.expanded_k or 0.0) >= low_k:
        return False
    # At rest it draws no liquid, and its suction line is saturated for good reason.
    return not compressor_stands(facts, job.limit_si(LimitKey.IDLE_CURRENT))


class FloodingWatch:
    """Follows how long superheat has been too low.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self._job = job
        self._told_after_s = job.limit_or_usual(LimitKey.FLOODBACK_TIME).value_si
        self._since_t: float | None = None

    def forget(self) -> None:
        """Start again; nothing is known of the time before."""
        self._since_t = None

    def lasts_s(self, facts: Facts) -> float:
        """Return how long it has been too low without a break [s]; 0 if it is not."""
        since_t = self._since_t
        told = since_t is not None and facts.t - since_t >= self._told_after_s
        if not is_flooding(self._job, facts, FLOODING_SLACK_K if told else 0.0):
            self._since_t = None
            return 0.0
        if self._since_t is None:
            self._since_t = facts.t
        return facts.t - self._since_t
