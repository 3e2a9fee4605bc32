"""The contract's check itself: a source that breaks a promise is found, by what it breaks.

The sources are invented; each keeps the whole contract but for one thing.
"""

import asyncio
import contextlib
import threading
import time
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from chargeassist.model.channels import Channel, Quality, Role
from chargeassist.model.events import Mark, Reading
from chargeassist.model.job import SourceSpec
from chargeassist.session.source import Clock, Sink
from chargeassist.testing import ContractError, check_source, running

CHANNEL = Channel(name="t", role=Role.LIQUID_TEMPERATURE, unit="°C")
Does = Callable[[Sink, Clock], Awaitable[None]]


class Made:
    """A source that delivers one good reading, and does one thing more."""

    simulated = False

    def __init__(
        self,
        does: Does | None = None,
        *,
        channels: tuple[Channel, ...] = (CHANNEL,),
        brings_time: bool = False,
    ) -> None:
        self.name = "made"
        self.channels = channels
        self.brings_time = brings_time
        self._does = does

    @classmethod
    def from_spec(cls, spec: SourceSpec, base: Path) -> "Made":
        raise NotImplementedError

    def technician(self, mark: Mark) -> None:
        """Ignore it."""

    async def run(self, sink: Sink, clock: Clock) -> None:
        if self._does is not None:
            await self._does(sink, clock)
        sink.reading("t", 300.0)
        await asyncio.Event().wait()


def calls(call: Callable[[Sink], object]) -> Does:
    async def does(sink: Sink, clock: Clock) -> None:
        call(sink)

    return does


async def from_a_thread(sink: Sink, clock: Clock) -> None:
    await asyncio.to_thread(sink.dropped, 1)


async def leaves_a_task(sink: Sink, clock: Clock) -> None:
    LEFT.append(asyncio.create_task(asyncio.sleep(60.0), name="left behind"))


async def leaves_a_thread(sink: Sink, clock: Clock) -> None:
    threading.Thread(target=GO_ON.wait, name="left behind", daemon=True).start()


async def does_not_end(sink: Sink, clock: Clock) -> None:
    until = time.monotonic() + 1.5
    while time.monotonic() < until:
        with contextlib.suppress(asyncio.CancelledError):
            await asyncio.sleep(0.05)
        sink.reading("t", 300.0)
    raise asyncio.CancelledError


async def raises(sink: Sink, clock: Clock) -> None:
    raise OSError("no such port")


LEFT: list["asyncio.Task[None]"] = []
GO_ON = threading.Event()


@pytest.mark.parametrize(
    ("does", "told"),
    [
        (calls(lambda sink: sink.reading("u", 1.0)), "undeclared channel 'u'"),
        (calls(lambda sink: sink.reading("t", 1)), "expected a finite float for 't', got 1"),
        (calls(lambda sink: sink.reading("t", float("nan"))), "expected a finite float"),
        (calls(lambda sink: sink.reading("t", 1.0, t=3.0)), "does not bring its own time"),
        (calls(lambda sink: sink.reading("t", 1.0, quality="good")), "expected a Quality"),  # type: ignore[arg-type]
        (calls(lambda sink: sink.reading("t", 1.0, device_time=float("inf"))), "is not finite"),
        (calls(lambda sink: sink.bad_input("")), "expected a plain reason"),
        (calls(lambda sink: sink.bad_input("\x1b[2J")), "expected a plain reason"),
        (calls(lambda sink: sink.bad_input("junk", count=0)), "expected a count from 1"),
        (calls(lambda sink: sink.dropped(0)), "expected a count from 1"),
        (calls(lambda sink: sink.lost("")), "lost: expected a plain reason"),
        (
            calls(lambda sink: sink.event(Reading(t=0.0, channel="t", value=1.0))),
            "for sources that bring their own time",
        ),
        (from_a_thread, "outside the event loop's thread"),
        (leaves_a_task, "left behind"),
        (leaves_a_thread, "left behind"),
        (does_not_end, "still runs 1 s after being cancelled"),
        (raises, "trouble is told to the sink"),
    ],
)
async def test_a_broken_promise_is_found(does: Does, told: str) -> None:
    try:
        with pytest.raises(ContractError, match=told):
            await check_source(Made(does), readings=1)
        with pytest.raises(ContractError, match=told):
            async with running(Made(does)):
                await asyncio.sleep(0.1)
    finally:
        GO_ON.set()
        for task in LEFT:
            task.cancel()
        await asyncio.gather(*LEFT, return_exceptions=True)
        LEFT.clear()
        if does is does_not_end:
            await asyncio.sleep(1.6)
        GO_ON.clear()


async def test_a_declaration_without_channels_or_with_doubled_ones_is_found() -> None:
    for channels in ((), (CHANNEL, CHANNEL)):
        with pytest.raises(ContractError, match="expected distinct channels"):
            await check_source(Made(channels=channels))


async def test_what_does_not_come_is_said() -> None:
    with pytest.raises(ContractError, match=r"waited 0.2 s in vain; 1 events came"):
        await check_source(Made(), readings=2, within_s=0.2)


async def test_a_source_that_keeps_its_promises_passes() -> None:
    kept = await check_source(Made(), readings=1)
    assert kept.values("t") == [300.0]
    assert kept.readings[0].quality is Quality.GOOD
