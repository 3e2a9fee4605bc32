"""The keys that go about in a recording and keep notes beside it."""

from typing import ClassVar

from textual.binding import Binding, BindingType

from chargeassist.model import display
from chargeassist.model.errors import RecordError
from chargeassist.trainer.replay_desk import ReplayDesk
from chargeassist.trainer.sidecar import EntryKind
from chargeassist.tui.screens import questions
from chargeassist.tui.screens.go_to import GoTo, places
from chargeassist.tui.stage_keys import StageKeys


class DeskKeys(StageKeys):
    """The part of the dashboard for whoever goes through a recording; elsewhere its keys rest."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("full_stop", "next_moment", "next event"),
        Binding("comma", "moment_before", "event before"),
        Binding("j", "go_to", "go to"),
        Binding("b", "bookmark", "bookmark"),
        *(Binding(str(n), f"step({n})", f"step {n}") for n in range(1, 10)),
        Binding("0", "step(0)", "start"),
    ]

    @property
    def _desk(self) -> ReplayDesk | None:
        return self._controller if isinstance(self._controller, ReplayDesk) else None

    def action_next_moment(self) -> None:
        """Go to the next event or bookmark."""
        self._move(1)

    def action_moment_before(self) -> None:
        """Go back to the last event or bookmark."""
        self._move(-1)

    def _move(self, change: int) -> None:
        desk = self._desk
        if desk is None:
            return
        t = desk.neighbour(change)
        if t is None:
            self.tell("Nothing comes after this." if change > 0 else "This is the start.")
        else:
            self._go(t)

    def action_step(self, number: int) -> None:
        """Go to where a charge step begins; 0 is the start."""
        desk = self._desk
        if desk is None:
            return
        t = desk.step(number) if number else 0.0
        if t is None:
            self.tell(f"There is no charge step {number} in this recording.")
        else:
            self._go(t)

    def action_go_to(self) -> None:
        """Show where one can go, and go there."""
        desk = self._desk
        if desk is None:
            return

        def answered(t: float | None) -> None:
            if t is not None:
                self._go(t)

        found = places(desk.moments, desk.entries, self._system)
        self.push_screen(GoTo(self._scene(), found, desk.now), answered)

    def _go(self, t: float) -> None:
        desk = self._desk
        if desk is not None:
            desk.go_to(t)
            here = [
                place.text
                for place in places(desk.moments, desk.entries, self._system)
                if place.t == t
            ]
            self.tell("; ".join([f"At {display.clock(t)}", *here]))

    def action_bookmark(self) -> None:
        """Keep a bookmark at the present time, beside the recording."""
        self._keep(EntryKind.BOOKMARK, "")

    def action_note(self) -> None:
        """Ask for a note: for the record, or beside a recording."""
        if self._desk is None:
            super().action_note()
        else:
            # It is kept at the time shown when it was asked for, not when it is written down.
            t = self._desk.now
            self._ask(
                questions.note_beside(self._scene()),
                lambda text: self._keep(EntryKind.NOTE, text, t),
            )

    def _keep(self, kind: EntryKind, text: str, t: float | None = None) -> None:
        desk = self._desk
        if desk is None:
            return
        try:
            desk.keep(kind, text, t)
        except RecordError as error:
            self.tell(f"Not written: {error}")
            return
        at = display.clock(desk.now if t is None else t)
        self.tell(f"{kind.value.capitalize()} at {at} kept in {desk.notes_path.name}.")
