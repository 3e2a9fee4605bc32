"""What a report says of the course of the stages."""

from types import SimpleNamespace
from typing import cast

from chargeassist.model.display import UnitSystem
from chargeassist.model.events import (
    CheckJudged,
    CheckResult,
    Mark,
    MarkKind,
    Stage,
    StageChanged,
    VerdictEvent,
)
from chargeassist.qa.report_stages import course_table
from chargeassist.qa.rescore import Rescored


def counted(t: float, open_items: int) -> CheckJudged:
    return CheckJudged(
        t=t,
        stage=Stage.CLOSE_OUT,
        check="close_out",
        result=CheckResult.NOT_JUDGED if open_items else CheckResult.RECORDED,
        cause="close_out_open" if open_items else "close_out_done",
        figures={"open": float(open_items), "items": 3.0},
    )


def course(marks: list[Mark], made: list[VerdictEvent]) -> list[tuple[str, ...]]:
    session = SimpleNamespace(marks=tuple(marks), made=tuple(made))
    return list(course_table(cast(Rescored, session), UnitSystem.SI).rows)


def test_the_items_of_a_close_out_are_counted_once_where_it_stopped() -> None:
    made: list[VerdictEvent] = [counted(float(t), left) for t, left in ((1, 3), (2, 2), (3, 1))]
    assert [(at, text) for at, _, text in course([], made)] == [
        ("0:03", "close-out: not judged: 1 of 3 items open")
    ]
    finished = course([], [*made, counted(4.0, 0)])
    assert [at for at, _, _ in finished] == ["0:04"]


def test_a_stage_that_was_begun_was_not_reached_as_well() -> None:
    begun = Mark(t=5.0, kind=MarkKind.STAGE_BEGUN, text=Stage.DRYNESS.value)
    made: list[VerdictEvent] = [
        StageChanged(t=5.0, stage=Stage.DRYNESS),
        StageChanged(t=9.0, stage=Stage.CHARGING),
    ]
    assert course([begun], made) == [
        ("0:05", "dryness", "begun"),
        ("0:09", "charging", "reached"),
    ]
