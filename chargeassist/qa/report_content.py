"""What a report says, apart from how it looks: one content for the page and for the PDF.

Everything comes from the record, computed again; text from outside has lost what a reader could
obey, and is shown as text.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from chargeassist.guide import wording
from chargeassist.guide.stages.caution_words import TEXTS, caution_text
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import MarkKind, SessionMode, Settled
from chargeassist.model.job import Job
from chargeassist.model.limits import Method
from chargeassist.model.text import plain
from chargeassist.model.usual_limit import OF_THE_PROGRAM
from chargeassist.model.values import NoValue
from chargeassist.physics.uncertainty import decide
from chargeassist.qa.audit_finding import Weight
from chargeassist.qa.audit_rules import RULES, Policy
from chargeassist.qa.recompute import compare
from chargeassist.qa.report_instruments import instruments_table, typed_table
from chargeassist.qa.report_limits import limit_rows
from chargeassist.qa.report_stages import course_table, stages_table
from chargeassist.qa.report_table import Table
from chargeassist.qa.report_unit import unit_facts
from chargeassist.qa.rescore import Rescored, final_reading, started_at
from chargeassist.qa.verify import Verification

MOST_HOLES = 40
"""Holes and contradictions shown; the others are counted."""

_LIMIT_COLUMNS: Final = ("Limit", "Value", "Source")

CAUTIONS = (
    "This report records what probes read and what was done. It decides nothing: the unit's plate, "
    "its maker's instructions and local code come first.",
    "Settled means that the reading had stopped changing; it does not mean that the probes were "
    "right. Uncertainty (k = 2, JCGM 100) is computed from the accuracies that were declared.",
    "Refrigerant and electrical work is for licensed people. Recover refrigerant, never vent it.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """All a report says.

    Attributes
    ----------
    title, subtitle : str
    banner : str
        "SIMULATED ..." where that is so; empty for field work.
    verdict : str
        The one sentence.
    facts : sequence of (str, str)
        What was installed, by whom, where.
    tables : sequence of Table
    cautions : sequence of str
    proof : sequence of (str, str)
        Hashes and versions.
    appendix : sequence of Table
        What only who asks again looks up; after the signatures.
    """

    title: str
    subtitle: str
    banner: str
    verdict: str
    facts: Sequence[tuple[str, str]]
    tables: Sequence[Table]
    proof: Sequence[tuple[str, str]]
    cautions: Sequence[str] = field(default=CAUTIONS)
    appendix: Sequence[Table] = ()


def report_of(session: Rescored, checked: Verification, system: UnitSystem) -> Report:
    """Return what the report of `session` says, in the units of `system`."""
    job, started = session.job, session.started
    simulated = started.mode is SessionMode.SIMULATED
    said, defaults = _limits(job, system)
    return Report(
        title=plain(job.name, 80),
        subtitle=f"Charging record, {_when(session)}",
        banner="SIMULATED: no unit was charged, this proves no field work" if simulated else "",
        verdict=_verdict(session, system),
        facts=unit_facts(job, session.last, system),
        tables=(
            _ledger(session, system),
            _settled(session, system),
            stages_table(session, system),
            course_table(session, system),
            said,
            instruments_table(session, system),
            typed_table(session, system),
            _cautions(session),
            _notes(session),
            _findings(session, system),
            _holes(checked),
        ),
        proof=_proof(session, checked),
        appendix=(defaults,),
    )


def _limits(job: Job, system: UnitSystem) -> tuple[Table, Table]:
    """Return the limits job and profiles name, and those of the program in the place of others."""
    rows = limit_rows(job, system)
    said = tuple(row for row in rows if not row[2].startswith(OF_THE_PROGRAM))
    defaults = tuple(row for row in rows if row[2].startswith(OF_THE_PROGRAM))
    rest = (("others", f"{len(defaults)} limits", f"{OF_THE_PROGRAM}: appendix"),)
    appendix = "Appendix: limits nobody named, by defaults of the program"
    return (
        Table("Limits as used", _LIMIT_COLUMNS, (*said, *rest) if defaults else said),
        Table(appendix, _LIMIT_COLUMNS, defaults),
    )


def _when(session: Rescored) -> str:
    stopped = session.stopped
    began = started_at(session.started)
    begun = "at an unreadable time" if began is None else f"{began:%Y-%m-%d %H:%M} UTC"
    if stopped is None:
        return f"begun {begun}, without an end"
    return f"begun {begun}, {display.duration(stopped.t)}, ended as {stopped.outcome.value}"


def _verdict(session: Rescored, system: UnitSystem) -> str:
    last = session.last
    name = session.job.target.judged.name
    if last is None:
        return "No reading was judged."
    settled, goal = last.facts.settled, last.facts.goal(session.job.target)
    final = final_reading(session)
    if settled is None and final is not None:
        said = plain(wording.check(final, system), 600)
        return f"{said[0].upper()}{said[1:]}."
    if settled is None:
        state = last.facts.settling.state.value
        return f"At the end {name} was {state}: the charge was not judged."
    shown = display.with_uncertainty(settled.value_k, settled.expanded_k, system)
    if isinstance(goal, NoValue):
        return f"{name.capitalize()} settled at {shown}; there was no target to judge it by."
    decision = decide(settled.value_k, settled.expanded_k or 0.0, goal.low_k, goal.high_k)
    certain = "" if settled.expanded_k is not None else " (uncertainty not declared)"
    held = "" if final is not None else " It did not stand for the time of a final reading."
    return (
        f"{name.capitalize()} settled at {shown}; target "
        f"{display.difference(goal.low_k, system)} to {display.difference(goal.high_k, system)} "
        f"({plain(goal.basis, 120)}): {decision.value}{certain}.{held}"
    )


def _ledger(session: Rescored, system: UnitSystem) -> Table:
    steps = () if session.last is None else session.last.facts.ledger
    rows, total_kg = [], session.job.charge.weighed_in_kg
    for step in steps:
        total_kg += step.mass_kg or 0.0
        rows.append(
            (
                str(step.number),
                display.clock(step.ended_t),
                "not said" if step.mass_kg is None else display.mass(step.mass_kg, system),
                step.measured_by,
                _or_none(step.before_k, system),
                _or_none(step.after_k, system),
                display.mass(total_kg, system),
            )
        )
    name = session.job.target.judged.name
    return Table(
        "Refrigerant added and recovered",
        ("Step", "At", "Amount", "Measured by", f"{name} before", "after", "In the circuit"),
        tuple(rows),
        "Nothing was added or recovered.",
    )


def _or_none(value_k: float | None, system: UnitSystem) -> str:
    return "did not settle" if value_k is None else display.difference(value_k, system)


def _settled(session: Rescored, system: UnitSystem) -> Table:
    found = [event for event in session.made if isinstance(event, Settled)]
    return Table(
        "Settled readings",
        ("At", "Value and uncertainty (k = 2)", "Other value"),
        tuple(
            (
                display.clock(event.t),
                f"{event.judged.value} "
                f"{display.with_uncertainty(event.value_k, event.expanded_k, system)}"
                + (", two-phase at the liquid line" if event.two_phase else "")
                + (f", by hand ({event.by_hand} readings)" if event.by_hand is not None else ""),
                _other(event, system),
            )
            for event in found
        ),
        "No reading settled.",
    )


def _other(event: Settled, system: UnitSystem) -> str:
    subcooled = event.judged is Method.SUBCOOLING
    value = event.superheat_k if subcooled else event.subcooling_k
    if value is None:
        return "none"
    return f"{'superheat' if subcooled else 'subcooling'} {display.difference(value, system)}"


def _cautions(session: Rescored) -> Table:
    met = () if session.last is None else session.last.hazards
    return Table(
        "Cautions acknowledged",
        ("Hazard", "At", "Caution as shown", "Source"),
        tuple(
            (
                each.hazard.label,
                "not acknowledged" if each.read_t is None else display.clock(each.read_t),
                caution_text(each.hazard),
                TEXTS[each.hazard].citation,
            )
            for each in met
        ),
        "No stage with a hazard was worked on.",
    )


def _notes(session: Rescored) -> Table:
    notes = [m for m in session.marks if m.kind is MarkKind.NOTE and m.text.strip()]
    return Table(
        "Notes of the technician",
        ("At", "Note"),
        tuple((display.clock(m.t), plain(m.text, 400)) for m in notes),
        "None.",
    )


def _findings(session: Rescored, system: UnitSystem) -> Table:
    policy = Policy(accept_simulated=True)
    # The rules speak in the units of the job; the report in those that were asked for.
    told = replace(session, job=replace(session.job, units=system))
    found = [finding for rule in RULES.values() for finding in rule(told, policy)]
    return Table(
        "What the rules of good work find",
        ("Rule", "At", "Finding"),
        tuple(
            (
                ("remark: " if finding.weight is Weight.REMARK else "")
                + finding.rule.replace("_", " "),
                "" if finding.t is None else display.clock(finding.t),
                plain(finding.text, 300),
            )
            for finding in found
        ),
        "Nothing.",
    )


def _holes(checked: Verification) -> Table:
    rows = [("contradiction", text) for text in checked.problems]
    rows += [("gap", text) for text in checked.gaps]
    rows += [("clock", text) for text in checked.clock_steps]
    shown = tuple((kind, plain(text, 300)) for kind, text in rows[:MOST_HOLES])
    left_out = len(rows) - len(shown)
    more = (("", f"and {left_out} more, which verify tells"),) if left_out else ()
    return Table(
        "Holes and contradictions of the record",
        ("Kind", "What"),
        (*shown, *more),
        "None.",
    )


def _proof(session: Rescored, checked: Verification) -> list[tuple[str, str]]:
    found = compare(session)
    same = "all the same" if not found.differences else f"{len(found.differences)} differ"
    return [
        ("Session", session.started.session_id),
        ("Recorded by", plain(session.started.software, 60)),
        ("Saturation table, SHA-256", session.started.table_hash),
        ("Hash chain", checked.chain or "none"),
        ("Archive sealed as, SHA-256", checked.sealed_as or "not an archive"),
        ("Signature", checked.signature),
        ("Readings", str(session.readings)),
        ("Verdicts computed again", f"{found.compared}, {same}"),
        ("Verdicts, SHA-256", found.verdicts_sha256),
    ]
