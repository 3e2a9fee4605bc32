"""A pipe clamp pressed on again with bad contact: waited for, told, and not judged by meanwhile.

The readings are invented. 90 s are what a clamp may take: California Title 24, Reference Appendix
RA3.2.2.2.2.2 (2013).
"""

import math
import random

import pytest

from chargeassist.guide import wording
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, ChannelDeclared, Mark, MarkKind, Reading
from chargeassist.stream.probe_findings import ProbeTrouble, Severity
from chargeassist.tui import judgement
from tests.unit.guide.room import LIQUID_PA, Room, bubble_k

AIR_K = 297.0
LIMIT_S = 90.0


class Pressed(Room):
    """The clamp hangs in the air, and is pressed on while the unit runs; its lag is set."""

    def __init__(self, lag_s: float) -> None:
        super().__init__()
        self.lag_s = lag_s
        self.on_t = math.inf
        self.subcooling = 5.0
        self.noise = random.Random(5)
        role = Role.OUTDOOR_AIR_TEMPERATURE
        self.step(ChannelDeclared(t=0.0, channel=Channel(name=role.value, role=role, unit="K")))

    def run(self, seconds: int) -> Snapshot:
        for _ in range(seconds):
            self.t += 1.0
            for name, value, noise in (
                ("liquid_pressure", LIQUID_PA, 1500.0),
                ("liquid_temperature", self.pipe_k - self.left_k, 0.03),
                ("outdoor_air_temperature", AIR_K, 0.03),
            ):
                shown = value + self.noise.gauss(0.0, noise)
                self.step(Reading(t=self.t, channel=name, value=shown))
        return self.snapshot

    @property
    def pipe_k(self) -> float:
        return bubble_k() - self.subcooling

    @property
    def left_k(self) -> float:
        """How far the clamp still is from its pipe."""
        gap_k = self.pipe_k - AIR_K
        return gap_k if self.t < self.on_t else gap_k * math.exp((self.on_t - self.t) / self.lag_s)

    def press_on(self) -> None:
        self.on_t = self.t
        self.step(Mark(t=self.t, kind=MarkKind.PROBE_SEEN_TO, text="liquid_temperature"))


def watched(lag_s: float) -> list[tuple[float, float, Snapshot]]:
    """Return time since it was pressed on, what is left of its way, and the picture, by seconds."""
    room = Pressed(lag_s)
    room.run(120)
    room.press_on()
    return [(room.t - room.on_t, room.left_k, room.run(1)) for _ in range(700)]


def creeping(snapshot: Snapshot) -> list[Severity]:
    return [
        each.severity
        for each in snapshot.facts.findings
        if each.kind is ProbeTrouble.LAGGING and each.channel == "liquid_temperature"
    ]


@pytest.mark.parametrize("lag_s", [90.0, 140.0])
def test_a_clamp_that_creeps_too_long_is_told_and_nothing_is_judged_by_it(lag_s: float) -> None:
    seen = watched(lag_s)
    assert seen[5][2].advice.cause == "clamp_settles"
    told = [(since_s, each) for since_s, _, each in seen if Severity.CAUTION in creeping(each)]
    assert told, "nobody was told"
    since_s, first = told[0]
    assert LIMIT_S < since_s < LIMIT_S + 60.0
    cautions = [wording.caution(item, UnitSystem.SI) for item in first.cautions]
    assert any("liquid line temperature: still creeping" in item for item in cautions), cautions
    (finding,) = [each for each in first.facts.findings if each.kind is ProbeTrouble.LAGGING]
    words = judgement.finding(finding, "liquid line temperature", first.t)
    assert "it creeps for longer than 90 s: bad contact" in words
    for since_s, left_k, each in seen:
        if left_k > 1.0:
            assert each.facts.settled is None, since_s
            assert each.advice.action not in {Action.ADD, Action.RECOVER, Action.STOP}, since_s
    assert seen[-1][2].facts.settled is not None
    assert creeping(seen[-1][2]) == []


def test_one_that_is_there_in_time_is_never_a_caution() -> None:
    seen = watched(25.0)
    assert all(Severity.CAUTION not in creeping(each) for _, _, each in seen)
    assert seen[-1][2].advice.action is Action.STOP
