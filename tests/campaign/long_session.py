"""A working day as fast as it goes: every probe place there is, 200 readings a second, recorded.

A job has one probe for each place (18 today), so 20 channels at 10 Hz become 18 at 11.1 Hz: the
same load. The session is the program's own: intake, recorder, assistant; only the source is ours.
"""

import asyncio
import math
import os
import subprocess
import sys
import time
from pathlib import Path

from chargeassist.guide.assistant import Assistant
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.events import Mark, SessionMode
from chargeassist.model.job import ChargeLimits, Job, Site, SourceSpec, Target
from chargeassist.model.units import Quantity, Reference
from chargeassist.session.opening import started_now
from chargeassist.session.record.store import SessionReader, SessionWriter
from chargeassist.session.runner import Session
from chargeassist.session.source import Clock, Sink
from tests.campaign.tried import Fault, Tried

READINGS_PER_S = 200
UNIT_H = 0.1
FULL_HOURS = 8
MAY_GROW_MIB = 16.0

USUAL = {
    Role.LIQUID_PRESSURE: 2.3e6,
    Role.LIQUID_TEMPERATURE: 308.0,
    Role.SUCTION_PRESSURE: 9e5,
    Role.SUCTION_TEMPERATURE: 288.0,
    Role.DISCHARGE_TEMPERATURE: 345.0,
    Role.RETURN_AIR_HUMIDITY: 0.5,
    Role.COMPRESSOR_CURRENT: 7.4,
    Role.COMPRESSOR_FREQUENCY: 72.0,
    Role.CYLINDER_MASS: 8.0,
    Role.BAROMETER: 98_500.0,
    Role.VACUUM: 50.0,
}
AIR_K = 297.0


def _channel(role: Role) -> Channel:
    reference = None
    if role.quantity is Quantity.PRESSURE:
        gauge = role in {Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE}
        reference = Reference.GAUGE if gauge else Reference.ABSOLUTE
    accuracy = Accuracy(absolute_si=0.1, relative=0.001)
    return Channel(
        name=role.value, role=role, unit="1", reference=reference, accuracy=accuracy, source="rig"
    )


class Rig:
    """A source with a probe in every place, its values invented; says its memory every hour."""

    name = "rig"
    brings_time = True
    simulated = True

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> "Rig":
        """Not made from an address."""
        raise NotImplementedError

    def __init__(self, hours: float) -> None:
        self.channels = tuple(_channel(role) for role in Role)
        self._hours = hours

    def technician(self, mark: Mark) -> None:
        """Ignore it."""

    async def run(self, sink: Sink, clock: Clock) -> None:
        """Deliver, and print hour and resident memory [MiB] ten times on the way."""
        rate = READINGS_PER_S / len(self.channels)
        ticks = round(self._hours * 3600.0 * rate)
        said = 0
        for tick in range(ticks):
            t = tick / rate
            await clock.sleep_until(t)
            for number, channel in enumerate(self.channels):
                usual = USUAL.get(channel.role, AIR_K)
                wave = math.sin(t / (30.0 + number)) * 1e-3 + math.sin(t * 7.0 + number) * 1e-4
                sink.reading(channel.name, usual * (1.0 + wave), t=t)
            if tick * 10 >= said * ticks:
                said += 1
                print(f"{t / 3600.0:.2f} {_memory_mib():.1f}", flush=True)
        print(f"{self._hours:.2f} {_memory_mib():.1f}", flush=True)


def _memory_mib() -> float:
    text = Path("/proc/self/status").read_text(encoding="ascii")
    return next(int(r.split()[1]) for r in text.splitlines() if r.startswith("VmRSS")) / 1024


def play(path: Path, hours: float) -> None:
    """Record a session of so many hours to `path`."""
    job = Job(
        name="invented",
        refrigerant="R-32",
        target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
        charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11),
        site=Site(altitude_m=210.0),
    )
    started = started_now(job, SessionMode.SIMULATED)
    writer = SessionWriter.create(path, started)
    rig = Rig(hours)
    session = Session(
        Assistant(job, SessionMode.SIMULATED),
        [rig],
        recorder=writer,
        speed=None,
    )
    asyncio.run(session.run(lambda snapshot: None))


def a_working_day(folder: Path, times: int, row: Tried) -> None:
    """Play so many tenths of an hour in a process of their own; look at memory and record."""
    hours = times * UNIT_H
    path = folder / "a.session"
    begun = time.monotonic()
    root = str(Path(__file__).resolve().parents[2])
    done = subprocess.run(
        [sys.executable, "-m", "tests.campaign.long_session", str(path), str(hours)],
        capture_output=True,
        text=True,
        check=False,
        cwd=root,
        env={**os.environ, "PYTHONPATH": root},
    )
    seconds = time.monotonic() - begun
    row.expect(done.returncode == 0, f"ended with {done.returncode}: {done.stderr[-300:]}")
    memory = [float(line.split()[1]) for line in done.stdout.splitlines()]
    # The first tenth fills windows and caches.
    grown = memory[-1] - memory[1] if len(memory) > 2 else math.inf
    row.expect(grown < MAY_GROW_MIB, f"memory grew from {memory[1]:.0f} to {memory[-1]:.0f} MiB")
    with SessionReader(path) as reader:
        counts = reader.counts
        row.expect(reader.stopped is not None, "the record has no end")
        row.expect(reader.verify().ok, "the record contradicts itself")
    size_mib = path.stat().st_size / 2**20
    wanted = round(hours * 3600.0 * READINGS_PER_S)
    row.expect(abs(sum(counts.values()) - wanted) <= 2 * len(counts), f"{sum(counts.values())}")
    row.lost = (
        f"0 of {sum(counts.values())} in {hours:g} h; {memory[1]:.0f} to {memory[-1]:.0f} MiB, "
        f"{hours * 3600.0 / seconds:.0f} times real time, file {size_mib:.0f} MiB"
    )


FAULTS = (
    Fault(
        "hours at 200 readings a second", a_working_day, short=1, full=round(FULL_HOURS / UNIT_H)
    ),
)

if __name__ == "__main__":
    play(Path(sys.argv[1]), float(sys.argv[2]))
