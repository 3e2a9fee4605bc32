"""What a fleet costs: ``python tests/benchmarks/fleet.py --sessions 1000 --distinct 20``.

One-hour sessions of ten channels at 1 Hz are simulated, written as session files, archived, added
to a dataset, audited and computed again; then the dataset is filled to `--readings` and asked every
named question, and a Dask cluster of one and of two worker processes computes sessions again. With
fewer `--distinct` hours than sessions the hours are used again under other identities and dates:
bytes and work are the same, the auditor sees copied readings. Beside the wall time stands the
processor time of this process and its children, which neighbours on the machine disturb less; the
last column is its ratio, per session, to the smallest run: 1 is linear.
"""

import argparse
import json
import os
import pickle
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from chargeassist.model.events import Event, SessionStarted, SessionStopped
from chargeassist.qa.archive import make_archive
from chargeassist.qa.audit import audit, crossed
from chargeassist.qa.audit_rules import Policy
from chargeassist.qa.fleet_add import add
from chargeassist.qa.fleet_query import QUESTIONS, FleetReader
from chargeassist.qa.fleet_recompute import on_cluster, recompute_all
from chargeassist.qa.fleet_store import FleetStore
from chargeassist.qa.fleet_tables import FleetTables, fleet_tables
from chargeassist.qa.many import each, records_under
from chargeassist.session.record.package import open_record
from chargeassist.session.record.store import SessionWriter
from tests.benchmarks.simulated_session import simulated_session


def another(events: list[Event], number: int) -> list[Event]:
    """Return the same hour under another identity, one of ten days."""
    started = events[0]
    assert isinstance(started, SessionStarted)
    day = f"2026-05-{number % 10 + 1:02d}T08:00:00.000+00:00"
    first = replace(started, session_id=f"{number:032x}", started_utc=day)
    return [first, *events[1:]]


def write_session(path: Path, events: list[Event]) -> None:
    """Write a session file with a commit a second, as a live session has."""
    started, stopped = events[0], events[-1]
    assert isinstance(started, SessionStarted)
    assert isinstance(stopped, SessionStopped)
    writer = SessionWriter.create(path, started)
    last_t = 0.0
    for event in events[1:-1]:
        if event.t >= last_t + 1.0:
            writer.commit()
            last_t = event.t
        writer.append(event)
    writer.close(stopped)


@lru_cache
def kept(path: Path) -> list[list[Event]]:
    """Return the hours simulated before."""
    found: list[list[Event]] = pickle.loads(path.read_bytes())
    return found


def make(target: Path) -> tuple[int, int]:
    """Write and archive one session; return bytes of the session file and of the archive."""
    hours = kept(target.parent.parent / "hours")
    number = int(target.stem)
    path = target.with_suffix(".session")
    write_session(path, another(hours[number % len(hours)], number))
    live = path.stat().st_size
    make_archive(path, target)
    path.unlink()
    return live, target.stat().st_size


@dataclass(frozen=True, slots=True)
class Cost:
    """What a piece of work took: wall time and processor time, both [s]."""

    wall_s: float
    cpu_s: float


def cost(work: Callable[[], object]) -> Cost:
    """Return what `work` took; children count once they have ended."""
    began, before = time.perf_counter(), os.times()
    work()
    after = os.times()
    return Cost(time.perf_counter() - began, sum(after[:4]) - sum(before[:4]))


def add_all(paths: list[Path], address: str) -> None:
    """Add all of them on all cores."""
    for _ in each(Adding(address), paths, 0):
        pass


class Adding:
    """Adds one record; a class so that another process can be given it."""

    def __init__(self, address: str) -> None:
        self.address = address

    def __call__(self, path: Path) -> object:
        """Add it."""
        return add(path, self.address)


def told(name: str, n: int, took: Cost, unit: list[float]) -> None:
    """Print a line; the ratio is processor time per session against the first line of `unit`."""
    unit.append((took.cpu_s if took.cpu_s > 1.0 else took.wall_s) / n)
    print(
        f"{name:<30}{n:>6} sessions {took.wall_s:>8.1f} s {n / took.wall_s:>8.2f} /s "
        f"{took.cpu_s / n:>7.3f} s CPU each  ratio {unit[-1] / unit[0]:.2f}",
        flush=True,
    )


def fill(address: str, tables: FleetTables, readings: int) -> int:
    """Write the tables again under other identities until there are so many readings."""
    store = FleetStore(address)
    have = number = 0
    while have < readings:
        name = f"f{number:031x}"
        changed = {
            table: {
                key: [name] * len(values) if key == "session_id" else values
                for key, values in columns.items()
            }
            for table, columns in tables.tables.items()
        }
        store.write(FleetTables(name, f"2026-06-{number % 28 + 1:02d}", changed))
        have += len(changed["readings"]["t"])
        number += 1
    return number


