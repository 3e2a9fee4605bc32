"""What needs eyes beside the instruction: the answer to a key, cautions, sources, the hold."""

from textual.content import Content

from chargeassist.guide.snapshot import Caution, Snapshot, SourceFacts
from chargeassist.guide.stages.caution_words import caution_text, hazard_of
from chargeassist.guide.trouble_wording import BOARD, RECORDER
from chargeassist.model import display
from chargeassist.model.events import MarkKind
from chargeassist.model.text import plain
from chargeassist.tui import judgement, words
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.panel import Panel, in_large_print, joined, lines

_LABEL = 10
_ORDER = {
    cause: rank
    for rank, cause in enumerate(
        (
            "record_failing",
            "source_lost",
            "board_lost",
            "machine_slept",
            "program_held",
            "over_plate",
            "hold_expiring",
            "probe_doubt",
            "ice_bath_off",
            "drifts",
            "suspect",
            "approach_disagrees",
            "worth_a_look",
            "amps_apart",
            "clock_set",
            "condition_waived",
            "condition_unknown",
            "fault_gone",
        )
    )
}
_MOST_LINES = ((46, 8), (30, 5), (24, 3), (0, 2))
"""Lines of the screen, and how many of them this may take."""

_LARGE_ROOMY = 30
"""On fewer lines large print has one of them for the most pressing, and counts the rest."""

RECENT_S = 60.0
"""What could not be read so lately [s] is trouble that goes on: sources ask again within that."""


class Notices(Panel):
    """As many lines as there is something to say, and as the screen can spare."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the lines, the most pressing first."""
        spare = next(most for rows, most in _MOST_LINES if self.app.size.height >= rows)
        large = in_large_print(self)
        if large and self.app.size.height < _LARGE_ROOMY:
            spare = 1
        rows = notice_rows(
            scene, width, roomy=self.app.size.height >= 24 and not large, pressing_only=large
        )
        caution = unread(scene)
        most = spare if height is None else height
        if caution is None:
            return fitting(rows, width, most)
        # A caution is read whole, and the answer to a key beside it; the rest waits.
        most = max(most - lines(caution, width), 1 if scene.notice else 0)
        if rows and most:
            return joined([caution, fitting(rows, width, most)])
        return caution + Content(f"  +{len(rows)} more") if rows else caution


def notice_rows(
    scene: Scene, width: int, *, roomy: bool = True, pressing_only: bool = False
) -> list[Content]:
    """Return everything there is to say, the most pressing first.

    Parameters
    ----------
    scene : Scene
    width : int
        Cells.
    roomy : bool
        Also by what limits the reading is judged.
    pressing_only : bool
        Without what is in order or over.
    """
    pen = scene.pen
    warning = f"bold {pen.palette.warning}"
    rows = []
    if scene.notice:
        rows.append(pen.line((f" {scene.notice} ", "bold reverse")))
    if scene.ended and not scene.replayed and not scene.veiled:
        kept = f"; the record is {plain(scene.recorded_to, 120)}" if scene.recorded_to else ""
        rows.append(pen.line(("The session has ended", "bold"), f"{kept}. q leaves."))
    snapshot = scene.snapshot
    if snapshot is None:
        return rows
    why = {each.name: each.reason for each in snapshot.sources if each.lost_since is not None}
    for item in pressing(snapshot):
        text = words.caution(item, scene.system)
        if item.cause == "source_lost" and why.get(item.subject):
            text += f": {plain(why[item.subject], 160)}"
        rows.append(pen.line(("! ", warning), (text, pen.palette.warning)))
    told = {item.subject for item in snapshot.cautions if item.cause == "source_lost"}
    told |= {RECORDER, BOARD}  # have cautions of their own
    for source in snapshot.sources:
        if source.lost_since is not None and source.name not in told:
            text = words.source_lost(source, snapshot.t)
            rows.append(pen.line(("× ", warning), (text, pen.palette.warning)))
    spoilt = _spoilt(scene, snapshot)
    recent = any(_just_now(each, snapshot.t) for each in snapshot.sources)
    if spoilt is not None and recent:
        rows.append(spoilt)  # goes on now: before what is in order
    held = words.hold(snapshot.facts.hold, snapshot.t, brief=width < 76)
    in_order = snapshot.facts.hold.held and pressing_only
    if held and snapshot.stage_step is None and not in_order:
        style = pen.palette.ink if snapshot.facts.hold.held else warning
        rows.append(words.labelled(pen, "frequency", pen.line((held, style)), _LABEL))
    if pressing_only:
        return rows
    if roomy:
        rows += _judged_by(scene, snapshot)
    if snapshot.notes:
        _, text = snapshot.notes[-1]
        note = pen.line((plain(text, 160), pen.palette.faint))
        rows.append(words.labelled(pen, "note", note, _LABEL))
    if spoilt is not None and not recent:
        rows.append(spoilt)
    return rows


