"""Outdoor air that no probe measures: from the job file, or typed; for half an hour each."""

from dataclasses import replace

from chargeassist.guide.conditions import ConditionState, conditions
from chargeassist.guide.crosscheck import cross_check
from chargeassist.guide.fault_terms import Feature
from chargeassist.guide.features import feature_readings
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.job import Job, Site
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Facts
from chargeassist.stream.processor import Processor
from tests.unit.guide.charging_facts import JOB, VALUES, settled

WARM_K, COLD_K = 303.0, 283.0
LIMIT = Limit(
    key=LimitKey.OUTDOOR_LOW,
    value_si=286.0,
    as_written="invented",
    source="invented manual, page 12",
    edition="",
    authority=Authority.EQUIPMENT,
)


def job(outdoor_k: float | None) -> Job:
    target = replace(JOB.target, approach_k=5.0, approach_source="invented")
    site = Site(altitude_m=0.0, outdoor_air_k=outdoor_k)
    return replace(JOB, site=site, target=target, limits=(LIMIT,))


def at(processor: Processor, t: float) -> Facts:
    """Return the facts of a tick, with a settled reading in place of probes."""
    values = processor.tick(t)[0].values
    return settled(5.0, t=t, values=values)


def state(this: Job, facts: Facts) -> ConditionState:
    return conditions(this, facts)[0].state


def test_the_job_file_s_outdoor_air_is_judged_by_until_it_is_old() -> None:
    for outdoor_k, expected in ((WARM_K, ConditionState.MET), (COLD_K, ConditionState.UNMET)):
        this = job(outdoor_k)
        processor = Processor(this)
        early, late = (
            at(processor, 60.0),
            at(processor, USUAL[LimitKey.TYPED_AIR_LASTS].value_si + 1.0),
        )
        assert early.live(Role.OUTDOOR_AIR_TEMPERATURE) == outdoor_k
        assert state(this, early) is expected
        assert late.live(Role.OUTDOOR_AIR_TEMPERATURE) is None
        assert state(this, late) is ConditionState.UNKNOWN


def test_what_is_typed_comes_before_what_the_file_said() -> None:
    this = job(COLD_K)
    processor = Processor(this)
    typed = Mark(t=30.0, kind=MarkKind.ENTERED, text=Entry.OUTDOOR_AIR.value, value_si=WARM_K)
    processor.take(typed)
    assert state(this, at(processor, 60.0)) is ConditionState.MET


def test_causes_and_cross_check_are_judged_with_it() -> None:
    without, known = job(None), job(WARM_K)
    blind, seeing = at(Processor(without), 60.0), at(Processor(known), 60.0)
    told = [{item.feature for item in feature_readings(known, each)} for each in (blind, seeing)]
    assert {Feature.CONDENSING, Feature.APPROACH} <= told[1] - told[0]
    found, nothing = cross_check(known, seeing), cross_check(without, blind)
    assert found is not None
    assert not isinstance(found.approach, NoValue)
    assert found.approach.value_k == VALUES[Role.LIQUID_TEMPERATURE] - WARM_K
    assert nothing is not None
    assert isinstance(nothing.approach, NoValue)
