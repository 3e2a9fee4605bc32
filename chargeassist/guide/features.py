"""The readings of a settled tick that a diagnosis uses.

A reading without an expected range is left out. The job gives the range of subcooling and
superheat, `expectation` those of the others.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

from chargeassist.guide.diagnosis import FeatureReading
from chargeassist.guide.expectation import Expectations, expectations_of, last_step
from chargeassist.guide.expected import Expected
from chargeassist.guide.fault_terms import Feature
from chargeassist.guide.places_read import places_read
from chargeassist.guide.step_size import STEP_NOISE_K, learnt_gain, unsealed_below_k
from chargeassist.guide.usual_ranges import UsualRanges
from chargeassist.model.channels import Role
from chargeassist.model.job import Job
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.quick_init import quick_init
from chargeassist.model.values import NoValue
from chargeassist.physics.approach import temp_difference
from chargeassist.physics.uncertainty import expanded_from_half_width
from chargeassist.stream.facts import ChannelFacts, Facts, Measured

WIDE_SUPERHEAT_K: Final = 8.0
"""A superheat range wider than this only tells a working metering device from a broken one [K], as
the 4 to 25 °F of RA3.2 do."""

SEALED_K: Final = (1.0, 4.0)
"""Subcooling below which a line may carry vapour, and above which it surely carries liquid [K].
Assumption: about 0.5 K on this project's physical plant, with room for pipes and lift."""

FED_K: Final = 8.0
"""Most superheat over its target that a shortage makes while liquid still reaches a fixed orifice
[K]. Assumption: a shortage first takes the liquid, and most of the flow goes with it."""

SHELL_COOLS_K_PER_S: Final = 0.3 / 60.0
"""A discharge line that cools faster than this follows a compressor shell that was hotter before
[K/s]. Assumption: such a tail ends within minutes, while leaking valves stay."""


@quick_init
@dataclass(frozen=True, slots=True)
class _Temp:
    value_k: float
    expanded_k: float | None


def feature_readings(
    job: Job,
    facts: Facts,
    expectations: Expectations | None = None,
    usual: UsualRanges | None = None,
) -> tuple[FeatureReading, ...]:
    """Return every reading that has a value and an expectation; none unless settled.

    Parameters
    ----------
    job : Job
    facts : Facts
    expectations : Expectations, optional
        Used instead of `expectations_of` job and facts.
    usual : UsualRanges, optional
        Those of the job, if they are known already.

    Notes
    -----
    The uncertainty of the condensing temperature is taken as that of subcooling. That one includes
    a pipe clamp, and so errs on the wide side; likewise evaporating temperature and superheat.
    """
    settled = facts.settled
    if settled is None:
        return ()
    usual = usual or UsualRanges.of(job)
    wanted = expectations or expectations_of(job, facts, usual)
    by_role = places_read(facts)
    outdoor = _read(by_role.get(Role.OUTDOOR_AIR_TEMPERATURE)) or _typed(facts, usual.typed_air_k)
    returned = _read(by_role.get(Role.RETURN_AIR_TEMPERATURE))
    supply = _read(by_role.get(Role.SUPPLY_AIR_TEMPERATURE))
    liquid = _read(by_role.get(Role.LIQUID_TEMPERATURE), usual.contact_k)
    condensing = _saturated(facts.liquid_saturation_k, _expanded_k(facts.subcooling))
    evaporating = _saturated(facts.suction_saturation_k, _expanded_k(facts.superheat))
    found = [
        *_judged_and_witness(job, facts),
        _difference(Feature.CONDENSING, condensing, outdoor, wanted.condensing_over_outdoor),
        _difference(Feature.EVAPORATING, evaporating, returned, wanted.evaporating_against_return),
        _difference(Feature.AIR_SPLIT, returned, supply, wanted.air_split),
        _difference(Feature.APPROACH, liquid, outdoor, wanted.approach),
        _plain(Feature.DISCHARGE, by_role.get(Role.DISCHARGE_TEMPERATURE), wanted.discharge_temp),
        _plain(Feature.CURRENT, by_role.get(Role.COMPRESSOR_CURRENT), wanted.current),
        _compression(
            by_role.get(Role.DISCHARGE_TEMPERATURE), wanted.compression, usual.discharge_clamp_k
        ),
        _charge(job, facts, wanted.charge),
        _seal(facts),
        _feed(job, facts),
        _step(facts, settled.value_k, wanted.step),
    ]
    return tuple(reading for reading in found if reading is not None)


def _judged_and_witness(
    job: Job, facts: Facts
) -> tuple[FeatureReading | None, FeatureReading | None]:
    """Return subcooling and superheat against what the job expects of them.

    In a job judged by superheat no table gives the subcooling, so a wide range is used.
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
        return _orifice_subcooling(job, facts), judged
    return judged, _superheat(job, facts, _expanded_k(facts.superheat))


def _orifice_subcooling(job: Job, facts: Facts) -> FeatureReading | None:
    """Return subcooling before an orifice, against a range from some liquid to the job's high."""
    value_k, high_k = facts.settled_subcooling_k, job.target.subcooling_high_k
    if value_k is None or high_k <= SEALED_K[0] + 1.0:
        return None
    wanted = Expected(low_si=SEALED_K[0], high_si=high_k, basis=job.target.subcooling_source)
    return _reading(Feature.SUBCOOLING, value_k, _expanded_k(facts.subcooling), wanted)


