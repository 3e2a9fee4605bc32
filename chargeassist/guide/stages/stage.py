"""The interface of a stage: marks and facts in; an instruction, checks and rows out.

A stage keeps its own state and is a pure function of the calls made to it. It says what to do next
(`StageStep.next_mark` is the mark that tells it was done) and judges what it has limits for. A
limit that is not given is missing, never assumed; `chargeassist.guide.stages.missing` says what a
stage lacks.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

from chargeassist.model.channels import Channel, Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    Action,
    Advice,
    CheckJudged,
    CheckResult,
    Mark,
    MarkKind,
    Stage,
)
from chargeassist.stream.facts import Facts


@dataclass(frozen=True, slots=True, kw_only=True)
class NextMark:
    """A mark the technician can make with one key.

    Attributes
    ----------
    kind : MarkKind
    text : str
        Of the mark, such as the name of what is confirmed.
    label : str
        Shown beside the key: "nitrogen supply shut", "pump on".
    entry : Entry or None
        The number to type, for ENTERED.
    """

    kind: MarkKind
    label: str
    text: str = ""
    entry: Entry | None = None


Instruction = tuple[Advice, NextMark | None]
"""What to do, and the mark that tells it was done."""


def typed(entry: Entry) -> NextMark:
    """Return the mark that asks for a typed number."""
    return NextMark(kind=MarkKind.ENTERED, label=f"type: {entry.label}", entry=entry)


def withdraw(entry: Entry) -> NextMark:
    """Return the mark that withdraws what was typed last of an entry; the record keeps both."""
    return NextMark(
        kind=MarkKind.WITHDRAWN, text=entry.value, label=f"withdraw the last {_SHORT[entry]}"
    )


_SHORT = {
    Entry.TEST_PRESSURE: "pressure typed",
    Entry.VACUUM: "vacuum typed",
    Entry.LIQUID_PIPE: "liquid pipe typed",
    Entry.SUCTION_PIPE: "suction pipe typed",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StageRow:
    """One line of a stage's table on the screen.

    Attributes
    ----------
    key : str
        Of the wording table: what the row is about.
    figures : Mapping[str, float]
        SI numbers, each with its unit in the name.
    state : str
        "done", "now", "open", "pass", "fail", "doubt" or "" for a plain value.
    source : str
        Source of the limit in it; empty if it shows none.
    """

    key: str
    figures: Mapping[str, float] = field(default_factory=dict)
    subject: str = ""
    state: str = ""
    source: str = ""


class PlotKind(StrEnum):
    """What a stage's curve shows; another kind begins another curve."""

    RAISE = "raise"  # nitrogen as read [Pa gauge]
    STANDING = "standing"  # ... at the temperatures of the start
    PULL_DOWN = "pull_down"  # vacuum [Pa absolute], on a log scale
    RISE = "rise"  # ... of the isolated circuit

    @property
    def vacuum(self) -> bool:
        """Whether it is a vacuum, drawn on a log scale of absolute pressure."""
        return self in {PlotKind.PULL_DOWN, PlotKind.RISE}


@dataclass(frozen=True, slots=True, kw_only=True)
class StagePlot:
    """One point of a stage's curve.

    Attributes
    ----------
    kind : PlotKind
    value : float
        SI.
    beside : float or None
        Drawn faintly beside it: the pressure as read, if `value` is compensated [SI].
    lines : mapping of str to float
        Level lines it is judged by, with their names [SI].
    since_t : float
        When the curve began [s]; another time begins another curve.
    typed : tuple of (float, float) or None
        Where it is read by hand: when each reading was taken [s] and its value [SI], drawn as marks
        without a line; None where a probe reads.
    """

    kind: PlotKind
    value: float
    since_t: float
    beside: float | None = None
    typed: tuple[tuple[float, float], ...] | None = None
    lines: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class StageStep:
    """What a stage says at one tick.

    Attributes
    ----------
    advice : Advice
    rows : tuple of StageRow
    checks : tuple of CheckJudged
        Judged at this tick for the first time or differently; not repeated.
    next_mark : NextMark or None
        The mark that tells the instruction was done; None if there is nothing to tell.
    other_marks : tuple of NextMark
        Other marks that can be made now.
    plot : StagePlot or None
    """

    advice: Advice
    rows: tuple[StageRow, ...] = ()
    checks: tuple[CheckJudged, ...] = ()
    next_mark: NextMark | None = None
    other_marks: tuple[NextMark, ...] = ()
    plot: StagePlot | None = None


class StageGuide(Protocol):
    """One stage; made once per session and kept, so that one can return to it."""

    def begin(self, t: float) -> None:
        """Note that work on the stage begins, or goes on, at `t` [s]."""

    def take(self, mark: Mark) -> None:
        """Take a mark made in this stage."""

    def tick(self, facts: Facts) -> StageStep:
        """Return what the stage says at the tick of these facts."""


def say(
    t: float,
    action: Action,
    cause: str,
    figures: Mapping[str, float] | None = None,
    *,
    subject: str = "",
) -> Advice:
    """Return the instruction of a stage at time `t` [s]."""
    return Advice(t=t, action=action, cause=cause, subject=subject, figures=dict(figures or {}))


def reading_withdrawn(t: float, stage: Stage, check: str) -> CheckJudged:
    """Return that a verdict no longer stands, because a reading it rested on was wrong."""
    return CheckJudged(
        t=t, stage=stage, check=check, result=CheckResult.NOT_JUDGED, cause="reading_withdrawn"
    )


class CurveStart:
    """Remembers when the present curve of a stage began."""

    def __init__(self) -> None:
        self._begun: tuple[PlotKind, float] | None = None

    def since_t(self, kind: PlotKind, t: float) -> float:
        """Return when the curve of `kind` that is drawn at `t` began [s]."""
        if self._begun is None or self._begun[0] is not kind:
            self._begun = (kind, t)
        return self._begun[1]


class Instruments:
    """The channels of the session by role."""

    def __init__(self) -> None:
        self._count = -1
        self._by_role: dict[Role, Channel] = {}

    def of(self, facts: Facts) -> Mapping[Role, Channel]:
        """Return the first channel of each role; looked up again when channels are added."""
        if len(facts.channels) != self._count:
            self._count = len(facts.channels)
            self._by_role = {}
            for item in facts.channels:
                self._by_role.setdefault(item.channel.role, item.channel)
        return self._by_role
