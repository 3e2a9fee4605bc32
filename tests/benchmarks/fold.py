"""How fast recorded readings become verdicts: ``python tests/benchmarks/fold.py``.

A simulated one-hour session of ten channels at 1 Hz is written once as a session file and as a Data
Package, then read and folded into verdicts again. The baseline of the same run is pandas: rolling
mean and standard deviation over 60 s of the same ten columns, once for the whole table at once and
once as a live program would have to do it, for each new second. Ratios count; times are of a shared
machine.
"""

import asyncio
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd

from chargeassist.guide.assistant import Assistant
from chargeassist.model.events import (
    Event,
    InputEvent,
    Reading,
    SessionMode,
    SessionStarted,
    SessionStopped,
    VerdictEvent,
)
from chargeassist.session.demo import demo_job
from chargeassist.session.opening import started_now
from chargeassist.session.pilot import Pilot
from chargeassist.session.plugins import make_source
from chargeassist.session.record.package import open_record, write_package
from chargeassist.session.record.store import SessionWriter
from chargeassist.session.runner import Session

HOUR_S = 3600.0
RUNS = 5


class _Hour(Pilot):
    """The scripted technician, who stays for the whole hour."""

    @property
    def finished(self) -> bool:
        return False

    @finished.setter
    def finished(self, value: bool) -> None:
        pass


def record_hour(folder: Path) -> tuple[Path, Path]:
    """Return the session file and the package folder of one simulated hour."""
    job = demo_job("library")
    job = replace(job, sources=(replace(job.sources[0], url=job.sources[0].url + "&rate=1Hz"),))
    path = folder / "hour.session"
    writer = SessionWriter.create(path, started_now(job, SessionMode.SIMULATED))
    session = Session(
        Assistant(job, SessionMode.SIMULATED),
        [make_source(spec, folder) for spec in job.sources],
        recorder=writer,
        speed=None,
        attendant=_Hour(),
    )
    asyncio.run(session.run(lambda snapshot: None))
    with open_record(path) as record:
        write_package(record.events(), folder / "hour")
    return path, folder / "hour"


def seconds(work: Callable[[], object]) -> float:
    """Return the median time of `work` over the runs [s]."""
    times = []
    for _ in range(RUNS):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return statistics.median(times)


def read(path: Path) -> list[Event]:
    """Return every event of the record at `path`."""
    with open_record(path) as record:
        return list(record.events())


def fold(events: Sequence[InputEvent]) -> None:
    """Fold events into verdicts."""
    assistant = Assistant(demo_job("library"), SessionMode.SIMULATED)
    for event in events:
        assistant.step(event)


def table_of(events: list[Event]) -> pd.DataFrame:
    """Return the readings as a table, one row a second, one column a channel."""
    readings = [event for event in events if isinstance(event, Reading)]
    frame = pd.DataFrame(
        {
            "t": [event.t for event in readings],
            "channel": [event.channel for event in readings],
            "value": [event.value for event in readings],
        }
    )
    return frame.pivot_table(index="t", columns="channel", values="value")


def rolling(frame: pd.DataFrame) -> None:
    """Rolling statistics of the whole table at once."""
    frame.rolling(60).mean()
    frame.rolling(60).std()


def rolling_live(frame: pd.DataFrame, ticks: int) -> None:
    """Statistics of the newest window for each new second, as a live program needs them."""
    for end in range(60, 60 + ticks):
        window = frame.iloc[end - 60 : end]
        window.mean()
        window.std()


def main() -> int:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        path, package = record_hour(Path(name))
        events = read(path)
        span_s = events[-1].t
        inputs = [
            event
            for event in events
            if not isinstance(event, VerdictEvent | SessionStarted | SessionStopped)
        ]
        channels = len({event.channel for event in events if isinstance(event, Reading)})
        readings = sum(isinstance(event, Reading) for event in events)
        folding = seconds(lambda: fold(inputs))
        from_file = seconds(lambda: read(path))
        from_package = seconds(lambda: read(package))
        frame = table_of(events)
        at_once = seconds(lambda: rolling(frame))
        ticks = 300
        live = seconds(lambda: rolling_live(frame, ticks)) / ticks * span_s
    print(f"{span_s:.0f} s of session, {channels} channels, {readings} readings; medians of {RUNS}")
    print(f"{'':34}{'s':>9}{'x real time':>14}{'us a second':>14}")
    for what, took in (
        ("read the session file", from_file),
        ("read the Data Package", from_package),
        ("fold into verdicts", folding),
        ("session file to verdicts", from_file + folding),
        ("Data Package to verdicts", from_package + folding),
        ("pandas rolling, whole table", at_once),
        ("pandas rolling, second by second", live),
    ):
        print(f"{what:34}{took:9.3f}{span_s / took:14.0f}{1e6 * took / span_s:14.1f}")
    print(f"fold / pandas second by second: {folding / live:.3f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
