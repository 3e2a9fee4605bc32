"""Sources and recorders made for the tests of the runner."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import RecordError
from chargeassist.model.events import Event, Mark, SessionMode, SessionStopped
from chargeassist.model.job import ChargeLimits, Job, Processing, Site, Target
from chargeassist.session.record.store import SessionWriter
from chargeassist.session.runner import Session
from chargeassist.session.source import Clock, Sink

JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented plate"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11),
    site=Site(altitude_m=210.0),
    processing=Processing(period_s=0.2),
)
TEMP = Channel(name="liquid_t", role=Role.LIQUID_TEMPERATURE, unit="°F", source="rig")


async def forever(sink: Sink, clock: Clock) -> None:
    """Deliver nothing and never return."""
    await asyncio.Event().wait()


@dataclass
class FakeSource:
    """A source whose `run` is given."""

    play: Callable[[Sink, Clock], object]
    name: str = "rig"
    channels: tuple[Channel, ...] = (TEMP,)
    brings_time: bool = False
    simulated: bool = False
    heard: list[Mark] = field(default_factory=list)

    @classmethod
    def from_spec(cls, spec: object, base: Path) -> "FakeSource":
        raise NotImplementedError

    async def run(self, sink: Sink, clock: Clock) -> None:
        result = self.play(sink, clock)
        if asyncio.iscoroutine(result):
            await result

    def technician(self, mark: Mark) -> None:
        self.heard.append(mark)


class FakeRecorder:
    """Keeps events in a list; `refuses` makes its disk full."""

    path = Path("a.session")

    def __init__(self) -> None:
        self.taken: list[Event] = []
        self.durable = 0
        self.refuses = False
        self.closed: SessionStopped | None = None
        self.abandoned = False
        self.close_tries = 0

    def append(self, event: Event) -> None:
        self.taken.append(event)

    def commit(self) -> None:
        if self.refuses:
            raise RecordError("record: the disk is full; free some space")
        self.durable = len(self.taken)

    def close(self, stopped: SessionStopped) -> bool:
        self.close_tries += 1
        self.commit()
        self.closed = stopped
        return True

    def abandon(self) -> None:
        self.abandoned = True


def made(
    *sources: FakeSource, recorder: FakeRecorder | SessionWriter | None = None, **more: object
) -> tuple[Session, list[Event]]:
    told: list[Event] = []
    session = Session(
        Assistant(JOB, SessionMode.FIELD),
        sources,
        recorder=recorder,
        listeners=(told.append,),
        **more,  # type: ignore[arg-type]
    )
    return session, told


def nothing(snapshot: Snapshot) -> None:
    """Show nothing."""


async def finish(session: Session, within_s: float = 10.0) -> None:
    await asyncio.wait_for(session.run(nothing), within_s)


def of(events: list[Event], *kinds: type) -> list[Event]:
    return [event for event in events if isinstance(event, kinds)]


async def until(holds: Callable[[], object], within_s: float = 10.0) -> None:
    async with asyncio.timeout(within_s):
        while not holds():  # noqa: ASYNC110  what is waited for has no event of its own
            await asyncio.sleep(0.005)


async def feed(sink: Sink) -> None:
    while True:
        sink.reading("liquid_t", 300.0)
        await asyncio.sleep(0.02)
