"""What the content of a record must agree on, whatever file it is kept in, and what is found."""

from collections.abc import Callable
from dataclasses import dataclass

from chargeassist.model.errors import RecordError
from chargeassist.model.events import (
    VERDICT_EVENTS,
    ChannelDeclared,
    Event,
    Reading,
    SessionStarted,
    SessionStopped,
)
from chargeassist.session.record.chain import Row

PROBLEMS_SHOWN = 20

OnEvent = Callable[[Event], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class VerifyReport:
    """What checking a record found.

    Attributes
    ----------
    commits : int
        Commits (session file) or data files (package) whose hashes were recomputed.
    rows : int
        Readings and events that were read.
    finished : bool
        Whether the record ends in ``SessionStopped``. A live or interrupted session is not
        finished, which is no problem by itself.
    problems : tuple of str
        One sentence each, at most 20 and a count of the others; empty when all agrees.
    chain : str
        How the session file's chain of hashes stands: "whole, 12 commits", "broken", or why there
        is none.
    notes : tuple of str
        What an interruption left behind that contradicts nothing.
    """

    commits: int
    rows: int
    finished: bool
    problems: tuple[str, ...] = ()
    chain: str = ""
    notes: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether nothing contradicts anything."""
        return not self.problems


class Problems:
    """A bounded list of sentences."""

    def __init__(self) -> None:
        self._kept: list[str] = []
        self._more = 0

    def add(self, text: str) -> None:
        """Take one; beyond the bound it is only counted."""
        if len(self._kept) < PROBLEMS_SHOWN:
            self._kept.append(text)
        else:
            self._more += 1

    def all(self) -> tuple[str, ...]:
        """Return the sentences, and how many more there were."""
        more = (f"and {self._more} more",) if self._more else ()
        return (*self._kept, *more)


class ContentCheck:
    """Follow the rows of a record in order and say where they contradict each other.

    Parameters
    ----------
    problems : Problems
        Where contradictions go.
    watch : callable, optional
        Shown every event that can be read, in order.
    """

    def __init__(self, problems: Problems, watch: OnEvent | None = None) -> None:
        self._watch = watch
        self.rows = 0
        self.started: SessionStarted | None = None
        self.stopped: SessionStopped | None = None
        self._problems = problems
        self._next_seq = 1
        self._last_t = float("-inf")
        self._counts: dict[str, int] = {}

    @property
    def channels(self) -> frozenset[str]:
        """Names of the channels that were declared so far."""
        return frozenset(self._counts)

    def see(self, row: Row) -> None:
        """Take the next row."""
        self.rows += 1
        if row.seq != self._next_seq:
            self._problems.add(f"row {self._next_seq} expected, row {row.seq} came")
        self._next_seq = row.seq + 1
        try:
            event = row.event()
        except RecordError as exc:
            self._problems.add(f"row {row.seq}: {exc}")
            return
        if self._watch is not None:
            self._watch(event)
        if self.stopped is not None:
            self._problems.add(f"row {row.seq} comes after the end of the session")
        # Verdicts of a tick are written after the reading that set it off, with the tick's time.
        if not isinstance(event, VERDICT_EVENTS):
            if event.t < self._last_t:
                self._problems.add(f"row {row.seq}: time goes back to {event.t!r} s")
            self._last_t = max(self._last_t, event.t)
        match event:
            case Reading(channel=name):
                if name in self._counts:
                    self._counts[name] += 1
                else:
                    self._problems.add(f"row {row.seq}: channel {name!r} was never declared")
            case ChannelDeclared(channel=channel):
                self._counts.setdefault(channel.name, 0)
            case SessionStarted() if self.rows == 1:
                self.started = event
            case SessionStarted():
                self._problems.add(f"row {row.seq}: the session starts a second time")
            case SessionStopped():
                self.stopped = event
            case _:
                pass

    def finish(self) -> None:
        """Compare what was counted with what the last event says."""
        if self.started is None:
            self._problems.add("the first row is not the start of a session")
        if self.stopped is None:
            return
        said, seen = dict(self.stopped.counts), self._counts
        for name in sorted(said.keys() | seen.keys()):
            if said.get(name, 0) != seen.get(name, 0):
                self._problems.add(
                    f"channel {name!r}: {said.get(name, 0)} readings said at the end, "
                    f"{seen.get(name, 0)} found"
                )
