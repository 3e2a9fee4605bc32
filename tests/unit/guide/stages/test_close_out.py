"""Closing up, told through a whole assistant."""

from dataclasses import replace

import pytest

from chargeassist.model.events import Action, CheckResult, MarkKind, Stage
from tests.unit.guide.stages.conftest import PROBES, Make, Work, make_job

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


def item(job: Work, words: str) -> str:
    """Return the label of the one item that says `words`."""
    (label,) = [each for each in job.rows if words in each]
    return label


def test_what_is_done_at_the_unit_is_done_anew_after_it_was_worked_on_again(work: Make) -> None:
    """Hoses were on and panels off since; what was written down stays written."""
    job = work(CREW)
    job.begin(Stage.CLOSE_OUT)
    while job.snapshot.advice.action is Action.DO:
        job.done()
    assert job.snapshot.advice.cause == "close_out_done"
    job.begin(Stage.CLOSE_OUT)  # told twice
    assert job.snapshot.advice.cause == "close_out_done"
    job.mark(MarkKind.STAGE_BEGUN, Stage.RUN_UP.value)
    job.run(5)
    job.begin(Stage.CLOSE_OUT)
    assert job.snapshot.advice.cause == "close_out_item"
    assert "asked for now" in item(job, "leak check at the ports")
    assert "said to be done" in item(job, "signature and date")
    assert job.checks()[-1].cause == "close_out_open"


def test_a_step_of_unknown_mass_is_not_in_the_record(work: Make) -> None:
    added = "refrigerant added, each time"
    job = work(CREW)
    job.mark(MarkKind.STEP_BEGUN)
    job.run(5)
    job.mark(MarkKind.STEP_ENDED)
    job.run(10)
    job.begin(Stage.CLOSE_OUT)
    assert "in the record" not in item(job, added)
    job.mark(MarkKind.STEP_ENDED, mass_kg=0.1)
    job.run(2)
    assert "in the record" in item(job, added)


def test_readings_at_the_end_are_in_the_record_if_their_probes_have_read(work: Make) -> None:
    readings = "liquid and suction pressure and line temperature at the end"
    job = work(CREW, probes=(*PROBES, ("return_air_temperature", "K", "0.3 K")))
    job.begin(Stage.CLOSE_OUT)
    assert "in the record" not in item(job, readings)
    job.stands_at(1.0e6)
    job.run(2)
    assert "in the record" not in item(job, readings)
    job.readings["return_air_temperature"] = 297.0
    job.run(2)
    assert "in the record" in item(job, readings)


@pytest.mark.parametrize("scale", [True, False])
def test_a_calibration_is_in_the_record_only_of_instruments_the_job_names(*, scale: bool) -> None:
    """A scale that is read by eye has a date that the job file does not hold."""
    job = make_job(CREW, probes=PROBES if scale else PROBES[:-1])
    sources = tuple(
        replace(
            source,
            probes=tuple(
                replace(probe, channel=replace(probe.channel, calibrated="2026-02-03"))
                for probe in source.probes
            ),
        )
        for source in job.sources
    )
    session = Work(replace(job, sources=sources))
    session.begin(Stage.CLOSE_OUT)
    label = item(session, "calibration dates of gauges")
    assert ("in the record" in label) is scale
