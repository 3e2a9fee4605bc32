"""What this unit's readings should be, from what the job says and its own weather.

What the unit's own documents say comes first (`documented`). The other ranges are those of any
sound unit (`usual_ranges`). With a measured wet bulb of the return air, the ranges of air split and
evaporating temperature are several times narrower.
"""

from dataclasses import dataclass
from typing import Final

from chargeassist.guide import documented
from chargeassist.guide.expected import Expected
from chargeassist.guide.step_size import PRIOR_GAIN_K_PER_PLATE
from chargeassist.guide.usual_ranges import UsualRanges
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.limits import LimitKey
from chargeassist.model.quick_init import quick_init
from chargeassist.model.values import NoValue
from chargeassist.physics.coil import coil_range
from chargeassist.physics.compression import compression_rise_k
from chargeassist.physics.moist_air import wet_bulb_k
from chargeassist.stream.entered import fresh
from chargeassist.stream.facts import ChargeStep, Facts

STEP_ROOM_K: Final = 1.0
STEP_MOST: Final = 2.0
"""A step may move subcooling by up to `STEP_MOST` times what its amount should do, plus
`STEP_ROOM_K` [K]. Less is no contradiction: the first of it may only fill the condenser."""


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Expectations:
    """Normal ranges of this unit's readings; None leaves a reading out.

    Attributes
    ----------
    condensing_over_outdoor, evaporating_against_return, air_split : Expected or None
        [K].
    approach : Expected or None
        [K].
    discharge_temp : Expected or None
        By the unit's documents only [K].
    current : Expected or None
        By the maker's figure at the held frequency; of a fixed-speed unit else by its rated-load
        amps [A].
    compression : Expected or None
        Discharge temperature by the present suction state and pressures [K].
    charge : Expected or None
        Refrigerant in the circuit [kg].
    step : Expected or None
        Change of subcooling since before the last step [K].
    """

    condensing_over_outdoor: Expected | None = None
    evaporating_against_return: Expected | None = None
    air_split: Expected | None = None
    approach: Expected | None = None
    discharge_temp: Expected | None = None
    current: Expected | None = None
    compression: Expected | None = None
    charge: Expected | None = None
    step: Expected | None = None


def expectations_of(job: Job, facts: Facts, usual: UsualRanges | None = None) -> Expectations:
    """Return the normal ranges of this unit in this weather.

    Parameters
    ----------
    job : Job
    facts : Facts
    usual : UsualRanges, optional
        Those of the job, if they are known already.
    """
    usual = usual or UsualRanges.of(job)
    evaporating, split = _coil(facts, _wet_bulb_k(job, facts), usual)
    condensing = documented.condensing(job, facts) or usual.condensing
    return Expectations(
        condensing_over_outdoor=condensing,
        evaporating_against_return=documented.evaporating(job, facts) or evaporating,
        approach=_approach(job, condensing, usual.approach_low_k),
        air_split=documented.air_split(job, facts) or split,
        discharge_temp=documented.discharge_temp(job, facts),
        current=documented.current(job, usual.rated_load_low),
        compression=_compression(job, facts, usual),
        charge=_charge(job, facts, usual.amount_within),
        step=_step(job, facts),
    )


def _approach(job: Job, condensing: Expected, least_k: float) -> Expected | None:
    """Return the approach by the job, else by condensing range and target subcooling."""
    target = job.target
    if target.approach_k is not None:
        return Expected(
            low_si=target.approach_k - target.approach_tolerance_k,
            high_si=target.approach_k + target.approach_tolerance_k,
            basis=target.approach_source,
            assumption=False,
        )
    if target.subcooling_k is None:
        return None
    low_k = max(least_k, condensing.low_si - target.subcooling_k)
    high_k = condensing.high_si - target.subcooling_k
    if high_k < low_k + 2.0 * least_k:
        return None
    return Expected(
        low_si=low_k,
        high_si=high_k,
        basis="condensing range less target subcooling; no liquid line is colder than its air",
        assumption=condensing.assumption,
    )


def _wet_bulb_k(job: Job, facts: Facts) -> float | None:
    """Return the return air's wet bulb: by probe, by humidity or as typed [K]; None without."""
    dry_k, probe_k, humidity = _live(
        facts, Role.RETURN_AIR_TEMPERATURE, Role.RETURN_AIR_WET_BULB, Role.RETURN_AIR_HUMIDITY
    )
    if probe_k is not None:
        return probe_k
    if dry_k is not None and humidity is not None:
        found = wet_bulb_k(dry_k, min(max(humidity, 0.0), 1.0), facts.station_pa_abs)
        if not isinstance(found, NoValue):
            return found
    lasts_s = job.limit_si(LimitKey.TYPED_AIR_LASTS)
    typed = fresh(facts.entered, Entry.RETURN_WET_BULB, facts.t, lasts_s)
    if typed is not None:
        return typed.value_si
    # It was read before the session: what was typed since, though too old by now, is newer.
    return None if Entry.RETURN_WET_BULB in facts.entered else job.target.return_wet_bulb_k


