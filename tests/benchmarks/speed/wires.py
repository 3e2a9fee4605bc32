"""From the wire to disk and screen: MQTT beside a bare loop, a serial line, a hundred channels."""

import asyncio
import math
import os
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import tty
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

import aiomqtt

from chargeassist.guide.assistant import Assistant
from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import Mark, Outcome, SessionMode
from chargeassist.model.job import ProbeSpec, SourceSpec
from chargeassist.session.job.demo import demo_job
from chargeassist.session.plugins import make_source
from chargeassist.session.record.store import SessionWriter
from chargeassist.session.runner import Session
from chargeassist.session.scenario.simulate import simulated_start
from chargeassist.session.source import Clock, Sink, Source

MESSAGES = 10_000
ROUNDS = 3
SHARES = (0.2, 0.4, 0.6, 0.8, 1.0, math.inf)
SENT_S = 10.0
SERIAL_S, SERIAL_TIMES = 8.0, (1, 2, 4)
LINE = b"248.12,121.43\n"
BAUD_BYTES_PER_S = 115_200 / 10
CHANNELS, RATE_HZ, WATCHED_S = 100, 10, 60
LONG = 10
"""With ``--long``, MQTT at 80 % and the hundred channels run so many times as long."""

PUBLISH = """
import sys
import time
import paho.mqtt.client as mqtt
port, count = int(sys.argv[1]), int(sys.argv[2])
client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
client.max_inflight_messages_set(500)
client.connect("127.0.0.1", port)
client.loop_start()
rate, begun, sent = float(sys.argv[3]), time.perf_counter(), []
for i in range(count):
    while i > rate * (time.perf_counter() - begun):
        time.sleep(0.005)
    if i >= 30000:
        sent[i - 30000].wait_for_publish()  # the client numbers no more than 65535 at once
    sent.append(client.publish("unit/t", b"%.3f" % (0.001 * i), qos=1))
for each in sent:
    each.wait_for_publish()
client.disconnect()
"""
"""Sends `count` different temperatures at a rate; "inf" is as fast as the broker takes them."""


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
        self._process = subprocess.Popen(["mosquitto", "-c", config], env={"PATH": path})
        time.sleep(0.5)

    def publish(self, rate: float, count: int = MESSAGES) -> "subprocess.Popen[bytes]":
        arguments = [str(self.port), str(count), str(rate)]
        return subprocess.Popen([sys.executable, "-c", PUBLISH, *arguments])

    def close(self) -> None:
        self._process.terminate()
        self._process.wait()


def session_of(sources: Sequence[Source], path: Path) -> Session:
    """Return a session that records to `path`; of its own job it needs refrigerant and target."""
    job = replace(demo_job("library"), sources=())
    writer = SessionWriter.create(path, simulated_start(job, "2026-01-01T00:00:00Z", "0" * 32))
    assistant = Assistant(job, SessionMode.FIELD)
    return Session(assistant, sources, recorder=writer)


def recorded(path: Path) -> tuple[int, int]:
    """Return how many readings and how many different values are in a session file."""
    with closing(sqlite3.connect(path)) as db:
        found: tuple[int, int] = db.execute(
            "SELECT count(*), count(DISTINCT value) FROM readings"
        ).fetchone()
        return found


async def bare_rate(broker: Broker) -> tuple[float, float]:
    """Return what a loop takes that does nothing with messages [1/s], and its work on each [µs]."""
    async with aiomqtt.Client("127.0.0.1", broker.port) as client:
        await client.subscribe("unit/t", qos=1)
        sender = broker.publish(math.inf)
        count, begun, worked = 0, 0.0, 0.0
        async for _ in client.messages:
            if not count:
                begun, worked = time.perf_counter(), time.process_time()
            count += 1
            if count == MESSAGES:
                break
        took_s, worked = time.perf_counter() - begun, time.process_time() - worked
        await asyncio.to_thread(sender.wait)
    return MESSAGES / took_s, 1e6 * worked / MESSAGES


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


