"""Whether the unit is as it is to be judged: filter, registers, panels. A question, no number."""

from chargeassist.guide.stages.judging import Look
from chargeassist.model.events import CheckJudged, CheckResult, Stage

FILTERS_PANELS = "filters_panels"
"""Text of the mark that confirms it."""

SOURCES = (
    "panels: California Title 24, Reference Residential Appendix RA3.2.2.5, 2008 "
    "(manualshelf.com/manual/airflow/ra3/specifications-english/page-14.html)",
    "filter and registers: common practice, no published source",
)


def filters_panels(look: Look) -> CheckJudged | None:
    """Return what the technician said of them; asked for once the charge is verified."""
    if FILTERS_PANELS in look.facts.confirmed:
        result, cause = CheckResult.RECORDED, "filters_panels_seen"
    elif look.stage is Stage.VERIFICATION:
        result, cause = CheckResult.NOT_JUDGED, "filters_panels_open"
    else:
        return None
    return look.judged("filters_panels", result, cause, {}, *SOURCES)
