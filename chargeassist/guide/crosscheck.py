"""The approach as a cross-check of the judged value.

Approach is liquid line temperature less outdoor air. It needs no pressure probe and no saturation
table, so a wrong zero or the wrong refrigerant moves it differently than subcooling. Its target
comes from the unit's own table; a job without one has no cross-check.
"""

import math
from dataclasses import dataclass

from chargeassist.guide.places_read import places_read
from chargeassist.model.channels import Role
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.approach import (
    ApproachSays,
    TempDifference,
    judge_approach,
    temp_difference,
)
from chargeassist.physics.uncertainty import (
    Decision,
    decide,
    expanded_from_half_width,
)
from chargeassist.stream.facts import ChannelFacts, Facts

_CHARGE = {ApproachSays.SHORT: -1, ApproachSays.INSIDE: 0, ApproachSays.EXCESS: 1}


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossCheck:
    """Result of the cross-check.

    Attributes
    ----------
    approach : TempDifference or NoValue
        Liquid line less outdoor air, or why there is none.
    target_k, tolerance_k : float
        Of the approach [K].
    source : str
        Of target and tolerance.
    says : ApproachSays or NoValue
        What the approach says of the charge.
    agrees : bool or None
        Whether the judged value says the same; None if either says nothing certain.
    """

    approach: TempDifference | NoValue
    target_k: float
    tolerance_k: float
    source: str
    says: ApproachSays | NoValue
    agrees: bool | None = None

    @property
    def disagreement(self) -> tuple[str, dict[str, float]] | None:
        """What the approach says, and its figures [K]; None unless the judged value disagrees."""
        if self.agrees is not False or isinstance(self.approach, NoValue):
            return None
        figures = {
            "approach_k": self.approach.value_k,
            "target_k": self.target_k,
            "tolerance_k": self.tolerance_k,
        }
        return ("" if isinstance(self.says, NoValue) else self.says.value), figures


def cross_check(job: Job, facts: Facts) -> CrossCheck | None:
    """Return the cross-check of a settled reading; None if unsettled or without a target."""
    wanted = job.target
    if wanted.approach_k is None or facts.settled is None:
        return None
    by_role = places_read(facts)
    liquid = by_role.get(Role.LIQUID_TEMPERATURE)
    outdoor = by_role.get(Role.OUTDOOR_AIR_TEMPERATURE)
    outdoor_k = facts.live(Role.OUTDOOR_AIR_TEMPERATURE)
    if outdoor is not None and outdoor.value_si is None and outdoor_k is not None:
        outdoor = None  # its probe is silent, and the air was typed
    typed_k = outdoor_k if outdoor is None else None
    typed_half_k = job.limit_si(LimitKey.TYPED_AIR_ACCURACY)
    contact_k = job.limit_si(LimitKey.PIPE_CONTACT)
    approach = _approach(liquid, outdoor, typed_k, typed_half_k, contact_k)
    says: ApproachSays | NoValue = NoValue("no approach")
    if isinstance(approach, NoValue):
        says = approach
    elif outdoor_k is not None:
        says = judge_approach(
            approach,
            wanted.approach_k,
            outdoor_k,
            tolerance_k=wanted.approach_tolerance_k,
            coldest_k=job.limit_si(LimitKey.APPROACH_OUTDOOR_LOW),
        )
    return CrossCheck(
        approach=approach,
        target_k=wanted.approach_k,
        tolerance_k=wanted.approach_tolerance_k,
        source=wanted.approach_source,
        says=says,
        agrees=_agrees(job, facts, says),
    )


def _approach(
    liquid: ChannelFacts | None,
    outdoor: ChannelFacts | None,
    typed_k: float | None,
    typed_half_k: float,
    contact_k: float,
) -> TempDifference | NoValue:
    """Return liquid line less outdoor air; the air by its probe or, without one, as typed."""
    for item, role in (
        (liquid, Role.LIQUID_TEMPERATURE),
        (outdoor, Role.OUTDOOR_AIR_TEMPERATURE),
    ):
        if item is None and role is Role.OUTDOOR_AIR_TEMPERATURE and typed_k is not None:
            continue
        if item is None:
            return NoValue(f"the job has no {role.label} probe")
        if item.value_si is None:
            return NoValue(f"no signal from {role.label}")
        if item.channel.accuracy is None:
            return NoValue(f"the {role.label} probe has no declared accuracy")
    if liquid is None:
        raise AssertionError("it was looked at")
    air_k = typed_k if outdoor is None else outdoor.value_si
    return temp_difference(
        liquid.value_si or 0.0,
        air_k or 0.0,
        warm_expanded_k=_expanded_k(liquid, contact_k),
        cold_expanded_k=expanded_from_half_width(typed_half_k)
        if outdoor is None
        else _expanded_k(outdoor, 0.0),
    )


def _expanded_k(item: ChannelFacts, contact_k: float) -> float:
    own_k = item.channel.half_width(item.value_si or 0.0) or 0.0
    return expanded_from_half_width((own_k**2 + contact_k**2) ** 0.5)


def _agrees(job: Job, facts: Facts, says: ApproachSays | NoValue) -> bool | None:
    settled, goal = facts.settled, facts.goal(job.target)
    if settled is None or settled.expanded_k is None or isinstance(goal, NoValue):
        return None
    if isinstance(says, NoValue) or says not in _CHARGE or goal.expanded_k is None:
        return None
    expanded_k = math.hypot(settled.expanded_k, goal.expanded_k)
    match decide(settled.value_k, expanded_k, goal.low_k, goal.high_k):
        case Decision.PASS | Decision.PASS_NOT_CERTAIN:
            charge = 0
        case Decision.FAIL:
            above = settled.value_k > goal.high_k
            charge = (1 if above else -1) * round(facts.judged.charge_sign)
        case _:
            return None
    return charge == _CHARGE[says]
