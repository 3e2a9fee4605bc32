"""What the dryness stage reads: the vacuum of the circuit, and its coldest part."""

from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry
from chargeassist.model.job import Job
from chargeassist.physics.rise_settings import RiseSettings
from chargeassist.physics.rise_test import Rise
from chargeassist.stream.facts import Facts

_TEMPS = (Role.OUTDOOR_AIR_TEMPERATURE, Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE)


def vacuum_pa(facts: Facts) -> float | None:
    """Return the gauge's reading [Pa absolute]; below what a typed one may be it is none.

    No pump draws a circuit down to nothing: a gauge that shows zero has lost its sensor.
    """
    gauge_pa = facts.live(Role.VACUUM)
    if gauge_pa is None:
        return None
    value = gauge_pa + facts.station_pa_abs
    return value if value >= Entry.VACUUM.span_si[0] else None


def is_near_limit(rise: Rise, settings: RiseSettings) -> bool:
    """Return whether the gauge cannot tell for certain on which side of the limit a rise ends."""
    limit_pa = settings.limit_pa_abs
    return abs(rise.level_pa_abs - limit_pa) < settings.gauge.expanded_pa(limit_pa)


def coldest_k(job: Job, facts: Facts) -> float | None:
    """Return the coldest part's temperature [K]: by the job file, else the coldest known."""
    if job.stages.dryness.coldest_k is not None:
        return job.stages.dryness.coldest_k
    known = [temp for temp in map(facts.live, _TEMPS) if temp is not None]
    typed = facts.entered.get(Entry.STANDING_TEMPERATURE)
    if typed is not None:
        known.append(typed.value_si)
    return min(known, default=None)
