"""Compare the verdicts of a replay with those the record holds, bit for bit."""

from itertools import zip_longest
from pathlib import Path

from chargeassist.model import display
from chargeassist.model.events import (
    Event,
    Gap,
    Mark,
    MarkKind,
    SessionResumed,
    SessionStopped,
    Stage,
    StageChanged,
    VerdictEvent,
)
from chargeassist.model.reading_run import ReadingRun
from chargeassist.session.record.codec import encode_event
from chargeassist.session.record.package import open_record


class VerdictComparison:
    """A listener for a replayed session that remembers its verdicts and compares.

    A record without an end (a session that lives, or was interrupted) may lack the verdicts of its
    last input; a replay that makes them is not said to differ.

    Parameters
    ----------
    path : Path
        The record that is replayed.

    Attributes
    ----------
    problems : tuple of str
        Where the record contradicts its own hashes and counts; empty when it does not.

    Raises
    ------
    RecordError
        If it cannot be read.
    """

    def __init__(self, path: Path) -> None:
        recorded: list[str] = []
        with open_record(path) as record:
            self.job = record.job
            self.problems = record.verify().problems
            self._unfinished = record.stopped is None
            before_t = last_t = 0.0
            closing = Closing()
            for event in record.events():
                recorded += map(_line, closing.take(event))
                if not isinstance(event, VerdictEvent):
                    before_t, last_t = last_t, event.t
        self._recorded = recorded
        self._certain_t = before_t
        self._replayed: list[tuple[float, str]] = []
        self._over = False

    def __call__(self, event: Event) -> None:
        """Remember a verdict."""
        if isinstance(event, SessionStopped) and self._unfinished:
            self._over = True
        elif isinstance(event, VerdictEvent) and not self._over:
            self._replayed.append((event.t, _line(event)))

    @property
    def compared(self) -> int:
        """How many verdicts the longer of the two sides holds."""
        return max(len(self._recorded), len(self._replayed_lines()))

    def differences(self) -> tuple[str, ...]:
        """Return a line for each place where the two sides differ; empty when they agree."""
        pairs = zip_longest(self._recorded, self._replayed_lines(), fillvalue="nothing")
        return tuple(
            f"verdict {number}: recorded {recorded}, replayed {replayed}"
            for number, (recorded, replayed) in enumerate(pairs, start=1)
            if recorded != replayed
        )

    def _replayed_lines(self) -> list[str]:
        known = len(self._recorded)
        return [
            line
            for number, (t, line) in enumerate(self._replayed)
            if not (self._unfinished and number >= known and t > self._certain_t)
        ]


class Closing:
    """Tells the verdicts of a record from the one that a kill may have left behind.

    The change of stage that ends a session is written before the end it belongs to. If it is
    followed by a resumption, or by nothing, the session has not made it; all others count.
    """

    def __init__(self) -> None:
        self._held: tuple[VerdictEvent, ...] = ()
        self._told: Event | ReadingRun | None = None

    def take(self, event: Event | ReadingRun) -> tuple[VerdictEvent, ...]:
        """Return the verdicts that count, now that `event` is the next of the record."""
        if isinstance(event, Gap):  # what was let go is told between the two
            self._told = event
            return ()
        counted, self._held = self._held, ()
        if not isinstance(event, VerdictEvent):
            self._told = event
            return () if isinstance(event, SessionResumed) else counted
        if is_closing(event, self._told):
            self._held = (event,)
            return counted
        return (*counted, event)


def is_closing(event: Event, told: Event | ReadingRun | None) -> bool:
    """Return whether `event` is the change of stage that ends a session.

    Parameters
    ----------
    event : Event
    told : Event, ReadingRun or None
        The input event before it: a technician who begins the close-out is not at the end yet.
    """
    if not (isinstance(event, StageChanged) and event.stage is Stage.CLOSE_OUT):
        return False
    return not (isinstance(told, Mark) and told.kind is MarkKind.STAGE_BEGUN)


def _line(event: Event) -> str:
    kind, body = encode_event(event)
    return f"{display.clock(event.t)} (t={event.t!r}) {kind} {body}"
