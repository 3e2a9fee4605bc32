"""A session as plain lines: one per change, for pipes, logs, screen readers and golden files."""

import math
from collections.abc import Callable
from dataclasses import replace

from chargeassist.cli.line_words import line_for
from chargeassist.guide import fault_wording, trouble_wording, wording
from chargeassist.guide.settling_wording import no_longer_settled
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    Advice,
    BadInput,
    CheckJudged,
    ClockSet,
    Event,
    FaultJudged,
    Gap,
    Mark,
    MarkKind,
    ProgramHeld,
    SessionMode,
    SessionResumed,
    SessionStarted,
    SessionStopped,
    Settled,
    SourceBack,
    SourceLost,
    StageChanged,
    StepRecorded,
    Unsettled,
)
from chargeassist.model.hazards import hazard_label
from chargeassist.model.job import Job
from chargeassist.model.judged import JUDGED
from chargeassist.model.mark_event import RECOVERED, WAIVED_BY
from chargeassist.model.text import plain

LONGEST_LINE = 1000

BAD_INPUT_EVERY_S = 10.0
"""Bad input of one source that goes on alike makes a line this often [s]: a probe that sends
nonsense twice a second must not push what to do next off the screen. The record keeps each."""

_DONE = {
    MarkKind.NITROGEN_ON: "nitrogen supply open",
    MarkKind.NITROGEN_OFF: "nitrogen supply shut",
    MarkKind.VENTED: "nitrogen let out",
    MarkKind.PUMP_ON: "vacuum pump on",
    MarkKind.PUMP_OFF: "vacuum pump off",
    MarkKind.OIL_CHANGED: "vacuum pump oil changed",
    MarkKind.VALVE_SHUT: "valve to the pump shut",
    MarkKind.VALVE_OPENED: "valve to the pump open",
    MarkKind.LEAK_MENDED: "leak mended",
}