def _spoilt(scene: Scene, snapshot: Snapshot) -> Content | None:
    """Return what could not be used of the sources, and why of what is new; None if nothing."""
    pen = scene.pen
    each = (words.spoilt(item, why=_just_now(item, snapshot.t)) for item in snapshot.sources)
    text = "; ".join(filter(None, each))
    if not text:
        return None
    return words.labelled(pen, "sources", pen.line((text, pen.palette.faint)), _LABEL)


def _just_now(source: SourceFacts, t: float) -> bool:
    return source.bad_t is not None and t - source.bad_t <= RECENT_S


def unread(scene: Scene) -> Content | None:
    """Return the first caution nobody has acknowledged, where the instruction is not that one."""
    snapshot = scene.snapshot
    if snapshot is None or not snapshot.unread or hazard_of(snapshot.advice.cause) is not None:
        return None
    if scene.ended and not scene.replayed:
        return None  # nobody can acknowledge it any more
    pen = scene.pen
    hazard = snapshot.unread[0]
    style = f"bold {pen.palette.warning}"
    return pen.line(
        (f"{pen.pick('▲', '!')} caution, {hazard.label}: ", style),
        (caution_text(hazard), pen.palette.ink),
        ("  Enter: read" if enter_reads(scene) else "", "bold"),
    )


def enter_reads(scene: Scene) -> bool:
    """Return whether Enter tells that a caution was read, whatever else it answers.

    In a stage the key answers an instruction that ends a hazard first.
    """
    snapshot = scene.snapshot
    if snapshot is None or scene.replayed or scene.ended or not snapshot.unread:
        return False
    mark = snapshot.waits_for
    told = mark is not None and mark.kind is MarkKind.CAUTION_READ
    return told or snapshot.stage_step is None


def _judged_by(scene: Scene, snapshot: Snapshot) -> list[Content]:
    """Return the approach beside the reading, and whose limits it is judged by."""
    pen = scene.pen
    rows = []
    approach = judgement.approach(snapshot.cross_check, scene.system)
    if approach:
        row = pen.line((approach, pen.palette.faint))
        rows.append(words.labelled(pen, "approach", row, _LABEL))
    if snapshot.job.role:
        wanted = snapshot.job.target
        tolerance = display.difference(wanted.tolerance_k, scene.system)
        text = f"{snapshot.job.role}: ± {tolerance} [{plain(wanted.tolerance_source, 120)}]"
        row = pen.line((text, pen.palette.faint))
        rows.append(words.labelled(pen, "judged as", row, _LABEL))
    return rows


def pressing(snapshot: Snapshot) -> list[Caution]:
    """Return the cautions worth a line, the most pressing first.

    Conditions nobody knows share one line; a probe the instruction names already has none, nor has
    SIMULATED, which the top line says for good.
    """
    found = [item for item in snapshot.cautions if item.cause != "simulated"]
    if snapshot.advice.cause == "probe_trouble":
        found = [
            item
            for item in found
            if (item.cause, item.subject) != ("probe_doubt", snapshot.advice.subject)
        ]
    unknown = [item for item in found if item.cause == "condition_unknown"]
    if len(unknown) > 1:
        subject = ", ".join(dict.fromkeys(item.subject for item in unknown))
        found = [item for item in found if item.cause != "condition_unknown"]
        found.append(Caution(cause="condition_unknown", subject=subject))
    return sorted(found, key=lambda item: _ORDER.get(item.cause, 0))


def fitting(rows: list[Content], width: int, most: int) -> Content:
    """Return the first rows that take `most` lines when wrapped; the last one counts the rest.

    Parameters
    ----------
    rows : list of Content
    width, most : int
        Cells and lines there are.
    """
    kept: list[Content] = []
    used = 0
    for row in rows:
        used += lines(row, width)
        if used > most and kept:
            break
        kept.append(row)
    if len(kept) < len(rows):
        more = Content(f"  +{len(rows) - len(kept)} more")
        kept[-1] = kept[-1].truncate(width - len(more)) + more
    return joined(kept)
