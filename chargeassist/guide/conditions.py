"""Conditions a reading counts in: the state of the unit and the weather the target is given for.

A settled reading says what the circuit does now, but a target holds only in the conditions its
source states. Each limit is one of the job's, with its source. What no probe measures, the
technician can check and confirm; until then it is unknown, and the final verdict says so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from chargeassist.guide.heat_balance import Balance, newer
from chargeassist.model.channels import TEMP_ROUNDING_K, Role
from chargeassist.model.entries import Entry
from chargeassist.model.job import Job
from chargeassist.model.limits import Limit, LimitKey
from chargeassist.model.quick_init import quick_init
from chargeassist.stream.facts import Facts, HoldFacts

HYSTERESIS_K = 0.3
"""An unmet condition is met again only this far inside its limit [K]."""

_AIR = {
    LimitKey.OUTDOOR_LOW: (Role.OUTDOOR_AIR_TEMPERATURE, False),
    LimitKey.OUTDOOR_HIGH: (Role.OUTDOOR_AIR_TEMPERATURE, True),
    LimitKey.INDOOR_LOW: (Role.RETURN_AIR_TEMPERATURE, False),
    LimitKey.INDOOR_HIGH: (Role.RETURN_AIR_TEMPERATURE, True),
}

_OF_THE_HOLD = frozenset({LimitKey.FREQUENCY_TOLERANCE, LimitKey.HOLD_LASTS, LimitKey.RAMP_LONGEST})

_CONDITIONS = frozenset(
    {
        *_AIR,
        *_OF_THE_HOLD,
        LimitKey.RUN_BEFORE_READING,
        LimitKey.WAIT_AFTER_CHANGE,
        LimitKey.FILTERS_PANELS,
        LimitKey.AIRFLOW_LOW,
    }
)

WAIVABLE = frozenset({*_AIR, LimitKey.AIRFLOW_LOW, LimitKey.FILTERS_PANELS})
"""Conditions that may be waived with a reason. Frequency and waiting times may not: without them
there is no reading."""

TOLD_BY_OTHERS = _OF_THE_HOLD | {LimitKey.WAIT_AFTER_CHANGE}
"""Conditions that have an instruction of their own: hold the frequency, wait."""


class ConditionState(StrEnum):
    """Whether a condition holds."""

    MET = "met"
    UNMET = "not met"
    UNKNOWN = "not known"
    WAIVED = "gone on without"


OPEN: Mapping[ConditionState, str] = {
    ConditionState.UNKNOWN: "condition_unknown",
    ConditionState.WAIVED: "condition_waived",
}
"""States that keep a settled reading from being final, and the cause of their caution."""


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """One condition: a limit of the job and how the facts stand to it.

    Attributes
    ----------
    limit : Limit
    state : ConditionState
    value_si : float or None
        What was measured; None if nothing measures it. For a frequency, its deviation [Hz]; for
        the duration of a hold, what is left of it [s].
    why : str
        Why it was waived.
    """

    limit: Limit
    state: ConditionState
    value_si: float | None = None
    why: str = ""

    @property
    def blocks(self) -> bool:
        """Whether nothing is judged because of it.

        An unknown condition does not block, except for filter and panels: afterwards nobody can
        tell whether a reading was taken with a panel off.
        """
        if self.limit.key is LimitKey.FILTERS_PANELS:
            return self.state is ConditionState.UNKNOWN
        return self.state is ConditionState.UNMET

    @property
    def words(self) -> str:
        """Its name, and the reason if it was waived: "outdoor low (gone on without: ...)"."""
        name = self.limit.key.words
        if self.state is ConditionState.WAIVED:
            return f"{name} ({self.state.value}: {self.why})"
        return name


def condition_limits(job: Job) -> tuple[Limit, ...]:
    """Return the limits of the job that are conditions of a reading."""
    return tuple(limit for limit in job.limits if limit.key in _CONDITIONS)


def conditions(
    job: Job,
    facts: Facts,
    unmet_before: frozenset[LimitKey] = frozenset(),
    balance: Balance | None = None,
    limits: Sequence[Limit] | None = None,
) -> tuple[Condition, ...]:
    """Return every condition of the job in the order of its limits.

    Parameters
    ----------
    job : Job
    facts : Facts
    unmet_before : frozenset of LimitKey
        Conditions unmet at the tick before; to be met they must be `HYSTERESIS_K` inside the limit.
    balance : Balance or None
        Airflow by heat balance; counts if it is newer than a typed airflow.
    limits : sequence of Limit or None
        The `condition_limits` of the job, if they are known already.
    """
    found = []
    for limit in condition_limits(job) if limits is None else limits:
        if limit.key in _AIR:
            role, upper = _AIR[limit.key]
            found.append(
                _air(limit, facts.live(role), facts, upper=upper, tight=limit.key in unmet_before)
            )
        elif limit.key is LimitKey.RUN_BEFORE_READING:
            since_t = facts.running_since_t
            run_s = 0.0 if since_t is None else facts.t - since_t
            met = run_s >= limit.value_si
            state = ConditionState.MET if met else ConditionState.UNMET
            found.append(Condition(limit=limit, state=state, value_si=run_s))
        elif limit.key is LimitKey.WAIT_AFTER_CHANGE:
            waited_s = facts.settling.since_s
            met = waited_s >= limit.value_si
            state = ConditionState.MET if met else ConditionState.UNMET
            found.append(Condition(limit=limit, state=state, value_si=waited_s))
        elif limit.key is LimitKey.FILTERS_PANELS:
            seen = limit.key.value in facts.confirmed
            state = ConditionState.MET if seen else ConditionState.UNKNOWN
            found.append(Condition(limit=limit, state=state))
        elif limit.key is LimitKey.AIRFLOW_LOW:
            found.append(_airflow(limit, job, facts, balance))
        elif facts.hold.required_hz is not None:
            found.append(_hold(limit, facts.hold, facts.hold.required_hz))
    if not facts.waived:
        return tuple(found)
    return tuple(_waived(item, facts.waived) for item in found)


def _waived(item: Condition, waived: Mapping[str, str]) -> Condition:
    why = waived.get(item.limit.key.value)
    if why is None or item.limit.key not in WAIVABLE or item.state is ConditionState.MET:
        return item
    return Condition(limit=item.limit, state=ConditionState.WAIVED, value_si=item.value_si, why=why)


def unmet_keys(found: tuple[Condition, ...]) -> frozenset[LimitKey]:
    """Return the keys of the conditions that are not met."""
    return frozenset(item.limit.key for item in found if item.state is ConditionState.UNMET)


def _hold(limit: Limit, hold: HoldFacts, required_hz: float) -> Condition:
    """Return a condition of the frequency hold.

    Settling begins again whenever a hold is lost or won, so a settled reading was held throughout.
    """
    state = ConditionState.MET if hold.held else ConditionState.UNMET
    if limit.key is LimitKey.RAMP_LONGEST:
        if hold.ramp_s is not None and hold.ramp_s <= limit.value_si:
            state = ConditionState.MET
        return Condition(limit=limit, state=state, value_si=hold.ramp_s)
    value_si = hold.expires_s
    if limit.key is LimitKey.FREQUENCY_TOLERANCE:
        value_si = None if hold.actual_hz is None else abs(hold.actual_hz - required_hz)
    return Condition(limit=limit, state=state, value_si=value_si)


def _airflow(limit: Limit, job: Job, facts: Facts, balance: Balance | None) -> Condition:
    """Return the condition of airflow per capacity; without numbers, by confirmation."""
    typed, capacity_w = facts.entered.get(Entry.AIRFLOW), job.plate.capacity_w
    found = newer(balance, facts)
    flow = None if typed is None else typed.value_si
    if found is not None:
        flow = found.flow_m3_per_s
    if flow is None or capacity_w is None:
        known = limit.key.value in facts.confirmed
        state = ConditionState.MET if known else ConditionState.UNKNOWN
        return Condition(limit=limit, state=state)
    value = flow / capacity_w
    met = value >= limit.lowest_si
    return Condition(
        limit=limit, state=ConditionState.MET if met else ConditionState.UNMET, value_si=value
    )


def _air(
    limit: Limit, value_k: float | None, facts: Facts, *, upper: bool, tight: bool
) -> Condition:
    if value_k is None:
        known = limit.key.value in facts.confirmed
        state = ConditionState.MET if known else ConditionState.UNKNOWN
        return Condition(limit=limit, state=state)
    slack_k = HYSTERESIS_K if tight else -TEMP_ROUNDING_K
    limit_k = limit.value_si
    met = value_k <= limit_k - slack_k if upper else value_k >= limit_k + slack_k
    state = ConditionState.MET if met else ConditionState.UNMET
    return Condition(limit=limit, state=state, value_si=value_k)
