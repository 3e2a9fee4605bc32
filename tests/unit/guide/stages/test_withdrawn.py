"""A reading typed wrong is withdrawn or typed again; the record keeps it, the verdict does not."""

from typing import Any

from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckResult, MarkKind, Stage
from tests.unit.guide.stages.conftest import Make, Work
from tests.unit.guide.stages.test_dryness import SHEET
from tests.unit.guide.stages.test_tightness import BY_HAND, DAY_LONG, standing

BEGIN = (
    (Entry.TEST_PRESSURE, 2.0e6),
    (Entry.LIQUID_PIPE, 295.0),
    (Entry.SUCTION_PIPE, 296.0),
)
END = (
    (Entry.TEST_PRESSURE, 1.95e6),
    (Entry.LIQUID_PIPE, 289.0),
    (Entry.SUCTION_PIPE, 292.0),
)


def typed(job: Work, *readings: tuple[Entry, float]) -> Any:
    for entry, value in readings:
        job.enter(entry, value)
    return job.run(1)


def withdraw(job: Work, entry: Entry) -> Any:
    """Withdraw as the technician does: by what the stage offers."""
    (mark,) = [
        each
        for each in job.snapshot.other_marks
        if each.kind is MarkKind.WITHDRAWN and each.text == entry
    ]
    job.mark(mark.kind, mark.text)
    return job.run(1)


def day_after(job: Work) -> None:
    job.t += 24 * 3600.0
    typed(job, *END)
    job.run(1)


def test_a_wrong_first_reading_of_the_standing_test_is_withdrawn(work: Make) -> None:
    job = standing(work)
    wrong = ((Entry.TEST_PRESSURE, 2.2e6), *BEGIN[1:])
    assert typed(job, *wrong).advice.cause == "standing_by_hand"
    job.run(60)
    assert withdraw(job, Entry.TEST_PRESSURE).advice.cause == "read_begin"
    # The pipes were read right: only the pressure is asked for again.
    assert typed(job, BEGIN[0]).advice.cause == "standing_by_hand"
    day_after(job)
    (check,) = job.checks()
    # 14 kPa, as with a right reading from the start; by the wrong one it were 210 kPa and a leak.
    assert check.result is CheckResult.PASS_NOT_CERTAIN
    assert abs(check.figures["change_pa"]) < 25e3


def test_a_verdict_by_a_reading_that_is_withdrawn_no_longer_stands(work: Make) -> None:
    job = standing(work)
    typed(job, *BEGIN)
    day_after(job)
    (first,) = job.checks()
    assert first.result is CheckResult.PASS_NOT_CERTAIN
    job.run(60)
    withdraw(job, Entry.TEST_PRESSURE)
    again = job.checks()[-1]
    assert (again.check, again.cause) == ("standing_pressure", "reading_withdrawn")
    assert again.result is CheckResult.NOT_JUDGED
    assert job.snapshot.advice.cause == "read_end"
    job.run(60)
    typed(job, *END)
    job.run(1)
    assert job.checks()[-1].result is CheckResult.PASS_NOT_CERTAIN


def test_a_pressure_typed_again_at_once_takes_the_place_of_the_slip(work: Make) -> None:
    job = standing(work)
    typed(job, (Entry.TEST_PRESSURE, 20.0e5 + 2e5))
    job.run(8)
    typed(job, *BEGIN)
    assert job.snapshot.advice.figures["readings"] == 1.0
    day_after(job)
    (check,) = job.checks()
    assert check.result is CheckResult.PASS_NOT_CERTAIN


def test_a_wrong_pressure_of_the_raise_is_withdrawn(work: Make) -> None:
    job = work(DAY_LONG, probes=BY_HAND)
    job.begin(Stage.TIGHTNESS)
    job.done()
    assert typed(job, (Entry.TEST_PRESSURE, 3.0e6)).advice.cause == "nitrogen_too_high"
    job.run(60)
    assert withdraw(job, Entry.TEST_PRESSURE).advice.cause == "nitrogen_reached"
    assert typed(job, (Entry.TEST_PRESSURE, 0.3e6)).advice.cause == "nitrogen_step"
    assert not job.checks()


def test_nothing_is_offered_and_nothing_taken_where_nothing_was_typed(work: Make) -> None:
    job = standing(work)
    kinds = [each.text for each in job.snapshot.other_marks if each.kind is MarkKind.WITHDRAWN]
    assert kinds == ["test_pressure"]
    job.mark(MarkKind.WITHDRAWN, "vacuum")
    assert job.run(1).advice.cause == "read_begin"


def rising(work: Make) -> Any:
    job = work(SHEET, probes=BY_HAND)
    job.begin(Stage.DRYNESS)
    job.mark(MarkKind.PUMP_ON)
    job.mark(MarkKind.VALVE_SHUT)
    job.run(121)
    return job


def test_a_wrong_vacuum_of_the_rise_test_is_withdrawn(work: Make) -> None:
    job = rising(work)
    typed(job, (Entry.VACUUM, 40.0))
    job.run(120)
    typed(job, (Entry.VACUUM, 4000.0))
    job.run(60)
    withdraw(job, Entry.VACUUM)
    for _ in range(9):
        typed(job, (Entry.VACUUM, 40.0))
        job.run(120)
    checks = job.checks()
    assert {check.cause for check in checks} == {"found_dry"}
    assert checks[-1].figures["lowest_pa"] == 40.0


def test_a_reading_typed_too_soon_does_not_count_and_that_is_said_and_recorded(work: Make) -> None:
    job = rising(work)
    typed(job, (Entry.VACUUM, 40.0))
    job.run(11)
    typed(job, (Entry.VACUUM, 40.0))
    said = "the reading typed 12 s after the last does not count, 20 s is the least"
    assert said in job.says
    recorded = [v for v in job.verdicts if "does not count" in getattr(v, "subject", "")]
    assert len(recorded) == 1
    assert recorded[0].figures["readings"] == 1.0
    job.run(40)
    typed(job, (Entry.VACUUM, 40.0))
    assert "does not count" not in job.says
    for _ in range(9):
        job.run(120)
        typed(job, (Entry.VACUUM, 40.0))
    assert job.checks()[-1].figures["not_counted"] == 1.0


def test_what_was_typed_is_drawn_as_marks_at_the_times_it_was_read(work: Make) -> None:
    job = standing(work)
    typed(job, *BEGIN)
    step = job.snapshot.stage_step
    assert step is not None
    assert step.plot is not None
    assert step.plot.typed is not None
    assert [value for _, value in step.plot.typed] == [2.0e6]
    job = rising(work)
    typed(job, (Entry.VACUUM, 40.0))
    job.run(60)
    plot = job.snapshot.stage_step.plot
    assert [value for _, value in plot.typed] == [40.0]
    assert plot.since_t <= plot.typed[0][0]
