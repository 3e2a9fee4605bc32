"""The dashboard of a drill: the trainee's calls as keys, the score at the end."""

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

from textual.binding import Binding, BindingType

from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.events import Outcome
from chargeassist.trainer.calls import FIXES, CallKind
from chargeassist.trainer.drill_session import DrillSession
from chargeassist.trainer.report import report_lines
from chargeassist.trainer.result import Result
from chargeassist.tui import keys
from chargeassist.tui.answers import Amount
from chargeassist.tui.app import Dashboard
from chargeassist.tui.keys import Key
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens import questions
from chargeassist.tui.screens.board import SessionScreen
from chargeassist.tui.screens.drill import Choose, DrillBoard, Score, fixes
from chargeassist.tui.screens.failure import Failure


class DrillDashboard(Dashboard, inherit_bindings=False):
    """One drill on the screen.

    Parameters
    ----------
    session : DrillSession
    keep : callable
        Writes the result and returns where it is.
    system : UnitSystem, optional
    unicode : bool, optional

    Attributes
    ----------
    result : Result or None
        Once it is scored.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("s", "settled", "settled"),
        Binding("a", "add", "add"),
        Binding("r", "recover", "recover"),
        Binding("x", "stop_charging", "stop"),
        Binding("f", "fix", "fix"),
        Binding("u", "units", "units"),
        Binding("d", "ground", "dark or light"),
        Binding("space", "pause", "pause"),
        Binding("minus", "slower", "slower"),
        Binding("plus,equals_sign", "faster", "faster"),
        Binding("question_mark", "help", "help"),
        Binding("q", "leave", "quit"),
        Binding("ctrl+q,ctrl+c", "leave", "quit"),
    ]

    def __init__(
        self,
        session: DrillSession,
        keep: Callable[[Result], Path],
        *,
        system: UnitSystem | None = None,
        unicode: bool | None = None,
    ) -> None:
        self._drill = session
        self._keep_result = keep
        self.result: Result | None = None
        self._scoring = False
        super().__init__(session, system=system, unicode=unicode)

    def _new_board(self, scene: Scene) -> SessionScreen:
        return DrillBoard(scene, self._drill)

    def _keys(self) -> tuple[Key, ...]:
        return keys.DRILL

    def _is_drill(self) -> bool:
        return True

    async def _run_session(self) -> None:
        await super()._run_session()
        if self.failure is not None or self._stopping:
            return
        self._scoring = True
        try:
            # In a thread of its own, so that the screen goes on being drawn.
            self.result = await asyncio.to_thread(self._drill.drill.result)
            path = self._keep_result(self.result)
        except Exception as error:  # noqa: BLE001 - top of the task; shown and kept for the caller
            self.failure = error
            self.push_screen(Failure(self._scene(), error), self._close)
            return
        finally:
            self._scoring = False
        lines = [*report_lines(self.result, self._system), "", f"kept in {path}"]
        self.push_screen(Score(self._scene(), lines), self._close)

    def _call(self, kind: CallKind, mass_kg: float | None = None, fix: str = "") -> None:
        try:
            self._drill.call(kind, mass_kg, fix)
        except ChargeAssistError as error:
            self.tell(f"Not taken: {error}.")
            return
        amount = "" if mass_kg is None else f" {display.mass(mass_kg, self._system)}"
        about = f": {FIXES[fix].words}" if fix else ""
        self.tell(f"Called: {kind.value}{amount}{about}.")

    def action_settled(self) -> None:
        """Call it settled."""
        if self._can_call():
            self._call(CallKind.SETTLED)

    def action_add(self) -> None:
        """Ask how much to add."""
        if self._can_call():
            self._ask(questions.drill_amount(self._scene(), "Add"), self._add)

    def _add(self, amount: Amount) -> None:
        self._call(CallKind.ADD, amount.mass_kg)

    def action_recover(self) -> None:
        """Ask how much to recover."""
        if self._can_call():
            self._ask(questions.drill_amount(self._scene(), "Recover"), self._recover)

    def _recover(self, amount: Amount) -> None:
        self._call(CallKind.RECOVER, amount.mass_kg)

    def action_stop_charging(self) -> None:
        """Ask once more, for it ends the drill; then call stop."""

        def answered(key: str | None) -> None:
            if key == "x" and not self._ended:
                self._call(CallKind.STOP)

        if self._can_call():
            choices = [("x", "stop: the charge is right"), ("g", "go on")]
            self.push_screen(Choose(self._scene(), "Stop ends the drill", choices), answered)

    def action_fix(self) -> None:
        """Ask what is wrong, and call it."""
        offered = fixes()

        def answered(key: str | None) -> None:
            word = next((word for each, word, _ in offered if each == key), None)
            if word is not None and not self._ended:
                self._call(CallKind.FIX, fix=word)

        if self._can_call():
            choices = [(key, meaning) for key, _, meaning in offered]
            self.push_screen(Choose(self._scene(), "Fix first: what is wrong?", choices), answered)

    def _can_call(self) -> bool:
        if self._ended:
            self.tell("The drill is over.")
            return False
        if self._latest is None:
            self.tell("Not yet: no values have arrived.")
            return False
        return True

    def action_leave(self) -> None:
        """Ask first: a drill that is left is not scored."""

        def answered(key: str | None) -> None:
            if key == "x" and not self._ended:
                self._leave(Outcome.ABANDONED)

        if self._ended and self._scoring:
            self._scoring = False
            self.tell("The score is being worked out; q again leaves without it.")
        elif self._ended:
            self._close()
        elif self._stopping or self._refused:
            self._give_up()
        else:
            choices = [("x", "leave; nothing is scored"), ("g", "go on")]
            self.push_screen(Choose(self._scene(), "Leave the drill?", choices), answered)
