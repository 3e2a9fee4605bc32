"""From the wire to disk and screen: a serial line, a hundred channels."""

import asyncio
import math
import os
import statistics
import sys
import tempfile
import time
import tty
from pathlib import Path

from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import Mark, Outcome
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.plugins import make_source
from chargeassist.session.source import Clock, Sink

if __name__ == "__main__":
    # The tests are no installed package; this finds them from any folder.
    sys.path.append(str(Path(__file__).resolve().parents[3]))

from tests.benchmarks.speed.recording import all_come, let_go, recorded, session_of

SERIAL_S, SERIAL_TIMES = 8.0, (1, 2, 4)
LINE = b"248.12,121.43\n"
BAUD_BYTES_PER_S = 115_200 / 10
CHANNELS, RATE_HZ, WATCHED_S = 100, 10, 60
LONG = 10
"""With ``--long``, the hundred channels run so many times as long."""


def push(far: int, bytes_per_s: float) -> int:
    """Write lines for `SERIAL_S` at a rate a pseudo-terminal does not keep itself; return how many.

    Lines go out in twentieths of a second.
    """
    lines, begun = 0, time.perf_counter()
    while (passed := time.perf_counter() - begun) < SERIAL_S:
        due = int(bytes_per_s * passed / len(LINE)) - lines
        os.write(far, LINE * due)
        lines += due
        time.sleep(0.05)
    return lines


def measure_serial(folder: Path) -> None:
    channels = [
        Channel(name="liquid_p", role=Role.LIQUID_PRESSURE, unit="psig"),
        Channel(name="suction_p", role=Role.SUCTION_PRESSURE, unit="psig"),
    ]
    probes = tuple(
        ProbeSpec(channel=channel, select=str(number))
        for number, channel in enumerate(channels, start=1)
    )

    async def missing(times: int) -> str:
        far, near = os.openpty()
        tty.setraw(far)
        tty.setraw(near)
        url = f"serial:{os.ttyname(near)}?baud=115200"
        spec = SourceSpec(name="rack", url=url, format="csv", probes=probes)
        path = folder / f"serial-{times}.session"
        session, _ = session_of([make_source(spec, Path())], path)
        running = asyncio.create_task(session.run(lambda snapshot: None))
        await asyncio.sleep(1.5)  # opened by then
        worked = time.process_time()
        lines = await asyncio.to_thread(push, far, times * BAUD_BYTES_PER_S)
        worked = time.process_time() - worked
        await all_come(path)
        await session.stop(Outcome.COMPLETE)
        await running
        for descriptor in (far, near):
            os.close(descriptor)
        work = f"processor {100 * worked / SERIAL_S:.1f} %, {1e6 * worked / lines:.0f} µs a line"
        return f"{2 * lines - recorded(path)[0]} of {2 * lines}, counted {let_go(path)}, {work}"

    told = (f"{times} x: {asyncio.run(missing(times))}" for times in SERIAL_TIMES)
    print("serial, two columns to disk: readings missing at a full line of 115200 baud, ", end="")
    print(f"and at so many times that: {'; '.join(told)}", flush=True)


class Burst:
    """A source of many channels that come together, ten times a second."""

    name = "burst"
    brings_time = False

    def __init__(self, watched_s: int) -> None:
        # By the monotonic clock, of what came first after each whole second of session time.
        self.came: dict[int, float] = {}
        self._beats = watched_s * RATE_HZ
        self.channels = tuple(
            Channel(name=f"c{number}", role=list(Role)[number % 14], unit="1", max_age_s=10.0)
            for number in range(CHANNELS)
        )

    async def run(self, sink: Sink, clock: Clock) -> None:
        for beat in range(1, self._beats):
            await clock.sleep_until(beat / RATE_HZ)
            self.came.setdefault(int(clock.now()), time.perf_counter())
            for number, channel in enumerate(self.channels):
                sink.reading(channel.name, 300.0 + number + 0.01 * (beat % 7))

    def technician(self, mark: Mark) -> None:
        pass


def measure_latency(folder: Path, *, long: bool) -> None:
    """Time from what closes a period arriving to the first picture of that period.

    The picture is shown once more when the session has ended; that says nothing of latency.
    """
    source = Burst(WATCHED_S * (LONG if long else 1))
    late_ms: dict[float, float] = {}

    def shown(t: float) -> None:
        # Where a heartbeat closed the period, nothing has arrived after its end yet.
        since = time.perf_counter() - source.came.get(int(t), math.inf)
        late_ms.setdefault(t, max(0.0, 1e3 * since))

    async def run() -> None:
        session, _ = session_of([source], folder / "burst.session")  # type: ignore[list-item]
        await session.run(lambda snapshot: shown(snapshot.t))

    asyncio.run(run())
    ordered = sorted(late_ms.values())
    p99 = ordered[int(0.99 * (len(ordered) - 1))]
    print(f"{CHANNELS} channels at {RATE_HZ} Hz: from a period's end to its picture ", end="")
    print(f"{statistics.median(ordered):.1f} ms in the median, p99 {p99:.1f}, ", end="")
    print(f"worst {ordered[-1]:.1f} of {len(ordered)}")


def measure(*, long: bool) -> None:
    with tempfile.TemporaryDirectory() as name:
        measure_serial(Path(name))
        measure_latency(Path(name), long=long)


if __name__ == "__main__":
    measure(long="--long" in sys.argv)