def _coil(facts: Facts, wet_k: float | None, usual: UsualRanges) -> tuple[Expected, Expected]:
    returned, outdoor = _live(facts, Role.RETURN_AIR_TEMPERATURE, Role.OUTDOOR_AIR_TEMPERATURE)
    if returned is None or outdoor is None:
        return usual.boiling, usual.air_split
    # Rounded to a tenth of a kelvin, far finer than the range, so that steady air is cached.
    found = coil_range(
        round(returned, 1),
        None if wet_k is None else round(wet_k, 1),
        round(outdoor, 1),
        round(facts.station_pa_abs, -2),
        usual.coil,
    )
    if isinstance(found, NoValue):
        return usual.boiling, usual.air_split
    basis = "usual airflow and capacity with " + (
        "this wet bulb" if found.humidity_known else "a humidity that nobody measures"
    )
    return (
        Expected(low_si=found.boiling_low_k, high_si=found.boiling_high_k, basis=basis),
        Expected(low_si=found.split_low_k, high_si=found.split_high_k, basis=basis),
    )


def _live(facts: Facts, *roles: Role) -> tuple[float | None, ...]:
    return tuple(facts.live(role) for role in roles)


def _compression(job: Job, facts: Facts, usual: UsualRanges) -> Expected | None:
    """Return the discharge temperature by the suction state [K]; None for wet suction gas."""
    low, high, suction_k = _live(
        facts, Role.SUCTION_PRESSURE, Role.LIQUID_PRESSURE, Role.SUCTION_TEMPERATURE
    )
    superheat_k = facts.settled_superheat_k
    if low is None or high is None or suction_k is None or superheat_k is None:
        return None
    if superheat_k < job.target.superheat_low_k:
        return None
    rises = [
        compression_rise_k(
            job.refrigerant,
            suction_k,
            low + facts.station_pa_abs,
            high + facts.station_pa_abs,
            efficiency,
        )
        for efficiency in (usual.efficiency_high, usual.efficiency_low)
    ]
    least, most = rises
    if isinstance(least, NoValue) or isinstance(most, NoValue):
        return None
    return Expected(
        low_si=suction_k + least,
        high_si=suction_k + most,
        basis=usual.efficiency_basis,
    )


def _charge(job: Job, facts: Facts, within: float) -> Expected | None:
    """Return the charge of a sound unit [kg]; None if the amount in the circuit is not known."""
    if not amounts_known(job, facts):
        return None
    full_kg = job.charge.full_kg
    half_kg = within * max(job.charge.plate_kg, full_kg)  # no narrower for a long line set
    return Expected(
        low_si=full_kg - half_kg,
        high_si=full_kg + half_kg,
        basis="plate and line set",
        assumption=False,
    )


def _step(job: Job, facts: Facts) -> Expected | None:
    """Return the change of subcooling the last step may have made [K]."""
    step = last_step(facts)
    if facts.judged is not SUBCOOLING or step is None or step.mass_kg is None:
        return None
    most_k = _most_k(job, step.mass_kg)
    return Expected(
        low_si=min(0.0, most_k) - STEP_ROOM_K,
        high_si=max(0.0, most_k) + STEP_ROOM_K,
        basis="amount of the last step",
        assumption=False,
    )


def amounts_known(job: Job, facts: Facts) -> bool:
    """Return whether everything in the circuit was weighed in."""
    weighed = all(step.mass_kg is not None for step in facts.ledger)
    return weighed and job.charge.weighed_in_kg > 0.0


def excess_explained(job: Job, facts: Facts) -> bool:
    """Return whether the weighed amounts explain a reading above its target.

    They do if more is in than plate and line set take, or if steps brought the reading there from
    its band or under it, by no more than their amounts may. A reading that was above its target
    before them was so for another reason.
    """
    if amounts_known(job, facts):
        over = job.limit_si(LimitKey.AMOUNT_OVER)
        if facts.total_kg > (1.0 + over) * job.charge.full_kg:
            return True
    settled, goal = facts.settled, facts.goal(job.target)
    if settled is None or isinstance(goal, NoValue) or facts.judged is not SUBCOOLING:
        return False
    added_kg = 0.0
    for step in reversed(facts.ledger):
        if step.mass_kg is None or step.probe_changed:
            return False
        added_kg += step.mass_kg
        if step.before_k is not None and step.before_k <= goal.high_k:
            return settled.value_k - step.before_k <= max(0.0, _most_k(job, added_kg)) + STEP_ROOM_K
    return False


def _most_k(job: Job, mass_kg: float) -> float:
    """Return by how much so much refrigerant may move subcooling at most [K]."""
    return STEP_MOST * PRIOR_GAIN_K_PER_PLATE / job.charge.plate_kg * mass_kg


def last_step(facts: Facts) -> ChargeStep | None:
    """Return the last step; None if the reading now does not compare with that it began from."""
    step = facts.ledger[-1] if facts.ledger else None
    return None if step is None or step.before_k is None or step.probe_changed else step
