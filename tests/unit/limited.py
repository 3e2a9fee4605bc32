"""A job with limits of its own, as a profile of the house gives them."""

from collections.abc import Mapping
from dataclasses import replace

from chargeassist.model.job import Job
from chargeassist.model.limits import Authority, Limit, LimitKey


def limited(job: Job, values_si: Mapping[LimitKey, float]) -> Job:
    """Return `job` with these limits before its own."""
    limits = tuple(
        Limit(
            key=key,
            value_si=value_si,
            as_written=f"{value_si:g}",
            source="house rule",
            edition="2026",
            authority=Authority.RULE_OF_THUMB,
        )
        for key, value_si in values_si.items()
    )
    others = tuple(each for each in job.limits if each.key not in values_si)
    return replace(job, limits=(*limits, *others))
