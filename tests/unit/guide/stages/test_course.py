"""Which stage is done, open, skipped or begun again, told through a whole assistant."""

import pytest

from chargeassist.guide.stages.course import StageState, skip_text, state_of
from chargeassist.model.events import CheckResult, MarkKind, Stage
from tests.unit.guide.stages.conftest import Make, Work

PLATE = """
[plate]
high_side = "4.2 MPa(g)"
low_side = "2.4 MPa(g)"
source = "unit plate"
[tightness]
steps = ["2.0 MPa(g) for 10 min"]
source = "installation sheet 2"
"""


def stood(job: Work) -> None:
    job.stands_at(0.0)
    job.run(5)
    job.begin(Stage.TIGHTNESS)
    job.run(2)
    job.done()
    job.stands_at(2.0e6)
    assert job.run(3).advice.cause == "nitrogen_shut"
    job.done()
    job.until(lambda s: s.advice.cause == "tight", 1500)


def states(job: Work) -> dict[Stage, StageState]:
    snapshot = job.snapshot
    return {stage: state_of(stage, snapshot.courses, snapshot.stage) for stage in Stage}


def test_a_skipped_stage_keeps_its_reason_and_the_next_one_begins(work: Make) -> None:
    job = work(PLATE)
    job.stands_at(0.0)
    job.begin(Stage.TIGHTNESS)
    job.mark(MarkKind.STAGE_SKIPPED, skip_text(Stage.TIGHTNESS, "tested yesterday: sheet 3"))
    snapshot = job.run(1)
    assert snapshot.stage is Stage.DRYNESS
    assert states(job)[Stage.TIGHTNESS] is StageState.SKIPPED
    (check,) = job.checks()
    assert (check.stage, check.result) == (Stage.TIGHTNESS, CheckResult.NOT_JUDGED)
    assert check.subject == "tested yesterday: sheet 3"
    # Begun all the same, later: the reason stays, the stage is worked on.
    job.begin(Stage.TIGHTNESS)
    assert states(job)[Stage.TIGHTNESS] is StageState.NOW
    job.begin(Stage.DRYNESS)
    assert states(job)[Stage.TIGHTNESS] is StageState.OPEN
    course = job.snapshot.courses[Stage.TIGHTNESS]
    assert (course.why, course.redone) == ("tested yesterday: sheet 3", 1)


@pytest.mark.parametrize("text", ["tightness", "tightness: ", "brazing: done", ""])
def test_nothing_is_skipped_without_a_reason_or_a_stage(work: Make, text: str) -> None:
    job = work(PLATE)
    job.mark(MarkKind.STAGE_SKIPPED, text)
    job.run(1)
    assert not job.checks()
    assert StageState.SKIPPED not in states(job).values()


def test_another_stage_than_the_present_one_can_be_skipped(work: Make) -> None:
    job = work(PLATE)
    job.begin(Stage.WEIGH_IN)
    job.mark(MarkKind.STAGE_SKIPPED, skip_text(Stage.DRYNESS, "the maker's crew did it"))
    assert job.run(1).stage is Stage.WEIGH_IN
    assert states(job)[Stage.DRYNESS] is StageState.SKIPPED


def test_a_test_begun_again_begins_anew_and_its_first_verdict_stays(work: Make) -> None:
    job = work(PLATE)
    stood(job)
    assert states(job)[Stage.TIGHTNESS] is StageState.NOW
    job.done()
    job.begin(Stage.DRYNESS)
    assert states(job)[Stage.TIGHTNESS] is StageState.DONE
    first = job.snapshot.courses[Stage.TIGHTNESS].judged
    stood(job)
    course = job.snapshot.courses[Stage.TIGHTNESS]
    assert course.redone == 1
    assert course.judged[:1] == first
    assert len(course.judged) == 2
    assert len([each for each in job.checks() if each.check == "standing_pressure"]) == 2


def test_a_stage_come_back_to_without_a_verdict_goes_on(work: Make) -> None:
    job = work(PLATE)
    job.stands_at(0.0)
    job.begin(Stage.TIGHTNESS)
    job.run(2)
    job.done()
    job.stands_at(2.0e6)
    job.run(3)
    job.done()
    job.run(60)
    job.begin(Stage.WEIGH_IN)
    job.run(5)
    job.begin(Stage.TIGHTNESS)
    assert job.run(2).advice.cause == "standing"


def test_a_test_begun_again_and_left_without_a_verdict_is_open(work: Make) -> None:
    job = work(PLATE)
    stood(job)
    job.done()
    job.begin(Stage.DRYNESS)
    assert states(job)[Stage.TIGHTNESS] is StageState.DONE
    job.begin(Stage.TIGHTNESS)
    job.run(5)
    job.begin(Stage.DRYNESS)
    assert states(job)[Stage.TIGHTNESS] is StageState.OPEN
