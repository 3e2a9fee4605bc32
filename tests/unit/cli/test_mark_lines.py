"""Every mark has its own words in the lines of a session."""

from chargeassist.cli.lines import Lines
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Mark, MarkKind
from chargeassist.session.job.demo import demo_job


def test_every_mark_is_told_in_words_of_its_own() -> None:
    said: list[str] = []
    lines = Lines(said.append, demo_job("library"), UnitSystem.SI)
    for kind in MarkKind:
        lines(Mark(t=60.0, kind=kind, text="dryness"))
    assert len(said) == len(set(said)) == len(MarkKind)
    assert all("> " in line for line in said)
    told = dict(zip(MarkKind, said, strict=True))
    assert told[MarkKind.STAGE_BEGUN].endswith("> stage begun: dryness")
    assert told[MarkKind.VALVE_SHUT].endswith("> valve to the pump shut")
    assert told[MarkKind.VENTED].endswith("> nitrogen let out")
