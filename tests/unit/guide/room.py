"""A simulated reading room for the assistant: probes that answer to a charge."""

from collections.abc import Callable

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.events import (
    Action,
    Advice,
    ChannelDeclared,
    InputEvent,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
    Stage,
    VerdictEvent,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant

JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=1.8),
    site=Site(altitude_m=0.0),
)
LIQUID_PA = 2.3e6


def bubble_k() -> float:
    temp_k = refrigerant("R-32").bubble_temp_k(LIQUID_PA + 101_325.0)
    assert not isinstance(temp_k, NoValue)
    return temp_k


class Room:
    """An assistant beside a unit whose subcooling the test sets; 1 Hz readings."""

    def __init__(self, job: Job = JOB, *, expanded: bool = True) -> None:
        self.assistant = Assistant(job, SessionMode.SIMULATED)
        self.t = 0.0
        self.events: list[InputEvent] = []
        self.verdicts: list[VerdictEvent] = []
        self.subcooling = 3.0
        for role, unit, limit in (
            (Role.LIQUID_PRESSURE, "Pa", 3000.0),
            (Role.LIQUID_TEMPERATURE, "K", 0.1),
        ):
            channel = Channel(
                name=role.value,
                role=role,
                unit=unit,
                reference=Reference.GAUGE if role is Role.LIQUID_PRESSURE else None,
                accuracy=Accuracy(absolute_si=limit) if expanded else None,
            )
            self.step(ChannelDeclared(t=0.0, channel=channel))

    def step(self, event: InputEvent) -> None:
        self.events.append(event)
        self.verdicts += self.assistant.step(event)

    def run(self, seconds: int) -> Snapshot:
        temp_k = bubble_k() - self.subcooling
        for _ in range(seconds):
            self.t += 1.0
            for name, value in (("liquid_pressure", LIQUID_PA), ("liquid_temperature", temp_k)):
                self.step(Reading(t=self.t, channel=name, value=value))
        return self.snapshot

    @property
    def snapshot(self) -> Snapshot:
        snapshot = self.assistant.snapshot()
        assert snapshot is not None
        return snapshot

    def stage(self) -> Stage:
        return self.snapshot.stage

    def mark(self, kind: MarkKind, mass_kg: float | None = None) -> None:
        self.step(Mark(t=self.t, kind=kind, mass_kg=mass_kg))

    def until(self, wanted: Callable[[Snapshot], bool], seconds: int = 900) -> Snapshot:
        for _ in range(seconds):
            snapshot = self.run(1)
            if wanted(snapshot):
                return snapshot
        raise AssertionError(f"not in {seconds} s; last advice {self.snapshot.advice}")

    def advice(self) -> list[tuple[Action, str]]:
        return [(v.action, v.cause) for v in self.verdicts if isinstance(v, Advice)]


def judged(snapshot: Snapshot) -> bool:
    return snapshot.facts.settled is not None
