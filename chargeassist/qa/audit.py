"""Audit many records: verify each, compute it again, hold every rule against it.

Rules over one session stand in `chargeassist.qa.audit_rules`; here are those over files: a record
that is not whole, verdicts that do not follow from the readings, readings that stand in two
sessions, and archives that another one supersedes (told, not judged).
"""

import csv
import io
import json
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path

from chargeassist.model import display
from chargeassist.model.text import cell, plain, storable
from chargeassist.qa.audit_finding import Weight
from chargeassist.qa.audit_rules import RULES, Finding, Policy
from chargeassist.qa.gathered import Gathered
from chargeassist.qa.many import each, why_not
from chargeassist.qa.recompute import compare
from chargeassist.qa.rescore import Rescored, rescore_events
from chargeassist.qa.verify import Verification, verify
from chargeassist.session.record.package import open_record

MOST_TOLD = 6
"""Findings of one rule that a table shows of one record."""

LONGEST_LINE = 1000
FILE_RULES = ("unreadable", "not_whole", "verdicts_differ", "readings_copied")
"""Rules over files, before those of `RULES`."""

_COLUMNS = (
    *("record", "session_id", "started_utc", "mode", "job", "make", "model", "company"),
    *("certificate", "outcome", "superseded_by", "rule", "weight", "t", "finding"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Audited:
    """One record with what was found.

    Attributes
    ----------
    record : str
        Its path.
    superseded_by : str
        Path of the archive that supersedes it, or of each that does; "" where there is none.
    sealed_as, supersedes : str
        Hashes of archives; "" where there is none.
    readings_sha256 : str
        Over its readings alone: the same in two sessions when one was copied from the other.
    findings : tuple of Finding
    """

    record: str
    session_id: str = ""
    started_utc: str = ""
    mode: str = ""
    job: str = ""
    make: str = ""
    model: str = ""
    company: str = ""
    certificate: str = ""
    outcome: str = ""
    superseded_by: str = ""
    sealed_as: str = ""
    supersedes: str = ""
    readings_sha256: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def wrong(self) -> tuple[Finding, ...]:
        """Findings that are no mere remarks."""
        return tuple(each for each in self.findings if each.weight is Weight.WRONG)


def audit_one(path: Path, policy: Policy) -> Audited:
    """Return what is wrong with the record at `path`; never raises for what is in it."""
    try:
        checked = verify(path)
        if checked.started is None:
            text = "; ".join(checked.problems)
            return Audited(record=str(path), findings=(Finding(rule="unreadable", text=text),))
        with open_record(path) as record:
            gathered = Gathered(record)
            session = rescore_events(gathered.runs(), record.job)
        return _audited(path, checked, session, gathered.readings_sha256(), policy)
    except Exception as error:  # noqa: BLE001  told as a finding; see why_not
        finding = Finding(rule="unreadable", text=why_not(error))
        return Audited(record=str(path), findings=(finding,))


def audit(paths: Sequence[Path], policy: Policy, cores: int = 1) -> Iterator[Audited]:
    """Yield each record of `paths` as it is done, in any order; `crossed` finishes the list."""
    for _, done in each(partial(audit_one, policy=policy), paths, cores):
        yield done


def crossed(done: Sequence[Audited]) -> list[Audited]:
    """Return `done` in order of the records, with what only many of them together show."""
    by_readings: dict[str, set[str]] = defaultdict(set)
    successors: dict[tuple[str, str], list[str]] = defaultdict(list)
    ordered = sorted(done, key=lambda one: one.record)
    for item in ordered:
        if item.readings_sha256:  # without readings, by hand, there is none that could be copied
            by_readings[item.readings_sha256].add(item.session_id)
        if item.supersedes:
            successors[item.session_id, item.supersedes].append(item.record)
    found = []
    for item in ordered:
        by = successors.get((item.session_id, item.sealed_as), ())
        item = replace(item, superseded_by=", ".join(by))
        others = by_readings[item.readings_sha256] - {item.session_id}
        if others:
            text = f"the same readings stand in session {', '.join(sorted(others)[:3])}"
            item = replace(
                item, findings=(Finding(rule="readings_copied", text=text), *item.findings)
            )
        found.append(item)
    return found


def as_table(done: Sequence[Audited]) -> str:
    """Return a line per record and one per finding under it, and a summary.

    Of one rule a record has a few lines; CSV and JSON have all.
    """
    lines = []
    counts: dict[str, int] = defaultdict(int)
    for item in done:
        state = f"{len(item.wrong)} found" if item.wrong else "nothing found"
        remarks = len(item.findings) - len(item.wrong)
        if remarks:
            state += f", {remarks} remark{'s' * (remarks > 1)}"
        if item.superseded_by:
            state += f", superseded by {item.superseded_by}"
        lines.append(f"{item.record}: {plain(item.job, 60) or 'not read'}: {state}")
        told: dict[str, int] = defaultdict(int)
        for finding in item.findings:
            counts[finding.rule] += 1
            told[finding.rule] += 1
            if told[finding.rule] > MOST_TOLD:
                continue
            when = "" if finding.t is None else f" at {display.clock(finding.t)}"
            about = "remark: " if finding.weight is Weight.REMARK else ""
            lines.append(f"  {about}{finding.rule}{when}: {finding.text}")
        more = {rule: count - MOST_TOLD for rule, count in told.items() if count > MOST_TOLD}
        lines += [f"  {rule}: and {count} more of these" for rule, count in more.items()]
    clean = sum(not item.wrong for item in done)
    records = "1 record" if len(done) == 1 else f"{len(done)} records"
    lines.append(f"{records}, {clean} without findings")
    lines += [f"  {rule}: {counts[rule]}" for rule in (*FILE_RULES, *RULES) if counts[rule]]
    return "".join(f"{plain(line, LONGEST_LINE)}\n" for line in lines)


def as_csv(done: Sequence[Audited]) -> str:
    """Return a row per finding; a record without findings has one row, its rule empty."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for item in done:
        about = [getattr(item, name) for name in _COLUMNS[:-4]]
        for finding in item.findings or (None,):
            last: tuple[object, ...] = ("", "", "", "")
            if finding is not None:
                last = (finding.rule, finding.weight, finding.t, finding.text)
            writer.writerow([cell(value) for value in (*about, *last)])
    return storable(text.getvalue())


def as_json(done: Sequence[Audited]) -> str:
    """Return all of it as JSON: a list of records, each with its findings."""
    found = [asdict(item) for item in done]
    return storable(json.dumps(found, indent=2, ensure_ascii=False)) + "\n"


def _audited(
    path: Path, checked: Verification, session: Rescored, readings: str, policy: Policy
) -> Audited:
    findings = [Finding(rule="not_whole", text=text) for text in checked.problems]
    if not checked.complete:
        findings.append(Finding(rule="not_whole", text="the end of the session is missing"))
    differences = compare(session)
    if differences.differences:
        first = differences.differences[0]
        text = (
            f"{len(differences.differences)} of {differences.compared} verdicts differ, the first "
            f"at {first.text}; {'; '.join(differences.causes)}"
        )
        findings.append(Finding(rule="verdicts_differ", text=text, t=first.t))
    for rule in RULES.values():
        findings += rule(session, policy)
    job, started = session.job, session.started
    return Audited(
        record=str(path),
        session_id=started.session_id,
        started_utc=started.started_utc,
        mode=started.mode.value,
        job=plain(job.name, 80),
        make=plain(job.equipment.make, 60),
        model=plain(job.equipment.model, 60),
        company=plain(job.crew.company, 60),
        certificate=plain(job.crew.certificate, 60),
        outcome="" if session.stopped is None else session.stopped.outcome.value,
        sealed_as=checked.sealed_as,
        supersedes=checked.supersedes,
        readings_sha256=readings,
        findings=tuple(findings),
    )
