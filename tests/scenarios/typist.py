"""A technician without probes: does what is said, reads instruments by eye and types."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import Action, Event, Mark, MarkKind, Stage
from chargeassist.model.job import Job, ProbeSpec
from chargeassist.session.opening import open_new
from chargeassist.session.scenario.scenario import find_scenario
from chargeassist.session.source import TruthListener

Truth = Mapping[str, float]
Reads = Callable[[Entry, Truth], float]


class Typist:
    """Follows the one key of the dashboard; what it asks for is read off the truth.

    Parameters
    ----------
    begins : Stage
    reads : callable
        What an instrument shows of the truth, to the eye [SI].
    ends : frozenset of str
        Causes of instructions at which the work is over.
    before : mapping of str to Mark
        What is done instead of waiting, by the cause of an instruction.
    looks_every_s : float
        So often the gauge is read where nothing presses.
    """

    def __init__(
        self,
        begins: Stage,
        reads: Reads,
        ends: frozenset[str],
        before: Mapping[str, MarkKind] | None = None,
        looks_every_s: float = 180.0,
    ) -> None:
        self._begins, self._reads, self._ends = begins, reads, ends
        self._before = dict(before or {})
        self._looks_every_s = looks_every_s
        self._acted_t = -1e9
        self.truth: dict[str, float] = {}
        self.causes: list[str] = []
        self.finished = False

    def hear(self, t: float, so: Truth) -> None:
        """Take note of what is so."""
        self.truth = dict(so)

    def look(self, snapshot: Snapshot) -> tuple[Mark, ...]:
        """Look at one snapshot and return what to do now."""
        advice, t = snapshot.advice, snapshot.t
        if not self.causes or self.causes[-1] != advice.cause:
            self.causes.append(advice.cause)
        if advice.cause in self._ends:
            self.finished = True
            return ()
        if snapshot.stage is not self._begins and snapshot.stage_step is None:
            return self._act(t, 5.0, Mark(t=t, kind=MarkKind.STAGE_BEGUN, text=self._begins.value))
        if advice.cause in self._before:
            return self._act(t, 3.0, Mark(t=t, kind=self._before[advice.cause]))
        mark = snapshot.waits_for
        if mark is None:
            return ()
        between = advice.cause == "standing_by_hand" and advice.figures["seconds_s"] > 0.0
        if between and mark.entry is Entry.TEST_PRESSURE:
            return ()  # it is invited; the two ends are all that is asked for
        pace_s = self._looks_every_s if advice.action.value == "wait" else 20.0
        if mark.entry is None:
            return self._act(t, 8.0, Mark(t=t, kind=mark.kind, text=mark.text))
        value = self._reads(mark.entry, self.truth)
        told = Mark(t=t, kind=MarkKind.ENTERED, text=mark.entry.value, value_si=value)
        return self._act(t, pace_s, told)

    def _act(self, t: float, pace_s: float, mark: Mark) -> tuple[Mark, ...]:
        if t - self._acted_t < pace_s:
            return ()
        self._acted_t = t
        return (mark,)


async def work_by_hand(
    name: str,
    typist: "Typist | WholeJob",
    record: Path,
    change: Callable[[Job], Job] = lambda job: job,
    place: str | None = None,
) -> list[Event]:
    """Run a session over the circuit of a scenario, with the outdoor air its only probe.

    Where a `place` is given, over the circuits it names, one after the other.
    """
    scenario = find_scenario(name, Path(), 7)
    unit = scenario.stage_unit or scenario.unit
    assert unit is not None
    (source,) = scenario.job.sources
    only = tuple(
        channel
        for channel in unit.probes.channels(source.name)
        if channel.role is Role.OUTDOOR_AIR_TEMPERATURE
    )
    bare = replace(source, probes=tuple(ProbeSpec(channel=channel) for channel in only))
    if place is not None:
        bare = replace(bare, url=f"simulator:{place}?seed=7")
    events: list[Event] = []
    opened = open_new(
        change(replace(scenario.job, sources=(bare,))),
        scenario.folder,
        record=record,
        speed=None,
        listeners=(events.append,),
        attendant=typist,
    )
    tell: Callable[[TruthListener], None] = opened.session._sources[0].tell_truth  # type: ignore[attr-defined]
    tell(typist.hear)
    await opened.session.run(lambda snapshot: None)
    return events


class WholeJob:
    """A technician who does a whole job by hand: what is said, in its order, to the signature.

    Parameters
    ----------
    reads : callable
        What an instrument shows of the truth, to the eye [SI].
    begins : Stage
    first_kg : float
        Weighed in before the unit is started; the rest is charged.
    """

    def __init__(self, reads: Reads, begins: Stage, first_kg: float) -> None:
        self._reads, self._begins, self._first_kg = reads, begins, first_kg
        self._acted_t, self._shut = -1e9, (0.0, 0.0)
        self.truth: dict[str, float] = {}
        self.causes: list[str] = []
        self.finished = False

    def hear(self, t: float, so: Truth) -> None:
        """Take note of what is so."""
        self.truth = dict(so)

    def look(self, snapshot: Snapshot) -> tuple[Mark, ...]:
        """Look at one snapshot and return what to do now."""
        advice, t = snapshot.advice, snapshot.t
        if not self.causes or self.causes[-1] != advice.cause:
            self.causes.append(advice.cause)
        if advice.cause == "close_out_done":
            self.finished = True
            return ()
        mark, pace_s = self._next(snapshot)
        if mark is None or t - self._acted_t < pace_s:
            return ()
        self._acted_t = t
        return (mark,)

    def _next(self, snapshot: Snapshot) -> tuple[Mark | None, float]:
        advice, t, asked = snapshot.advice, snapshot.t, snapshot.waits_for
        if snapshot.stage is Stage.RUN_UP and not self.causes[1:]:
            return Mark(t=t, kind=MarkKind.STAGE_BEGUN, text=self._begins.value), 0.0
        if snapshot.stage_step is None and snapshot.unread:
            return Mark(t=t, kind=MarkKind.CAUTION_READ, text=snapshot.unread[0].value), 5.0
        if snapshot.facts.step_open is not None:
            kg, flow_s = self._shut
            return Mark(t=t, kind=MarkKind.STEP_ENDED, mass_kg=kg), flow_s
        if snapshot.stage is Stage.WEIGH_IN and advice.action is Action.ADD:
            if snapshot.facts.ledger:
                return Mark(t=t, kind=MarkKind.STAGE_BEGUN, text=Stage.RUN_UP.value), 10.0
            self._shut = self._first_kg, 300.0
            return Mark(t=t, kind=MarkKind.STEP_BEGUN), 6.0
        if advice.action is Action.ADD and advice.mass_kg is not None:
            self._shut = advice.mass_kg, advice.mass_kg / 0.0011
            return Mark(t=t, kind=MarkKind.STEP_BEGUN, mass_kg=advice.mass_kg), 6.0
        if advice.cause == "hold_missing":
            hertz = advice.figures["required_hz"]
            return Mark(t=t, kind=MarkKind.FREQUENCY_HELD, frequency_hz=hertz), 5.0
        if advice.cause in {"pull_stalled", "water_boils"}:
            return Mark(t=t, kind=MarkKind.VALVE_SHUT), 3.0
        if asked is None:
            return None, 0.0
        if asked.entry is None:
            return Mark(t=t, kind=asked.kind, text=asked.text), 8.0
        value = self._reads(asked.entry, self.truth)
        resting = advice.action is Action.WAIT and snapshot.stage_step is not None
        told = Mark(t=t, kind=MarkKind.ENTERED, text=asked.entry.value, value_si=value)
        return told, 150.0 if resting else 12.0
