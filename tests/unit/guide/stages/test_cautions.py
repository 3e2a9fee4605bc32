"""Cautions, told through a whole assistant: shown where the hazard is, acknowledged once."""

import re
from dataclasses import replace

import pytest

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.cautions import ARISES_IN, BROUGHT_BY
from chargeassist.guide.stages.caution_words import TEXTS, caution_text
from chargeassist.guide.stages.choice import WORDS
from chargeassist.model.events import CheckResult, MarkKind, SessionMode, Stage
from chargeassist.model.hazards import Hazard
from chargeassist.model.installation import Place
from tests.unit.guide.stages.conftest import Make

NITROGEN = """
[plate]
high_side = "4.2 MPa(g)"
low_side = "2.4 MPa(g)"
source = "unit plate"
[tightness]
steps = ["0.3 MPa(g) for 1 min", "2.0 MPa(g) for 30 min"]
source = "installation sheet 2"
"""
VACUUM = """
[dryness]
target = "500 micron"
rise_limit = "500 micron"
rise_time = "20 min"
source = "installation sheet 3"
"""
STANDING = {
    "liquid_pressure": 0.0,
    "suction_pressure": 0.0,
    "liquid_temperature": 295.0,
    "suction_temperature": 296.0,
}

ENDS_OR_NEUTRAL = {
    "nitrogen_shut", "nitrogen_step", "tight", "tight_doubted", "tightness_over", "isolate",
    "pull_stalled", "weigh_in_rest",
    "break_with_nitrogen", "dry", "weigh_in_done", "nitrogen_reached", "read_after_hold",
    "read_begin", "read_second", "read_end", "read_vacuum", "read_vacuum_rise",
}  # fmt: skip
"""Instructions to do something that bring no hazard: they end one, read a gauge, or go on."""


def test_every_instruction_either_brings_a_hazard_or_never_waits() -> None:
    assert set(WORDS.headlines) <= set(BROUGHT_BY) | ENDS_OR_NEUTRAL
    assert not set(BROUGHT_BY) & ENDS_OR_NEUTRAL


@pytest.mark.parametrize("hazard", tuple(Hazard))
def test_each_caution_has_a_source_defers_and_never_says_safe(hazard: Hazard) -> None:
    text = caution_text(hazard)
    assert TEXTS[hazard].source
    assert "local code" in text
    assert "licensed practice" in text
    assert not re.search(r"\bsafe", text, re.IGNORECASE)
    # Three lines of the smallest screen that is drawn in full, with label and key.
    assert len(text) <= 260


def test_every_stage_has_its_hazards_and_every_hazard_a_stage() -> None:
    assert set(ARISES_IN) == set(Stage)
    assert {each for found in ARISES_IN.values() for each in found} == set(Hazard)


def test_what_brings_the_hazard_waits_for_each_caution_once(work: Make) -> None:
    job = work(NITROGEN)
    job.readings = dict(STANDING)
    job.begin(Stage.TIGHTNESS, reads=False)
    assert job.run(1).unread == (Hazard.NITROGEN, Hazard.PRESSURE)
    assert job.says.startswith("Caution: dry nitrogen only, never oxygen or air")
    assert job.done().advice.cause == "caution_pressure"
    assert job.done().advice.cause == "nitrogen_raise"
    assert job.snapshot.unread == ()
    # Once per job: not again when the stage is begun again.
    job.begin(Stage.DRYNESS, reads=False)
    assert job.begin(Stage.TIGHTNESS, reads=False).advice.cause == "nitrogen_raise"
    read = {each.hazard: each.read_t for each in job.snapshot.hazards}
    assert read[Hazard.NITROGEN] == 2.0
    assert read[Hazard.PRESSURE] == 3.0


def test_pressure_that_is_too_high_is_told_whatever_was_read(work: Make) -> None:
    job = work(NITROGEN)
    job.readings = dict(STANDING, liquid_pressure=2.6e6, suction_pressure=2.6e6)
    job.begin(Stage.TIGHTNESS, reads=False)
    assert job.run(1).advice.cause == "nitrogen_too_high"
    # The key lets it out; the caution waits beside it.
    assert job.next_mark.kind is MarkKind.VENTED
    assert job.snapshot.unread


def test_an_instruction_that_ends_the_hazard_does_not_wait(work: Make) -> None:
    job = work(NITROGEN)
    job.readings = dict(STANDING)
    job.begin(Stage.TIGHTNESS, reads=False)
    job.mark(MarkKind.NITROGEN_ON)
    job.readings |= {"liquid_pressure": 0.3e6, "suction_pressure": 0.3e6}
    # Live numbers go on: the hold is counted, the key acknowledges.
    assert job.run(2).advice.cause == "nitrogen_step"
    assert job.next_mark.kind is MarkKind.NITROGEN_OFF
    job.mark(MarkKind.NITROGEN_OFF)
    assert job.run(2).advice.cause == "nitrogen_hold"
    assert (job.next_mark.kind, job.next_mark.text) == (MarkKind.CAUTION_READ, "nitrogen")
    job.run(62)
    job.mark(MarkKind.NITROGEN_ON)
    job.readings |= {"liquid_pressure": 2.0e6, "suction_pressure": 2.0e6}
    assert job.run(3).advice.cause == "nitrogen_shut"


