"""Steps and minutes left while a reading still moves. All numbers are invented."""

from dataclasses import replace

import pytest

from chargeassist.guide.ahead import Ahead, ahead
from chargeassist.model.job import Target
from chargeassist.model.judged import SUPERHEAT
from chargeassist.model.limits import Method
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import (
    ChargeStep,
    Facts,
    Forecast,
    Measured,
    OpenStep,
    SettleState,
    Settling,
    TargetFacts,
)
from chargeassist.tui import judgement
from tests.unit.guide.bare_facts import bare_facts
from tests.unit.guide.room import JOB


def moving(low_k: float, value_k: float, high_k: float, seconds: float | None = 60.0) -> Facts:
    forecast = Forecast(value_k=value_k, low_k=low_k, high_k=high_k, seconds=seconds)
    reading = Measured(value_k=value_k - 0.5, expanded_k=0.4)
    return bare_facts(
        t=1000.0,
        subcooling=reading,
        superheat=reading,
        settling=Settling(state=SettleState.MOVING, cause="rising", forecast=forecast),
        total_kg=1.9,
    )


def test_steps_come_from_both_ends_of_the_forecast_and_minutes_from_its_middle() -> None:
    # A full step of 110 g is worth 1.58 K by the prior, 33 K per plate of 2.3 kg.
    found = ahead(JOB, moving(2.0, 2.6, 4.3))
    assert found == Ahead(steps_low=0, steps_high=2, seconds=60.0 + 2 * 300.0)
    words = judgement.ahead(found)
    assert words == "then about 0 to 2 steps, 11 min in all"


def test_where_nobody_can_say_how_long_this_wait_takes_it_is_not_counted_as_nothing() -> None:
    """As while only the proof is missing: the forecast then gives a value and no time."""
    found = ahead(JOB, moving(2.0, 2.6, 4.3, seconds=None))
    assert judgement.ahead(found) == "then about 0 to 2 steps, 10 min after this wait"


def test_inside_at_both_ends_needs_no_step() -> None:
    found = ahead(JOB, moving(4.4, 4.8, 5.2))
    assert found == Ahead(steps_low=0, steps_high=0, seconds=60.0)
    assert judgement.ahead(found) == "it looks like settling inside its target"


def test_a_forecast_past_the_band_says_so() -> None:
    may = ahead(JOB, moving(4.4, 5.2, 6.2))
    assert may is not None
    assert (may.may_pass, may.passes) == (True, False)
    assert "or past its target" in judgement.ahead(may)
    will = ahead(JOB, moving(6.0, 6.5, 7.0))
    assert will is not None
    assert will.passes
    assert judgement.ahead(will) == "it looks like settling past its target"


def test_superheat_counts_the_other_way() -> None:
    target = Target(method=Method.SUPERHEAT, tolerance_k=2.0, source="table")
    job = replace(JOB, target=target)
    goal = TargetFacts(value_k=6.0, tolerance_k=2.0)
    facts = replace(moving(11.0, 11.5, 12.0), judged=SUPERHEAT, target=goal)
    found = ahead(job, facts)
    assert found is not None
    assert found.steps_low >= 1
    assert not found.may_pass
    low = ahead(job, replace(moving(1.0, 1.5, 2.0), judged=SUPERHEAT, target=goal))
    assert low is not None
    assert low.passes


def test_what_earlier_steps_took_counts_for_the_minutes() -> None:
    steps = tuple(
        ChargeStep(
            number=n, mass_kg=0.1, begun_t=600.0 * n, ended_t=600.0 * n + 60.0,
            measured_by="scale", before_k=1.0 + n, after_k=2.0 + n, gain_k_per_kg=14.0,
            gain_over_kg=0.1,
        )
        for n in (1, 2, 3)
    )  # fmt: skip
    slow = ahead(JOB, replace(moving(2.5, 2.6, 2.7), ledger=steps))
    quick = ahead(JOB, moving(2.5, 2.6, 2.7))
    assert slow is not None
    assert quick is not None
    assert slow.seconds > quick.seconds


@pytest.mark.parametrize(
    "facts",
    [
        replace(moving(2.0, 2.6, 3.2), settling=Settling(cause="rising")),
        replace(moving(2.0, 2.6, 3.2), step_open=OpenStep(begun_t=990.0)),
        replace(moving(2.0, 2.6, 3.2), settled=Measured(value_k=3.0)),
        replace(moving(2.0, 2.6, 3.2), target=NoValue("none")),
        replace(moving(2.0, 2.6, 3.2), subcooling=NoValue("none")),
        replace(
            moving(2.0, 2.6, 3.2),
            ledger=(ChargeStep(number=1, mass_kg=None, begun_t=1.0, ended_t=2.0, measured_by="x"),),
        ),
    ],
)
def test_nothing_is_said_where_it_cannot_be_known(facts: Facts) -> None:
    assert ahead(JOB, facts) is None
    assert judgement.ahead(None) == ""


def test_a_wild_forecast_says_nothing() -> None:
    small = replace(JOB, charge=replace(JOB.charge, step_cap_kg=0.03))
    assert ahead(small, moving(0.5, 2.5, 4.5)) is None
