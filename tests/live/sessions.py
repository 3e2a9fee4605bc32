"""Whole sessions over real peers: begun from a job file, watched, and held to their own record."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import (
    Event,
    Outcome,
    Reading,
    SourceBack,
    SourceLost,
    VerdictEvent,
)
from chargeassist.session.compare import VerdictComparison
from chargeassist.session.job.jobfile import load_job
from chargeassist.session.opening import open_new, open_replay
from chargeassist.session.record.store import SessionReader
from tests.short_job import SHORT_JOB

PERIOD_S = 0.5
MAX_AGE_S = 1.0

JOB = f"""{SHORT_JOB}
[processing]
period = "{PERIOD_S} s"
"""
"""A job to which the probes are to be added."""

HANGS_S = 30.0


async def until(holds: Callable[[], object], within_s: float = HANGS_S) -> None:
    """Return once `holds`; what is waited for has no event of its own."""
    async with asyncio.timeout(within_s):
        while not holds():  # noqa: ASYNC110
            await asyncio.sleep(0.02)


class Watched:
    """A session that runs, and what it has told so far.

    Attributes
    ----------
    told : list of Event
    shown : list of Snapshot
    record : Path
    """

    def __init__(self, sources: str, folder: Path) -> None:
        path = folder / "job.toml"
        path.write_text(JOB + sources, encoding="utf-8")
        self.told: list[Event] = []
        self.shown: list[Snapshot] = []
        self.record = folder / "a.session"
        self.session = open_new(
            load_job(path), folder, record=self.record, listeners=[self.told.append]
        ).session

    def values(self, channel: str, since: float = -1.0) -> list[float]:
        """Return what was read of `channel` after `since` [s]."""
        return [
            e.value
            for e in self.told
            if isinstance(e, Reading) and e.channel == channel and e.t > since
        ]

    def said(self, kind: type[SourceLost | SourceBack], source: str) -> list[float]:
        """Return when `source` was lost or came back [s]."""
        return [e.t for e in self.told if isinstance(e, kind) and e.source == source]

    async def heard_anew(self, *channels: str) -> None:
        """Return once each of `channels` has been read again."""
        now = self.session.now
        await until(lambda: all(self.values(channel, now) for channel in channels))

    async def shown_for(self, seconds: float) -> None:
        """Return once the moments that are shown have gone on by so much session time [s]."""
        t = self.session.now + seconds
        await until(lambda: self.shown and self.shown[-1].t >= t, HANGS_S + 2.0 * seconds)


@asynccontextmanager
async def watched(sources: str, folder: Path) -> AsyncIterator[Watched]:
    """Run a session with `sources` and end it as complete."""
    here = Watched(sources, folder)
    running = asyncio.create_task(here.session.run(here.shown.append))
    try:
        yield here
        assert not running.done()
        await here.session.stop(Outcome.COMPLETE)
        await running
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)


def whole_record(path: Path) -> list[Event]:
    """Return the events of a record that is finished and contradicts itself in nothing."""
    with SessionReader(path) as reader:
        report = reader.verify()
        assert report.ok, report.problems
        assert report.finished
        return list(reader.events())


def quiet_while_away(here: Watched, source: str, lost_t: float, back_t: float) -> list[Snapshot]:
    """Return what was shown while `source` was away and its readings too old; each says so."""
    quiet = [s for s in here.shown if lost_t + MAX_AGE_S + 2 * PERIOD_S <= s.t <= back_t - PERIOD_S]
    assert all(
        any(c.cause == "source_lost" and c.subject == source for c in s.cautions) for s in quiet
    )
    return quiet


async def replays_the_same(record: Path) -> None:
    """Assert that replays at full speed and at 20 times give the live verdicts, bit for bit."""
    live = [e for e in whole_record(record) if isinstance(e, VerdictEvent)]
    for speed in (None, 20.0):
        comparison = VerdictComparison(record)
        replayed: list[Event] = []
        opened = open_replay(record, speed=speed, listeners=[comparison, replayed.append])
        await asyncio.wait_for(opened.session.run(lambda snapshot: None), 60.0)
        assert comparison.differences() == ()
        assert comparison.compared >= 2
        assert [e for e in replayed if isinstance(e, VerdictEvent)] == live
