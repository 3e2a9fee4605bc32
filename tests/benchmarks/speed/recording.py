"""What the benchmarks of wires share: a session that records to a file, and a look into that."""

import asyncio
import sqlite3
import time
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from chargeassist.guide.assistant import Assistant
from chargeassist.model.events import SessionMode
from chargeassist.session.job.demo import demo_job
from chargeassist.session.record.store import SessionWriter
from chargeassist.session.runner import Session
from chargeassist.session.scenario.simulate import simulated_start
from chargeassist.session.source import Source


def session_of(sources: Sequence[Source], path: Path) -> tuple[Session, SessionWriter]:
    """Return a session that records to `path`, and its writer.

    Of its own job it needs refrigerant and target.
    """
    job = replace(demo_job("library"), sources=())
    writer = SessionWriter.create(path, simulated_start(job, "2026-01-01T00:00:00Z", "0" * 32))
    assistant = Assistant(job, SessionMode.FIELD)
    return Session(assistant, sources, recorder=writer), writer


def recorded(path: Path) -> tuple[int, int]:
    """Return how many readings and how many different values are in a session file."""
    with closing(sqlite3.connect(path)) as db:
        found: tuple[int, int] = db.execute(
            "SELECT count(*), count(DISTINCT value) FROM readings"
        ).fetchone()
        return found


def let_go(path: Path) -> int:
    """Return how many readings a session file says were let go."""
    with closing(sqlite3.connect(path)) as db:
        dropped = "SELECT json_extract(body, '$.dropped') FROM events WHERE kind = 'gap'"
        return sum(count for (count,) in db.execute(dropped))


async def all_come(path: Path) -> float:
    """Return when the record last grew, after 3 s in which it did not."""
    found, grown = recorded(path)[0], time.perf_counter()
    while time.perf_counter() - grown < 3.0:
        await asyncio.sleep(0.1)
        if (now := recorded(path)[0]) > found:
            found, grown = now, time.perf_counter()
    return grown