def cluster(workers: int, folder: Path) -> Iterator[str]:
    """Yield the address of a scheduler with so many one-thread worker processes."""
    file = folder / f"scheduler-{workers}.json"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    start = [sys.executable, "-m"]
    running = [
        subprocess.Popen(
            [
                *(*start, "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0"),
                *("--no-dashboard", "--scheduler-file", str(file)),
            ],
            **quiet,  # type: ignore[call-overload]
        )
    ]
    try:
        while not file.exists():
            time.sleep(0.1)
        time.sleep(0.5)
        address = json.loads(file.read_text(encoding="utf-8"))["address"]
        for _ in range(workers):
            running.append(
                subprocess.Popen(
                    [
                        *(*start, "distributed.cli.dask_worker", address, "--nthreads", "1"),
                        *("--no-nanny", "--no-dashboard", "--local-directory", str(folder / "w")),
                    ],
                    **quiet,  # type: ignore[call-overload]
                )
            )
        time.sleep(6.0)
        yield address
    finally:
        for process in running:
            process.kill()
            process.wait()


def simulated(folder: Path, wanted: argparse.Namespace) -> Path:
    """Make the sessions, print what they cost, and return the folder of their archives."""
    begun = time.perf_counter()
    hours = [simulated_session(1, "2026-05-01T08:00:00Z", seed) for seed in range(wanted.distinct)]
    took = (time.perf_counter() - begun) / wanted.distinct
    readings = sum(type(e).__name__ == "Reading" for e in hours[0])
    print(f"{wanted.distinct} hours simulated, {took:.2f} s each; {readings} readings", flush=True)
    (folder / "hours").write_bytes(pickle.dumps(hours))
    unit: list[float] = []
    sizes: list[tuple[int, int]] = []
    for count in [*wanted.parts, wanted.sessions]:
        into = folder / f"archives{count}"
        into.mkdir()
        targets = [into / f"{number:05d}.zip" for number in range(count)]
        spent = cost(lambda t=targets: sizes.extend(s for _, s in each(make, t, 0)))  # type: ignore[misc]
        told("write and archive, all cores", count, spent, unit)
    live, packed = (sum(s[i] for s in sizes) / len(sizes) / readings for i in (0, 1))
    print(f"bytes per reading: session file {live:.1f}, archive {packed:.2f}")
    return folder / f"archives{wanted.sessions}"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=1000)
    parser.add_argument("--distinct", type=int, default=20)
    parser.add_argument("--parts", type=int, nargs="*", default=[], help="smaller runs before")
    parser.add_argument("--readings", type=int, default=30_000_000)
    parser.add_argument("--dask", type=int, default=40, help="sessions for the cluster")
    parser.add_argument("--archives", type=Path, help="made before: nothing is simulated")
    parser.add_argument("--works", nargs="*", help="recompute, add, audit: these alone, then stop")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        archives = wanted.archives or simulated(folder, wanted)
        paths = records_under([archives])[: wanted.sessions]
        with open_record(paths[0]) as record:
            readings = sum(record.counts.values())
        works: dict[str, Callable[[list[Path], str], object]] = {
            "recompute, all cores": lambda some, tag: list(
                recompute_all(some, folder / f"r{tag}.jsonl")
            ),
            "add, all cores": lambda some, tag: add_all(some, str(folder / f"fleet{tag}")),
            "audit, all cores": lambda some, tag: crossed(
                list(audit(some, Policy(accept_simulated=True), 0))
            ),
        }
        for title, work in works.items():
            if wanted.works is not None and title.split(",")[0] not in wanted.works:
                continue
            unit: list[float] = []
            for count in [*wanted.parts, wanted.sessions]:
                tag = f"{count}"
                told(title, count, cost(lambda w=work, c=count, t=tag: w(paths[:c], t)), unit)  # type: ignore[misc]
        if wanted.works is not None:
            return
        if wanted.dask:
            unit = []
            for workers in (1, 2):
                for address in cluster(workers, folder):
                    some = paths[: wanted.dask]
                    list(on_cluster(some[:4], address))  # imports are not what is measured
                    took = cost(lambda a=address, s=some: list(on_cluster(s, a)))  # type: ignore[misc]
                    told(f"Dask, {workers} worker(s)", len(some), took, [])
                    unit.append(took.wall_s)
            print(f"1 to 2 workers: {unit[0] / unit[1]:.2f} times", flush=True)
        with open_record(paths[0]) as record:
            tables = fleet_tables(record, "x")
        dataset = str(folder / "filled")
        count = fill(dataset, tables, wanted.readings)
        print(f"dataset of {count} sessions, {count * readings / 1e6:.1f} million readings")
        size = sum(p.stat().st_size for p in Path(dataset).rglob("*.parquet"))
        print(f"dataset: {size / count / readings:.2f} bytes per reading")
        reader = FleetReader(dataset)
        for question in QUESTIONS:
            first = cost(lambda q=question: reader.ask(q)).wall_s  # type: ignore[misc]
            again = min(cost(lambda q=question: reader.ask(q)).wall_s for _ in range(3))  # type: ignore[misc]
            print(f"  {question:<24} {first:.2f} s first, {again:.2f} s again")


if __name__ == "__main__":
    main()
