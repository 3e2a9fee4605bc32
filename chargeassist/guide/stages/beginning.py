"""The stage the work begins with, and the marks that record it."""

from typing import Final

from chargeassist.guide.stages.course import skip_text
from chargeassist.model.events import Mark, MarkKind, Stage
from chargeassist.model.job import Job

BEGINNINGS: Final = (Stage.TIGHTNESS, Stage.DRYNESS, Stage.WEIGH_IN, Stage.RUN_UP)
"""Stages the work can begin with, in order."""


def opening_marks(job: Job) -> tuple[Mark, ...]:
    """Return the marks that open a record: the stage the work begins with, and those left out.

    A session begins with the run-up by itself. A stage the job leaves out is skipped with the job's
    reason; without a reason it stays open.
    """
    marks = []
    if job.begins_source:
        for stage in BEGINNINGS[: BEGINNINGS.index(job.begins)]:
            text = skip_text(stage, job.begins_source)
            marks.append(Mark(t=0.0, kind=MarkKind.STAGE_SKIPPED, text=text))
    if job.begins is not Stage.RUN_UP:
        marks.append(Mark(t=0.0, kind=MarkKind.STAGE_BEGUN, text=job.begins.value))
    return tuple(marks)
