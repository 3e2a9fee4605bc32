"""A technician without probes: does what is said, reads instruments by eye and types."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import Event, Mark, MarkKind, Stage
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
    name: str, typist: Typist, record: Path, change: Callable[[Job], Job] = lambda job: job
) -> list[Event]:
    """Run a session over the circuit of a scenario, with the outdoor air its only probe."""
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