class Lines:
    """A listener that prints what happens.

    Parameters
    ----------
    write : callable
        Takes one line without its end.
    job : Job
    system : UnitSystem
    """

    def __init__(self, write: Callable[[str], None], job: Job, system: UnitSystem) -> None:
        self.write = write
        self._job = job
        self._system = system
        # By source: reason and time of the last line about its input, and how many came since.
        self._bad: dict[str, tuple[str, float, int]] = {}

    def begin(self, started: SessionStarted, *, replayed: bool) -> None:
        """Print what is charged, to which target, and whether it is real."""
        job, system = self._job, self._system
        goal = job.target
        tolerance = display.difference(goal.tolerance_k, system)
        target = "by the table"
        if goal.fixed_k is not None:
            target = display.difference(goal.fixed_k, system)
        self._line(f"{job.name} · {job.refrigerant}")
        self._line(f"target {goal.judged.name} {target} ± {tolerance} ({goal.source})")
        words = []
        if started.mode is SessionMode.SIMULATED:
            words.append("SIMULATED: nothing here was measured")
        if replayed:
            words.append(f"REPLAY of {started.started_utc}")
        if words:
            self._line(" · ".join(words))

    def _line(self, text: str) -> None:
        # Names, reasons and notes come from outside: none of them begins a line of its own.
        self.write(plain(text, LONGEST_LINE))

    def __call__(self, event: Event) -> None:
        """Print the line of `event`, if it has one."""
        if isinstance(event, BadInput):
            self._bad_input(event)
            return
        if isinstance(event, SessionStopped):
            self._rest_of_bad_input(event.t)
        text = self._text(event)
        if text:
            self._line(f"{display.clock(event.t):>8}  {text}")

    def _bad_input(self, event: BadInput) -> None:
        """Print bad input, but what goes on alike only now and then, with how often it came."""
        reason, said_t, count = self._bad.get(event.source, ("", -math.inf, 0))
        if event.reason == reason and 0.0 <= event.t - said_t < BAD_INPUT_EVERY_S:
            self._bad[event.source] = reason, said_t, count + event.count
            return
        if event.reason == reason:
            event = replace(event, count=event.count + count)
        elif count:
            self._bad_line(event.t, event.source, reason, count)
        raw = f" [{event.raw}]" if event.raw else ""
        self._bad_line(event.t, event.source, event.reason + raw, event.count)
        self._bad[event.source] = event.reason, event.t, 0

    def _rest_of_bad_input(self, t: float) -> None:
        for source, (reason, _, count) in self._bad.items():
            if count:
                self._bad_line(t, source, reason, count)
        self._bad.clear()

    def _bad_line(self, t: float, source: str, reason: str, count: int) -> None:
        times = f" ({count} times)" if count > 1 else ""
        self._line(f"{display.clock(t):>8}  ! {source} sent something unreadable: {reason}{times}")

    def _text(self, event: Event) -> str:
        system = self._system
        match event:
            case Advice():
                return "; ".join(
                    filter(None, (wording.sentence(event, system), line_for(event.cause)))
                )
            case Settled():
                return self._settled(event)
            case Unsettled():
                return f"~ {no_longer_settled(event.cause)}"
            case StepRecorded():
                return self._step(event)
            case CheckJudged():
                return f"= {wording.check(event, system)}"
            case FaultJudged():
                return f"! {fault_wording.fault(event, system)}"
            case StageChanged():
                return f"# stage: {event.stage.value}"
            case Mark():
                return self._mark(event)
            case SourceLost() | SourceBack():
                return f"! {trouble_wording.source_event(event)}"
            case Gap():
                return f"! {event.dropped} readings of {event.source} were dropped"
            case SessionResumed():
                away = "" if event.away_s is None else f" after {display.duration(event.away_s)}"
                return f"! session resumed{away}"
            case ClockSet() | ProgramHeld():
                return f"! {trouble_wording.time_event(event)}"
            case SessionStopped():
                reason = f": {event.reason}" if event.reason else ""
                return f"end: {event.outcome.value}{reason}"
            case _:
                return ""

    def _settled(self, event: Settled) -> str:
        system, judged = self._system, JUDGED[event.judged]
        reads = display.with_uncertainty(event.value_k, event.expanded_k, system)
        beside = [("subcooling", event.subcooling_k), ("superheat", event.superheat_k)]
        how = "" if event.by_hand is None else f", by hand ({event.by_hand} readings)"
        more = "".join(
            f", {name} {display.difference(value_k, system)}"
            for name, value_k in beside
            if name != judged.name and value_k is not None
        )
        if event.target_k is not None:
            target = display.with_uncertainty(event.target_k, event.target_expanded_k, system)
            more += f", target {target}"
        if event.two_phase:
            return f"= no subcooling yet, two-phase at the liquid line: {reads}{more}{how}"
        return f"= settled: {judged.name} {reads}{more}{how}"

    def _step(self, event: StepRecorded) -> str:
        lasted_s = event.ended_t - event.begun_t
        took = f" in {display.duration(lasted_s)}" if lasted_s >= 1.0 else ""
        if event.mass_kg is None:
            return f"+ step {event.number}: amount not given{took}"
        word = "added" if event.mass_kg >= 0.0 else "recovered"
        amount = display.mass(abs(event.mass_kg), self._system)
        return f"+ step {event.number}: {amount} {word}{took}, told by the {event.measured_by}"

    def _mark(self, mark: Mark) -> str:
        match mark.kind:
            case MarkKind.STEP_BEGUN:
                return "> cylinder valve open"
            case MarkKind.STEP_ENDED:
                if mark.mass_kg is not None and mark.mass_kg < 0.0:
                    return f"> recovered {display.mass(-mark.mass_kg, self._system)}"
                if mark.mass_kg is None and mark.text == RECOVERED:
                    return "> recovered, amount not known"
                return "> cylinder valve shut"
            case MarkKind.FREQUENCY_HELD:
                hertz = "" if mark.frequency_hz is None else f" {mark.frequency_hz:g} Hz"
                since = "" if mark.read_t is None else f", held since {display.clock(mark.read_t)}"
                return f"> frequency confirmed{hertz}{since}"
            case MarkKind.FREQUENCY_LEFT:
                return "> frequency no longer held"
            case MarkKind.CONFIRMED:
                return f"> checked: {mark.text.replace('_', ' ')}"
            case MarkKind.CONDITION_WAIVED:
                limit, _, why = mark.text.partition(WAIVED_BY)
                return f"> gone on without {limit.replace('_', ' ')}: {why}"
            case MarkKind.CAUTION_READ:
                return f"> caution read: {hazard_label(mark.text)}"
            case MarkKind.PROBE_SEEN_TO:
                return f"> probe seen to: {mark.text.replace('_', ' ')}"
            case MarkKind.NOTE:
                return f"> note: {mark.text}"
            case MarkKind.STAGE_BEGUN:
                return f"> stage begun: {mark.text}"
            case MarkKind.STAGE_SKIPPED:
                return f"> stage skipped: {mark.text}"
            case MarkKind.WITHDRAWN:
                return f"> withdrawn, the last one typed: {mark.text.replace('_', ' ')}"
            case MarkKind.ENTERED:
                return f"> {entered(mark, self._system)}"
            case _:
                return f"> {_DONE[mark.kind]}"


def entered(mark: Mark, system: UnitSystem) -> str:
    """Return what was typed: "indoor airflow 1050 cfm"."""
    try:
        entry = Entry(mark.text)
    except ValueError:
        return f"{mark.text} {mark.value_si}"
    if mark.value_si is None:
        return f"{entry.label}: not known"
    text = display.reading(mark.value_si, entry.quantity, entry.reference, system)
    earlier = "" if mark.read_t is None else f", read at {display.clock(mark.read_t)}"
    return f"{entry.label} {text}{earlier}"
