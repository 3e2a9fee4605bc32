"""Conditions nobody named a limit for: not judged, and said so, beside a reading that is judged.

In which weather a target holds only its source can say, so the program has no limit of its own for
it. A job without a profile or ``[conditions]`` is charged all the same; what was not held against
anything stands on the screen, in the record and in the report.
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
"""What a target usually depends on, and the limits any of which says so."""


def unjudged(job: Job) -> tuple[str, ...]:
    """Return the conditions that neither the job file nor its profile gives a limit for."""
    named = {limit.key for limit in job.limits}
    return tuple(name for name, keys in _GROUPS if not named.intersection(keys))


def why_unjudged(job: Job) -> str:
    """Return why, as a clause: no profile, or one that does not say."""
    if job.profile:
        return f"profile {job.profile} and the job file give no limit for it"
    return "no profile, and the job file gives no limit for it"


def conditions_unjudged(look: Look) -> CheckJudged | None:
    """Return what is not judged, once the charge is verified; None where all of it is."""
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
