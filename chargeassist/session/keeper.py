"""Keep a session's record: commit often, off the event loop, and tell when the disk refuses.

A disk that refuses is an event like a lost source, named "record": the session goes on, what cannot
be written waits in memory, and the record says so as soon as it can be written again. A session
that ends meanwhile waits for the disk, if there is someone who can be told and can give it up.
"""

import asyncio
import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from chargeassist.guide.trouble_wording import RECORDER
from chargeassist.model.errors import RecordError
from chargeassist.model.events import Event, SessionStopped, SourceBack, SourceLost
from chargeassist.model.text import plain
from chargeassist.session.intake import Intake
from chargeassist.session.record.store import RecordBlockedError
from chargeassist.session.source import Clock

COMMIT_EVERY_S = 0.5
AHEAD_ROWS = 20_000
"""Rows that may come while one commit lasts before a source without pace waits for it: a tenth of
what a session file keeps in memory before readings are let go."""


UNATTENDED_S = 30.0
"""How long a session that something ends, and nobody, waits for a disk that refuses its end [s]."""


class Recorder(Protocol):
    """Where a session is written; `chargeassist.session.record.store.SessionWriter` is one."""

    @property
    def path(self) -> Path | None:
        """Where it is now; None where it is not in a file."""
        ...

    def append(self, event: Event) -> None:
        """Take one event as the next row."""
        ...

    def commit(self) -> None:
        """Make what was taken durable; RecordError while the disk refuses."""
        ...

    def close(self, stopped: SessionStopped) -> bool:
        """Write the last event and close; RecordError while the disk refuses."""
        ...

    def abandon(self) -> None:
        """Let go without an end."""
        ...


class RecordKeeper:
    """The recorder of one session, or none.

    Parameters
    ----------
    recorder : Recorder or None
        None keeps nothing.
    """

    def __init__(self, recorder: Recorder | None) -> None:
        self._recorder = recorder
        self._lost = False
        self._came_meanwhile = 0
        self._committed = asyncio.Event()
        self._committed.set()
        self._tell: Callable[[str], None] | None = None
        self._given_up = asyncio.Event()

    @property
    def path(self) -> str | None:
        """Where it is kept now; None where nothing is."""
        path = None if self._recorder is None else self._recorder.path
        return None if path is None else str(path)

    def append(self, event: Event) -> None:
        """Take one event."""
        if self._recorder is not None:
            self._recorder.append(event)
            self._came_meanwhile += 1

    async def caught_up(self) -> None:
        """Return when the record is not far behind; a disk that refuses is not waited for."""
        if self._came_meanwhile >= AHEAD_ROWS and not self._lost:
            await self._committed.wait()

    async def keep_committing(self, intake: Intake, clock: Clock) -> None:
        """Commit again and again until cancelled; returns at once where nothing is kept.

        Parameters
        ----------
        intake : Intake
            Told when the disk refuses and when it takes the record again.
        clock : Clock
        """
        while self._recorder is not None:
            await asyncio.sleep(COMMIT_EVERY_S)
            self._came_meanwhile = 0
            self._committed.clear()
            try:
                await asyncio.to_thread(self._recorder.commit)
            except RecordError as error:
                if not self._lost:
                    self._lost = True
                    reason = plain(_why(error), 200)
                    intake.put(SourceLost(t=clock.now(), source=RECORDER, reason=reason))
                continue
            finally:
                self._committed.set()
            if self._lost:
                self._lost = False
                intake.put(SourceBack(t=clock.now(), source=RECORDER))

    def commit_what_came(self) -> None:
        """Commit once; a disk that refuses is not told, for the session is failing already."""
        if self._recorder is not None:
            with contextlib.suppress(RecordError):
                self._recorder.commit()

    def wait_for_disk(self, tell: Callable[[str], None]) -> None:
        """Let `close` wait for a disk that refuses, and `tell` each time why, until `give_up`."""
        self._tell = tell

    def give_up(self) -> None:
        """Let `close` try once more and then no longer."""
        self._given_up.set()

    async def close(self, stopped: SessionStopped) -> None:
        """Write the last event and close; tries twice, or for as long as `wait_for_disk` says.

        Raises
        ------
        RecordError
            If the disk still refuses; what was committed stands.
        """
        if self._recorder is None:
            return
        last_try = False
        while True:
            try:
                await asyncio.to_thread(self._recorder.close, stopped)
            except RecordError as error:
                if last_try:
                    raise
                last_try = self._tell is None or self._given_up.is_set()
                if self._tell is not None and not last_try:
                    self._tell(_why(error))
            else:
                return
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._given_up.wait(), COMMIT_EVERY_S)

    def abandon(self) -> None:
        """Let go of the file; without effect after `close`."""
        if self._recorder is not None:
            self._recorder.abandon()


def _why(error: RecordError) -> str:
    """Return what is wrong and what to do, without the path, which everybody is shown anyway."""
    if isinstance(error, RecordBlockedError):
        return f"{error.advice}; until then {error.waiting} rows wait in memory"
    return str(error)