def _superheat(job: Job, facts: Facts, expanded_k: float | None) -> FeatureReading | None:
    value_k = facts.settled_superheat_k
    if value_k is None:
        return None
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
    half_width = item.channel.half_width(item.value_si)
    expanded = None if half_width is None else expanded_from_half_width(half_width)
    return _reading(feature, item.value_si, expanded, wanted)


def _compression(
    item: ChannelFacts | None, wanted: Expected | None, undeclared_k: float
) -> FeatureReading | None:
    """Return the discharge temperature; None while the compressor shell may still warm or cool.

    A cold shell makes it too low for a long time after a start, a hot one too high.
    """
    found = _plain(Feature.COMPRESSION, item, wanted)
    if found is None or wanted is None or found.value_si < wanted.low_si:
        return None
    cooling = item is not None and (item.slope_si_per_s or 0.0) < -SHELL_COOLS_K_PER_S
    if cooling and found.value_si > wanted.high_si:
        return None
    if found.expanded_si is not None:
        return found
    return replace(found, expanded_si=undeclared_k)


def _charge(job: Job, facts: Facts, wanted: Expected | None) -> FeatureReading | None:
    """Return the charge at the target: what the scale says is in, and what the reading lacks.

    It is low if subcooling reads too high for the charge, and high if subcooling reads too low or
    refrigerant has leaked. A line without a seal tells nothing.
    """
    settled, goal = facts.settled, facts.goal(job.target)
    if wanted is None or settled is None or isinstance(goal, NoValue):
        return None
    if facts.judged is not SUBCOOLING or settled.value_k < unsealed_below_k(settled.expanded_k):
        return None
    gain = learnt_gain(job.charge.plate_kg, facts.ledger, settled.expanded_k)
    lacking_kg = (goal.value_k - settled.value_k) / gain.mean_k_per_kg
    expanded_kg = math.hypot(
        2.0 * lacking_kg * gain.sd_k_per_kg / gain.mean_k_per_kg,
        (settled.expanded_k or 0.0) / gain.mean_k_per_kg,
    )
    return _reading(Feature.CHARGE, facts.total_kg + lacking_kg, expanded_kg, wanted)


def _seal(facts: Facts) -> FeatureReading | None:
    """Return how much liquid is left at the metering device: none, some, or plenty."""
    settled_k, expanded_k = _settled_subcooling(facts)
    if settled_k is None:
        return None
    return FeatureReading(
        feature=Feature.SEAL,
        value_si=settled_k,
        expected_si=0.5 * (SEALED_K[0] + SEALED_K[1]),
        tolerance_si=0.5 * (SEALED_K[1] - SEALED_K[0]),
        expanded_si=expanded_k,
        basis="an evaporator starves once no liquid is left",
    )


def _settled_subcooling(facts: Facts) -> tuple[float | None, float | None]:
    """Return settled subcooling and its expanded uncertainty, judged or not [K]."""
    if facts.judged is SUBCOOLING:
        settled = facts.settled
        return (None, None) if settled is None else (settled.value_k, settled.expanded_k)
    return facts.settled_subcooling_k, _expanded_k(facts.subcooling)


def _feed(job: Job, facts: Facts) -> FeatureReading | None:
    """Return superheat over its target if liquid surely reaches the orifice; else None."""
    settled, goal = facts.settled, facts.goal(job.target)
    if facts.judged is SUBCOOLING or settled is None or isinstance(goal, NoValue):
        return None
    sealed_k, expanded_k = _settled_subcooling(facts)
    if sealed_k is None or sealed_k < SEALED_K[0] + (expanded_k or 0.0):
        return None
    declared = settled.expanded_k is not None and goal.expanded_k is not None
    return FeatureReading(
        feature=Feature.FEED,
        value_si=settled.value_k - goal.value_k,
        expected_si=0.0,
        tolerance_si=FED_K,
        expanded_si=math.hypot(settled.expanded_k or 0.0, goal.expanded_k or 0.0)
        if declared
        else None,
        basis="an orifice passes its flow while liquid reaches it",
    )


def _step(facts: Facts, settled_k: float, wanted: Expected | None) -> FeatureReading | None:
    step = last_step(facts)
    if wanted is None or step is None or step.before_k is None:
        return None
    return _reading(Feature.STEP, settled_k - step.before_k, 2.0 * STEP_NOISE_K, wanted)


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


def _expanded_k(value: Measured | NoValue) -> float | None:
    """Return the expanded uncertainty of a value [K]; None without a value or a declaration."""
    return value.expanded_k if isinstance(value, Measured) else None


def _read(item: ChannelFacts | None, contact_k: float = 0.0) -> _Temp | None:
    """Return what a thermometer reads; `contact_k` is the half width of its contact with a pipe."""
    if item is None or item.value_si is None:
        return None
    own_k = item.channel.half_width(item.value_si)
    if own_k is None:
        return _Temp(item.value_si, None)
    half_width_k = math.hypot(own_k, contact_k)
    return _Temp(item.value_si, expanded_from_half_width(half_width_k))


def _typed(facts: Facts, half_width_k: float) -> _Temp | None:
    """Return the outdoor air that was typed; None without."""
    value_k = facts.live(Role.OUTDOOR_AIR_TEMPERATURE)
    if value_k is None:
        return None
    return _Temp(value_k, expanded_from_half_width(half_width_k))
