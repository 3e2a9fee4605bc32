"""The question before a session ends: how did it end."""

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Static

from chargeassist.guide import wording
from chargeassist.model.events import Outcome
from chargeassist.tui import words
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens.overlay import Hint, Overlay
from chargeassist.tui.widgets.panel import touch

_ACTIONS = {
    "c": "screen.choose('complete')",
    "x": "screen.choose('abandoned')",
    "g": "screen.go_on",
}


class Leave(Overlay[Outcome]):
    """Dismisses with the outcome, or None to go on."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("c", "choose('complete')", "complete"),
        Binding("x", "choose('abandoned')", "abandoned"),
        Binding("g,escape,enter", "go_on", "go on"),
    ]
    hints = (Hint("Esc", "goes on", "screen.go_on"),)

    def __init__(self, scene: Scene) -> None:
        super().__init__(scene)
        self._instruction, self._step = Static(), Static()
        self._choices = [("x", "close the replay"), ("g", "go on")]
        if not scene.replayed:
            self._choices = [
                ("c", "complete: the job is done"),
                ("x", "abandoned: it stops here, unfinished"),
                ("g", "go on"),
            ]

    def body(self) -> list[Widget]:
        """Return the choices, under what the last instruction was."""
        pen, scene = self.scene.pen, self.scene
        title = "Close the replay?" if scene.replayed else "End this session?"
        rows: list[Widget] = [
            Static(pen.line((title, "bold")), id="title"),
            self._instruction,
            self._step,
        ]
        self._follow()
        for key, label in self._choices:
            row = pen.line((f" {key} ", "bold reverse"), f"  {label}")
            rows.append(Static(touch(row, _ACTIONS[key])))
        return rows

    def show(self, scene: Scene) -> None:
        """Follow what goes on; a session that has ended meanwhile is asked about no more."""
        super().show(scene)
        if scene.ended and not scene.replayed and self.is_active:
            self.dismiss(None)
            return
        self._follow()

    def _follow(self) -> None:
        """Draw the newest instruction, and whether a step is open."""
        pen, scene = self.scene.pen, self.scene
        if scene.snapshot is not None:
            advice = scene.snapshot.advice
            verb = wording.headline(advice, scene.system)
            said, _ = words.without_source(words.reason(advice, scene.system))
            text = f"Last instruction: {verb}: {said}"
            self._instruction.update(pen.line((text, pen.palette.faint)))
        text = "! A charge step is still open: end it first, or its amount is not recorded."
        self._step.update(pen.line((text, f"bold {pen.palette.warning}")))
        self._instruction.display = scene.snapshot is not None
        self._step.display = scene.step_open

    def action_choose(self, outcome: str) -> None:
        """Leave with an outcome that is on offer."""
        if self.scene.replayed and outcome == Outcome.COMPLETE.value:
            return
        self.dismiss(Outcome(outcome))

    def action_go_on(self) -> None:
        """Stay."""
        self.dismiss(None)
