"""The report: what it says, that it obeys nothing, that a browser and a PDF reader take it."""

import asyncio
import html as html_module
import json
import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from frictionless import validate

from chargeassist.cli.main import main
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError, RecordError
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    Mark,
    MarkKind,
    Reading,
    SessionStarted,
)
from chargeassist.model.job import Equipment
from chargeassist.qa.archive import make_archive
from chargeassist.qa.keys import known_keys
from chargeassist.qa.report import html, make_report, report_files, write_report
from chargeassist.qa.report_content import report_of
from chargeassist.qa.rescore import rescore, rescore_events
from chargeassist.qa.verify import verify
from chargeassist.session.record.codec import job_from_json, job_to_json
from chargeassist.session.record.package import PackageReader, open_record, write_package
from chargeassist.session.record.package_layout import Attachment
from chargeassist.session.record.store import SessionReader, SessionWriter
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.scenario.simulate import run_scenario
from tests.unit.full_disk import full_disk
from tests.unit.qa.audited import with_channels, with_job

HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>{{7*7}}\u202eevil\x1b[31m"


@pytest.fixture(scope="module")
def page(session_file: Path) -> str:
    with open_record(session_file) as record:
        return make_report(record, verify(session_file), ".html").decode()


def hostile(events: list[Event]) -> list[Event]:
    started = events[0]
    assert isinstance(started, SessionStarted)
    job = job_from_json(started.job)
    job = replace(
        job,
        name=HOSTILE,
        equipment=Equipment(make=HOSTILE, model=HOSTILE, serial=HOSTILE),
        target=replace(job.target, source=HOSTILE),
    )
    found: list[Event] = [replace(started, job=job_to_json(job), software=HOSTILE)]
    for event in events[1:]:
        if isinstance(event, ChannelDeclared):
            channel = replace(event.channel, serial=HOSTILE, calibrated=HOSTILE)
            found.append(replace(event, channel=channel))
        else:
            found.append(event)
    place = next(i for i, e in enumerate(found) if e.t > 60.0)
    found.insert(place, Mark(t=60.0, kind=MarkKind.NOTE, text=HOSTILE))
    return found


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_the_report_says_what_was_done(page: str) -> None:
    text = html_module.unescape(re.sub(r"<[^>]*>", " ", page))
    for words in (
        "SIMULATED: no unit was charged",
        "Subcooling settled at",
        "R-410A",
        "Refrigerant added and recovered",
        "Settled readings",
        "liquid line pressure",
        "Limits as used",
        "Cautions",
        "all the same",
        "Hash chain",
        "Technician, date",
        "Customer, date",
    ):
        assert words in text, words
    assert page.count("data:image/svg+xml;base64,") == 3


def test_numbers_are_those_of_the_session_and_in_the_units_asked_for(session_file: Path) -> None:
    with open_record(session_file) as record:
        session = rescore(record)
    assert session.last is not None
    settled = session.last.facts.settled
    assert settled is not None
    si = report_of(session, verify(session_file), UnitSystem.SI)
    us = report_of(session, verify(session_file), UnitSystem.US)
    assert f"settled at {settled.value_k:.1f} ± " in si.verdict
    assert f"settled at {settled.value_k * 9 / 5:.1f} ± " in us.verdict
    ledger = next(t for t in si.tables if t.title.startswith("Refrigerant added"))
    assert len(ledger.rows) == len(session.last.facts.ledger)


def test_what_the_rules_find_is_in_the_units_asked_for_and_says_what_is_a_remark(
    good: list[Event], session_file: Path
) -> None:
    small = with_job(good, lambda j: replace(j, charge=replace(j.charge, step_cap_kg=0.01)))
    bare = with_channels(small, calibrated="")
    started = bare[0]
    assert isinstance(started, SessionStarted)
    session = rescore_events(iter(bare), job_from_json(started.job))
    for system, unit, other in ((UnitSystem.SI, " g ", " oz "), (UnitSystem.US, " oz ", " g ")):
        content = report_of(session, verify(session_file), system)
        rows = next(t for t in content.tables if t.title.startswith("What the rules")).rows
        caps = [f"{text} " for rule, _, text in rows if rule == "step over cap"]
        assert caps
        assert all(unit in text.replace(",", " ") and other not in text for text in caps), caps
        assert {rule for rule, _, _ in rows if "calibration" in rule} == {
            "remark: calibration not stated"
        }


def test_the_page_fetches_and_runs_nothing(page: str) -> None:
    tags = Tags()
    tags.feed(page)
    assert {tag for tag, _ in tags.found}.isdisjoint({"script", "link", "iframe", "object", "form"})
    for tag, attributes in tags.found:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            if name in ("src", "href"):
                assert (value or "").startswith("data:image/svg+xml;base64,")
    assert "default-src 'none'" in page
    assert not re.search(r"https?://", re.sub(r"base64,[^\"]*", "", page))


def test_hostile_names_and_notes_stay_text(tmp_path: Path, charged: list[Event]) -> None:
    write_package(hostile(charged), tmp_path / "p")
    write_report(tmp_path / "p", tmp_path / "r.html")
    text = (tmp_path / "r.html").read_text(encoding="utf-8")
    tags = Tags()
    tags.feed(text)
    names = [tag for tag, _ in tags.found]
    assert names.count("img") == 3
    assert "script" not in names
    assert "{{7*7}}" in text
    assert "\x1b" not in text
    assert "\u202e" not in text
    write_report(tmp_path / "p", tmp_path / "r.pdf")
    assert (tmp_path / "r.pdf").read_bytes().startswith(b"%PDF-")


def test_the_same_record_gives_the_same_report(session_file: Path, page: str) -> None:
    with open_record(session_file) as record:
        assert make_report(record, verify(session_file), ".html").decode() == page
        checked = verify(session_file)
        one = make_report(record, checked, ".pdf")
        assert make_report(record, checked, ".pdf") == one


def test_a_browser_shows_it_in_full_at_every_width(
    tmp_path: Path, page: str, need_program: Callable[[str, str], str]
) -> None:
    """Headless Chromium lays it out: nothing wider than the window, on a desk and on a phone."""
    program = need_program("chromium", "chromium")
    # A script of the test's own, in a copy: the page itself allows none.
    probe = page.replace("default-src 'none'", "default-src 'none'; script-src 'unsafe-inline'")
    measure = (
        "<script>addEventListener('load', () => { document.title = "
        "[document.documentElement.scrollWidth <= innerWidth, "
        "[...document.images].every(i => i.naturalWidth > 300), innerWidth].join(' '); "
        "document.body.dataset.measured = document.title; });</script>"
    )
    (tmp_path / "r.html").write_text(
        probe.replace("</body>", measure + "</body>"), encoding="utf-8"
    )
    for width in (1200, 500):  # Chromium's own least window width is 500
        done = subprocess.run(
            [
                *(program, "--headless", "--no-sandbox", "--disable-gpu", "--dump-dom"),
                *(f"--window-size={width},900", f"--user-data-dir={tmp_path / 'profile'}"),
                (tmp_path / "r.html").as_uri(),
            ],
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        found = re.search(r'data-measured="([^"]*)"', done.stdout)
        assert found, done.stderr[-2000:]
        fits, drawn, inner = found[1].split()
        assert (fits, drawn) == ("true", "true"), found[1]
        assert abs(int(inner) - width) <= 20


def test_a_pdf_reader_finds_the_words(
    tmp_path: Path, session_file: Path, need_program: Callable[[str, str], str]
) -> None:
    # poppler, an independent reader.
    program = need_program("pdftotext", "poppler-utils")
    write_report(session_file, tmp_path / "r.pdf")
    done = subprocess.run(
        [program, "-layout", str(tmp_path / "r.pdf"), "-"],
        capture_output=True,
        text=True,
        check=True,
    )
    for words in ("SIMULATED", "Subcooling settled at", "Instruments", "Technician, date", "± "):
        assert words in done.stdout, words


def test_a_letter_the_font_of_the_pdf_lacks_is_told(
    tmp_path: Path,
    charged: list[Event],
    need_program: Callable[[str, str], str],
    caplog: pytest.LogCaptureFixture,
) -> None:
    program = need_program("pdftotext", "poppler-utils")
    started = charged[0]
    assert isinstance(started, SessionStarted)
    # A script and a sign that DejaVu Sans has not, and one that it has.
    job = replace(job_from_json(started.job), name="\u9ea6\u5305 bakery \U0001f9ca \u0436")
    write_package([replace(started, job=job_to_json(job)), *charged[1:]], tmp_path / "p")
    write_report(tmp_path / "p", tmp_path / "r.pdf")
    done = subprocess.run(
        [program, "-layout", str(tmp_path / "r.pdf"), "-"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert "\u25af\u25af bakery \u25af \u0436" in done.stdout
    assert "lacks (U+9EA6, U+5305, U+1F9CA)" in done.stdout
    assert "missing" not in caplog.text
    write_report(tmp_path / "p", tmp_path / "r.html")
    assert "\u9ea6\u5305 bakery" in (tmp_path / "r.html").read_text(encoding="utf-8")


def test_no_page_of_a_pdf_is_left_half_empty(
    tmp_path: Path, session_file: Path, need_program: Callable[[str, str], str]
) -> None:
    # poppler says where each word stands; the lowest but the footer's, of A4's 842 points.
    program = need_program("pdftotext", "poppler-utils")
    write_report(session_file, tmp_path / "r.pdf")
    command = [program, "-bbox", str(tmp_path / "r.pdf"), "-"]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    pages = done.stdout.split("<page ")[1:]
    signed = next(n for n, page in enumerate(pages) if "Technician" in page)
    assert signed >= 2
    for number, page in enumerate(pages[:signed], start=1):
        ends = [float(y) for y in re.findall(r'yMax="([\d.]+)"', page)]
        assert max(y for y in ends if y < 800.0) > 0.83 * 842.0, number
    assert "recovered" in pages[0]


@pytest.mark.parametrize("name", ["fixed-orifice", "nitrogen-leak", "vacuum-dry"])
def test_other_kinds_of_sessions_have_a_report_too(name: str) -> None:
    events = asyncio.run(run_scenario(find_scenario(name, Path())))
    from chargeassist.qa.rescore import rescore_events

    started = events[0]
    assert isinstance(started, SessionStarted)
    session = rescore_events(iter(events), job_from_json(started.job))
    from chargeassist.qa.verify import Verification

    report = report_of(session, Verification(kind="x"), UnitSystem.US)
    assert html(report, [])
    stages = next(t for t in report.tables if t.title == "Stage by stage")
    assert session.last is not None
    assert len(stages.rows) == len(session.last.checks)


def test_an_archive_with_its_report_is_whole(
    tmp_path: Path, session_file: Path, monkeypatch: pytest.MonkeyPatch, keys: Path
) -> None:
    monkeypatch.setattr("chargeassist.qa.keys.keys_folder", lambda: keys)
    target = tmp_path / "a"
    command = ["archive", str(session_file), "--to", str(target), "--sign", "qa-desk", "--report"]
    assert main(command) == 0
    assert (target / "report.html").is_file()
    assert (target / "report.pdf").is_file()
    assert verify(target, known_keys(keys)).ok
    report = validate(str(target / "datapackage.json"))
    assert report.valid, report.flatten(["type", "message"])
    (target / "report.html").write_bytes((target / "report.html").read_bytes() + b" ")
    assert not verify(target).ok


def test_a_sealed_report_is_of_the_rows_it_is_sealed_with(
    tmp_path: Path, charged: list[Event]
) -> None:
    """Of a session that runs on while it is archived."""
    started = charged[0]
    assert isinstance(started, SessionStarted)
    path = tmp_path / "live.session"
    writer = SessionWriter.create(path, started)
    for event in charged[1:500]:
        writer.append(event)
    writer.commit()

    def report(record: SessionReader | PackageReader) -> list[Attachment]:
        for event in charged[500:700]:
            writer.append(event)
        writer.commit()
        return report_files(record)

    make_archive(path, tmp_path / "a", unfinished=True, more=report)
    writer.abandon()
    about = json.loads((tmp_path / "a" / "datapackage.json").read_text(encoding="utf-8"))
    sealed = about["chargeassist"]["readings"]
    assert sealed == sum(isinstance(event, Reading) for event in charged[:500])
    page = (tmp_path / "a" / "report.html").read_text(encoding="utf-8")
    assert re.search(rf"Readings\W+(?:\w+\W+)*?{sealed}\b", page)
    assert verify(tmp_path / "a").problems == ()


def test_what_cannot_be_written_is_said(tmp_path: Path, session_file: Path) -> None:
    with pytest.raises(ConfigError, match=r"ends in \.html or \.pdf"):
        write_report(session_file, tmp_path / "r.doc")
    (tmp_path / "r.html").write_text("mine", encoding="utf-8")
    with pytest.raises(ConfigError, match="already exists"):
        write_report(session_file, tmp_path / "r.html")


def test_a_full_disk_leaves_no_part_of_a_report(tmp_path: Path, session_file: Path) -> None:
    with full_disk(4096), pytest.raises(RecordError, match="File too large"):
        write_report(session_file, tmp_path / "r.html")
    assert list(tmp_path.iterdir()) == []


def test_holes_beyond_those_shown_are_counted(session_file: Path) -> None:
    checked = replace(verify(session_file), gaps=tuple(f"hole {n}" for n in range(100)))
    with open_record(session_file) as record:
        page = make_report(record, checked, ".html").decode()
    assert "hole 39" in page
    assert "hole 40" not in page
    assert "60 more" in page
