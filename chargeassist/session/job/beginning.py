"""Where the work of a job begins: what the file says, else what it shows.

::

    begins = "dryness"                  # tightness, dryness, weigh-in or run-up
    begins_source = "tested by the pipe crew, sheet 3"

A circuit that holds refrigerant by weight is run up at once. One in which nothing is yet begins
with the first test the file has what it needs for; where it plans none, and does not say that the
circuit is empty either, nobody is told to fill a circuit that may be full.
"""

from dataclasses import replace
from typing import Final

from chargeassist.guide.stages.beginning import BEGINNINGS
from chargeassist.guide.stages.missing import lacking
from chargeassist.model.events import Stage
from chargeassist.model.job import Job
from chargeassist.model.text import plain
from chargeassist.session.job.toml_table import TomlTable

_TESTS: Final = (Stage.TIGHTNESS, Stage.DRYNESS)


def with_beginning(job: Job, top: TomlTable) -> Job:
    """Return `job` with the stage that its work begins with.

    Raises
    ------
    ConfigError
        If a stage is left out and nothing says why.
    """
    said = top.choice("begins", tuple(stage.value for stage in BEGINNINGS), default="")
    source = plain(top.text("begins_source", default=""), 200)
    if said in ("", Stage.TIGHTNESS.value):
        if source.strip():
            expected = "expected it beside begins, for a later stage than tightness"
            raise top.error("begins_source", expected, repr(source))
        return replace(job, begins=Stage(said) if said else _first(job, top.table("charge")))
    if not source.strip():
        expected = "expected who did what comes before, or why it is not needed"
        raise top.error("begins_source", expected, "nothing")
    return replace(job, begins=Stage(said), begins_source=source)


def _first(job: Job, charge: TomlTable) -> Stage:
    """Return the stage of a job that does not say where it begins."""
    if job.charge.weighed_in_kg > 0.0:
        return Stage.RUN_UP
    for stage in _TESTS:
        if not any(lack.needed for lack in lacking(job, stage)):
            return stage
    return Stage.RUN_UP if charge.get("weighed_in") is None else Stage.WEIGH_IN
