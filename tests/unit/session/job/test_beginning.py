"""Where the work of a job begins: said by the file, or shown by what it plans."""

import asyncio
from pathlib import Path

import pytest

from chargeassist.cli.job_check import check
from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.beginning import opening_marks
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import CheckJudged, Event, Mark, MarkKind, Stage
from chargeassist.model.job import Job
from chargeassist.session.job.errors import errors_of
from chargeassist.session.job.jobfile import parse_job
from chargeassist.session.job.toml_table import toml_of
from chargeassist.session.opening import open_new
from chargeassist.session.record.package import open_record
from tests.unit.session.job.good_job import GOOD

WEIGHED = 'weighed_in = "4 lb 3 oz"\n'
NITROGEN = '\n[tightness]\nsteps = ["1.5 MPa(g) for 1 h"]\nsource = "invented sheet 2"\n'
VACUUM = (
    '\n[dryness]\ntarget = "500 micron"\nrise_limit = "500 micron"\nrise_time = "20 min"\n'
    'source = "invented sheet 3"\n'
)


def job(weighed_in: str, plans: str = "", begins: str = "") -> Job:
    return parse_job(begins + GOOD.replace(WEIGHED, weighed_in) + plans, "job.toml")


@pytest.mark.parametrize(
    ("weighed_in", "plans", "stage"),
    [
        # A circuit that holds refrigerant is run up, whatever the file plans for others.
        (WEIGHED, NITROGEN + VACUUM, Stage.RUN_UP),
        ("", NITROGEN + VACUUM, Stage.TIGHTNESS),
        ('weighed_in = "0 g"\n', NITROGEN, Stage.TIGHTNESS),
        ("", VACUUM, Stage.DRYNESS),
        ('weighed_in = "0 g"\n', "", Stage.WEIGH_IN),
        # Nobody says what is in, nothing is planned: nobody is told to fill it.
        ("", "", Stage.RUN_UP),
    ],
)
def test_the_first_open_stage_is_what_the_file_shows(
    weighed_in: str, plans: str, stage: Stage
) -> None:
    found = job(weighed_in, plans)
    assert (found.begins, found.begins_source) == (stage, "")
    marks = opening_marks(found)
    begun = [] if stage is Stage.RUN_UP else [(MarkKind.STAGE_BEGUN, stage.value)]
    assert [(mark.kind, mark.text) for mark in marks] == begun


def test_what_was_done_elsewhere_is_skipped_with_its_reason() -> None:
    said = 'begins = "weigh-in"\nbegins_source = "pipe crew, sheet 3"\n'
    found = job("", NITROGEN + VACUUM, said)
    assert [(mark.t, mark.kind, mark.text) for mark in opening_marks(found)] == [
        (0.0, MarkKind.STAGE_SKIPPED, "tightness: pipe crew, sheet 3"),
        (0.0, MarkKind.STAGE_SKIPPED, "dryness: pipe crew, sheet 3"),
        (0.0, MarkKind.STAGE_BEGUN, "weigh-in"),
    ]


def test_a_service_call_says_so() -> None:
    said = 'begins = "run-up"\nbegins_source = "service call, a unit that runs"\n'
    found = job("", NITROGEN + VACUUM, said)
    kinds = [mark.kind for mark in opening_marks(found)]
    assert kinds == [MarkKind.STAGE_SKIPPED] * 3


@pytest.mark.parametrize(
    ("said", "complaint"),
    [
        ('begins = "dryness"\n', "begins_source: expected who did what comes before"),
        ('begins = "closing"\n', "expected one of tightness, dryness, weigh-in, run-up"),
        ('begins_source = "sheet 3"\n', "begins_source: expected it beside begins"),
    ],
)
def test_half_of_it_is_refused(said: str, complaint: str) -> None:
    with pytest.raises(ConfigError, match=complaint):
        job("", "", said)
    assert len(errors_of(toml_of(said + GOOD, "job.toml"))) == 1


def test_all_of_it_hides_no_other_error() -> None:
    said = 'begins_source = "sheet 3"\nbegins = "dryness"\n'
    assert errors_of(toml_of(said + GOOD, "job.toml")) == ()


def test_job_check_names_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "job.toml"
    path.write_text(GOOD.replace(WEIGHED, "") + NITROGEN, encoding="utf-8")
    check(path)
    said = " ".join(capsys.readouterr().out.split())
    assert "begins with tightness; nothing is in the circuit. Where that is not so, say" in said


def opened_with(text: str, folder: Path) -> tuple[Snapshot, list[Event]]:
    """Open a session of job `text`, and return its first snapshot and what was recorded."""
    first: list[Snapshot] = []
    found = open_new(parse_job(text, "job.toml"), folder, record=folder / "a.session", speed=None)
    asyncio.run(found.session.run(first.append))
    with open_record(folder / "a.session") as record:
        return first[0], list(record.events())


SIMULATED = '\n[[source]]\nurl = "simulator:nitrogen-tight+vacuum-dry+clean-charge?length=20s"\n'


def test_a_session_opens_there_and_the_record_says_why(tmp_path: Path) -> None:
    whole, _, _ = GOOD.partition("[[source]]")
    text = 'begins = "dryness"\nbegins_source = "pipe crew, sheet 3"\n' + whole.replace(WEIGHED, "")
    first, events = opened_with(text + VACUUM + SIMULATED, tmp_path)
    assert first.stage is Stage.DRYNESS
    assert first.advice.cause == "caution_vacuum"
    marks = [(each.kind, each.text) for each in events if isinstance(each, Mark)]
    assert marks == [
        (MarkKind.STAGE_SKIPPED, "tightness: pipe crew, sheet 3"),
        (MarkKind.STAGE_BEGUN, "dryness"),
    ]
    checks = [each for each in events if isinstance(each, CheckJudged)]
    assert [(each.check, each.subject) for each in checks] == [
        ("tightness_skipped", "pipe crew, sheet 3")
    ]
