"""One standing test by typed readings. The readings are invented."""

import pytest

from chargeassist.guide.stages.hand_sets import HandSets
from chargeassist.guide.stages.nitrogen import settle_s
from chargeassist.guide.stages.standing_by_hand import StandingByHand
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckResult
from chargeassist.model.job import Job
from tests.unit.guide.stages.conftest import make_job
from tests.unit.guide.stages.test_hand_sets import LIQUID, PRESSURE, SUCTION, tell
from tests.unit.guide.stages.test_typed_late import STATION_PA

TABLES = """
[plate]
high_side = "4.2 MPa(g)"
low_side = "2.4 MPa(g)"
source = "unit plate"
[tightness]
steps = ["2.0 MPa(g) for 24 h"]
gauge_accuracy = "0.2 bar"
thermometer_accuracy = "0.3 K"
source = "installation sheet 2"
"""
SHUT_T = 1000.0
DAY_S = 86_400.0


@pytest.fixture
def job() -> Job:
    return make_job(TABLES)


@pytest.fixture
def sets() -> HandSets:
    return HandSets(together_s=300.0)


@pytest.fixture
def standing(job: Job, sets: HandSets) -> StandingByHand:
    return StandingByHand(job, sets, SHUT_T)


def says(each: StandingByHand, t: float) -> tuple[str, Entry | None]:
    each.feed(t, STATION_PA)
    advice, mark = each.advise(t, by_probe=False)
    return advice.cause, None if mark is None else mark.entry


def read(sets: HandSets, t: float, pressure_pa: float = 2.0e6) -> None:
    tell(sets, t, (PRESSURE, pressure_pa), (LIQUID, 293.0), (SUCTION, 295.0))


def test_it_goes_from_the_heat_of_filling_to_a_reading_at_each_end(
    standing: StandingByHand, sets: HandSets, job: Job
) -> None:
    warm_s = settle_s(job)
    assert says(standing, SHUT_T + warm_s - 1.0) == ("warm_from_filling", None)
    assert says(standing, SHUT_T + warm_s) == ("read_begin", Entry.TEST_PRESSURE)
    begin_t = SHUT_T + warm_s + 10.0
    tell(sets, begin_t, (PRESSURE, 2.0e6))
    assert says(standing, begin_t + 1.0) == ("read_begin", Entry.LIQUID_PIPE)
    tell(sets, begin_t + 5.0, (LIQUID, 293.0))
    assert says(standing, begin_t + 6.0) == ("read_second", Entry.SUCTION_PIPE)
    tell(sets, begin_t + 8.0, (SUCTION, 295.0))
    assert says(standing, begin_t + 9.0) == ("standing_by_hand", Entry.TEST_PRESSURE)
    # As long as the hold less what was left out, from the first reading on: it came late.
    end_t = begin_t + DAY_S - warm_s
    assert says(standing, end_t - 1.0)[0] == "standing_by_hand"
    assert says(standing, end_t) == ("read_end", Entry.TEST_PRESSURE)
    read(sets, end_t + 1.0)
    assert says(standing, end_t + 2.0)[0] == "tight"
    (check,) = standing.judge(end_t + 2.0)
    assert check.figures["readings"] == 2.0
    assert check.result is CheckResult.PASS_NOT_CERTAIN, "nobody sees a slip of the eye in two"
    assert standing.is_tight
    assert standing.judge(end_t + 3.0) == (), "said once"


def test_a_fall_is_told_and_the_leak_is_to_be_mended(
    standing: StandingByHand, sets: HandSets, job: Job
) -> None:
    begin_t = SHUT_T + settle_s(job)
    read(sets, begin_t)
    read(sets, begin_t + DAY_S, 1.8e6)
    assert says(standing, begin_t + DAY_S + 1.0)[0] == "nitrogen_leaks"
    (check,) = standing.judge(begin_t + DAY_S + 1.0)
    assert check.result in {CheckResult.FAIL, CheckResult.FAIL_NOT_CERTAIN}
    assert check.figures["change_pa"] == pytest.approx(-0.2e6, rel=0.02)
    assert not standing.is_tight


def test_readings_taken_before_the_heat_of_filling_has_gone_do_not_count(
    standing: StandingByHand, sets: HandSets, job: Job
) -> None:
    read(sets, SHUT_T + 10.0)
    begin_t = SHUT_T + settle_s(job)
    assert says(standing, begin_t + 400.0) == ("read_begin", Entry.TEST_PRESSURE)


def test_a_supply_shut_once_more_begins_the_test_anew(
    standing: StandingByHand, sets: HandSets, job: Job
) -> None:
    warm_s = settle_s(job)
    read(sets, SHUT_T + warm_s)
    again_t = SHUT_T + 2.0 * warm_s
    standing.shut_again(again_t)
    assert standing.from_t == again_t
    assert says(standing, again_t + warm_s - 1.0)[0] == "warm_from_filling"
    assert says(standing, again_t + warm_s + 400.0)[0] == "read_begin"


def test_a_verdict_that_rests_on_a_reading_taken_back_is_given_anew(
    standing: StandingByHand, sets: HandSets, job: Job
) -> None:
    begin_t = SHUT_T + settle_s(job)
    read(sets, begin_t)
    read(sets, begin_t + DAY_S)
    standing.feed(begin_t + DAY_S + 1.0, STATION_PA)
    assert len(standing.judge(begin_t + DAY_S + 1.0)) == 1
    assert not standing.reopened
    standing.judge_again()
    assert standing.reopened
    assert not standing.is_tight
    assert len(standing.judge(begin_t + DAY_S + 2.0)) == 1
    assert standing.is_tight


def test_what_was_never_reported_is_not_reopened(standing: StandingByHand) -> None:
    standing.judge_again()
    assert not standing.reopened


def test_with_a_probe_for_the_pressure_a_pipe_is_asked_for(
    standing: StandingByHand, job: Job
) -> None:
    advice, mark = standing.advise(SHUT_T + settle_s(job), by_probe=True)
    assert advice.cause == "read_begin"
    assert mark is not None
    assert mark.entry is Entry.LIQUID_PIPE
