"""Hazards: where one arises its caution is shown, and an instruction that brings it waits for it.

A caution is acknowledged once per job, by a mark with its time. It never hides live values. Only an
instruction that brings the hazard waits for it; one that ends the hazard does not.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from chargeassist.guide.stages.caution_words import PREFIX, TEXTS
from chargeassist.guide.stages.stage import NextMark, StageRow, StageStep, say
from chargeassist.model.events import (
    Action,
    Advice,
    CheckJudged,
    CheckResult,
    Mark,
    MarkKind,
    Stage,
)
from chargeassist.model.hazards import Hazard, known_hazard
from chargeassist.model.job import Job
from chargeassist.physics.flammable import safety_group

_RUNNING: Final = (Hazard.HEIGHT, Hazard.ELECTRICITY, Hazard.PRESSURE)
_HOSES: Final = (Hazard.PRESSURE, Hazard.BURNS, Hazard.IGNITION)

ARISES_IN: Final[Mapping[Stage, tuple[Hazard, ...]]] = {
    Stage.TIGHTNESS: (Hazard.HEIGHT, Hazard.NITROGEN, Hazard.PRESSURE),
    Stage.DRYNESS: (Hazard.HEIGHT, Hazard.VACUUM, Hazard.IGNITION),
    Stage.WEIGH_IN: (Hazard.HEIGHT, Hazard.VACUUM, *_HOSES),
    Stage.RUN_UP: _RUNNING,
    Stage.CHARGING: (*_RUNNING, Hazard.BURNS, Hazard.IGNITION),
    Stage.VERIFICATION: _RUNNING,
    Stage.CLOSE_OUT: (Hazard.HEIGHT, Hazard.ELECTRICITY, *_HOSES),
}
"""Hazards of each stage, in the order they are shown."""

BROUGHT_BY: Final[Mapping[str, tuple[Hazard, ...]]] = {
    "nitrogen_raise": (),
    "nitrogen_raise_by_hand": (),
    "start_pump": (),
    "pull_again": (),
    "close_out_item": (),
    **dict.fromkeys(
        ("water_boils", "ice_in_circuit", "moist", "moist_and_leaking"),
        (Hazard.NITROGEN, Hazard.PRESSURE),
    ),
}
"""Causes of instructions that bring the hazards of their stage, with further hazards of their own.
An instruction that ends a hazard (shut the supply, let the nitrogen out) must not be listed: it
never waits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MetHazard:
    """A hazard that arose in the job.

    Attributes
    ----------
    since_t : float
        When it first arose [s].
    read_t : float or None
        When its caution was acknowledged [s]; None if it was not.
    """

    hazard: Hazard
    since_t: float
    read_t: float | None = None


class CautionLog:
    """The hazards of one job: when each arose and its caution was acknowledged.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        group = safety_group(job)
        absent = set()
        if group is None or not group.burns:
            absent.add(Hazard.IGNITION)
        if not job.site.at_height:
            absent.add(Hazard.HEIGHT)
        self._absent = frozenset(absent)
        self._since: dict[Hazard, float] = {}
        self._read: dict[Hazard, float] = {}
        self._here: tuple[Hazard, ...] = ()
        self._here_for: tuple[Stage, str, Action] | None = None
        self._noted: tuple[Hazard, ...] = ()
        self._worked_on = False
        self._told: tuple[int, int] | None = None

    @property
    def unread(self) -> tuple[Hazard, ...]:
        """Hazards of the present stage whose caution was not acknowledged, in order."""
        return tuple(hazard for hazard in self._here if hazard not in self._read)

    @property
    def met(self) -> tuple[MetHazard, ...]:
        """Every hazard that arose so far, in order."""
        return tuple(
            MetHazard(hazard=hazard, since_t=t, read_t=self._read.get(hazard))
            for hazard, t in self._since.items()
        )

    def take(self, mark: Mark) -> None:
        """Take a mark; of each hazard the first acknowledgement counts."""
        if mark.kind is MarkKind.CAUTION_READ:
            hazard = known_hazard(mark.text)
            if hazard is not None and hazard not in self._read:
                self._read[hazard] = mark.t
                self._since.setdefault(hazard, mark.t)
        elif mark.kind is not MarkKind.NOTE:
            self._worked_on = True

    def tick(self, t: float, stage: Stage, advice: Advice) -> None:
        """Note the hazards of the present work; of the run-up only once the technician acts.

        Every session opens in the run-up, whatever the work begins with.
        """
        told = (stage, advice.cause, advice.action)
        if told != self._here_for:
            hazards = ARISES_IN[stage] + BROUGHT_BY.get(advice.cause, ())
            if advice.action in {Action.ADD, Action.RECOVER}:
                hazards += _HOSES
            self._here = tuple(dict.fromkeys(each for each in hazards if each not in self._absent))
            self._here_for = told
        if self._noted is not self._here and (self._worked_on or stage is not Stage.RUN_UP):
            for hazard in self._here:
                self._since.setdefault(hazard, t)
            self._noted = self._here

    def guarded(self, step: StageStep, t: float, stage: Stage) -> StageStep:
        """Return the step of a stage as changed by its cautions.

        An instruction that brings a hazard is replaced by its caution until that is acknowledged.
        While the stage itself waits, the instruction stays and the key acknowledges the caution.
        """
        self.tick(t, stage, step.advice)
        unread = self.unread
        advice, mark = step.advice, step.next_mark
        brings = advice.cause in BROUGHT_BY or advice.action in {Action.ADD, Action.RECOVER}
        if unread and (brings or advice.action is Action.WAIT):
            mark = NextMark(
                kind=MarkKind.CAUTION_READ,
                text=unread[0].value,
                label=f"caution read, {unread[0].label}",
            )
            if brings:
                advice = say(t, Action.FIX_FIRST, PREFIX + unread[0].value)
        if stage is not Stage.CLOSE_OUT:
            return replace(step, advice=advice, next_mark=mark)
        return replace(
            step,
            advice=advice,
            next_mark=mark,
            rows=(self._row(), *step.rows),
            checks=(*step.checks, *self._judged(t)),
        )

    def _figures(self) -> dict[str, float]:
        return {"read": float(len(self._read)), "met": float(len(self._since))}

    def _never(self) -> tuple[Hazard, ...]:
        return tuple(hazard for hazard in self._since if hazard not in self._read)

    def _row(self) -> StageRow:
        never = self._never()
        return StageRow(
            key="cautions",
            figures=self._figures(),
            subject=", ".join(hazard.label for hazard in never),
            state="doubt" if never else "done",
            source="counted from the record",
        )

    def _judged(self, t: float) -> tuple[CheckJudged, ...]:
        told = (len(self._read), len(self._since))
        if told == self._told:
            return ()
        self._told = told
        never = self._never()
        sources = dict.fromkeys(TEXTS[hazard].citation for hazard in self._since)
        return (
            CheckJudged(
                t=t,
                stage=Stage.CLOSE_OUT,
                check="cautions",
                result=CheckResult.NOT_JUDGED if never else CheckResult.RECORDED,
                cause="cautions_unread" if never else "cautions_read",
                figures=self._figures(),
                subject=", ".join(hazard.label for hazard in never),
                sources=tuple(sources),
            ),
        )
