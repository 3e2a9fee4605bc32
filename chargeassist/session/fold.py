"""Which ticks fire, and when: one rule for live, resumed and replayed sessions.

A record holds events and verdicts but no ticks. That a replay gives the verdicts of the live run
bit for bit rests on this: every tick up to an event's time fires before the event, except across
the time a program was away (``SessionResumed``), when nobody was there to tick.
"""

from collections.abc import Iterator

from chargeassist.guide.assistant import Assistant
from chargeassist.model.events import InputEvent, VerdictEvent
from chargeassist.model.reading_run import ReadingRun

LONGEST_LEAP_S = 7 * 86_400.0
"""A longer leap [s] between two events is not ticked through: no session has one, a damaged record
may."""


class Fold:
    """Feeds one assistant.

    Parameters
    ----------
    assistant : Assistant
    """

    def __init__(self, assistant: Assistant) -> None:
        self._assistant = assistant
        self._t = 0.0

    def reach(self, t: float) -> tuple[VerdictEvent, ...]:
        """Let time come to `t` [s] and return the verdicts of the ticks on the way."""
        if t - self._t > LONGEST_LEAP_S:
            return ()
        self._t = max(self._t, t)
        return self._assistant.advance(t)

    def take(self, event: InputEvent) -> tuple[VerdictEvent, ...]:
        """Take an event and return the verdicts up to its time and of itself."""
        self._t = max(self._t, event.t)
        return self._assistant.step(event)

    def steps(self, run: ReadingRun) -> Iterator[tuple[VerdictEvent, ...]]:
        """Take readings that follow one another and yield the verdicts of each tick among them."""
        self._t = max(self._t, max(run.times))
        return self._assistant.steps(run)
