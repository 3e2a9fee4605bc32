"""A recording on the instructor's desk: pause, pace, go to any moment, bookmark and note.

Going ahead is the replay run unpaced to that time; going back is the replay begun anew and run
unpaced up to it. Nothing is left out either way, so what is shown at a moment is what a replay
from the start shows there.
"""

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import Unpack

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import MarkKind, Outcome, SessionMode
from chargeassist.model.job import Job
from chargeassist.model.mark_event import MarkDetails
from chargeassist.session.opening import Opened, open_replay
from chargeassist.trainer.moments import Moment, moments
from chargeassist.trainer.sidecar import Entry, EntryKind, Sidecar


class ReplayDesk:
    """A replay that can be moved about in; offers what a dashboard asks of a session, and more.

    Parameters
    ----------
    path : Path
        A session file or a package folder.
    speed : float or None
        To begin with; None for as fast as possible.

    Raises
    ------
    RecordError, SourceError
        The recording, or the notes beside it, cannot be read.

    Attributes
    ----------
    moments : tuple of Moment
        Of the recording, by time.
    started : SessionStarted
        First event of the recording.
    """

    def __init__(self, path: Path, speed: float | None = 1.0) -> None:
        self._path = path
        opened = open_replay(path, speed=speed)
        self._session = opened.session
        self.started = opened.started
        self.moments: tuple[Moment, ...] = moments(path)
        self._sidecar = Sidecar(path, self.started.session_id)
        self._back_t: float | None = None
        self._paused_before = False
        self._stopping = False
        self._moved = asyncio.Event()

    @property
    def job(self) -> Job:
        """The job that was charged."""
        return self._session.job

    @property
    def mode(self) -> SessionMode:
        """Whether readings were measured or simulated."""
        return self._session.mode

    @property
    def replayed(self) -> bool:
        """True."""
        return True

    @property
    def record_path(self) -> None:
        """A replay is not recorded."""
        return

    @property
    def can_pause(self) -> bool:
        """True."""
        return True

    @property
    def paused(self) -> bool:
        """Whether time is being held."""
        return self._session.paused

    @property
    def speed(self) -> float | None:
        """Recorded seconds per second; None for as fast as possible."""
        return self._session.speed

    @property
    def now(self) -> float:
        """Session time [s]."""
        return self._session.now if self._back_t is None else self._back_t

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Bookmarks and notes, by time."""
        return self._sidecar.entries

    @property
    def notes_path(self) -> Path:
        """The file they are kept in."""
        return self._sidecar.path

    def toggle_pause(self) -> None:
        """Hold time, or let it go on."""
        self._session.toggle_pause()

    def change_speed(self, change: int) -> None:
        """Take the next faster (1) or slower (-1) pace."""
        self._session.change_speed(change)

    def mark(self, kind: MarkKind, **told: Unpack[MarkDetails]) -> None:
        """Refuse: what was recorded stays as it is.

        Raises
        ------
        ConfigError
            Always.
        """
        raise ConfigError(f"a recording takes no mark such as {kind.value}")

    def keep(self, kind: EntryKind, text: str = "", t: float | None = None) -> None:
        """Keep a bookmark or a note beside the recording, at the present time or at `t` [s].

        Raises
        ------
        RecordError
            Their file cannot be written.
        """
        self._sidecar.add(Entry(round(self.now if t is None else t, 3), kind, text))

    def go_to(self, t: float) -> None:
        """Go to session time `t` [s], ahead or back; returns at once."""
        t = max(0.0, t)
        if t >= self._session.now and self._back_t is None:
            self._session.rush_to(t)
            return
        if self._back_t is None:
            self._paused_before = self._session.paused  # ending it lets go of the pause
        self._back_t = t
        self._session.end(Outcome.ABANDONED, "gone back")
        self._moved.set()

    def neighbour(self, change: int) -> float | None:
        """Return the time of the next moment or bookmark ahead (1) or back (-1) [s], if any.

        Going back shortly after a moment leads to the one before it: who goes back twice wants to
        get further back.
        """
        times = sorted({m.t for m in self.moments} | {e.t for e in self.entries})
        if change > 0:
            # What is seen at a moment is seen at the tick after it.
            return next((t for t in times if t > self.now + 1e-6), None)
        reach_s = 0.5 if self.paused else 3.0 * max(1.0, self.speed or 1.0)
        before = [t for t in times if t < self.now - reach_s]
        return before[-1] if before else (0.0 if self.now > 0.0 else None)

    def step(self, number: int) -> float | None:
        """Return when charge step `number` begins [s], None if there is none."""
        return next((moment.t for moment in self.moments if moment.step == number), None)

    async def run(self, on_snapshot: Callable[[Snapshot], None]) -> None:
        """Play until told to stop; at the end of the recording wait, for it may be gone back."""
        while True:
            await self._session.run(lambda snapshot: self._pass_on(snapshot, on_snapshot))
            while self._back_t is None and not self._stopping:
                self._moved.clear()
                await self._moved.wait()
            if self._stopping or self._back_t is None:
                return
            self._session = self._again(self._back_t).session
            self._back_t = None

    def wait_for_disk(self, tell: Callable[[str], None]) -> None:
        """Do nothing: a replay is not recorded."""

    def give_up(self) -> None:
        """Do nothing: a replay is not recorded."""

    def break_off(self) -> None:
        """Do nothing: `stop` ends a replay, for nothing of it is resumed."""

    async def stop(self, outcome: Outcome) -> None:
        """End the replay."""
        self._stopping = True
        self._moved.set()
        await self._session.stop(outcome)

    def _pass_on(self, snapshot: Snapshot, on_snapshot: Callable[[Snapshot], None]) -> None:
        if self._back_t is None:
            on_snapshot(snapshot)

    def _again(self, t: float) -> Opened:
        paused, speed = self._paused_before, self._session.speed
        opened = open_replay(self._path, speed=speed)
        if paused:
            opened.session.toggle_pause()
        opened.session.rush_to(t)
        return opened
