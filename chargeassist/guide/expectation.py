"""What this unit's readings should be, from what the job says and its own weather.

What the unit's own documents say comes first (`documented`). The other ranges are what physics and
installation practice leave open for any unit in order, and are as wide as that. Where the wet bulb
of the return air is measured, split and boiling point are known several times as well as where it
is not.
"""

from dataclasses import dataclass
from typing import Final

from chargeassist.guide import documented
from chargeassist.guide.expected import Expected
from chargeassist.guide.step_size import PRIOR_GAIN_K_PER_PLATE
from chargeassist.model.channels import Role
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.quick_init import quick_init
from chargeassist.model.units import KELVIN_PER_FAHRENHEIT
from chargeassist.model.values import NoValue
from chargeassist.physics.coil import coil_range
from chargeassist.physics.compression import EFFICIENCY_HIGH, EFFICIENCY_LOW, compression_rise_k
from chargeassist.physics.moist_air import wet_bulb_k
from chargeassist.physics.target_superheat import TargetSuperheat
from chargeassist.stream.facts import ChargeStep, Facts

_F: Final = KELVIN_PER_FAHRENHEIT


CONDENSING_OVER_OUTDOOR: Final = Expected(
    low_si=10.0 * _F,
    high_si=30.0 * _F,
    basis="10 to 30 °F (5.6 to 16.7 K) over outdoor air: common practice, no published source",
)
"""Units in order with small coils and the pressure taken at the compressor lie at its upper end."""

CONDENSING_VARIABLE_SPEED: Final = Expected(
    low_si=10.0 * _F,
    high_si=27.5 * _F,
    basis="10 to 27.5 °F (5.6 to 15.3 K) over outdoor air: 12 to 23 °F in the table of "
    "manualshive.com LRP14AC, page 23, and a fifth on either side",
)
"""Liquid pressures of twelve R-410A units of 2 to 5 tons at 65 to 115 °F outdoors and 80/67 °F
indoors stand for 12.5 to 22.9 °F over outdoor air (computed from the printed pressures); a fifth
for other makers and other indoor air is an assumption. A unit that holds a frequency is no older
than those."""

EVAPORATING_AGAINST_RETURN: Final = Expected(
    low_si=-42.0 * _F,
    high_si=-25.0 * _F,
    basis="25 to 42 °F (14 to 23 K) under return air: common practice, no published source",
)
"""The same table lies between 26 and 36 °F under 80 °F; 35 °F is the usual figure (from memory).
Used where the state of the return air gives nothing better."""

AIR_SPLIT: Final = Expected(
    low_si=14.0 * _F,
    high_si=23.0 * _F,
    basis="14 to 23 °F (7.8 to 12.8 K), lower in humid air: "
    "hvacrschool.com/what-should-the-air-delta-t-be-air-temperature-split",
)
"""Used where the state of the return air gives nothing better."""

LEAST_APPROACH_K: Final = 1.0
"""A liquid line of a unit in order is warmer than outdoor air by this at least [K]. Assumption."""

CHARGE_SHARE: Final = 0.1
"""Half width of the charge in order around plate and line set [1]: what the length of the line set,
a scale and a plate leave open. Assumption."""

MORE_THAN_PLATE: Final = 1.03
"""With so much more weighed in than plate and line set take, too much is what it is [1]."""

STEP_ROOM_K: Final = 1.0
STEP_MOST: Final = 2.0
"""A step may move subcooling by up to so many times what is expected of its amount, and by the room
beside it [K]; less is no contradiction, for the first of it may only fill the condenser."""


@quick_init
@dataclass(frozen=True, slots=True, kw_only=True)
class Expectations:
    """What counts as normal for this unit; None leaves the reading out.

    Attributes
    ----------
    condensing_over_outdoor, evaporating_against_return, air_split : Expected or None
        [K].
    approach : Expected or None
        [K].
    discharge_temp : Expected or None
        [K]; from the unit's documents only.
    current : Expected or None
        [A]; the maker's at the held frequency, else of a fixed speed by its rated-load amps.
    compression : Expected or None
        Discharge temperature for the present suction state and pressures [K].
    charge : Expected or None
        Refrigerant in the circuit [kg].
    step : Expected or None
        Change of subcooling since before the last step [K].
    target_superheat : TargetSuperheat or None
        For a fixed orifice: the job's superheat range is then not used.
    superheat_tolerance_k : float
        Around `target_superheat`; 5 °F, California Reference Appendix RA3.2 (2008), installer [K].
    """

    condensing_over_outdoor: Expected | None = CONDENSING_OVER_OUTDOOR
    evaporating_against_return: Expected | None = EVAPORATING_AGAINST_RETURN
    air_split: Expected | None = AIR_SPLIT
    approach: Expected | None = None
    discharge_temp: Expected | None = None
    current: Expected | None = None
    compression: Expected | None = None
    charge: Expected | None = None
    step: Expected | None = None
    target_superheat: TargetSuperheat | None = None
    superheat_tolerance_k: float = 5.0 * _F


def expectations_of(job: Job, facts: Facts, return_wet_k: float | None = None) -> Expectations:
    """Return what is expected of this unit in this weather.

    Parameters
    ----------
    job : Job
    facts : Facts
    return_wet_k : float, optional
        Wet bulb of the return air as typed, where no probe measures it [K].
    """
    evaporating, split = _coil(facts, _wet_bulb_k(job, facts, return_wet_k))
    condensing = documented.condensing(job, facts) or _condensing(job)
    return Expectations(
        condensing_over_outdoor=condensing,
        evaporating_against_return=documented.evaporating(job, facts) or evaporating,
        approach=_approach(job, condensing),
        air_split=documented.air_split(job, facts) or split,
        discharge_temp=documented.discharge_temp(job, facts),
        current=documented.current(job),
        compression=_compression(job, facts),
        charge=_charge(job, facts),
        step=_step(job, facts),
    )


