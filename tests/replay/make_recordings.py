"""Make recordings/ and the golden files anew: ``python tests/replay/make_recordings.py``.

Each recording is a demonstration job charged by the scripted technician on the simulator, with a
fixed start and identity, so that the same program makes the same bytes.
"""

import asyncio
import sys
from pathlib import Path

from chargeassist.cli.lines import Lines
from chargeassist.guide.assistant import Assistant
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Event, SessionMode, SessionStarted, SessionStopped
from chargeassist.model.job import Job
from chargeassist.physics.saturation import table_hash
from chargeassist.session.demo import demo_job
from chargeassist.session.opening import open_replay
from chargeassist.session.pilot import Pilot
from chargeassist.session.plugins import make_source
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.record.package import write_package
from chargeassist.session.runner import Session

ROOT = Path(__file__).resolve().parents[2]
RECORDINGS = ROOT / "recordings"
GOLDEN = Path(__file__).resolve().parent / "golden"

MADE = {
    "millrace-lane-library": ("library", "2026-05-04T08:10:00.000+00:00", "a1" * 16),
    "quarry-road-bakery": ("bakery", "2026-05-05T13:40:00.000+00:00", "b2" * 16),
}
"""Folder name: demonstration job, start, identity; all invented."""


class _Memory:
    """A recorder that keeps events in a list."""

    def __init__(self, started: SessionStarted) -> None:
        self.events: list[Event] = [started]
        self._counts: dict[str, int] = {}

    def append(self, event: Event) -> None:
        self.events.append(event)

    def commit(self) -> None:
        pass

    def close(self, stopped: SessionStopped) -> bool:
        self.events.append(stopped)
        return True

    def abandon(self) -> None:
        pass


def make(job: Job, started_utc: str, session_id: str) -> list[Event]:
    """Return every event of the session that `job` gives on the simulator."""
    started = SessionStarted(
        t=0.0,
        session_id=session_id,
        started_utc=started_utc,
        software="chargeassist",
        table_hash=table_hash(),
        mode=SessionMode.SIMULATED,
        job=job_to_json(job),
    )
    memory = _Memory(started)
    session = Session(
        Assistant(job, SessionMode.SIMULATED),
        [make_source(spec, ROOT) for spec in job.sources],
        recorder=memory,
        speed=None,
        attendant=Pilot(),
    )
    asyncio.run(session.run(lambda snapshot: None))
    return memory.events


def golden_lines(folder: Path) -> list[str]:
    """Return what a replay of `folder` says, line by line, in the job's units."""
    said: list[str] = []
    opened = open_replay(folder, speed=None, listeners=())
    job = opened.session.job
    lines = Lines(said.append, job, UnitSystem(job.units))
    opened = open_replay(folder, speed=None, listeners=(lines,))
    lines.begin(opened.started, replayed=True)
    asyncio.run(opened.session.run(lambda snapshot: None))
    return said


def main() -> int:
    """Write every recording and its golden file."""
    GOLDEN.mkdir(exist_ok=True)
    for name, (job, started_utc, session_id) in MADE.items():
        folder = RECORDINGS / name
        if folder.exists():
            for path in folder.iterdir():
                path.unlink()
            folder.rmdir()
        write_package(make(demo_job(job), started_utc, session_id), folder)
        text = "\n".join(golden_lines(folder)) + "\n"
        (GOLDEN / f"{name}.txt").write_text(text, encoding="utf-8")
        print(f"{folder.relative_to(ROOT)}: {len(text.splitlines())} lines")
    return 0


if __name__ == "__main__":
    sys.exit(main())
