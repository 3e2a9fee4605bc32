"""The instruction, as large as the screen allows, and the reason under it."""

from typing import Final

from textual.content import Content

from chargeassist.guide import wording
from chargeassist.model.events import Action
from chargeassist.tui import judgement, words
from chargeassist.tui.key_words import keys_for
from chargeassist.tui.scene import Scene
from chargeassist.tui.widgets.big_text import big, stacked, with_rest_small
from chargeassist.tui.widgets.notices import enter_reads, unread
from chargeassist.tui.widgets.panel import Panel, in_large_print, joined

_ASCII_ICONS = {
    Action.WAIT: "...",
    Action.ADD: "+++",
    Action.STOP: "###",
    Action.RECOVER: "---",
    Action.FIX_FIRST: "!!!",
    Action.DO: ">>>",
}

_FORMS: Final[tuple[dict[str, bool], ...]] = (
    {"double": True},
    {"tall": True},
    {"lowered": True},
    {},
)
"""How the letters may be drawn, the largest first."""

_LETTERS = 3
"""Lines that one line of letters takes."""

_TWO_LINES = 6
"""Lines that two lines of letters take."""

_ROOMY = 30
"""Lines of a screen on which a source stands beside the instruction in any case."""


class Banner(Panel):
    """The instruction in big letters on the colour of its action, with its shape before it."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return the block, filled to the full width so that its colour is one area."""
        pen = scene.pen
        rows_wanted = height or 4
        action, text = _said(scene)
        style = f"bold {pen.palette.on_fill} on {pen.palette.fills[action]}"
        shown = None
        if pen.unicode:
            tried = (
                largest(brief, action.value, width - 2, rows_wanted)
                for brief in words.briefer(text)
            )
            shown = next(filter(None, tried), None)
            if shown is None and rows_wanted >= _LETTERS:
                shown = with_rest_small(text, action.value, width - 2)
        if shown is None:
            icon = _ASCII_ICONS[action]
            shown = [f"{icon}  {text}  {icon}"]
        # Big letters end in a line for descenders, which is most often blank.
        spare = rows_wanted - len(shown) + (len(shown) == 6)
        above = max(0, spare // 2)
        rows = [""] * above + [f"  {line}" for line in shown]
        rows += [""] * (rows_wanted - len(rows))
        return joined([pen.line((row[:width].ljust(width), style)) for row in rows])


def largest(text: str, icon: str, width: int, rows: int) -> list[str] | None:
    """Return the largest letters that fit: on one line, on two, or without the shape."""
    for form in _FORMS:
        shown = big(text, icon, **form)
        if shown and len(shown) <= rows and len(shown[0]) <= width:
            return shown
    if rows >= _TWO_LINES and (shown := stacked(text, icon, width)):
        return shown
    shown = big(text)
    return shown if shown and len(shown) <= rows and len(shown[0]) <= width else None


def _said(scene: Scene) -> tuple[Action, str]:
    """Return what the block says, and the action whose colour and shape it has."""
    if scene.snapshot is None:
        return Action.WAIT, "WAIT"
    if _is_over(scene):
        return Action.WAIT, "ENDED"
    return scene.snapshot.advice.action, words.headline(scene.snapshot.advice, scene.system)


def _is_over(scene: Scene) -> bool:
    """Return whether nobody is to follow the instruction any more; a recording shows its last."""
    return scene.ended and not scene.replayed


class Reason(Panel):
    """The whole sentence, wrapped and never cut; after it, what still moves and what is left."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return instruction and reason; then the inputs that still move, and what is left."""
        pen = scene.pen
        if scene.snapshot is None:
            return pen.line(("Wait: ", "bold"), "no values yet.")
        advice = scene.snapshot.advice
        over = scene.replayed or scene.ended  # nothing is answered any more
        answers = "" if over else keys_for(advice.cause)
        below = unread(scene) is not None
        if below and enter_reads(scene) and "press Enter" in answers:
            answers = "first the caution below"  # Enter answers that one
        text = words.reason(advice, scene.system)
        if lost := words.source_of_silence(scene.snapshot):
            text = text.replace(wording.CHECK_PROBE, lost)
        verb = wording.headline(advice, scene.system)
        said, source = words.without_source(text)
        last = "The session has ended; the last instruction was " if _is_over(scene) else ""
        line = pen.line((last, pen.palette.ink), (f"{verb}: ", "bold"), (said, pen.palette.ink))
        line += pen.line((f"; {answers}" if answers else "", pen.palette.ink))
        # What has to be put right or done stands first whatever still moves. A low screen in large
        # print has its lines for the value; the state stands there in letters as large.
        low_large = in_large_print(self) and self.app.size.height < _ROOMY
        told = advice.action in {Action.FIX_FIRST, Action.DO} or low_large
        moving = "" if told else judgement.still_moving(scene.snapshot.facts)
        if moving:
            line += pen.line((f" ({moving})", pen.palette.faint))
        # On the smallest screens the channels need the lines.
        roomy = self.app.size.height >= 24 and not low_large
        left = judgement.ahead(scene.snapshot.ahead) if roomy else ""
        if left:
            line += pen.line((f"; {left}", pen.palette.ink))
        # On a small screen a caution to be read needs the lines; conditions (c) show the source.
        if not (low_large or (below and self.app.size.height < _ROOMY)):
            line += pen.line((source, pen.palette.faint))
        return line
