"""Which causes explain the settled readings, with the evidence for and against each."""

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget

from chargeassist.guide.diagnosis import Diagnosis, RankedCause, Verdict
from chargeassist.tui import judgement
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import TextOverlay
from chargeassist.tui.widgets.panel import Panel, hanging, joined

_CHANCE = 7
_SIDE = 9
_LEAST = 0.01
"""Causes less likely than this are counted, not listed."""

_HOW = (
    "Ranked by which way each fault moves each reading. The chances are assumptions, to be "
    "compared with each other; they are no frequencies of the field."
)


class WhyText(Panel):
    """Verdict, candidates with their evidence, the rest in one line each, what would tell more."""

    def draw(self, scene: Scene, width: int, height: int | None) -> Content:
        """Return all of it."""
        pen = scene.pen
        diagnosis = None if scene.snapshot is None else scene.snapshot.diagnosis
        rows = pen.line((judgement.verdict(diagnosis), "bold")).wrap(width)
        if diagnosis is None or scene.snapshot is None:
            return joined(rows)
        if diagnosis.would_tell:
            head = pen.line(("would tell more", pen.palette.faint))
            rows += hanging(
                head,
                17,
                pen.line(judgement.would_tell(diagnosis, scene.snapshot.facts.channels)),
                width,
            )
        if diagnosis.verdict is Verdict.NOT_ENOUGH:
            rows.append(pen.line("As far as it goes:"))
        for item in diagnosis.candidates:
            rows += self._candidate(scene, item, width)
        rows += self._rest(scene, diagnosis, width)
        for note in (_HOW, judgement.hidden(diagnosis)):
            rows += pen.line((note, pen.palette.faint)).wrap(width)
        return joined(rows)

    def _candidate(self, scene: Scene, item: RankedCause, width: int) -> list[Content]:
        pen = scene.pen
        head = pen.line((judgement.chance(item), "bold"))
        rows = hanging(head, _CHANCE, pen.line((judgement.cause_name(item), "bold")), width)
        for each in item.evidence:
            side, words = judgement.evidence(each)
            style = pen.palette.ink if side != "silent" else pen.palette.faint
            label = pen.line(" " * _CHANCE, (side, "bold" if side != "silent" else style))
            rows += hanging(label, _CHANCE + _SIDE, pen.line((words, style)), width)
        if item.next_check:
            label = pen.line(" " * _CHANCE, ("next", pen.palette.faint))
            rows += hanging(label, _CHANCE + _SIDE, pen.line(item.next_check), width)
        return rows

    def _rest(self, scene: Scene, diagnosis: Diagnosis, width: int) -> list[Content]:
        pen = scene.pen
        shown = {item.cause for item in diagnosis.candidates}
        rest = [item for item in diagnosis.causes if item.cause not in shown]
        likelier = [item for item in rest if item.probability >= _LEAST]
        rows: list[Content] = []
        for item in likelier:
            head = pen.line(judgement.chance(item))
            rows += hanging(head, _CHANCE, pen.line(judgement.cause_name(item)), width)
        fewer = len(rest) - len(likelier)
        if fewer:
            rows.append(pen.line((f"and {fewer} more below 1 % each", pen.palette.faint)))
        return rows


class Why(TextOverlay[bool]):
    """Any of its keys goes back."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,q,w,enter,space", "back", "go back")]

    def __init__(self, scene: Scene) -> None:
        super().__init__(scene)
        self._text = WhyText(scene)

    def body(self) -> list[Widget]:
        """Return the text."""
        return [self._text]

    def show(self, scene: Scene) -> None:
        """Follow the session."""
        super().show(scene)
        self._text.show(scene)
