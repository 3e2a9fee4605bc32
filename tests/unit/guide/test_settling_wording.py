"""Every reason why a value is not settled, or no longer, has words of its own."""

import pytest

from chargeassist.cli.lines import Lines
from chargeassist.guide import wording
from chargeassist.guide.settling_wording import NO_LONGER, SETTLING, no_longer_settled
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, Advice, Unsettled
from chargeassist.session.job.demo import demo_job

STANDS = {"settled", "two_phase"}
"""Causes of a value that has settled: nothing has ceased."""


def test_every_cause_that_can_end_it_has_words() -> None:
    assert NO_LONGER.keys() == SETTLING.keys() - STANDS
    for cause in NO_LONGER:
        assert "_" not in no_longer_settled(cause)


@pytest.mark.parametrize(
    ("cause", "words"),
    [
        ("not_proven", "it may have begun to move"),
        ("no_signal", "no signal"),  # nothing moves where nothing is read
        ("step_open", "a charge step has begun"),
        ("of_another_version", "of another version"),
    ],
)
def test_a_line_says_why_a_value_is_no_longer_settled(cause: str, words: str) -> None:
    said: list[str] = []
    Lines(said.append, demo_job("library"), UnitSystem.SI)(Unsettled(t=443.0, cause=cause))
    assert said == [f"    7:23  ~ no longer settled: {words}"]


def test_a_value_that_swings_accuses_no_valve() -> None:
    """A sound start swings once or twice, too; that a valve hunts is found, or it is not."""
    waits = Advice(
        t=240.0,
        action=Action.WAIT,
        cause="settling",
        subject="hunting",
        figures={"period_s": 74.0},
    )
    said = wording.sentence(waits, UnitSystem.SI)
    assert "subcooling swings, period about 75 s" in said
    assert not any("valve" in words for words in (said, no_longer_settled("hunting")))
