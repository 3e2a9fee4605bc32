"""How fast recorded readings become verdicts: ``python tests/benchmarks/fold.py``.

Simulated sessions at 1 Hz are written as session files and as a Data Package, then read and folded
into verdicts again, as a replay does. Printed are the multiple of real time and the work for each
second of a session, how it grows with channels and length, and the most memory that was held.

The baseline of the same run is pandas: rolling mean and standard deviation over 60 s of the same
columns, once for the whole table at once and once as a live program would have to do it, for each
new second. Ratios count; times are processor time on a shared machine.
"""

import statistics
import sys
import tempfile
import time
import tracemalloc
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from chargeassist.guide.assistant import Assistant
from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import (
    ChannelDeclared,
    Event,
    InputEvent,
    Outcome,
    Reading,
    SessionMode,
    SessionStopped,
    VerdictEvent,
)
from chargeassist.model.reading_run import ReadingRun
from chargeassist.session.job.demo import demo_job
from chargeassist.session.record.package import open_record, write_package
from chargeassist.session.record.store import SessionWriter
from tests.benchmarks.simulated_session import simulated_session

HOUR_S = 3600.0
LONGEST_H = 8
RUNS = 5


def copies(channels: Sequence[Channel], count: int) -> dict[str, list[Channel]]:
    """Return `count` channels in all, by the name of the one whose readings they repeat.

    Of more than that the supply air and then the last declared are left out.
    A copy takes a role of its quantity that is still free; where there is none it is one more
    channel of the same role.
    """
    channels = sorted(channels, key=lambda each: each.role is Role.SUPPLY_AIR_TEMPERATURE)[:count]
    found = {channel.name: [channel] for channel in channels}
    free = [role for role in Role if role not in {channel.role for channel in channels}]
    for number in range(count - len(channels)):
        first = channels[number % len(channels)]
        role = next((each for each in free if each.quantity is first.quantity), first.role)
        if role is not first.role and role is not Role.BAROMETER:
            free.remove(role)
        else:
            role = first.role
        copy = replace(first, name=f"{first.name}_{number}", role=role)
        found[first.name].append(copy)
    return found


def session(events: Sequence[Event], count: int, hours: int) -> Iterator[Event]:
    """Yield a session of `count` channels and so many hours, cut from the longest, without end."""
    declared = [event.channel for event in events if isinstance(event, ChannelDeclared)]
    named = copies(declared, count)
    for event in events:
        if isinstance(event, SessionStopped | VerdictEvent) or event.t > hours * HOUR_S:
            continue
        if isinstance(event, ChannelDeclared):
            for channel in named.get(event.channel.name, ()):
                yield ChannelDeclared(t=event.t, channel=channel)
        elif isinstance(event, Reading):
            for channel in named.get(event.channel, ()):
                yield replace(event, channel=channel.name)
        else:
            yield event


def write(events: Iterator[Event], path: Path) -> None:
    """Write a session file."""
    writer = SessionWriter.create(path, next(events))  # type: ignore[arg-type]
    counts: Counter[str] = Counter()
    last_t = 0.0
    for number, event in enumerate(events):
        writer.append(event)
        last_t = event.t
        if isinstance(event, Reading):
            counts[event.channel] += 1
        if number % 4096 == 0:
            writer.commit()
    writer.close(SessionStopped(t=last_t, outcome=Outcome.COMPLETE, counts=counts))


def seconds(work: Callable[[], object]) -> float:
    """Return the median processor time of `work` over the runs [s]."""
    times = []
    for _ in range(RUNS):
        begun = time.process_time()
        work()
        times.append(time.process_time() - begun)
    return statistics.median(times)


def read(path: Path) -> None:
    """Go through every event of the record at `path`."""
    with open_record(path) as record:
        for _ in record.runs():
            pass


def inputs(path: Path) -> list[InputEvent]:
    """Return the input events of the record at `path`."""
    with open_record(path) as record:
        return [event for event in record.events() if not isinstance(event, VerdictEvent)]


