"""From the facts of a settled tick to the readings a diagnosis is made from.

A reading without an expected value is left out: subcooling and superheat have theirs in the job;
the rest go by `Expectations`, whose defaults are assumptions a job or a maker's table replaces.
"""

import math
from dataclasses import dataclass
from typing import Final

from chargeassist.guide.diagnosis import FeatureReading
from chargeassist.guide.fault_signs import Feature
from chargeassist.model.channels import Role
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.units import KELVIN_PER_FAHRENHEIT
from chargeassist.model.values import NoValue
from chargeassist.physics.approach import expanded_from_half_width, temp_difference
from chargeassist.physics.target_superheat import TargetSuperheat
from chargeassist.physics.uncertainty import DEFAULT_CONTACT_HALF_WIDTH_K
from chargeassist.stream.facts import ChannelFacts, Facts, Measured

_F: Final = KELVIN_PER_FAHRENHEIT


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A range that counts as normal.

    Attributes
    ----------
    low_si, high_si : float
        [K or A]; `low_si` is the smaller.
    basis : str
        Where it comes from.
    assumption : bool
        True unless it was read from the unit's own documents.
    """

    low_si: float
    high_si: float
    basis: str
    assumption: bool = True

    def __post_init__(self) -> None:
        if not (-math.inf < self.low_si < self.high_si < math.inf):
            raise ValueError(f"expected low < high, came {self.low_si} and {self.high_si}")


CONDENSING_OVER_OUTDOOR: Final = Expected(
    low_si=10.0 * _F,
    high_si=30.0 * _F,
    basis="10 to 30 °F (5.6 to 16.7 K) over outdoor air: common practice, no published source",
)
"""A maker's table for a 5-ton R-410A unit lies between 18 and 21 °F over 65 to 115 °F of outdoor
air (manualshive.com LRP14AC, page 23); units of higher efficiency lie lower."""

EVAPORATING_AGAINST_RETURN: Final = Expected(
    low_si=-42.0 * _F,
    high_si=-25.0 * _F,
    basis="25 to 42 °F (14 to 23 K) under return air: common practice, no published source",
)
"""The same table lies between 26 and 36 °F under 80 °F; 35 °F is the usual figure (from memory)."""

AIR_SPLIT: Final = Expected(
    low_si=14.0 * _F,
    high_si=23.0 * _F,
    basis="14 to 23 °F (7.8 to 12.8 K), lower in humid air: "
    "hvacrschool.com/what-should-the-air-delta-t-be-air-temperature-split",
)

WIDE_SUPERHEAT_K: Final = 8.0
"""A superheat range broader than this [K] tells a working metering device from a broken one, as the
4 to 25 °F of RA3.2 do, and no more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectations:
    """What counts as normal for this unit; None leaves the reading out.

    Attributes
    ----------
    condensing_over_outdoor, evaporating_against_return, air_split : Expected or None
        [K].
    approach, discharge_temp : Expected or None
        [K]; from the unit's documents only.
    current : Expected or None
        [A]; from the maker's table at the held frequency only.
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
    target_superheat: TargetSuperheat | None = None
    superheat_tolerance_k: float = 5.0 * _F


@dataclass(frozen=True, slots=True)
class _Temp:
    value_k: float
    expanded_k: float | None


def feature_readings(
    job: Job, facts: Facts, expectations: Expectations | None = None
) -> tuple[FeatureReading, ...]:
    """Return every reading that has a value and an expectation; none unless settled.

    Parameters
    ----------
    job : Job
    facts : Facts
    expectations : Expectations, optional

    Notes
    -----
    The uncertainty of the condensing temperature is taken as that of subcooling, which holds it and
    a pipe clamp's besides; likewise evaporating temperature and superheat. That errs to the wide
    side.
    """
    settled = facts.settled
    if settled is None:
        return ()
    wanted = expectations or Expectations()
    by_role = {item.channel.role: item for item in reversed(facts.channels)}
    outdoor = _air(by_role.get(Role.OUTDOOR_AIR_TEMPERATURE))
    returned = _air(by_role.get(Role.RETURN_AIR_TEMPERATURE))
    supply = _air(by_role.get(Role.SUPPLY_AIR_TEMPERATURE))
    liquid = _pipe(by_role.get(Role.LIQUID_TEMPERATURE))
    superheat_expanded_k = (
        facts.superheat.expanded_k if isinstance(facts.superheat, Measured) else None
    )
    subcooling_expanded_k = (
        facts.subcooling.expanded_k if isinstance(facts.subcooling, Measured) else None
    )
    condensing = _saturated(facts.liquid_saturation_k, subcooling_expanded_k)
    evaporating = _saturated(facts.suction_saturation_k, superheat_expanded_k)
    found = [
        *_judged_and_witness(job, facts, wanted),
        _difference(Feature.CONDENSING, condensing, outdoor, wanted.condensing_over_outdoor),
        _difference(Feature.EVAPORATING, evaporating, returned, wanted.evaporating_against_return),
        _difference(Feature.AIR_SPLIT, returned, supply, wanted.air_split),
        _difference(Feature.APPROACH, liquid, outdoor, wanted.approach or _approach(job)),
        _plain(Feature.DISCHARGE, by_role.get(Role.DISCHARGE_TEMPERATURE), wanted.discharge_temp),
        _plain(Feature.CURRENT, by_role.get(Role.COMPRESSOR_CURRENT), wanted.current),
    ]
    return tuple(reading for reading in found if reading is not None)


def _approach(job: Job) -> Expected | None:
    """Return what the job says of the approach."""
    target = job.target
    if target.approach_k is None:
        return None
    return Expected(
        low_si=target.approach_k - target.approach_tolerance_k,
        high_si=target.approach_k + target.approach_tolerance_k,
        basis=target.approach_source,
        assumption=False,
    )


def _judged_and_witness(
    job: Job, facts: Facts, wanted: Expectations
) -> tuple[FeatureReading | None, FeatureReading | None]:
    """Return subcooling and superheat against what the job expects of them.

    A job judged by superheat expects nothing of subcooling: no table gives it for an orifice.
    """
    settled, goal = facts.settled, facts.goal(job.target)
    if settled is None or isinstance(goal, NoValue):
        return None, None
    expanded_k = settled.expanded_k
    if goal.expanded_k is None:
        expanded_k = None
    elif expanded_k is not None:
        expanded_k = math.hypot(expanded_k, goal.expanded_k)
    judged = FeatureReading(
        feature=Feature.SUBCOOLING if facts.judged is SUBCOOLING else Feature.SUPERHEAT,
        value_si=settled.value_k,
        expected_si=goal.value_k,
        tolerance_si=goal.tolerance_k,
        expanded_si=expanded_k,
        basis=goal.basis,
    )
    if facts.judged is not SUBCOOLING:
        return None, judged
    superheat = facts.superheat.expanded_k if isinstance(facts.superheat, Measured) else None
    return judged, _superheat(job, facts, wanted, superheat)


def _superheat(
    job: Job, facts: Facts, wanted: Expectations, expanded_k: float | None
) -> FeatureReading | None:
    value_k = facts.settled_superheat_k
    if value_k is None:
        return None
    target = wanted.target_superheat
    if target is not None:
        return FeatureReading(
            feature=Feature.SUPERHEAT,
            value_si=value_k,
            expected_si=target.value_k,
            tolerance_si=wanted.superheat_tolerance_k,
            expanded_si=expanded_k,
            basis=target.method.value,
        )
    low_k, high_k = job.target.superheat_low_k, job.target.superheat_high_k
    if not low_k < high_k:
        return None
    return FeatureReading(
        feature=Feature.SUPERHEAT,
        value_si=value_k,
        expected_si=0.5 * (low_k + high_k),
        tolerance_si=0.5 * (high_k - low_k),
        expanded_si=expanded_k,
        basis=job.target.superheat_source,
        wide=high_k - low_k > WIDE_SUPERHEAT_K,
    )


def _difference(
    feature: Feature, warm: _Temp | None, cold: _Temp | None, wanted: Expected | None
) -> FeatureReading | None:
    if warm is None or cold is None or wanted is None:
        return None
    declared = warm.expanded_k is not None and cold.expanded_k is not None
    difference = temp_difference(
        warm.value_k,
        cold.value_k,
        warm_expanded_k=warm.expanded_k or 0.0,
        cold_expanded_k=cold.expanded_k or 0.0,
    )
    if isinstance(difference, NoValue):
        return None
    return _reading(
        feature, difference.value_k, difference.expanded_k if declared else None, wanted
    )


def _plain(
    feature: Feature, item: ChannelFacts | None, wanted: Expected | None
) -> FeatureReading | None:
    if item is None or item.value_si is None or wanted is None:
        return None
    accuracy = item.channel.accuracy
    expanded = (
        None if accuracy is None else expanded_from_half_width(accuracy.half_width(item.value_si))
    )
    return _reading(feature, item.value_si, expanded, wanted)


def _reading(
    feature: Feature, value_si: float, expanded_si: float | None, wanted: Expected
) -> FeatureReading:
    return FeatureReading(
        feature=feature,
        value_si=value_si,
        expected_si=0.5 * (wanted.low_si + wanted.high_si),
        tolerance_si=0.5 * (wanted.high_si - wanted.low_si),
        expanded_si=expanded_si,
        basis=wanted.basis,
        wide=wanted.assumption,
    )


def _saturated(temp_k: float | None, expanded_k: float | None) -> _Temp | None:
    return None if temp_k is None else _Temp(temp_k, expanded_k)


def _air(item: ChannelFacts | None, contact_k: float = 0.0) -> _Temp | None:
    if item is None or item.value_si is None:
        return None
    accuracy = item.channel.accuracy
    if accuracy is None:
        return _Temp(item.value_si, None)
    half_width_k = math.hypot(accuracy.half_width(item.value_si), contact_k)
    return _Temp(item.value_si, expanded_from_half_width(half_width_k))


def _pipe(item: ChannelFacts | None) -> _Temp | None:
    return _air(item, DEFAULT_CONTACT_HALF_WIDTH_K)
