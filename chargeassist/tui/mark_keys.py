"""The keys that put something into the session, and those that show what it is judged by."""

from collections.abc import Callable
from typing import ClassVar, Final, TypeVar, Unpack

from textual.app import App
from textual.binding import Binding, BindingType

from chargeassist.guide.snapshot import Snapshot
from chargeassist.guide.stages.choice import TESTS
from chargeassist.guide.stages.stage import NextMark
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ChargeAssistError
from chargeassist.model.events import MarkKind, Outcome
from chargeassist.model.hazards import Hazard, known_hazard
from chargeassist.model.mark_event import WAIVED_BY, MarkDetails
from chargeassist.session.typed_time import Now
from chargeassist.tui.answers import Amount, Held, came_out, lacking_amount, lacking_recovered
from chargeassist.tui.control import SessionControl
from chargeassist.tui.scene import Scene
from chargeassist.tui.screens import questions
from chargeassist.tui.screens.ask import Ask
from chargeassist.tui.screens.checks import Check, Checks
from chargeassist.tui.screens.why import Why

_AGREE_S = 5.0
_OVER: Final = "The session has ended; nothing more is recorded."

Answer = TypeVar("Answer")


class MarkKeys(App[Outcome]):
    """The part of the dashboard that marks what the technician did.

    Parameters
    ----------
    controller : SessionControl
    system : UnitSystem
        Units at the start.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("a", "begin_step", "step begins"),
        Binding("e", "end_step", "step ends"),
        Binding("r", "recovered", "recovered"),
        Binding("f", "frequency_held", "frequency held"),
        Binding("g", "frequency_left", "not held"),
        Binding("n", "note", "note"),
        Binding("c", "checks", "conditions"),
        Binding("w", "why", "why"),
    ]

    def __init__(self, controller: SessionControl, system: UnitSystem) -> None:
        super().__init__()
        self._controller = controller
        self._system = system
        self._latest: Snapshot | None = None
        self._ended = False
        self._step_told: tuple[bool, float] | None = None
        self._read_now: set[Hazard] = set()
        self._answered: tuple[float, NextMark] | None = None
        self._asks_next = False

    def tell(self, text: str) -> None:
        """Answer a key: show one line for a few seconds."""
        raise NotImplementedError

    def _scene(self) -> Scene:
        raise NotImplementedError

    def _now(self) -> Now:
        raise NotImplementedError

    def _step_is_open(self) -> bool:
        """Return whether a charge step is open, by the last key until a snapshot agrees."""
        latest = self._latest
        seen = latest is not None and latest.facts.step_open is not None
        if self._step_told is None:
            return seen
        told, at = self._step_told
        if latest is None or seen == told or latest.t - at > _AGREE_S:
            self._step_told = None
            return seen
        return told

    def _unread(self) -> tuple[Hazard, ...]:
        """Return the cautions that wait, without those read since the last snapshot."""
        if self._latest is None or self._controller.replayed:
            return ()
        return tuple(each for each in self._latest.unread if each not in self._read_now)

    def _caution_shown(self) -> Hazard | None:
        """Return the caution on the screen, which waits or was read just now; None for none."""
        if self._latest is None or self._controller.replayed or not self._latest.unread:
            return None
        return self._latest.unread[0]

    def _mark(self, kind: MarkKind, **told: Unpack[MarkDetails]) -> bool:
        try:
            self._controller.mark(kind, **told)
        except ChargeAssistError as error:
            self.tell(f"Not recorded: {error}")
            return False
        caution_read = kind is MarkKind.CAUTION_READ
        hazard = known_hazard(told.get("text", "")) if caution_read else None
        if hazard is not None:
            self._read_now.add(hazard)
        if kind in {MarkKind.STEP_BEGUN, MarkKind.STEP_ENDED}:
            at = 0.0 if self._latest is None else self._latest.t
            self._step_told = (kind is MarkKind.STEP_BEGUN, at)
        return True

    def _can_mark(self) -> bool:
        if self._ended:
            self.tell(_OVER)
            return False
        if self._controller.replayed:
            self.tell("This is a replay: what was recorded stays as it is.")
            return False
        if self._latest is None:
            self.tell("Not yet: no values have arrived.")
            return False
        return True

    def _ask(self, question: Ask[Answer], then: Callable[[Answer], None]) -> None:
        def answered(answer: Answer | None) -> None:
            if answer is not None and self._ended:
                self.tell(_OVER)  # what was typed must not vanish without a word
            elif answer is not None:
                then(answer)

        self.push_screen(question, answered)

    def action_begin_step(self) -> None:
        """Mark the start of a charge step."""
        if not self._can_mark():
            return
        if self._step_is_open():
            self.tell("A charge step is open already; e ends it.")
        elif self._unread():
            self.tell(f"First read the caution, then Enter: {self._unread()[0].label}.")
        elif self._latest is not None and self._latest.stage in TESTS:
            stage = self._latest.stage.value
            self.tell(f"No charge in this stage, {stage}; s begins the weigh-in or another stage.")
        elif self._mark(MarkKind.STEP_BEGUN):
            self.tell("Charge step begun. e ends it when the amount is in.")

    def action_end_step(self) -> None:
        """Ask for the amount and mark the end of a charge step."""
        if not self._can_mark():
            return
        if self._step_is_open():
            self._ask(questions.step_ends(self._scene()), self._end_open_step)
        elif self._step_told is None and lacking_amount(self._latest) is not None:
            self._ask(questions.amount_of_last(self._scene()), self._end_step)
        else:
            self.tell("No charge step is open; a begins one.")

    def _end_open_step(self, amount: Amount) -> None:
        if amount.mass_kg is None and not self._step_is_open():
            self.tell("The step had ended by itself; it stays as it was recorded.")
        else:
            self._end_step(amount)

    def _end_step(self, amount: Amount) -> None:
        if self._mark(MarkKind.STEP_ENDED, mass_kg=amount.mass_kg):
            said = (
                "amount left open or by the scale"
                if amount.mass_kg is None
                else f"{display.mass(amount.mass_kg, self._system)} added"
            )
            self.tell(f"Charge step ended, {said}.")

    def action_recovered(self) -> None:
        """Ask how much came out and mark it as a negative step."""
        if self._can_mark():
            step = lacking_recovered(self._latest) if self._tells_recovered_later() else None
            self._ask(questions.recovered(self._scene(), step), self._recovered)

    def _tells_recovered_later(self) -> bool:
        """Return whether `r` asks for the amount that an earlier recovery lacks."""
        fresh = self._step_is_open() or self._step_told is not None
        return not fresh and lacking_recovered(self._latest) is not None

    def _recovered(self, amount: Amount) -> None:
        # A step that nobody began is still a step: its start is marked where its end is told.
        # The amount of an earlier one is told without.
        later = self._tells_recovered_later()
        if later and amount.mass_kg is None:
            self.tell("The amount stays open; r tells it.")
            return
        if not (self._step_is_open() or later or self._mark(MarkKind.STEP_BEGUN)):
            return
        if self._mark(MarkKind.STEP_ENDED, **came_out(amount)):
            said = (
                "amount not known"
                if amount.mass_kg is None
                else display.mass(amount.mass_kg, self._system)
            )
            self.tell(f"Recovered: {said}.")

    def action_frequency_held(self) -> None:
        """Ask which frequency the unit shows."""
        if self._can_mark():
            self._ask(questions.frequency_held(self._scene(), self._now), self._frequency_held)

    def _frequency_held(self, held: Held) -> None:
        frequency_hz = held.frequency_hz
        if not self._mark(MarkKind.FREQUENCY_HELD, frequency_hz=frequency_hz, read_t=held.since_t):
            return
        hold = self._controller.job.hold
        since = "" if held.since_t is None else f", held since {display.clock(held.since_t)}"
        text = f"Frequency {frequency_hz:g} Hz recorded{since}."
        if hold.required_hz is not None and (
            abs(frequency_hz - hold.required_hz) > hold.tolerance_hz
        ):
            text += f" The job asks for {hold.required_hz:g} Hz."
        self.tell(text)

    def action_frequency_left(self) -> None:
        """Mark that the frequency is no longer held."""
        if not self._can_mark() or self._latest is None:
            return
        hold = self._latest.facts.hold
        if hold.required_hz is None:
            self.tell("This job holds no frequency.")
        elif not hold.held:
            self.tell("The frequency is already not held; f confirms it.")
        elif self._mark(MarkKind.FREQUENCY_LEFT):
            self.tell("Frequency no longer held: recorded. f confirms it again.")

    def action_note(self) -> None:
        """Ask for a note."""
        if self._can_mark():
            self._ask(questions.note(self._scene()), self._note)

    def _note(self, text: str) -> None:
        if self._mark(MarkKind.NOTE, text=text):
            self.tell("Note recorded.")

    def action_checks(self) -> None:
        """Show the conditions and what was found about the probes; one of them may be confirmed."""
        self._show_checks()

    def _show_checks(self, pick: str = "") -> None:

        def answered(check: Check | None) -> None:
            if check is None or not self._can_mark():
                return
            if not check.confirms:
                self._go_on_without(check)
            elif self._mark(check.kind, text=check.key):
                self.tell(f"Recorded: {check.done}.")

        self.push_screen(Checks(self._scene(), pick), answered)

    def _go_on_without(self, check: Check) -> None:
        def then(why: str) -> None:
            if self._mark(check.kind, text=f"{check.key}{WAIVED_BY}{why}"):
                self.tell(f"Recorded: {check.name}, gone on without.")

        self._ask(questions.why_without(self._scene(), check.name), then)

    def action_why(self) -> None:
        """Show which causes explain the settled readings, with their evidence."""
        self.push_screen(Why(self._scene()))
