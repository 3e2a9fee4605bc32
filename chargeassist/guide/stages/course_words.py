"""What is said of a stage that was skipped."""

from chargeassist.guide.stages.words import StageWords

WORDS = StageWords(
    headlines={},
    reasons={},
    rows={},
    checks={},
    findings={"stage_skipped": lambda f, s, u: s},
)
