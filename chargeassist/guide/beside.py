"""Cautions shown beside the instruction."""

from collections.abc import Iterator, Mapping

from chargeassist.guide.conditions import OPEN, Condition
from chargeassist.guide.crosscheck import CrossCheck
from chargeassist.guide.snapshot import Caution
from chargeassist.guide.trouble import probe_doubts
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey
from chargeassist.stream.facts import Facts


def of_the_job(job: Job, facts: Facts, *, running: bool) -> Iterator[Caution]:
    """Yield that the test mode is about to end, or that more is in than plate and line set take."""
    expires = facts.hold.expires_s if running else None
    if expires is not None and expires <= job.limit_si(LimitKey.HOLD_WARNING):
        yield Caution(cause="hold_expiring", figures={"seconds_s": expires})
    full_kg = job.charge.full_kg
    if facts.total_kg > full_kg + job.charge.scale_resolution_kg:
        figures = {"total_kg": facts.total_kg, "full_kg": full_kg}
        yield Caution(cause="over_plate", figures=figures)


def of_the_reading(
    conditions: tuple[Condition, ...], facts: Facts, check: CrossCheck | None
) -> Iterator[Caution]:
    """Yield what makes a reading doubtful: conditions, probes, an approach that disagrees."""
    for item in conditions:
        if item.state in OPEN:
            yield Caution(cause=OPEN[item.state], subject=item.words)
    yield from probe_doubts(facts)
    otherwise = None if check is None else check.disagreement
    if otherwise is not None:
        subject, figures = otherwise
        yield Caution(cause="approach_disagrees", subject=subject, figures=figures)


def over_rated(figures: Mapping[str, float] | None) -> Iterator[Caution]:
    """Yield that the compressor draws more than its rated-load amps, if `figures` say so."""
    if figures is not None:
        yield Caution(cause="over_rated_load", figures=dict(figures))