@dataclass(frozen=True)
class Sent:
    """What became of so many different messages."""

    count: int
    per_s: float  # what sender and broker really passed on [1/s]
    missing: int
    counted: int  # as let go, in the record
    late_s: float  # from the last message sent to the last one recorded
    work_us: float  # processor time of the program, a message [µs]


async def to_disk(broker: Broker, path: Path, rate: float, count: int) -> Sent:
    """Send so many messages at a rate [1/s] to a session and look into its record."""
    probe = ProbeSpec(
        channel=Channel(name="t", role=Role.LIQUID_TEMPERATURE, unit="°C"), topic="unit/t"
    )
    spec = SourceSpec(
        name="rack", url=f"mqtt://127.0.0.1:{broker.port}", format="number", probes=(probe,)
    )
    session = session_of([make_source(spec, Path())], path)
    running = asyncio.create_task(session.run(lambda snapshot: None))
    await asyncio.sleep(1.5)  # subscribed by then
    begun, worked = time.perf_counter(), time.process_time()
    await asyncio.to_thread(broker.publish(rate, count).wait)
    ended, worked = time.perf_counter(), time.process_time() - worked
    grown = await all_come(path)
    await session.stop(Outcome.COMPLETE)
    await running
    return Sent(
        count=count,
        per_s=count / (ended - begun),
        missing=count - recorded(path)[1],
        counted=let_go(path),
        late_s=grown - ended,
        work_us=1e6 * worked / count,
    )


def measure_mqtt(folder: Path, *, long: bool) -> None:
    broker = Broker(folder)
    try:
        rounds = [asyncio.run(bare_rate(broker)) for _ in range(ROUNDS)]
        bare = statistics.median(rate for rate, _ in rounds)
        print(f"MQTT, QoS 1: a bare aiomqtt loop takes {bare:.0f} messages a second, ", end="")
        print(f"{min(work for _, work in rounds):.0f} µs of processor time each", flush=True)
        for share in SHARES:
            rate = share * bare
            count = round(min(rate, bare) * SENT_S * (LONG if long and share == 0.8 else 1))
            sent = asyncio.run(to_disk(broker, folder / f"{share}.session", rate, count))
            print(
                f"  at {share:4.0%}" if share < math.inf else "  unbridled",
                f"({sent.per_s:.0f} a second passed on): of {sent.count} not on disk",
                f"{sent.missing}, counted {sent.counted}, last {sent.late_s:.1f} s late,",
                f"{sent.work_us:.0f} µs each",
                flush=True,
            )
    finally:
        broker.close()


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
        session = session_of([make_source(spec, Path())], path)
        running = asyncio.create_task(session.run(lambda snapshot: None))
        await asyncio.sleep(1.5)  # opened by then
        lines = await asyncio.to_thread(push, far, times * BAUD_BYTES_PER_S)
        await all_come(path)
        await session.stop(Outcome.COMPLETE)
        await running
        for descriptor in (far, near):
            os.close(descriptor)
        return f"{2 * lines - recorded(path)[0]} of {2 * lines}, counted {let_go(path)}"

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
        session = session_of([source], folder / "burst.session")  # type: ignore[list-item]
        await session.run(lambda snapshot: shown(snapshot.t))

    asyncio.run(run())
    ordered = sorted(late_ms.values())
    p99 = ordered[int(0.99 * (len(ordered) - 1))]
    print(f"{CHANNELS} channels at {RATE_HZ} Hz: from a period's end to its picture ", end="")
    print(f"{statistics.median(ordered):.1f} ms in the median, p99 {p99:.1f}, ", end="")
    print(f"worst {ordered[-1]:.1f} of {len(ordered)}")


def measure(*, long: bool) -> None:
    with tempfile.TemporaryDirectory() as name:
        measure_mqtt(Path(name), long=long)
        measure_serial(Path(name))
        measure_latency(Path(name), long=long)


if __name__ == "__main__":
    measure(long="--long" in sys.argv)
