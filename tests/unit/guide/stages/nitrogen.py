"""A plate and what is done with nitrogen, shared by the tests of the tightness stage."""

from dataclasses import replace

from chargeassist.model.events import MarkKind, Stage
from chargeassist.model.job import Job
from tests.unit.guide.stages.conftest import Make, Work

PLATE = """
[plate]
high_side = "4.2 MPa(g)"
low_side = "2.4 MPa(g)"
source = "unit plate"
[tightness]
steps = ["0.3 MPa(g) for 1 min", "2.0 MPa(g) for 30 min"]
source = "installation sheet 2"
"""


def empty(work: Make) -> Work:
    """Return the work of a circuit without pressure whose test has just begun."""
    job = work(PLATE)
    job.stands_at(0.0)
    job.begin(Stage.TIGHTNESS)
    return job


def raised(job: Work) -> None:
    """Raise by one step to the full pressure, and shut the supply."""
    job.stands_at(0.0)
    job.begin(Stage.TIGHTNESS)
    job.mark(MarkKind.NITROGEN_ON)
    job.stands_at(0.3e6)
    job.run(70)
    job.stands_at(2.0e6)
    job.run(3)
    job.mark(MarkKind.NITROGEN_OFF)


def undeclared(job: Job) -> Job:
    """Return the job with instruments of which nobody says how good they are."""
    sources = tuple(
        replace(
            source,
            probes=tuple(
                replace(probe, channel=replace(probe.channel, accuracy=None))
                for probe in source.probes
            ),
        )
        for source in job.sources
    )
    return replace(job, sources=sources)
