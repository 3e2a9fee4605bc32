"""The stages, the guide and the words of each, and which stage a running unit comes to."""

from collections.abc import Callable, Mapping

from chargeassist.guide.stages import (
    caution_words,
    close_out_words,
    course_words,
    dryness_words,
    final_reading_words,
    instrument_words,
    tightness_words,
    unit_checks_words,
    weigh_in_words,
)
from chargeassist.guide.stages.close_out import CloseOutGuide
from chargeassist.guide.stages.dryness import DrynessGuide
from chargeassist.guide.stages.stage import StageGuide
from chargeassist.guide.stages.tightness_guide import TightnessGuide
from chargeassist.guide.stages.weigh_in import WeighInGuide
from chargeassist.guide.stages.words import StageWords, merged
from chargeassist.model.events import Action, Advice, Stage
from chargeassist.model.job import Job
from chargeassist.stream.facts import Facts

RUNNING_STAGES = frozenset({Stage.RUN_UP, Stage.CHARGING, Stage.VERIFICATION})
"""Stages in which the unit runs and the charging advisor gives the instruction."""

GUIDES: Mapping[Stage, Callable[[Job], StageGuide]] = {
    Stage.TIGHTNESS: TightnessGuide,
    Stage.DRYNESS: DrynessGuide,
    Stage.WEIGH_IN: WeighInGuide,
    Stage.CLOSE_OUT: CloseOutGuide,
}
"""The other stages, each with its guide."""

TESTS = frozenset({Stage.TIGHTNESS, Stage.DRYNESS})
"""Stages that end in a verdict; begun again after it, they start over."""

WORDS: StageWords = merged(
    (
        caution_words.WORDS,
        tightness_words.WORDS,
        dryness_words.WORDS,
        weigh_in_words.WORDS,
        unit_checks_words.WORDS,
        instrument_words.WORDS,
        final_reading_words.WORDS,
        close_out_words.WORDS,
        course_words.WORDS,
    )
)
"""The words of all stages."""


def known_stage(text: str) -> Stage | None:
    """Return the stage a mark names; None if there is none of that name."""
    try:
        stage = Stage(text)
    except ValueError:
        return None
    return stage if stage in RUNNING_STAGES or stage in GUIDES else None


def next_stage(stage: Stage, facts: Facts, advice: Advice, steps_before: int) -> Stage:
    """Return the stage a running unit comes to by itself.

    Parameters
    ----------
    stage : Stage
        The present stage.
    facts : Facts
    advice : Advice
    steps_before : int
        Charge steps from before the unit ran.
    """
    if stage is Stage.CLOSE_OUT:
        return stage
    if advice.action is Action.STOP:
        return Stage.VERIFICATION
    if stage is Stage.RUN_UP:
        # A condition that has to be put right, such as filter and panels, keeps the run-up open.
        fit = not advice.cause.startswith("condition_")
        ready = fit and facts.hold.held and facts.settled is not None
        return Stage.CHARGING if ready or len(facts.ledger) > steps_before else Stage.RUN_UP
    reopened = advice.action in {Action.ADD, Action.RECOVER} or facts.step_open is not None
    return Stage.CHARGING if stage is Stage.VERIFICATION and reopened else stage
