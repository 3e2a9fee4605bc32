"""Rules that checks beside the charge go by and a profile can change, as in `test_limits_of_work`.

The numbers are invented house rules, but those of RA3.2.
"""

import pytest

from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckJudged, CheckResult
from chargeassist.model.limits import LimitKey
from chargeassist.physics.approach import ApproachSays, TempDifference, judge_approach
from chargeassist.physics.pull_down import PullDownWatch, PullState
from chargeassist.physics.vacuum_gauge import GaugeLimits
from chargeassist.physics.weigh_in import AdderSays, judge_adder
from tests.unit.guide.stages.conftest import Work, make_job
from tests.unit.limited import limited

C = 273.15


SPLIT = """
[performance]
source = "performance data, page 23"
outdoor = "85 °F"
air_split = "19 °F"
"""
AIR = (("return_air_temperature", "K", "0.1 K"), ("supply_air_temperature", "K", "0.1 K"))


@pytest.mark.parametrize(
    ("head", "own", "result", "source"),
    [
        ("", "", CheckResult.FAIL, "2008"),  # 15 °F against 19 ± 3 °F
        ('profile = "california-verifier"', "", CheckResult.PASS_NOT_CERTAIN, "2008"),
        ("", 'air_split_tolerance = "5 °F"', CheckResult.PASS, "page 23"),
    ],
)
def test_the_split_is_judged_by_the_profiles_tolerance(
    head: str, own: str, result: CheckResult, source: str
) -> None:
    """3 °F of an installer, 4 °F of a verifier: RA3.2 (2008), temperature split."""
    work = Work(make_job(SPLIT + own, head, AIR))
    work.readings = {"return_air_temperature": 299.0, "supply_air_temperature": 299.0 - 8.38}
    work.run(3)
    work.enter(Entry.RETURN_DRY_BULB, 299.0)
    work.run(2)
    found = next(
        e for e in work.verdicts if isinstance(e, CheckJudged) and e.check == "temperature_split"
    )
    assert found.result is result
    assert source in found.sources[-1]


@pytest.mark.parametrize(("coldest_k", "counts"), [(C + 18.4, False), (C + 10.0, True)])
def test_from_which_outdoor_air_an_approach_counts(coldest_k: float, counts: bool) -> None:
    approach = TempDifference(4.4, 0.1)
    found = judge_approach(approach, 4.4, C + 15.0, coldest_k=coldest_k)
    assert (found is ApproachSays.INSIDE) is counts


@pytest.mark.parametrize(("share", "state"), [(0.8, PullState.STALLED), (0.6, PullState.FALLING)])
def test_a_share_of_a_vacuum_is_one_of_what_it_was(share: float, state: PullState) -> None:
    """A fall by 70 % in five minutes, from 90 kPa to 27: less than 80 %, more than 60 %."""
    watch = PullDownWatch(60.0, GaugeLimits(), stall_share=share)
    pull = watch.update(0.0, 90e3, 300.0)
    for t in range(5, 600, 5):
        pull = watch.update(float(t), 90e3 * 0.3 ** (t / 300.0), 300.0)
    assert pull.state is state


def test_what_a_vacuum_a_heater_and_an_adder_are_judged_by() -> None:
    """A fall of 5 % in five minutes; a heater told of 20 minutes ago; an adder of 70 %."""
    for share, state in ((0.08, PullState.STALLED), (0.03, PullState.FALLING)):
        watch = PullDownWatch(60.0, GaugeLimits(), stall_share=share)
        pull = watch.update(0.0, 900.0, 300.0)
        for t in range(5, 900, 5):
            pull = watch.update(float(t), 900.0 * 0.95 ** (t / 300.0), 300.0)
        assert pull.state is state
    assert judge_adder(0.7, 1.0) is AdderSays.PARTLY
    assert judge_adder(0.7, 1.0, (0.6, 1.2)) is AdderSays.FULL
    assert judge_adder(1.3, 1.0, (0.6, 1.2)) is AdderSays.TOO_MUCH
    assert judge_adder(0.25, 1.0, partly_least=0.2) is AdderSays.PARTLY
    for lasts_s, waits in ((1800.0, True), (600.0, False)):
        job = limited(make_job(probes=AIR), {LimitKey.HEATER_LASTS: lasts_s})
        work = Work(job)
        work.run(2)
        work.enter(Entry.HEAT, 9600.0)
        work.run(1200)
        told = {mark.entry for mark in work.snapshot.tellable}
        assert (Entry.AIR_AFTER_HEAT in told) is waits
