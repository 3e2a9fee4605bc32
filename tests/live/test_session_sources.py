"""One session from a pseudo-terminal and an MQTT broker at once, each of them lost and back."""

import asyncio
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Protocol

import aiomqtt
import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import (
    Action,
    Event,
    Outcome,
    Reading,
    SourceBack,
    SourceLost,
    VerdictEvent,
)
from chargeassist.session.compare import VerdictComparison
from chargeassist.session.job.jobfile import load_job
from chargeassist.session.opening import open_new, open_replay
from chargeassist.session.record.store import SessionReader

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

JOB = """
name = "invented"
refrigerant = "R-32"

[site]
altitude = "210 m"

[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "invented"

[charge]
plate = "2.30 kg"
step_cap = "110 g"

[processing]
period = "0.5 s"

[[source]]
name = "cable"
url = "serial:{device}?baud=115200"

[[source.probe]]
role = "liquid_pressure"
unit = "psig"
accuracy = "2 psi"
max_age = "1 s"

[[source]]
name = "radio"
url = "mqtt://127.0.0.1:{port}"

[[source.probe]]
role = "liquid_temperature"
topic = "rig/liquid"
unit = "°F"
accuracy = "0.5 K"
max_age = "1 s"

[[source.probe]]
role = "compressor_current"
topic = "rig/amps"
unit = "A"
max_age = "1 s"
"""
MAX_AGE_S = 1.0
PERIOD_S = 0.5


class Broker(Protocol):
    port: int

    def start(self) -> None: ...

    def stop(self) -> None: ...


class Cable:
    """A probe on a pseudo-terminal behind a path that stays the same."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self.ends: tuple[int, int] | None = None

    def plug_in(self) -> None:
        ends = os.openpty()
        os.set_blocking(ends[0], False)
        self.link.symlink_to(os.ttyname(ends[1]))
        self.ends = ends

    def unplug(self) -> None:
        if self.ends is not None:
            for end in self.ends:
                os.close(end)
            self.ends = None
            self.link.unlink()

    async def send(self) -> None:
        """Send a pressure ten times a second while plugged in."""
        k = 0
        while True:
            k += 1
            if self.ends is not None:
                with suppress(BlockingIOError):
                    os.write(self.ends[0], b"%.1f\r\n" % (339.0 + 0.1 * (k % 5)))
            await asyncio.sleep(0.1)


async def send_by_radio(port: int) -> None:
    """Publish a temperature and amps ten times a second while the broker is there."""
    k = 0
    while True:
        try:
            async with aiomqtt.Client("127.0.0.1", port, timeout=1.0) as client:
                while True:
                    k += 1
                    await client.publish("rig/liquid", f"{93.0 + 0.1 * (k % 4):.1f}")
                    await client.publish("rig/amps", f"{7.0 + 0.01 * (k % 9):.2f}")
                    await asyncio.sleep(0.1)
        except (aiomqtt.MqttError, OSError):
            await asyncio.sleep(0.2)


async def until(holds: Callable[[], object], within_s: float = 20.0) -> None:
    async with asyncio.timeout(within_s):
        while not holds():  # noqa: ASYNC110  what is waited for has no event of its own
            await asyncio.sleep(0.02)


async def test_cable_and_radio_are_lost_and_back_and_the_session_goes_on(
    broker: Broker, tmp_path: Path
) -> None:
    cable = Cable(tmp_path / "ttyTEST")
    cable.plug_in()
    path = tmp_path / "job.toml"
    path.write_text(JOB.format(device=cable.link, port=broker.port), encoding="utf-8")
    told: list[Event] = []
    shown: list[Snapshot] = []
    record = tmp_path / "a.session"
    opened = open_new(load_job(path), tmp_path, record=record, listeners=[told.append])
    session = opened.session

    def heard(channel: str, since: float) -> bool:
        return any(isinstance(e, Reading) and e.channel == channel and e.t > since for e in told)

    def said(kind: type[SourceLost | SourceBack], source: str) -> list[float]:
        return [e.t for e in told if isinstance(e, kind) and e.source == source]

    async def all_heard() -> None:
        now = session.now
        for name in ("liquid_pressure", "liquid_temperature", "compressor_current"):
            await until(partial(heard, name, now))

    feeders = [asyncio.create_task(cable.send()), asyncio.create_task(send_by_radio(broker.port))]
    running = asyncio.create_task(session.run(shown.append))
    try:
        await all_heard()
        await asyncio.sleep(2.0)
        await asyncio.to_thread(broker.stop)
        await until(lambda: said(SourceLost, "radio"))
        await asyncio.sleep(10.0)
        await asyncio.to_thread(broker.start)
        await until(lambda: said(SourceBack, "radio"))
        await all_heard()
        await asyncio.sleep(1.5)
        cable.unplug()
        await until(lambda: said(SourceLost, "cable"))
        await asyncio.sleep(4.0)
        cable.plug_in()
        await until(lambda: said(SourceBack, "cable"))
        await all_heard()
        await asyncio.sleep(1.5)
        assert not running.done()
        await session.stop(Outcome.COMPLETE)
        await running
    finally:
        for task in (*feeders, running):
            task.cancel()
        await asyncio.gather(*feeders, running, return_exceptions=True)
        cable.unplug()

    with SessionReader(record) as reader:
        report = reader.verify()
        assert report.ok, report.problems
        assert report.finished
        recorded = list(reader.events())
    for source, channels, other, away_s in (
        ("radio", {"liquid_temperature", "compressor_current"}, "liquid_pressure", 10.0),
        ("cable", {"liquid_pressure"}, "compressor_current", 4.0),
    ):
        (lost_t,) = [e.t for e in recorded if isinstance(e, SourceLost) and e.source == source]
        (back_t,) = [e.t for e in recorded if isinstance(e, SourceBack) and e.source == source]
        assert away_s <= back_t - lost_t < away_s + 8.0
        while_away = [e for e in recorded if isinstance(e, Reading) and lost_t < e.t < back_t]
        assert not channels & {e.channel for e in while_away}, "nothing is made up"
        others = [e for e in while_away if e.channel == other]
        assert len(others) > 5 * away_s, "the other source is heard all the while"
        quiet = [s for s in shown if lost_t + MAX_AGE_S + 2 * PERIOD_S <= s.t <= back_t - PERIOD_S]
        assert len(quiet) >= (away_s - 3.0) / PERIOD_S, "the session goes on"
        assert {s.advice.action for s in quiet} == {Action.FIX_FIRST}
        assert {s.advice.cause for s in quiet} == {"no_signal"}
        assert all(
            any(c.cause == "source_lost" and c.subject == source for c in s.cautions) for s in quiet
        )
    assert {s.advice.action for s in shown} <= {Action.FIX_FIRST, Action.WAIT}
    await replays_the_same(record)


async def replays_the_same(record: Path) -> None:
    """Assert that replays at full speed and at 20 times give the live verdicts, bit for bit."""
    for speed in (None, 20.0):
        comparison = VerdictComparison(record)
        replayed: list[Event] = []
        opened = open_replay(record, speed=speed, listeners=[comparison, replayed.append])
        await asyncio.wait_for(opened.session.run(lambda snapshot: None), 30.0)
        assert comparison.differences() == ()
        assert comparison.compared >= 4
        with SessionReader(record) as reader:
            live = [e for e in reader.events() if isinstance(e, VerdictEvent)]
        assert [e for e in replayed if isinstance(e, VerdictEvent)] == live
