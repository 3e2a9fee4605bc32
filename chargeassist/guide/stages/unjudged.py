"""Conditions without a limit: they are not judged, and a check says so.

Only the source of a target can say in which weather it holds, so the program has no default for it.
A job without a profile or ``[conditions]`` is charged all the same; screen, record and report say
what was not judged.
"""

from typing import Final

from chargeassist.guide.stages.judging import Look
from chargeassist.model.events import CheckJudged, CheckResult, Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import LimitKey

CHECK: Final = "conditions_unjudged"

_GROUPS: Final = (
    ("outdoor air", (LimitKey.OUTDOOR_LOW, LimitKey.OUTDOOR_HIGH)),
    ("return air", (LimitKey.INDOOR_LOW, LimitKey.INDOOR_HIGH)),
    ("run before a reading", (LimitKey.RUN_BEFORE_READING,)),
    ("indoor airflow", (LimitKey.AIRFLOW_LOW,)),
)
"""What a target usually depends on, and the limits that would cover it."""


def unjudged(job: Job) -> tuple[str, ...]:
    """Return the conditions that the job has no limit for."""
    named = {limit.key for limit in job.limits}
    return tuple(name for name, keys in _GROUPS if not named.intersection(keys))


def why_unjudged(job: Job) -> str:
    """Return why they have no limit, as a clause."""
    if job.profile:
        return f"profile {job.profile} and the job file give no limit for it"
    return "no profile, and the job file gives no limit for it"


def conditions_unjudged(look: Look) -> CheckJudged | None:
    """Return, in the verification, what is not judged; None if everything is."""
    names = unjudged(look.job)
    if not names or look.stage is not Stage.VERIFICATION:
        return None
    return look.judged(
        CHECK,
        CheckResult.NOT_JUDGED,
        CHECK,
        {},
        subject=f"{', '.join(names)}: {why_unjudged(look.job)}",
    )
