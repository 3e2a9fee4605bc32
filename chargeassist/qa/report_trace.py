"""What a report's pictures are drawn from: what probes read, and what was read by hand.

Probes give lines. What somebody reads off a gauge is known for one moment, so that it gives points:
no line is drawn over minutes in which nobody looked.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry, believed
from chargeassist.model.events import Mark, MarkKind
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import Facts, Measured, SettleState

EVERY_S: Final = 2.0
"""Points of a line are so far apart [s], and farther where there would be too many."""

NOTHING: Final = float("nan")

Points = tuple[list[float], list[float]]
"""Session times [s] and values [SI]."""


@dataclass
class Trace:
    """What is drawn, gathered while a session is computed again.

    Attributes
    ----------
    t : list of float
        [s]
    judged, low, high, liquid, suction, amps, vacuum : list of float
        As probes read them [K], [K], [K], [Pa], [Pa], [A], [Pa absolute]; NaN where there is none.
    settled : list of bool
    by_hand : list of (float, float)
        Of the judged value, each whole reading taken by hand: when, and what it gave [s, K].
    """

    t: list[float] = field(default_factory=list)
    judged: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    liquid: list[float] = field(default_factory=list)
    suction: list[float] = field(default_factory=list)
    amps: list[float] = field(default_factory=list)
    vacuum: list[float] = field(default_factory=list)
    settled: list[bool] = field(default_factory=list)
    by_hand: list[tuple[float, float]] = field(default_factory=list)

    def __call__(self, snapshot: Snapshot) -> None:
        """Take the picture of a moment."""
        facts, target = snapshot.facts, snapshot.job.target
        value = facts.reading
        self._take_by_hand(facts, value)
        if self.t and facts.t - self.t[-1] < EVERY_S:
            return
        goal = facts.goal(target)
        by_probe = facts.by_hand is None
        self.t.append(facts.t)
        self.judged.append(value.value_k if by_probe and isinstance(value, Measured) else NOTHING)
        self.low.append(NOTHING if isinstance(goal, NoValue) else goal.low_k)
        self.high.append(NOTHING if isinstance(goal, NoValue) else goal.high_k)
        for role, values in (
            (Role.LIQUID_PRESSURE, self.liquid),
            (Role.SUCTION_PRESSURE, self.suction),
            (Role.COMPRESSOR_CURRENT, self.amps),
            (Role.VACUUM, self.vacuum),
        ):
            live = None if role in facts.typed else facts.live(role)
            if live is not None and role is Role.VACUUM:
                live += facts.station_pa_abs  # live pressures are gauge
            values.append(NOTHING if live is None else live)
        self.settled.append(facts.settling.state is SettleState.SETTLED)

    def _take_by_hand(self, facts: Facts, value: Measured | NoValue) -> None:
        hand = facts.by_hand
        if hand is None or hand.newest_t is None or not isinstance(value, Measured) or hand.begun:
            return
        read = hand.newest_t, value.value_k
        if self.by_hand and self.by_hand[-1][0] == hand.newest_t:
            self.by_hand[-1] = read  # put right since
        else:
            self.by_hand.append(read)


def typed_points(marks: Sequence[Mark], entry: Entry) -> Points:
    """Return what was typed for an entry and not withdrawn, at the times it was read."""
    read: list[tuple[float, float]] = []
    for mark in marks:
        if mark.kind is MarkKind.WITHDRAWN and mark.text == entry and read:
            read.pop()
        elif (
            mark.kind is MarkKind.ENTERED
            and mark.value_si is not None
            and believed(mark.text, mark.value_si) is entry
        ):
            read.append((mark.seen_t, mark.value_si))
    return [t for t, _ in read], [value for _, value in read]
