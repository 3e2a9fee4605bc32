"""Sessions of the demonstration, played and read back."""

import asyncio
import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from chargeassist.model.events import Event, SessionStarted
from chargeassist.model.job import Job
from chargeassist.session import opening
from chargeassist.session.compare import VerdictComparison
from chargeassist.session.job.demo import demo_job
from chargeassist.session.opening import open_replay
from chargeassist.session.record.codec import encode_event
from chargeassist.session.record.package import open_record
from chargeassist.session.record.store import SessionWriter

LENGTH_S = 420
NOW = dt.datetime(2026, 5, 4, 8, 15, tzinfo=dt.UTC)
"""What the wall clock of `live_again` shows: it stands, however busy the machine is."""


def demo(length_s: int = LENGTH_S, seed: int = 7) -> Job:
    """The demonstration job, shorter."""
    job = demo_job("library", seed)
    (source,) = job.sources
    address, _, query = source.url.partition("?")
    url = f"{address}?{query}&length={length_s}s"
    return replace(job, sources=(replace(source, url=url),))


def play(opened: opening.Opened) -> None:
    asyncio.run(asyncio.wait_for(opened.session.run(lambda snapshot: None), 60.0))


def events_of(path: Path) -> list[Event]:
    with open_record(path) as record:
        return list(record.events())


def lines_of(events: Sequence[Event]) -> list[str]:
    return [f"{e.t!r} {encode_event(e)}" for e in events]


def check_replay(path: Path, speed: float | None = None) -> int:
    """Assert that a replay gives the recorded verdicts; return how many."""
    comparison = VerdictComparison(path)
    play(open_replay(path, speed=speed, listeners=[comparison]))
    assert comparison.differences() == ()
    return comparison.compared


def cut(rows: Sequence[Event], count: int, path: Path, started_utc: str) -> None:
    """Write the first `count` of `rows` as a program that was killed would have."""
    first = rows[0]
    assert isinstance(first, SessionStarted)
    writer = SessionWriter.create(path, replace(first, started_utc=started_utc))
    for event in rows[1:count]:
        writer.append(event)
    writer.commit()
    writer.abandon()


def ago(seconds: float) -> str:
    """Return the date and time so long before `NOW`."""
    return (NOW - dt.timedelta(seconds=seconds)).isoformat()
