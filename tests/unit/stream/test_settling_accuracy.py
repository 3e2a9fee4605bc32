"""How often the settling detector is right, on invented jobs with a known truth.

The limits leave room for chance: with 72 steps, a true rate of 2 % gives more than 5 false
verdicts in one set of two hundred.
"""

import numpy as np
import pytest

from chargeassist.stream.settling import SettlingDetector
from tests.benchmarks.settling.baselines import MovingSpread, SlopeTest
from tests.benchmarks.settling.generator import FOREIGN, Job, make_jobs
from tests.benchmarks.settling.run import coverage
from tests.benchmarks.settling.scoring import StepScore, evaluate, summarise


@pytest.fixture(scope="module")
def jobs() -> list[Job]:
    return make_jobs(41, 18)


@pytest.fixture(scope="module")
def announced(jobs: list[Job]) -> list[StepScore]:
    return evaluate(SettlingDetector, jobs, told=True)


def test_verdicts_are_right_and_in_time_when_changes_are_announced(
    announced: list[StepScore],
) -> None:
    result = summarise(announced)
    assert result.steps == 72
    assert result.false <= 4.0
    assert result.stale == 0.0
    assert result.missed <= 2.0
    assert result.delay_median_s <= 90.0
    assert result.delay_p90_s <= 180.0
    assert result.hold >= 95.0


def test_it_beats_the_textbook_tests_on_the_same_jobs(
    jobs: list[Job], announced: list[StepScore]
) -> None:
    ours = summarise(announced)
    for make in (MovingSpread, SlopeTest):
        theirs = summarise(evaluate(make, jobs, told=True))
        cost = theirs.false + theirs.missed
        assert ours.false + ours.missed < cost or ours.delay_p90_s < theirs.delay_p90_s
        assert ours.missed <= theirs.missed


def test_changes_nobody_announced_are_noticed(jobs: list[Job]) -> None:
    result = summarise(evaluate(SettlingDetector, jobs, told=False))
    assert result.false <= 7.0
    assert result.stale <= 25.0
    assert result.missed <= 3.0
    assert result.hold >= 88.0


def test_shapes_it_does_not_know_do_not_fool_it() -> None:
    jobs = make_jobs(42, 12, families=FOREIGN)
    result = summarise(evaluate(SettlingDetector, jobs, told=True))
    assert result.false <= 6.3
    assert result.missed <= 3.0
    assert result.delay_p90_s <= 220.0


def test_ninety_per_cent_intervals_hold_the_truth_nine_times_in_ten() -> None:
    value, to_go, looks = coverage(make_jobs(43, 18))
    assert looks > 400
    assert 0.85 <= value <= 0.95
    assert 0.85 <= to_go <= 0.97


def test_what_a_plant_taught_shortens_the_later_steps() -> None:
    jobs = make_jobs(44, 6, one_plant=True, steps=6)

    def later(share: float) -> float:
        scores = evaluate(lambda: SettlingDetector(plant_share=share), jobs, told=True)
        assert summarise(scores).false <= 5.0
        delays = [s.delay_s for s in scores if s.number >= 3 and s.delay_s == s.delay_s]
        return float(np.mean(delays))

    assert later(0.3) < later(0.0) - 2.0
