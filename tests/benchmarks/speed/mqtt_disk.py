"""MQTT at QoS 1 to disk, beside a bare aiomqtt loop that does nothing with what it gets.

Both get the same messages from the same sender and broker, by turns, because a machine is not
equally fast from one minute to the next; the time of each begins with its first message and ends
with the last one, ours when that is on disk. The processor time of a message is that of our own
process alone, all its threads, and says the same on a machine that others use.
"""

import asyncio
import math
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import aiomqtt

from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import Outcome
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.plugins import make_source

if __name__ == "__main__":
    # The tests are no installed package; this finds them from any folder.
    sys.path.append(str(Path(__file__).resolve().parents[3]))

from tests.benchmarks.speed.recording import let_go, recorded, session_of

MESSAGES = 50_000
ROUNDS = 7
SHARES = (0.2, 0.4, 0.6, 0.8, 1.0)
SENT_S = 10.0
LONG = 10
"""With ``--long``, 80 % runs so many times as long."""

GIVEN_UP_S = 10.0
"""Nothing has come for so long: what is missing will not come."""


class Broker:
    """A mosquitto of its own on a free port; it keeps what a slow reader has not taken yet."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        config = folder / "mosquitto.conf"
        user = "user root\n" if os.geteuid() == 0 else ""
        config.write_text(
            f"{user}listener {self.port} 127.0.0.1\nallow_anonymous true\n"
            "max_queued_messages 0\nlog_type none\n",
            encoding="utf-8",
        )
        path = f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin"
        self._process = subprocess.Popen(
            ["mosquitto", "-c", config], env={"PATH": path}, stderr=subprocess.DEVNULL
        )
        time.sleep(0.5)

    def publish(self, rate: float, count: int) -> "subprocess.Popen[bytes]":
        arguments = [str(self.port), str(count), str(rate)]
        sender = Path(__file__).with_name("publisher.py")
        return subprocess.Popen([sys.executable, sender, *arguments])

    def close(self) -> None:
        self._process.terminate()
        self._process.wait()


@dataclass(frozen=True)
class Taken:
    """What a reader took of so many different messages."""

    count: int
    per_s: float  # from the first message to the last [1/s]
    work_us: float  # processor time of the reader, a message [µs]
    missing: int = 0
    counted: int = 0  # as let go, in the record
    late_s: float = 0.0  # from the last one the broker had to the last one on disk


async def bare(broker: Broker, count: int) -> Taken:
    """Take messages with a loop that does nothing with them."""
    async with aiomqtt.Client("127.0.0.1", broker.port) as client:
        await client.subscribe("unit/t", qos=1)
        sender = broker.publish(math.inf, count)
        came, begun, worked = 0, 0.0, 0.0
        async for _ in client.messages:
            if not came:
                begun, worked = time.perf_counter(), time.process_time()
            came += 1
            if came == count:
                break
        took_s, worked = time.perf_counter() - begun, time.process_time() - worked
        await asyncio.to_thread(sender.wait)
    return Taken(count, count / took_s, 1e6 * worked / count)


async def to_disk(broker: Broker, path: Path, rate: float, count: int) -> Taken:
    """Send so many messages at a rate [1/s] to a session and look into its record."""
    probe = ProbeSpec(
        channel=Channel(name="t", role=Role.LIQUID_TEMPERATURE, unit="°C"), topic="unit/t"
    )
    spec = SourceSpec(
        name="rack", url=f"mqtt://127.0.0.1:{broker.port}", format="number", probes=(probe,)
    )
    session, writer = session_of([make_source(spec, Path())], path)
    running = asyncio.create_task(session.run(lambda snapshot: None))
    await asyncio.sleep(1.5)  # subscribed by then
    sender = broker.publish(rate, count)
    while not writer.counts["t"]:  # noqa: ASYNC110  nothing that is measured is disturbed
        await asyncio.sleep(0.002)
    begun, worked, first = time.perf_counter(), time.process_time(), writer.counts["t"]
    sent, ended, progress = 0.0, begun, (0, 0)
    while time.perf_counter() - ended < GIVEN_UP_S:
        now = (writer.counts["t"], writer.pending)
        if now != progress:
            progress, ended = now, time.perf_counter()
        if not sent and sender.poll() is not None:
            sent = time.perf_counter()
        if now[0] == count and not now[1]:
            break
        await asyncio.sleep(0.005)
    worked = time.process_time() - worked
    await asyncio.to_thread(sender.wait)
    await session.stop(Outcome.COMPLETE)
    await running
    return Taken(
        count=count,
        per_s=(count - first) / (ended - begun),
        work_us=1e6 * worked / count,
        missing=count - recorded(path)[1],
        counted=let_go(path),
        late_s=max(0.0, ended - (sent or ended)),
    )


def compare(broker: Broker, folder: Path) -> float:
    """Print both by turns, each as fast as it goes; return the rate of the bare loop [1/s]."""
    rounds: list[tuple[Taken, Taken]] = []
    for number in range(ROUNDS):
        path = folder / f"round-{number}.session"

        def alone() -> Taken:
            return asyncio.run(bare(broker, MESSAGES))

        def ours(path: Path = path) -> Taken:
            return asyncio.run(to_disk(broker, path, math.inf, MESSAGES))

        # Whoever comes second in one round comes first in the next.
        if number % 2:
            second = ours()
            rounds.append((alone(), second))
        else:
            first = alone()
            rounds.append((first, ours()))
        path.unlink()
    print(f"MQTT, QoS 1, {ROUNDS} rounds of {MESSAGES} messages as fast as they are taken:")
    for name, takes in zip(("bare loop", "to disk"), zip(*rounds, strict=True), strict=True):
        print(
            f"  {name:9}: {spread([t.per_s for t in takes])} a second, processor",
            f"{spread([t.work_us for t in takes], 1)} µs each, not on disk",
            f"{sum(t.missing for t in takes)}, counted {sum(t.counted for t in takes)}",
        )
    rate = [100 * ours.per_s / alone.per_s for alone, ours in rounds]
    work = [100 * alone.work_us / ours.work_us for alone, ours in rounds]
    print(f"  ours of the bare loop's rate: {spread(rate)} %; by processor time {spread(work)} %")
    return statistics.median(alone.per_s for alone, _ in rounds)


def spread(values: list[float], decimals: int = 0) -> str:
    low, middle, high = min(values), statistics.median(values), max(values)
    return f"{middle:.{decimals}f} ({low:.{decimals}f} to {high:.{decimals}f})"


def measure(*, long: bool) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        broker = Broker(folder)
        try:
            most = compare(broker, folder)
            for share in SHARES:
                rate = share * most
                count = round(rate * SENT_S * (LONG if long and share == 0.8 else 1))
                taken = asyncio.run(to_disk(broker, folder / f"{share}.session", rate, count))
                print(
                    f"  at {share:4.0%}, {taken.per_s:.0f} a second: of {taken.count} not on disk",
                    f"{taken.missing}, counted {taken.counted}, last {taken.late_s:.1f} s late,",
                    f"{taken.work_us:.0f} µs each",
                    flush=True,
                )
        finally:
            broker.close()


if __name__ == "__main__":
    measure(long="--long" in sys.argv)
