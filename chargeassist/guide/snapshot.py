"""The snapshot: a frozen picture of the session after each tick, for screens."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from chargeassist.guide.ahead import Ahead
from chargeassist.guide.cautions import MetHazard
from chargeassist.guide.conditions import Condition
from chargeassist.guide.crosscheck import CrossCheck
from chargeassist.guide.diagnosis import Diagnosis
from chargeassist.guide.fault_found import Fault
from chargeassist.guide.hunting import Hunting
from chargeassist.guide.stages.course import StageCourse
from chargeassist.guide.stages.stage import NextMark, StageStep
from chargeassist.guide.standing import Standing
from chargeassist.model.channels import Role
from chargeassist.model.events import Advice, CheckJudged, SessionMode, Stage
from chargeassist.model.hazards import Hazard
from chargeassist.model.job import Job
from chargeassist.stream.facts import Facts


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceFacts:
    """State of one source: whether it delivers, and what went wrong so far.

    Attributes
    ----------
    lost_since : float or None
        Session time since when it delivers nothing [s]; None if it delivers.
    reason : str
        Why it was lost.
    bad_inputs, dropped : int
        Inputs that could not be read, and readings that were dropped, so far.
    bad_why : str
        Why the newest bad input could not be read.
    bad_t : float or None
        When that was [s].
    """

    name: str
    lost_since: float | None = None
    reason: str = ""
    bad_inputs: int = 0
    bad_why: str = ""
    bad_t: float | None = None
    dropped: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """Something to look at beside the instruction; worded like advice.

    Attributes
    ----------
    cause : str
        Key of the wording table: "hold_expiring", "record_failing".
    figures : dict of str to float
        SI numbers of the sentence, each with its unit in the name.
    subject : str
        What the sentence is about, if the cause alone does not say; else empty.
    """

    cause: str
    figures: dict[str, float] = field(default_factory=dict)
    subject: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """The session at tick `t`.

    Attributes
    ----------
    mode : SessionMode
        `SIMULATED` must be visible wherever a snapshot is shown.
    replayed : bool
        Whether this is a recording played again; must be visible too.
    advice : Advice
        With the newest figures; the recorded event has those of the moment the advice changed.
    finished : bool
        Whether the session has stopped.
    notes : tuple of (float, str)
        Notes with their session time [s].
    conditions : tuple of Condition
        The job's conditions, each with its limit and the limit's source.
    diagnosis : Diagnosis or None
        Ranked causes with their evidence, while the reading is settled.
    fault, hunting, standing : Fault, Hunting, Standing or None
        The fault that stands; the hunting valve; the newest check of the pressure at rest.
    cross_check : CrossCheck or None
        What the approach says, while the reading is settled and the job names an approach.
    ahead : Ahead or None
        Steps and minutes left, while the reading still moves.
    stage_step : StageStep or None
        What the stage says, in stages in which the unit does not run.
    checks : tuple of CheckJudged
        The newest judgement of each check, in order of the first.
    tellable : tuple of NextMark
        What can be typed or confirmed while the unit runs.
    unread : tuple of Hazard
        Hazards of the present stage whose caution was not acknowledged yet.
    hazards : tuple of MetHazard
        Every hazard that arose in the job, with the time its caution was acknowledged.
    courses : mapping of Stage to StageCourse
        What became of each stage so far.
    next_mark : NextMark or None
        What the one key tells next while the unit runs.
    """

    t: float
    job: Job
    mode: SessionMode
    replayed: bool
    stage: Stage
    facts: Facts
    advice: Advice
    cautions: tuple[Caution, ...] = ()
    sources: tuple[SourceFacts, ...] = ()
    notes: tuple[tuple[float, str], ...] = ()
    finished: bool = False
    conditions: tuple[Condition, ...] = ()
    diagnosis: Diagnosis | None = None
    fault: Fault | None = None
    hunting: Hunting | None = None
    standing: Standing | None = None
    cross_check: CrossCheck | None = None
    ahead: Ahead | None = None
    stage_step: StageStep | None = None
    checks: tuple[CheckJudged, ...] = ()
    tellable: tuple[NextMark, ...] = ()
    unread: tuple[Hazard, ...] = ()
    hazards: tuple[MetHazard, ...] = ()
    next_mark: NextMark | None = None
    courses: Mapping[Stage, StageCourse] = field(default_factory=dict)

    @property
    def scale_heard(self) -> bool:
        """Whether a scale under the cylinder delivers: it then says what went in."""
        return self.facts.live(Role.CYLINDER_MASS) is not None

    @property
    def waits_for(self) -> NextMark | None:
        """What the one key tells next, in any stage."""
        return self.next_mark if self.stage_step is None else self.stage_step.next_mark

    @property
    def other_marks(self) -> tuple[NextMark, ...]:
        """What else can be told now, in any stage."""
        return self.tellable if self.stage_step is None else self.stage_step.other_marks