def fold(events: Sequence[InputEvent]) -> None:
    """Fold events into verdicts."""
    assistant = Assistant(demo_job("library"), SessionMode.SIMULATED)
    for event in events:
        assistant.step(event)


def to_verdicts(path: Path) -> int:
    """Return how many verdicts the record at `path` gives, read and folded as it is read."""
    verdicts = 0
    with open_record(path) as record:
        assistant = Assistant(record.job, SessionMode.SIMULATED)
        for event in record.runs():
            if isinstance(event, ReadingRun):
                verdicts += sum(map(len, assistant.steps(event)))
            elif not isinstance(event, VerdictEvent):
                verdicts += len(assistant.step(event))
    return verdicts


def verdicts_of(path: Path) -> list[VerdictEvent]:
    """Return the verdicts the record at `path` gives."""
    with open_record(path) as record:
        assistant = Assistant(record.job, SessionMode.SIMULATED)
        return [
            verdict
            for event in record.events()
            if not isinstance(event, VerdictEvent)
            for verdict in assistant.step(event)
        ]


def peak_mib(work: Callable[[], object]) -> float:
    """Return the most memory Python's objects took during `work`, over what was held before."""
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1] / 2**20
    finally:
        tracemalloc.stop()


def table_of(events: Sequence[InputEvent]) -> pd.DataFrame:
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


def print_costs(path: Path, package: Path) -> None:
    """Measure ten channels for an hour, beside pandas."""
    events = inputs(path)
    channels = len({event.channel for event in events if isinstance(event, Reading)})
    readings = sum(isinstance(event, Reading) for event in events)
    print(f"1 h at 1 Hz, {channels} channels, {readings} readings; medians of {RUNS}")
    print(f"{'':34}{'s':>9}{'x real time':>14}{'us a second':>14}{'of pandas':>12}")
    frame = table_of(events)
    ticks = 300
    live = seconds(lambda: rolling_live(frame, ticks)) / ticks * HOUR_S
    for what, took in (
        ("read the session file", seconds(lambda: read(path))),
        ("read the Data Package", seconds(lambda: read(package))),
        ("fold into verdicts", seconds(lambda: fold(events))),
        ("session file to verdicts", seconds(lambda: to_verdicts(path))),
        ("Data Package to verdicts", seconds(lambda: to_verdicts(package))),
        ("pandas rolling, whole table", seconds(lambda: rolling(frame))),
        ("pandas rolling, second by second", live),
    ):
        per_second_us = 1e6 * took / HOUR_S
        print(f"{what:34}{took:9.3f}{HOUR_S / took:14.0f}{per_second_us:14.1f}{took / live:12.2f}")


def print_growth(name: str, path: Path, channels: int, hours: int) -> None:
    """Measure one session file to verdicts."""
    took = seconds(lambda: to_verdicts(path))
    per_tick_us = 1e6 * took / (hours * HOUR_S)
    peak = peak_mib(lambda: to_verdicts(path))
    print(
        f"{name:34}{took:9.3f}{hours * HOUR_S / took:14.0f}{per_tick_us:14.1f}"
        f"{per_tick_us / channels:14.2f}{peak:10.1f}"
    )


def main() -> int:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        events = simulated_session(LONGEST_H, "2026-01-01T00:00:00Z")
        paths = {}
        for channels, hours in ((10, 1), (20, 1), (40, 1), (10, 4), (10, LONGEST_H)):
            paths[channels, hours] = folder / f"{channels}-{hours}.session"
            write(session(events, channels, hours), paths[channels, hours])
        del events
        with open_record(paths[10, 1]) as record:
            write_package(record.events(), folder / "hour")
        print_costs(paths[10, 1], folder / "hour")
        print()
        print(
            f"{'session file to verdicts':34}{'s':>9}{'x real time':>14}{'us a second':>14}"
            f"{'and channel':>14}{'peak MiB':>10}"
        )
        for (channels, hours), path in paths.items():
            print_growth(f"{channels} channels, {hours} h", path, channels, hours)
    return 0


if __name__ == "__main__":
    sys.exit(main())
