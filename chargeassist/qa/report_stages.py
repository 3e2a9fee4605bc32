"""What a report says of the stages: how each stands at the end, and all that became of them."""

from chargeassist.guide import wording
from chargeassist.guide.stages.course import skipped
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import CheckJudged, MarkKind, StageChanged, VerdictEvent
from chargeassist.model.mark_event import WAIVED_BY
from chargeassist.model.text import plain
from chargeassist.qa.report_table import NOT_SAID, Table
from chargeassist.qa.rescore import Rescored

_LONGEST = 200
"""Rows of the course: a session in which a hundred things were judged anew is cut, and says so."""


def stages_table(session: Rescored, system: UnitSystem) -> Table:
    """Return the newest verdict of each check."""
    checks = () if session.last is None else session.last.checks
    return Table(
        "Stage by stage",
        ("Stage", "Result", "What was found", "Judged by"),
        tuple(
            (
                check.stage.value,
                check.result.value,
                _found(check, system),
                "; ".join(plain(source, 160) for source in check.sources) or NOT_SAID,
            )
            for check in checks
        ),
        "No check of a stage before or beside the charge was judged in this session.",
    )


def course_table(session: Rescored, system: UnitSystem) -> Table:
    """Return everything that was begun, skipped and judged, in the order it was.

    What was judged before a stage was done again stands here still. Of the close-out's open
    items the last count stands, and a stage that was begun was not reached as well.
    """
    begun = {(mark.t, mark.text) for mark in session.marks if mark.kind is MarkKind.STAGE_BEGUN}
    rows: list[tuple[float, str, str]] = []
    for mark in session.marks:
        skip = skipped(mark)
        if mark.kind is MarkKind.STAGE_BEGUN:
            rows.append((mark.t, plain(mark.text, 40), "begun"))
        elif mark.kind is MarkKind.CONDITION_WAIVED:
            key, _, why = mark.text.partition(WAIVED_BY)
            words = f"{key.replace('_', ' ')} gone on without: {why}"
            rows.append((mark.t, "run-up", plain(words, 300)))
        elif skip is not None:
            rows.append((mark.t, skip[0].value, f"skipped: {plain(skip[1], 300)}"))
    counts = [at for at, event in enumerate(session.made) if _counts(event)]
    overtaken = {at for at in counts[:-1] if not _counts(session.made[at], done=True)}
    for at, event in enumerate(session.made):
        if at in overtaken:
            continue
        if isinstance(event, StageChanged):
            if (event.t, event.stage.value) not in begun:
                rows.append((event.t, event.stage.value, "reached"))
        elif isinstance(event, CheckJudged) and event.cause != "stage_skipped":
            rows.append((event.t, event.stage.value, _found(event, system)))
    rows.sort(key=lambda row: row[0])
    cut = [(0.0, "", f"{len(rows) - _LONGEST} earlier rows stand in the record only")]
    shown = rows if len(rows) <= _LONGEST else cut + rows[-_LONGEST:]
    return Table(
        "Course of the stages",
        ("At", "Stage", "What was done or judged"),
        tuple((display.clock(t), stage, text) for t, stage, text in shown),
        "No stage was begun.",
    )


def _counts(event: VerdictEvent, *, done: bool = False) -> bool:
    """Return whether an event says how many items of the close-out are open, or that none is."""
    causes = {"close_out_done"} if done else {"close_out_open", "close_out_done"}
    return isinstance(event, CheckJudged) and event.cause in causes


def _found(check: CheckJudged, system: UnitSystem) -> str:
    """Return the sentence of a check; of one that a later program made, its figures."""
    try:
        return plain(wording.check(check, system), 400)
    except KeyError:
        figures = ", ".join(f"{name} {value:g}" for name, value in check.figures.items())
        return plain(f"{check.check}: {check.cause} {figures}", 400)
