"""The course of the job: which stage was begun, done, repeated or skipped, and why.

Nothing is erased: a repeated stage keeps its earlier verdicts, and a skipped one its reason.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from chargeassist.guide.stages.choice import TESTS, known_stage
from chargeassist.model.events import CheckJudged, CheckResult, Mark, MarkKind, Stage

DECIDES: Mapping[Stage, str] = {
    Stage.TIGHTNESS: "standing_pressure",
    Stage.DRYNESS: "vacuum_rise",
    Stage.WEIGH_IN: "weigh_in",
    Stage.VERIFICATION: "final_reading",
    Stage.CLOSE_OUT: "close_out",
}
"""The check that decides whether a stage is done; the run-up is done once charging is reached."""

_DONE = {CheckResult.PASS, CheckResult.PASS_NOT_CERTAIN, CheckResult.RECORDED}
_NEXT = (Stage.TIGHTNESS, Stage.DRYNESS, Stage.WEIGH_IN, Stage.RUN_UP)
_SEPARATOR = ": "


class StageState(StrEnum):
    """State of a stage; the values are shown as they are."""

    NOW = "now"
    DONE = "done"
    SKIPPED = "skipped"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class StageCourse:
    """What became of one stage so far.

    Attributes
    ----------
    begun_t : tuple of float
        Each time it was begun [s].
    skipped_t : float or None
        When it was last skipped [s]; None if never.
    why : str
        The reason given for that.
    judged : tuple of CheckJudged
        Verdicts of the check that decides it, the newest last.
    reached : bool
        Whether the job has come to it, by a mark or by itself.
    """

    begun_t: tuple[float, ...] = ()
    skipped_t: float | None = None
    why: str = ""
    judged: tuple[CheckJudged, ...] = ()
    reached: bool = False

    @property
    def redone(self) -> int:
        """How many times it was repeated."""
        return max(len(self.begun_t) - 1, 0)

    @property
    def is_skipped(self) -> bool:
        """Whether it was skipped and not begun since."""
        if self.skipped_t is None:
            return False
        return not self.begun_t or self.begun_t[-1] <= self.skipped_t


def skip_text(stage: Stage, why: str) -> str:
    """Return the text of the mark that skips a stage."""
    return f"{stage.value}{_SEPARATOR}{why}"


def skipped(mark: Mark) -> tuple[Stage, str] | None:
    """Return stage and reason of a mark that skips a stage; None if either is missing."""
    if mark.kind is not MarkKind.STAGE_SKIPPED:
        return None
    name, _, why = mark.text.partition(_SEPARATOR)
    stage = known_stage(name)
    return None if stage is None or not why.strip() else (stage, why.strip())


def after(stage: Stage, present: Stage) -> Stage | None:
    """Return the stage that follows when `stage` is skipped while `present` is worked on."""
    if stage is not present:
        return None
    if stage in _NEXT[:-1]:
        return _NEXT[_NEXT.index(stage) + 1]
    return Stage.CLOSE_OUT if stage is Stage.VERIFICATION else None


class CourseLog:
    """Follows one session."""

    def __init__(self) -> None:
        self.stages: Mapping[Stage, StageCourse] = {stage: StageCourse() for stage in Stage}

    def begin(self, stage: Stage, t: float) -> bool:
        """Note that work on a stage begins; return whether it begins again after a verdict."""
        before = self.stages[stage]
        last_t = before.begun_t[-1] if before.begun_t else -1.0
        again = bool(before.judged) and before.judged[-1].t >= last_t
        self._set(stage, replace(before, begun_t=(*before.begun_t, t), reached=True))
        return again

    def reach(self, stage: Stage) -> None:
        """Note that the job has come to a stage by itself."""
        if not self.stages[stage].reached:
            self._set(stage, replace(self.stages[stage], reached=True))

    def skip(self, stage: Stage, why: str, t: float) -> CheckJudged:
        """Note that a stage is skipped, and return the check that records it."""
        self._set(stage, replace(self.stages[stage], skipped_t=t, why=why))
        return CheckJudged(
            t=t,
            stage=stage,
            check=f"{stage.value}_skipped",
            result=CheckResult.NOT_JUDGED,
            cause="stage_skipped",
            subject=why,
        )

    def judge(self, checks: Iterable[CheckJudged]) -> None:
        """Keep the verdicts that decide a stage."""
        for check in checks:
            if DECIDES.get(check.stage) == check.check:
                before = self.stages[check.stage]
                self._set(check.stage, replace(before, judged=(*before.judged, check)))

    def _set(self, stage: Stage, course: StageCourse) -> None:
        # A new mapping, because snapshots keep the old one.
        self.stages = {**self.stages, stage: course}


def state_of(stage: Stage, courses: Mapping[Stage, StageCourse], present: Stage) -> StageState:
    """Return the state of `stage` while `present` is worked on."""
    course = courses.get(stage, StageCourse())
    if stage is present:
        return StageState.NOW
    if course.is_skipped:
        return StageState.SKIPPED
    if _is_done(stage, course, courses):
        return StageState.DONE
    return StageState.OPEN


def _is_done(stage: Stage, course: StageCourse, courses: Mapping[Stage, StageCourse]) -> bool:
    if stage is Stage.RUN_UP:
        return any(_reached(each, courses) for each in (Stage.CHARGING, Stage.VERIFICATION))
    if stage is Stage.CHARGING:
        return _reached(Stage.VERIFICATION, courses)
    if not course.judged or course.judged[-1].result not in _DONE:
        return False
    if stage in TESTS and course.begun_t and course.judged[-1].t < course.begun_t[-1]:
        return False  # begun anew since that verdict
    if stage is Stage.WEIGH_IN:
        if _reached(Stage.CHARGING, courses) or _reached(Stage.VERIFICATION, courses):
            return True  # what was missing went in step by step
        figures = course.judged[-1].figures
        return figures["kg"] >= figures["target_kg"] - figures.get("expanded_kg", 0.0)
    return True


def _reached(stage: Stage, courses: Mapping[Stage, StageCourse]) -> bool:
    return courses.get(stage, StageCourse()).reached
