"""Words of a skipped stage."""

from chargeassist.guide.stages.words import StageWords

WORDS = StageWords(
    headlines={},
    reasons={},
    rows={},
    checks={},
    findings={"stage_skipped": lambda f, s, u: s},
)
