"""What a picture is drawn from: a scenario's events, what the screen showed, and what was so."""

import asyncio
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Role
from chargeassist.model.events import ChannelDeclared, Event, Mark, MarkKind, Reading
from chargeassist.session.runner import Listener
from chargeassist.session.scenario.scenario import Scenario
from chargeassist.session.scenario.simulate import run_scenario
from chargeassist.stream.facts import Measured

GAP_MIN = 0.09
"""Readings further apart are not joined [min]."""

Series = tuple[list[float], list[float]]
"""Times [min] and values [SI]."""


@dataclass
class Told:
    """One session of a scenario.

    Attributes
    ----------
    scenario : Scenario
    events : sequence of Event
    snapshots : list of Snapshot
    truth : list of (float, mapping of str to float)
        Session time [s] and what was so; see `chargeassist.session.source.KnowsTruth`.
    """

    scenario: Scenario
    events: Sequence[Event] = ()
    snapshots: list[Snapshot] = field(default_factory=list)
    truth: list[tuple[float, Mapping[str, float]]] = field(default_factory=list)

    @property
    def marks(self) -> list[Mark]:
        """What was done, in order; a note is none, nor is a caution that was read."""
        marks = [event for event in self.events if isinstance(event, Mark)]
        return [mark for mark in marks if mark.kind not in {MarkKind.NOTE, MarkKind.CAUTION_READ}]

    def true(self, name: str) -> Series:
        """Return one quantity of the truth; empty where it is not told."""
        told = [(t / 60.0, so[name]) for t, so in self.truth if name in so]
        return [t for t, _ in told], [value for _, value in told]

    def read(self, role: Role) -> Series:
        """Return the readings of a role; pressures as the channel counts them."""
        names = {
            event.channel.name
            for event in self.events
            if isinstance(event, ChannelDeclared) and event.channel.role is role
        }
        minutes: list[float] = []
        values: list[float] = []
        for event in self.events:
            if isinstance(event, Reading) and event.channel in names:
                if minutes and event.t / 60.0 - minutes[-1] > GAP_MIN:
                    minutes.append(event.t / 60.0)
                    values.append(math.nan)  # no line is drawn over what was not heard
                minutes.append(event.t / 60.0)
                values.append(event.value)
        return minutes, values

    def shown(self, pick: Callable[[Snapshot], object]) -> Series:
        """Return what the screen showed of a measured value; NaN where there was none."""
        found = [(snapshot.t / 60.0, pick(snapshot)) for snapshot in self.snapshots]
        values = [value.value_k if isinstance(value, Measured) else math.nan for _, value in found]
        return [t for t, _ in found], values


def scaled(series: Series, size: float) -> Series:
    """Return a series in units of `size`, in the unit of its values."""
    return series[0], [value / size for value in series[1]]


def tell(scenario: Scenario, listeners: Sequence[Listener] = ()) -> Told:
    """Run `scenario` and keep all that a picture needs."""
    told = Told(scenario)
    told.events = asyncio.run(
        run_scenario(
            scenario,
            listeners=listeners,
            truth=lambda t, so: told.truth.append((t, dict(so))),
            watch=told.snapshots.append,
        )
    )
    return told
