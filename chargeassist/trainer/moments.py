"""The moments of a recording worth looking at: steps, settled readings, instructions, trouble."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from chargeassist.guide import trouble_wording, wording
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import (
    Action,
    Advice,
    ClockSet,
    Event,
    Mark,
    MarkKind,
    ProgramHeld,
    SessionResumed,
    SessionStopped,
    Settled,
    SourceBack,
    SourceLost,
    StepRecorded,
)
from chargeassist.session.record.package import open_record

_MARKS: Final = {
    MarkKind.FREQUENCY_HELD: "frequency confirmed",
    MarkKind.FREQUENCY_LEFT: "frequency no longer held",
    MarkKind.CONFIRMED: "checked",
    MarkKind.CAUTION_READ: "caution read",
    MarkKind.PROBE_SEEN_TO: "probe seen to",
    MarkKind.STAGE_SKIPPED: "stage skipped",
    MarkKind.NOTE: "note",
}
"""Charge steps are told by the ledger, with what went in."""

_BY_CAUSE: Final = frozenset({Action.FIX_FIRST, Action.DO})
"""Instructions of which there are as many as there are causes."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One place in a recording.

    Attributes
    ----------
    t : float
        Where to go [s]: the beginning of a step, the time of anything else.
    event : Event
    """

    t: float
    event: Event

    @property
    def step(self) -> int | None:
        """Number of the charge step that begins here; None elsewhere."""
        return self.event.number if isinstance(self.event, StepRecorded) else None

    def text(self, system: UnitSystem) -> str:
        """Return what happens here, in a few words."""
        match self.event:
            case StepRecorded():
                mass_kg = self.event.mass_kg
                amount = "amount not given" if mass_kg is None else display.mass(mass_kg, system)
                return f"charge step {self.event.number} begins: {amount}"
            case Settled():
                return f"settled at {display.difference(self.event.value_k, system)}"
            case Advice():
                return f"told: {wording.sentence(self.event, system)}"
            case Mark():
                about = f": {self.event.text.replace('_', ' ')}" if self.event.text else ""
                return _MARKS.get(self.event.kind, self.event.kind.value) + about
            case SourceLost() | SourceBack():
                return trouble_wording.source_event(self.event)
            case SessionResumed():
                return "the session was resumed"
            case ClockSet() | ProgramHeld():
                return trouble_wording.time_event(self.event)
            case SessionStopped():
                return f"the end: {self.event.outcome.value}"
            case _:
                return type(self.event).__name__


def moments(path: Path) -> tuple[Moment, ...]:
    """Return the moments of the record at `path`, by time.

    Raises
    ------
    RecordError
        If it cannot be read.
    """
    found: list[Moment] = []
    steps: dict[int, Moment] = {}
    told: tuple[Action, str] | None = None
    with open_record(path) as record:
        for event in record.events():
            if isinstance(event, StepRecorded):
                steps[event.number] = Moment(event.begun_t, event)  # told again with its amount
            elif isinstance(event, Advice):
                # Waits come and go between the others; they are nowhere to go to. Of what is to be
                # put right or done the next thing is another instruction; an amount that is told
                # anew is not.
                cause = event.cause if event.action in _BY_CAUSE else ""
                if event.action is not Action.WAIT and told != (event.action, cause):
                    found.append(Moment(event.t, event))
                told = (event.action, cause)
            elif isinstance(event, Mark):
                if event.kind in _MARKS:
                    found.append(Moment(event.t, event))
            elif isinstance(
                event,
                Settled
                | SourceLost
                | SourceBack
                | SessionResumed
                | ClockSet
                | ProgramHeld
                | SessionStopped,
            ):
                found.append(Moment(event.t, event))
    found += steps.values()
    return tuple(sorted(found, key=lambda moment: moment.t))
