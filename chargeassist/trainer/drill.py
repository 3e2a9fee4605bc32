"""One drill: a session whose verdicts are hidden, the trainee's calls, and their score.

The assistant runs along as in any session; nobody is shown what it says. In a scenario a call acts:
"add n" opens the cylinder valve for n, "fix" puts right what can be put right on the spot. In a
recording what was done is done, and calls are only scored.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import (
    Event,
    Mark,
    MarkKind,
    Outcome,
    SessionStarted,
    StepRecorded,
)
from chargeassist.model.limits import LimitKey
from chargeassist.model.text import plain
from chargeassist.plant.physical_settings import PhysicalSettings
from chargeassist.session.job.toml_table import suggestion
from chargeassist.session.opening import open_new, open_replay
from chargeassist.session.pilot import VALVE_S
from chargeassist.session.record.package import open_record
from chargeassist.session.runner import Session
from chargeassist.session.scenario.scenario import Scenario, find_scenario, scenario_names
from chargeassist.stream.facts import Measured
from chargeassist.trainer.calls import FIXES, GOES_ON, Call, CallKind
from chargeassist.trainer.result import JudgedCall, LeftOut, Result
from chargeassist.trainer.score import Reference, score
from chargeassist.trainer.showing import Look, about_the_unit, patiently, showing
from chargeassist.trainer.told_faults import ToldFaults
from chargeassist.trainer.truth import (
    FaultWatch,
    Stretch,
    frequencies,
    probes_of,
    stretch_at,
    told_stretches,
    told_target_k,
    true_stretches,
    true_target_k,
)

LONGEST_TRAINEE: Final = 80
"""Letters that are kept of a name."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """What is drilled: a scenario, or the recording at a path."""

    name: str
    title: str
    scenario: Scenario | None = None
    recording: Path | None = None


def find_exercise(place: str, seed: int | None) -> Exercise:
    """Return a scenario by name or file, or a recording by its path.

    Raises
    ------
    ConfigError
        There is neither, or a recording is asked for with another seed.
    """
    if place.endswith(".toml") or place in scenario_names():
        scenario = find_scenario(place, Path(), seed)
        if scenario.unit is None:
            raise ConfigError(
                f"{place}: expected a unit that runs, got a circuit before charging, where there "
                f"is no charge to call; practise it with: chargeassist live simulator:{place}"
            )
        return Exercise(scenario.name, scenario.title, scenario=scenario)
    path = Path(place)
    if not path.exists():
        raise ConfigError(
            f"{place!r}{suggestion(place, scenario_names())}: expected a recording, a scenario's "
            f"file (.toml), or one of "
            f"{', '.join(scenario_names())}"
        )
    if seed is not None:
        raise ConfigError("a recording is what it is; --seed is for scenarios")
    name = path.resolve().name
    return Exercise(name, f"recording {name}", recording=path)


class Drill:
    """A drill that can be run, and called in.

    Parameters
    ----------
    exercise : Exercise
    speed : float or None
    script : sequence of Call
        Calls made by themselves when their time has come.
    record : Path, optional
        Where the session of a scenario goes; the usual folder otherwise.
    trainee : str

    Attributes
    ----------
    session : Session
    calls : list of JudgedCall
        So far, with what the tool said; not to be shown before the end.
    """

    def __init__(
        self,
        exercise: Exercise,
        *,
        speed: float | None = 1.0,
        script: Sequence[Call] = (),
        record: Path | None = None,
        trainee: str = "",
    ) -> None:
        self.exercise = exercise
        self._script = list(script)
        self._trainee = plain(trainee, LONGEST_TRAINEE)
        self._events: list[Event] = []
        self._shut: Mark | None = None
        self._latest: Snapshot | None = None
        self._ended_by = "time"
        self.calls: list[JudgedCall] = []
        listeners = [self._events.append]
        self._flow_kg_per_s = PhysicalSettings().flow_kg_per_s
        if exercise.scenario is not None:
            scenario = exercise.scenario
            if scenario.unit is not None:
                self._flow_kg_per_s = scenario.unit.settings.flow_kg_per_s
            opened = open_new(
                scenario.job, scenario.folder, record=record, speed=speed, listeners=listeners
            )
        elif exercise.recording is not None:
            opened = open_replay(exercise.recording, speed=speed, listeners=listeners)
        else:
            raise ConfigError("expected a scenario or a recording")
        self.session: Session = opened.session
        self.started: SessionStarted = opened.started

    @property
    def acts(self) -> bool:
        """Whether calls act on a plant."""
        return self.exercise.scenario is not None

    @property
    def step_open(self) -> bool:
        """Whether refrigerant is flowing for a call."""
        return self._shut is not None

    @property
    def over(self) -> bool:
        """Whether nothing can be called any more."""
        return self._ended_by != "time"

    @property
    def not_made(self) -> tuple[Call, ...]:
        """Calls of the script whose time has not come."""
        return tuple(self._script)

    async def run(self, on_snapshot: Callable[[Snapshot], None]) -> None:
        """Run the drill to its end; `on_snapshot` must veil what it shows."""
        await self.session.run(lambda snapshot: self._see(snapshot, on_snapshot))

    def call(self, kind: CallKind, mass_kg: float | None = None, fix: str = "") -> None:
        """Take a call at the present time.

        Raises
        ------
        ConfigError
            Nothing has been read yet, the drill is over, or the valve is open already.
        """
        latest = self._latest
        if latest is None:
            raise ConfigError("no values have arrived yet")
        if self.over or not self.session.takes_marks:
            raise ConfigError("the drill is over")
        if kind in {CallKind.ADD, CallKind.RECOVER} and self._shut is not None:
            raise ConfigError("the cylinder valve is still open for the last call")
        t = max(self.session.now, latest.t)
        self.calls.append(self._judged(latest, Call(t, kind, mass_kg, fix)))
        if self.acts:
            self._act(latest, kind, mass_kg, fix)
        if kind is CallKind.STOP or (kind is CallKind.FIX and fix not in GOES_ON):
            self._ended_by = kind.value if kind is CallKind.STOP else f"fix: {fix}"
            self.session.end(Outcome.COMPLETE, f"drill ended by {self._ended_by}")

    def _act(self, latest: Snapshot, kind: CallKind, mass_kg: float | None, fix: str) -> None:
        session = self.session
        if kind is CallKind.ADD and mass_kg is not None:
            session.mark(MarkKind.STEP_BEGUN, mass_kg=mass_kg)
            shut_t = session.now + VALVE_S + mass_kg / self._flow_kg_per_s
            self._shut = Mark(t=shut_t, kind=MarkKind.STEP_ENDED, mass_kg=mass_kg)
        elif kind is CallKind.RECOVER and mass_kg is not None:
            session.mark(MarkKind.STEP_ENDED, mass_kg=-mass_kg)
        elif kind is CallKind.FIX and fix == "frequency":
            session.mark(MarkKind.FREQUENCY_HELD, frequency_hz=session.job.hold.required_hz)
        elif kind is CallKind.FIX:
            names = [item.channel.name for item in latest.facts.channels]
            for name in probes_of(FIXES[fix], names):
                session.mark(MarkKind.PROBE_SEEN_TO, text=name)

    def _see(self, snapshot: Snapshot, on_snapshot: Callable[[Snapshot], None]) -> None:
        first, self._latest = self._latest is None, snapshot
        takes = self.session.takes_marks
        if first and self.acts and takes:
            # A simulated unit has neither: what the tool says beside the calls is of the charge.
            self.session.mark(MarkKind.CONFIRMED, text=LimitKey.FILTERS_PANELS.value)
        if takes and not snapshot.finished:
            if self._shut is not None and snapshot.t >= self._shut.t:
                mass_kg = None if snapshot.scale_heard else self._shut.mass_kg
                self._shut = None
                self.session.mark(MarkKind.STEP_ENDED, mass_kg=mass_kg)
            while self._script and self._script[0].t <= snapshot.t and not self.over:
                due = self._script[0]
                if due.kind in {CallKind.ADD, CallKind.RECOVER} and self._shut is not None:
                    break  # a hand has one valve: the next dose waits for it
                del self._script[0]
                self.call(due.kind, due.mass_kg, due.fix)
        on_snapshot(snapshot)

    def _judged(self, latest: Snapshot, call: Call) -> JudgedCall:
        reading = latest.facts.reading
        advice = latest.advice
        return JudgedCall(
            t=round(call.t, 3),
            kind=call.kind.value,
            mass_kg=call.mass_kg,
            fix=call.fix,
            reading_k=reading.value_k if isinstance(reading, Measured) else None,
            tool_said=advice.action.value,
            tool_mass_kg=advice.mass_kg,
            tool_cause=advice.cause,
            tool_subject=advice.subject,
            showed=showing(self.session.job, latest.facts),
        )

    def _left(self) -> Look | None:
        """Return what the end of the drill offered."""
        latest = self._latest
        if latest is None:
            return None
        advice = latest.advice
        said = about_the_unit(advice.action.value, advice.cause)
        return Look(said, showing(self.session.job, latest.facts))

    def result(self) -> Result:
        """Score the drill; takes some seconds where a plant's truth is computed.

        Raises
        ------
        PlantLimitError
            The machine reached a state that the model has no equations for.
        """
        job, events = self.session.job, self._events
        marks = tuple(event for event in events if isinstance(event, Mark))
        end_t = max((event.t for event in events), default=0.0)
        if self.exercise.recording is not None:
            # Who stops early is still held against what the recording came to.
            with open_record(self.exercise.recording) as record:
                events = list(record.events())
        told = told_stretches(events)
        scenario = self.exercise.scenario
        faults: frozenset[str] = frozenset()
        if scenario is not None and scenario.unit is not None:
            watch = FaultWatch(scenario.unit, marks, frequencies(events), job.hold.required_hz)
            reference = Reference(
                stretches=true_stretches(scenario.unit, marks, end_t, job),
                faults_at=watch.at,
                grown_at=watch.grown_at,
                end_t=end_t,
                told=told,
                target_k=true_target_k(scenario.unit, job),
                left=self._left(),
                patience=lambda t, to_the_end: patiently(scenario, marks, t, to_the_end=to_the_end),
            )
            faults = frozenset().union(*(watch.at(float(t)) for t in range(0, int(end_t), 5)))
        else:
            verdicts = ToldFaults(events)
            reference = Reference(
                stretches=told,
                faults_at=verdicts.named_by,
                grown_at=verdicts.standing_at,
                end_t=end_t,
                known=False,
                target_k=told_target_k(job, events),
            )
        calls = tuple(
            _beside(call, reference.stretches, told, events, acts=self.acts) for call in self.calls
        )
        points, parts = score(job, calls, reference)
        return Result(
            exercise=self.exercise.name,
            title=self.exercise.title,
            truth="plant" if reference.known else "tool",
            seed=None if scenario is None else scenario.seed,
            trainee=self._trainee,
            session_id=self.started.session_id,
            started_utc=self.started.started_utc,
            judged=job.target.judged.name,
            lasted_s=round(end_t, 1),
            ended_by=self._ended_by,
            points=round(points, 1),
            parts=parts,
            calls=calls,
            left_out=tuple(
                LeftOut(t=round(call.t, 3), kind=call.kind, mass_kg=call.mass_kg, fix=call.fix)
                for call in self._script
            ),
            faults=tuple(sorted(faults)),
        )


def _beside(
    call: JudgedCall,
    stretches: Sequence[Stretch],
    told: Sequence[Stretch],
    events: Sequence[Event],
    *,
    acts: bool,
) -> JudgedCall:
    """Return a call with what was true then, and what the tool made of it."""
    true, tool = stretch_at(stretches, call.t), stretch_at(told, call.t)
    late_s = None if true.settled_t is None else round(call.t - true.settled_t, 1)
    tool_late_s = None if tool.settled_t is None else round(call.t - tool.settled_t, 1)
    if tool_late_s is not None and tool_late_s < 0.0:
        tool_late_s = None  # what it says after the call is no help to whoever makes it
    error_k = None
    if true.value_k is not None and call.reading_k is not None:
        error_k = round(call.reading_k - true.value_k, 2)
    done = None
    if not acts and call.kind in {CallKind.ADD, CallKind.RECOVER}:
        # An amount may have been told later, under the number of its step.
        steps = {e.number: e for e in events if isinstance(e, StepRecorded)}
        done = next((e.mass_kg for e in steps.values() if e.ended_t > call.t), None)
    return replace(
        call,
        reading_k=None if call.reading_k is None else round(call.reading_k, 2),
        late_s=late_s,
        value_error_k=error_k,
        tool_late_s=tool_late_s,
        done_kg=done,
    )
