"""The question about filter, registers and panels, which no probe can answer."""

from chargeassist.guide.stages.judging import Look
from chargeassist.model.events import CheckJudged, CheckResult, Stage
from chargeassist.model.limits import LimitKey

FILTERS_PANELS = LimitKey.FILTERS_PANELS.value
"""Text of the mark that confirms it."""


def filters_panels(look: Look) -> CheckJudged | None:
    """Return what the technician said; in the verification, also that nothing was said."""
    if FILTERS_PANELS in look.facts.confirmed:
        result, cause = CheckResult.RECORDED, "filters_panels_seen"
    elif look.stage is Stage.VERIFICATION:
        result, cause = CheckResult.NOT_JUDGED, "filters_panels_open"
    else:
        return None
    source = look.job.limit_or_usual(LimitKey.FILTERS_PANELS).citation
    return look.judged("filters_panels", result, cause, {}, source)