def _condensing(job: Job) -> Expected:
    return CONDENSING_OVER_OUTDOOR if job.hold.required_hz is None else CONDENSING_VARIABLE_SPEED


def _approach(job: Job, condensing: Expected) -> Expected | None:
    """Return what the job says of the approach, or what condensing range and target leave."""
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
    low_k = max(LEAST_APPROACH_K, condensing.low_si - target.subcooling_k)
    high_k = condensing.high_si - target.subcooling_k
    if high_k < low_k + 2.0 * LEAST_APPROACH_K:
        return None
    return Expected(
        low_si=low_k,
        high_si=high_k,
        basis="condensing range less target subcooling; no liquid line is colder than its air",
        assumption=condensing.assumption,
    )


def _wet_bulb_k(job: Job, facts: Facts, typed_k: float | None) -> float | None:
    """Return the wet bulb of the return air: by probe, by humidity, as typed; None for none."""
    dry_k, probe_k, humidity = _live(
        facts, Role.RETURN_AIR_TEMPERATURE, Role.RETURN_AIR_WET_BULB, Role.RETURN_AIR_HUMIDITY
    )
    if probe_k is not None:
        return probe_k
    if dry_k is not None and humidity is not None:
        found = wet_bulb_k(dry_k, humidity, facts.station_pa_abs)
        if not isinstance(found, NoValue):
            return found
    return typed_k if typed_k is not None else job.target.return_wet_bulb_k


def _coil(facts: Facts, wet_k: float | None) -> tuple[Expected, Expected]:
    returned, outdoor = _live(facts, Role.RETURN_AIR_TEMPERATURE, Role.OUTDOOR_AIR_TEMPERATURE)
    if returned is None or outdoor is None:
        return EVAPORATING_AGAINST_RETURN, AIR_SPLIT
    # To the tenth of a kelvin, far finer than the range: air that stays is worked out once.
    found = coil_range(
        round(returned, 1),
        None if wet_k is None else round(wet_k, 1),
        round(outdoor, 1),
        round(facts.station_pa_abs, -2),
    )
    if isinstance(found, NoValue):
        return EVAPORATING_AGAINST_RETURN, AIR_SPLIT
    basis = "usual airflow and capacity with " + (
        "this wet bulb" if found.humidity_known else "35 to 70 % humidity, which nobody measures"
    )
    return (
        Expected(low_si=found.boiling_low_k, high_si=found.boiling_high_k, basis=basis),
        Expected(low_si=found.split_low_k, high_si=found.split_high_k, basis=basis),
    )


def _live(facts: Facts, *roles: Role) -> tuple[float | None, ...]:
    return tuple(facts.live(role) for role in roles)


def _compression(job: Job, facts: Facts) -> Expected | None:
    """Return the discharge temperature for the suction state; none for wet suction gas."""
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
        for efficiency in (EFFICIENCY_HIGH, EFFICIENCY_LOW)
    ]
    least, most = rises
    if isinstance(least, NoValue) or isinstance(most, NoValue):
        return None
    return Expected(
        low_si=suction_k + least,
        high_si=suction_k + most,
        basis=f"isentropic efficiency of {EFFICIENCY_LOW:g} to {EFFICIENCY_HIGH:g} between these "
        "pressures: common practice, no published source",
    )


def _charge(job: Job, facts: Facts) -> Expected | None:
    """Return the charge in order; none while nobody knows what is in."""
    if not amounts_known(job, facts):
        return None
    full_kg = job.charge.full_kg
    half_kg = CHARGE_SHARE * job.charge.plate_kg
    return Expected(
        low_si=full_kg - half_kg,
        high_si=full_kg + half_kg,
        basis="plate and line set",
        assumption=False,
    )


def _step(job: Job, facts: Facts) -> Expected | None:
    """Return by how much subcooling may have changed since before the last step."""
    step = last_step(facts)
    if facts.judged is not SUBCOOLING or step is None or step.mass_kg is None:
        return None
    most_k = STEP_MOST * PRIOR_GAIN_K_PER_PLATE / job.charge.plate_kg * step.mass_kg
    return Expected(
        low_si=min(0.0, most_k) - STEP_ROOM_K,
        high_si=max(0.0, most_k) + STEP_ROOM_K,
        basis="amount of the last step",
        assumption=False,
    )


def amounts_known(job: Job, facts: Facts) -> bool:
    """Return whether all that is in the circuit was weighed in."""
    weighed = all(step.mass_kg is not None for step in facts.ledger)
    return weighed and job.charge.weighed_in_kg > 0.0


def excess_explained(job: Job, facts: Facts) -> bool:
    """Return whether the amounts weighed in or out explain a reading above its target.

    More than plate and line set take is in by the scale, or the last step moved the reading by what
    its amount may.
    """
    if amounts_known(job, facts) and facts.total_kg > MORE_THAN_PLATE * job.charge.full_kg:
        return True
    step, settled, wanted = last_step(facts), facts.settled, _step(job, facts)
    if step is None or step.before_k is None or settled is None or wanted is None:
        return False
    return settled.value_k - step.before_k <= wanted.high_si


def last_step(facts: Facts) -> ChargeStep | None:
    """Return the last step, if it is known from which settled subcooling it began."""
    if not facts.ledger or facts.ledger[-1].before_k is None:
        return None
    return facts.ledger[-1]
