"""Closing up, told through a whole assistant."""

from chargeassist.model.events import Action, CheckResult, MarkKind, Stage
from tests.unit.guide.stages.conftest import Make

CREW = '[crew]\ncertificate = "U-0000"\ncompany = "of our own"\n'


def test_every_item_is_in_the_record_or_told(work: Make) -> None:
    job = work(CREW)
    snapshot = job.begin(Stage.CLOSE_OUT)
    assert snapshot.stage is Stage.CLOSE_OUT
    assert snapshot.advice.action is Action.DO
    # What is forgotten at the unit costs another visit: it comes first.
    assert "leak check at the ports" in job.says
    told = 0
    while job.snapshot.advice.action is Action.DO:
        job.done()
        told += 1
        assert told < 60
    assert told >= 10
    assert job.snapshot.advice.cause == "close_out_done"
    assert job.checks()[0].result is CheckResult.NOT_JUDGED
    assert job.checks()[-1].result is CheckResult.RECORDED
    assert job.checks()[-1].sources
    states = {state for _, state in job.rows.values()}
    assert states == {"done"}


def test_the_item_that_is_asked_for_stands_first_and_is_marked(work: Make) -> None:
    job = work(CREW)
    job.begin(Stage.CLOSE_OUT)
    for _ in range(4):
        rows = [(item, row) for item, row in job.rows.items() if item != "cautions"]
        (first, (_, state)), others = rows[0], rows[1:]
        assert state == "now"
        assert first.endswith(": asked for now")
        assert first.removesuffix(": asked for now") in job.says
        assert "now" not in {state for _, (_, state) in others}
        states = [state for _, (_, state) in others]
        assert states == sorted(states, key=["open", "done"].index)
        job.done()


def test_what_the_job_file_says_needs_no_word(work: Make) -> None:
    bare, named = work(), work(CREW)
    bare.begin(Stage.CLOSE_OUT)
    named.begin(Stage.CLOSE_OUT)
    key = "person, and certificate number: in the record"
    assert key in named.rows
    assert key not in bare.rows


def test_a_refrigerant_that_burns_has_items_of_its_own(work: Make) -> None:
    burns, not_so = work(), work(refrigerant="R-410A")
    burns.begin(Stage.CLOSE_OUT)
    not_so.begin(Stage.CLOSE_OUT)
    assert len(burns.rows) > len(not_so.rows)


def test_the_end_of_a_session_that_was_closed_out_changes_no_stage(work: Make) -> None:
    job = work()
    job.begin(Stage.CLOSE_OUT)
    before = len(job.verdicts)
    job.end()
    assert job.verdicts[before:] == []
    assert job.snapshot.finished
    job.mark(MarkKind.STAGE_BEGUN, Stage.RUN_UP.value)
    assert job.snapshot.stage is Stage.CLOSE_OUT


def test_the_charge_is_told_in_co2_where_the_label_asks_for_it(work: Make) -> None:
    job = work('weighed_in = "2.00 kg"\n')
    job.begin(Stage.CLOSE_OUT)
    # R-32 counts 675: legislation.gov.uk/eur/2014/517/annexes/adopted, annex I.
    (row,) = [label for label in job.rows if "CO2 equivalent" in label]
    assert row.endswith("2.00 kg at 675 are 1.35 t of CO2")
