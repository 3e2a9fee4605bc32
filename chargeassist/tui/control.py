"""What the dashboard asks of a running session; the dashboard knows nothing else about it."""

from collections.abc import Callable
from typing import Protocol, Unpack

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import MarkKind, Outcome, SessionMode
from chargeassist.model.job import Job
from chargeassist.model.mark_event import MarkDetails


class SessionControl(Protocol):
    """One session as the dashboard steers it: live, simulated or replayed alike.

    The dashboard calls `run` once, in a task on its own event loop, and everything else from the
    same loop; nothing here has to be thread-safe.
    """

    @property
    def job(self) -> Job:
        """The job being charged."""

    @property
    def mode(self) -> SessionMode:
        """Whether readings are measured or simulated."""

    @property
    def replayed(self) -> bool:
        """Whether this is a recording played again."""

    @property
    def record_path(self) -> str | None:
        """Where the session is being recorded; None when it is not."""

    @property
    def can_pause(self) -> bool:
        """Whether time can be held: True for replays and the simulator only."""

    @property
    def paused(self) -> bool:
        """Whether time is being held."""

    @property
    def speed(self) -> float | None:
        """Session seconds per second; None for as fast as possible."""

    async def run(self, on_snapshot: Callable[[Snapshot], None]) -> None:
        """Run the session to its end.

        Parameters
        ----------
        on_snapshot : callable
            Called with each new snapshot, from the event loop's thread; it returns at once and
            never raises.

        Raises
        ------
        Exception
            Whatever ends the session early; the dashboard shows its text.
        """

    def mark(self, kind: MarkKind, **told: Unpack[MarkDetails]) -> None:
        """Put what the technician did into the session, at its present time.

        Parameters
        ----------
        kind : MarkKind
        **told
            What the kind of mark needs told of it.

        Raises
        ------
        ConfigError
            Where it cannot be, as a reading from the future.
        """

    def toggle_pause(self) -> None:
        """Hold time, or let it go on; does nothing where `can_pause` is False."""

    def change_speed(self, change: int) -> None:
        """Take the next faster (1) or slower (-1) pace; nothing where `can_pause` is False."""

    def wait_for_disk(self, tell: Callable[[str], None]) -> None:
        """Let the end wait for a disk that refuses it.

        Parameters
        ----------
        tell : callable
            Called each time it refuses, with what is wrong and what to do.
        """

    def give_up(self) -> None:
        """Wait no longer for the disk: what is not written by now is lost."""

    def break_off(self) -> None:
        """End because the terminal was closed; a live session can then be resumed."""

    async def stop(self, outcome: Outcome) -> None:
        """End the session with `outcome`; returns when everything is recorded and `run` has ended.

        Parameters
        ----------
        outcome : Outcome
        """
