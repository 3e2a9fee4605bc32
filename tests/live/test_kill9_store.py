"""A writer killed at any moment loses nothing it has said is committed.

The writer is a process of its own that records 8 channels at 10 Hz, faster than life, commits once
per recorded second and prints the number of the last committed row. It is killed with SIGKILL at 20
moments; that tests the death of the process, not of the power.
"""

import os
import random
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from chargeassist.model.events import (
    Mark,
    MarkKind,
    Outcome,
    Reading,
    SessionResumed,
    SessionStopped,
)
from chargeassist.session.record.store import SessionReader, SessionWriter

WRITER = """
import sys, time
from pathlib import Path
from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import ChannelDeclared, Reading, SessionMode, SessionStarted
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.session.record.codec import job_to_json
from chargeassist.session.record.store import SessionWriter

path, pause_s = Path(sys.argv[1]), float(sys.argv[2])
roles = list(Role)[:8]
if path.exists():
    writer, t = SessionWriter.resume(path)
    second = int(t) + 1
else:
    job = Job(name="invented", refrigerant="R-32",
              target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented plate"),
              charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11), site=Site(altitude_m=210.0))
    writer = SessionWriter.create(path, SessionStarted(
        t=0.0, session_id="0" * 32, started_utc="2026-05-04T08:15:00Z", software="test",
        table_hash="0" * 64, mode=SessionMode.SIMULATED, job=job_to_json(job)))
    for role in roles:
        writer.append(ChannelDeclared(t=0.0, channel=Channel(name=role.value, role=role, unit="x")))
    second = 0
while True:
    for tick in range(10):
        for number, role in enumerate(roles):
            writer.append(Reading(t=second + tick / 10, channel=role.value,
                                  value=float(writer.last_seq + 1)))
        time.sleep(pause_s)
    writer.commit()
    print(writer.last_seq, flush=True)
    second += 1
"""


class Killed:
    """What one life of the writer said before it was killed `after_s` from its first commit."""

    def __init__(self, path: Path, after_s: float) -> None:
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), "0.0002"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as process:
            assert process.stdout is not None
            assert process.stderr is not None
            said = [process.stdout.readline()]
            timer = threading.Timer(after_s, os.kill, (process.pid, signal.SIGKILL))
            timer.start()
            said += process.stdout.readlines()
            timer.join()
            self.complaint = process.stderr.read()
        self.code = process.returncode
        # The last line may be cut off by the kill: then it was not said.
        self.acknowledged = [int(line) for line in said if line.endswith("\n")]


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL")
def test_killed_writer_loses_nothing_it_acknowledged(tmp_path: Path) -> None:
    rng = random.Random(9)
    lives = 0
    rows_before = 0
    path = tmp_path / "0.session"
    for number in range(20):
        if number % 4 == 0:  # five sessions, each killed four times
            path = tmp_path / f"{number}.session"
            rows_before = 0
        life = Killed(path, rng.uniform(0.0, 0.25))
        assert life.code == -signal.SIGKILL, life.complaint
        lives += len(life.acknowledged)
        with SessionReader(path) as reader:
            rows = list(reader.rows())
            report = reader.verify()
        assert report.ok, report.problems
        assert not report.finished
        assert life.acknowledged, "the writer was killed before it said anything"
        assert len(rows) >= life.acknowledged[-1] > rows_before
        # At most the one commit that was being acknowledged is there beyond what was said.
        assert len(rows) <= life.acknowledged[-1] + 80
        assert [r.seq for r in rows] == list(range(1, len(rows) + 1))
        for row in rows:
            event = row.event()
            if isinstance(event, Reading):
                assert event.value == row.seq
        rows_before = len(rows)

        if number % 4 == 3:
            writer, last_t = SessionWriter.resume(path)
            writer.append(SessionResumed(t=last_t, away_s=1.0))
            writer.append(Mark(t=last_t, kind=MarkKind.NOTE, text="went on"))
            assert writer.close(SessionStopped(t=last_t, outcome=Outcome.COMPLETE))
            with SessionReader(path) as reader:
                report = reader.verify()
                assert report.ok, report.problems
                assert report.finished
                assert report.rows == len(rows) + 3
            assert not path.with_name(path.name + "-wal").exists()
    assert lives >= 20
