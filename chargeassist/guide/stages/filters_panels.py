"""Whether the unit is as it is to be judged: filter, registers, panels. A question, no number."""

from chargeassist.guide.stages.judging import Look
from chargeassist.model.events import CheckJudged, CheckResult, Stage
from chargeassist.model.limits import LimitKey

FILTERS_PANELS = "filters_panels"
"""Text of the mark that confirms it."""


def filters_panels(look: Look) -> CheckJudged | None:
    """Return what the technician said of them; asked for once the charge is verified."""
    if FILTERS_PANELS in look.facts.confirmed:
        result, cause = CheckResult.RECORDED, "filters_panels_seen"
    elif look.stage is Stage.VERIFICATION:
        result, cause = CheckResult.NOT_JUDGED, "filters_panels_open"
    else:
        return None
    source = look.job.limit_or_usual(LimitKey.FILTERS_PANELS).citation
    return look.judged("filters_panels", result, cause, {}, source)
