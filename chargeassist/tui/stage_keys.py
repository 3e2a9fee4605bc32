"""The keys of the stages: which one is worked on, what is done, and what else can be told."""

import datetime as dt
from functools import partial
from typing import ClassVar, Final

from textual.binding import Binding, BindingType

from chargeassist.guide.stages.course import skip_text
from chargeassist.guide.stages.stage import NextMark
from chargeassist.model import display
from chargeassist.model.entries import Entry
from chargeassist.model.events import MarkKind, Stage
from chargeassist.model.limits import LimitKey
from chargeassist.session.typed_time import Now
from chargeassist.tui import answers
from chargeassist.tui.answers import Typed
from chargeassist.tui.mark_keys import MarkKeys
from chargeassist.tui.screens import questions
from chargeassist.tui.screens.ask import NUMBER_FIRST, Ask
from chargeassist.tui.screens.others import Others
from chargeassist.tui.screens.stages import StagePick, Stages

_TAKEN_IN: Final = "One moment: your last answer is being taken in."


class StageKeys(MarkKeys):
    """The part of the dashboard that moves through the job."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("s", "stages", "stages"),
        Binding("enter", "done", "done"),
        Binding("o", "others", "tell something else"),
    ]

    def action_stages(self) -> None:
        """Show the stages; one of them may be begun."""

        def answered(pick: StagePick | None) -> None:
            if pick is None or not self._can_mark():
                return
            if pick.skip:
                self._skip(pick.stage)
            elif self._mark(MarkKind.STAGE_BEGUN, text=pick.stage.value):
                self.tell(f"Stage begun: {pick.stage.value}.")

        self.push_screen(Stages(self._scene()), answered)

    def _skip(self, stage: Stage) -> None:
        def then(why: str) -> None:
            if self._mark(MarkKind.STAGE_SKIPPED, text=skip_text(stage, why)):
                self.tell(f"Recorded: {stage.value} skipped.")

        self._ask(questions.why_skipped(self._scene(), stage.value), then)

    def action_done(self) -> None:
        """Tell that the present instruction is done, or that a caution is read."""
        latest = self._latest
        if latest is not None and latest.stage_step is None and self._caution_shown() is not None:
            self._read_caution()
            return
        mark = None if latest is None else latest.waits_for
        if mark is None:
            self.tell("Nothing is waiting for an answer; ? shows the keys.")
        elif latest is not None and self._answered == (latest.t, mark):
            # The picture is older than the answer: what it asks for is answered already.
            self._asks_next = mark.entry is not None
            self.tell(_TAKEN_IN)
        elif mark.kind is MarkKind.CONFIRMED and mark.text == LimitKey.FILTERS_PANELS:
            self._show_checks(mark.text)  # asked once more: Enter was pressed for cautions just now
        elif self._can_mark():
            self._tell_mark(mark)

    def ask_next(self) -> None:
        """Ask for the next reading, where Enter was pressed before the picture came to it."""
        latest = self._latest
        if not self._asks_next or latest is None or self._answered is None:
            return
        if latest.t > self._answered[0]:
            self._asks_next = False
            mark = latest.waits_for
            if mark is not None and mark.entry is not None and len(self.screen_stack) == 1:
                self._tell_mark(mark)

    def action_others(self) -> None:
        """Show what else can be told now."""
        marks = self._other_marks()
        if not marks:
            self.tell("There is nothing else to tell in this stage.")
            return

        def answered(mark: NextMark | None) -> None:
            if mark is not None and self._can_mark():
                self._tell_mark(mark)

        self.push_screen(Others(self._scene(), marks), answered)

    def _read_caution(self) -> None:
        hazard = self._caution_shown()
        if hazard is None or hazard in self._read_now:
            self.tell(_TAKEN_IN)  # the next one is not on the screen yet
        elif self._can_mark() and self._mark(MarkKind.CAUTION_READ, text=hazard.value):
            self.tell(f"Recorded: caution read, {hazard.label}.")

    def _other_marks(self) -> tuple[NextMark, ...]:
        return () if self._latest is None else self._latest.other_marks

    def _tell_mark(self, mark: NextMark) -> None:
        if mark.entry is None:
            if self._mark(mark.kind, text=mark.text):
                self._keep_answer(mark)
                self.tell(f"Recorded: {mark.label}.")
            return
        entry = mark.entry
        last = None if self._latest is None else self._latest.facts.entered.get(entry)
        example = answers.example(entry, self._system)
        question = Ask(
            self._scene(),
            entry.label.capitalize(),
            f"{entry.label}, such as {example}; read earlier: {example}, 2 min ago.",
            partial(
                answers.reading,
                kind=entry,
                system=self._system,
                now=self._now,
                last_t=None if last is None else last.t,
            ),
            restrict=NUMBER_FIRST,
            doubt=partial(self._doubt_line, entry),
        )

        def then(typed: Typed) -> None:
            told = self._mark(
                MarkKind.ENTERED, text=entry.value, value_si=typed.value_si, read_t=typed.read_t
            )
            if told:
                self._keep_answer(mark)
                shown = display.reading(
                    typed.value_si, entry.quantity, entry.reference, self._system
                )
                at = "" if typed.read_t is None else f", read at {display.clock(typed.read_t)}"
                self.tell(f"Recorded: {entry.label} {shown}{at}.")

        self._ask(question, then)

    def _keep_answer(self, mark: NextMark) -> None:
        self._answered = None if self._latest is None else (self._latest.t, mark)

    def _doubt_line(self, entry: Entry, typed: Typed) -> str:
        latest = self._latest
        if latest is None:
            return ""
        if latest.stage_step is not None:
            return answers.doubt_test(typed, entry, latest.facts, self._system)
        return answers.doubt_line(typed, entry, latest.facts, self._system)

    def _now(self) -> Now:
        """Return the present moment; where time can be held, no clock on the wall agrees."""
        t = 0.0 if self._latest is None else self._latest.t
        return Now(t, None if self._controller.can_pause else dt.datetime.now().astimezone())