def test_ignition_only_where_it_burns_and_height_only_where_one_can_fall(work: Make) -> None:
    calm = work(VACUUM, refrigerant="R-410A")
    assert calm.begin(Stage.DRYNESS, reads=False).unread == (Hazard.VACUUM,)
    burns = work(VACUUM)
    assert burns.begin(Stage.DRYNESS, reads=False).unread == (Hazard.VACUUM, Hazard.IGNITION)
    for place in Place:
        site = replace(burns.job.site, place=place)
        up = type(burns)(replace(burns.job, site=site))
        unread = up.begin(Stage.DRYNESS, reads=False).unread
        assert (Hazard.HEIGHT in unread) is (place is not Place.GROUND)


def test_nitrogen_is_a_hazard_of_dryness_only_when_it_is_asked_for(work: Make) -> None:
    job = work(VACUUM, refrigerant="R-410A")
    job.begin(Stage.DRYNESS, reads=False)
    assert job.done().advice.cause == "start_pump"
    assert Hazard.NITROGEN not in {each.hazard for each in job.snapshot.hazards}


def test_the_running_unit_is_judged_whether_or_not_cautions_were_read(work: Make) -> None:
    job, careful = work(), work()
    for each in (job, careful):
        each.readings = {
            "liquid_pressure": 2.4e6,
            "suction_pressure": 1.0e6,
            "liquid_temperature": 308.0,
            "suction_temperature": 288.0,
        }
        each.run(1)
    for hazard in job.snapshot.unread:
        careful.mark(MarkKind.CAUTION_READ, hazard.value)
    job.run(600)
    careful.run(600)
    assert job.verdicts == careful.verdicts
    assert job.snapshot.unread != ()
    assert set(careful.snapshot.unread) <= {Hazard.BURNS, Hazard.IGNITION}


def test_close_out_counts_the_cautions_from_the_record(work: Make) -> None:
    job = work(NITROGEN)
    job.readings = dict(STANDING)
    job.begin(Stage.TIGHTNESS, reads=False)
    job.done()
    job.begin(Stage.CLOSE_OUT, reads=False)
    while job.snapshot.advice.cause.startswith("caution_"):
        job.done()
    text, state = job.rows["cautions"]
    assert text == "5 of 5 acknowledged"
    assert state == "done"
    check = job.checks()[-1]
    assert (check.check, check.result) == ("cautions", CheckResult.RECORDED)
    assert len(check.sources) == 5
    # Nothing that can be told ticks it: it follows from the marks.
    step = job.stage_step
    told = {each.text for each in (step.next_mark, *step.other_marks) if each is not None}
    assert not any("caution" in each for each in told)


def test_close_out_names_the_caution_that_was_passed_over(work: Make) -> None:
    job = work(NITROGEN)
    job.readings = dict(STANDING)
    job.begin(Stage.TIGHTNESS, reads=False)
    job.begin(Stage.CLOSE_OUT, reads=False)
    while job.snapshot.advice.cause.startswith("caution_"):
        job.done()
    text, state = job.rows["cautions"]
    assert text == "4 of 5 acknowledged; never: nitrogen"
    assert state == "doubt"
    assert job.checks()[-1].result is CheckResult.NOT_JUDGED


def test_a_name_no_hazard_has_and_a_second_reading_change_nothing(work: Make) -> None:
    job = work(NITROGEN)
    job.readings = dict(STANDING)
    job.begin(Stage.TIGHTNESS, reads=False)
    job.mark(MarkKind.CAUTION_READ, "dragons")
    assert job.run(1).unread == (Hazard.NITROGEN, Hazard.PRESSURE)
    job.mark(MarkKind.CAUTION_READ, "nitrogen")
    job.run(10)
    job.mark(MarkKind.CAUTION_READ, "nitrogen")
    (read,) = [e.read_t for e in job.run(1).hazards if e.hazard is Hazard.NITROGEN]
    assert read == 2.0


def test_a_replay_gives_the_same(work: Make) -> None:
    job = work(NITROGEN)
    job.readings = dict(STANDING)
    job.begin(Stage.TIGHTNESS, reads=False)
    job.run(1)
    job.done()
    job.run(5)
    job.done()
    job.begin(Stage.CLOSE_OUT, reads=False)
    job.run(3)
    again = Assistant(job.job, SessionMode.SIMULATED, replayed=True)
    verdicts = [verdict for event in job.events for verdict in again.step(event)]
    assert verdicts + list(again.advance(job.t)) == job.verdicts
    snapshot = again.snapshot()
    assert snapshot is not None
    assert snapshot.hazards == job.snapshot.hazards
