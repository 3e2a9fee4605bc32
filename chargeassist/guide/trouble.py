"""Trouble with the logger itself: sources, record, clocks and probes."""

from dataclasses import replace

from chargeassist.guide.snapshot import Caution, SourceFacts
from chargeassist.guide.trouble_wording import BOARD, RECORDER
from chargeassist.model.events import (
    BadInput,
    ClockSet,
    Gap,
    InputEvent,
    ProgramHeld,
    SessionResumed,
    SourceBack,
    SourceLost,
)
from chargeassist.stream.facts import Facts
from chargeassist.stream.probe_findings import Severity

TIME_CAUTION_S = 120.0
"""How long a clock that was set, or a sleep, stays among the cautions [s]."""

_OWN_CAUTION = {RECORDER: "record_failing", BOARD: "board_lost"}


class Trouble:
    """Follows the events that report trouble; verdicts do not depend on it."""

    def __init__(self) -> None:
        self._sources: dict[str, SourceFacts] = {}
        self._times: dict[type, ClockSet | ProgramHeld] = {}

    @property
    def sources(self) -> tuple[SourceFacts, ...]:
        """Every source that ever had trouble, in order of the first."""
        return tuple(self._sources.values())

    def take(self, event: InputEvent) -> None:
        """Take the next event; those that report no trouble are ignored."""
        match event:
            case SourceLost():
                known = self._source(event.source)
                self._sources[event.source] = replace(
                    known, lost_since=event.t, reason=event.reason
                )
            case SourceBack():
                known = self._source(event.source)
                self._sources[event.source] = replace(known, lost_since=None, reason="")
            case BadInput():
                known = self._source(event.source)
                self._sources[event.source] = replace(
                    known,
                    bad_inputs=known.bad_inputs + event.count,
                    bad_why=event.reason,
                    bad_t=event.t,
                )
            case Gap():
                known = self._source(event.source)
                self._sources[event.source] = replace(known, dropped=known.dropped + event.dropped)
            case SessionResumed():
                # Every source starts again, and reports itself if it is still lost.
                for name, known in self._sources.items():
                    self._sources[name] = replace(known, lost_since=None, reason="")
            case ClockSet() | ProgramHeld():
                self._times[type(event)] = event
            case _:
                pass

    def cautions(self, t: float) -> list[Caution]:
        """Return the cautions at `t` [s]."""
        found = []
        for source in self._sources.values():
            if source.lost_since is None:
                continue
            if source.name in _OWN_CAUTION:
                found.append(Caution(cause=_OWN_CAUTION[source.name], subject=source.reason))
            else:
                silent = max(0.0, t - source.lost_since)
                found.append(
                    Caution(cause="source_lost", subject=source.name, figures={"seconds_s": silent})
                )
        found += [
            _time_caution(event) for event in self._times.values() if t - event.t <= TIME_CAUTION_S
        ]
        return found

    def _source(self, name: str) -> SourceFacts:
        return self._sources.get(name) or SourceFacts(name=name)


def _time_caution(event: ClockSet | ProgramHeld) -> Caution:
    if isinstance(event, ClockSet):
        return Caution(cause="clock_set", figures={"step_s": event.step_s})
    cause = "machine_slept" if event.asleep else "program_held"
    return Caution(cause=cause, figures={"held_s": event.held_s})


def probe_doubts(facts: Facts) -> list[Caution]:
    """Return a caution for each finding about a probe that is worth one."""
    labels = {item.channel.name: item.channel.role.label for item in facts.channels}
    return [
        Caution(
            cause="probe_doubt",
            subject=f"{labels.get(each.channel, each.channel)}: {each.kind.value}",
            figures={"since_s": max(0.0, facts.t - each.since_t)},
        )
        for each in facts.findings
        if each.severity is not Severity.NOTE
    ]
