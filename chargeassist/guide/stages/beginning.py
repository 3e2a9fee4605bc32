"""The stage the work of a job begins with, and what stands in its record for that."""

from typing import Final

from chargeassist.guide.stages.course import skip_text
from chargeassist.model.events import Mark, MarkKind, Stage
from chargeassist.model.job import Job

BEGINNINGS: Final = (Stage.TIGHTNESS, Stage.DRYNESS, Stage.WEIGH_IN, Stage.RUN_UP)
"""Stages the work can begin with, in their order."""


def opening_marks(job: Job) -> tuple[Mark, ...]:
    """Return what stands in a record before anything is read: where the work begins, and why.

    A session begins with the run-up by itself. What the file leaves out is skipped with the file's
    reason; without one it stays open.
    """
    marks = []
    if job.begins_source:
        for stage in BEGINNINGS[: BEGINNINGS.index(job.begins)]:
            text = skip_text(stage, job.begins_source)
            marks.append(Mark(t=0.0, kind=MarkKind.STAGE_SKIPPED, text=text))
    if job.begins is not Stage.RUN_UP:
        marks.append(Mark(t=0.0, kind=MarkKind.STAGE_BEGUN, text=job.begins.value))
    return tuple(marks)
