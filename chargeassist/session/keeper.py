"""Keep a session's record: commit often, off the event loop, and tell when the disk refuses.

A disk that refuses is an event like a lost source, named "record": the session goes on, what cannot
be written waits in memory, and the record says so as soon as it can be written again.
"""

import asyncio
import contextlib
from typing import Protocol

from chargeassist.guide.trouble import RECORDER
from chargeassist.model.errors import RecordError
from chargeassist.model.events import Event, SessionStopped, SourceBack, SourceLost
from chargeassist.model.text import plain
from chargeassist.session.intake import Intake
from chargeassist.session.source import Clock

COMMIT_EVERY_S = 0.5


class Recorder(Protocol):
    """Where a session is written; `chargeassist.session.record.store.SessionWriter` is one."""

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

    def append(self, event: Event) -> None:
        """Take one event."""
        if self._recorder is not None:
            self._recorder.append(event)

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
            try:
                await asyncio.to_thread(self._recorder.commit)
            except RecordError as error:
                if not self._lost:
                    self._lost = True
                    reason = plain(str(error), 200)
                    intake.put(SourceLost(t=clock.now(), source=RECORDER, reason=reason))
                continue
            if self._lost:
                self._lost = False
                intake.put(SourceBack(t=clock.now(), source=RECORDER))

    def commit_what_came(self) -> None:
        """Commit once; a disk that refuses is not told, for the session is failing already."""
        if self._recorder is not None:
            with contextlib.suppress(RecordError):
                self._recorder.commit()

    async def close(self, stopped: SessionStopped) -> None:
        """Write the last event and close, trying twice.

        Raises
        ------
        RecordError
            If the disk still refuses; what was committed stands.
        """
        if self._recorder is None:
            return
        try:
            await asyncio.to_thread(self._recorder.close, stopped)
        except RecordError:
            await asyncio.sleep(COMMIT_EVERY_S)
            await asyncio.to_thread(self._recorder.close, stopped)

    def abandon(self) -> None:
        """Let go of the file; without effect after `close`."""
        if self._recorder is not None:
            self._recorder.abandon()
