"""The final reading, told through a whole assistant. The unit is invented."""

import random
from collections.abc import Callable
from typing import Any

import pytest

from chargeassist.guide import wording
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import Action, CheckJudged, CheckResult, MarkKind, Stage
from chargeassist.model.limits import LimitKey
from chargeassist.physics.saturation import refrigerant
from tests.unit.guide.stages.conftest import Make, Work

HELD = '[frequency]\nrequired = "72 Hz"\n'
CONDITIONS = '[conditions]\nsource = "installation manual, page 12"\nfinal_hold = "10 min"\n'
PROBES = (
    ("liquid_pressure", "Pa(g)", "5 kPa"),
    ("liquid_temperature", "K", "0.2 K"),
    ("suction_pressure", "Pa(g)", "5 kPa"),
    ("suction_temperature", "K", "0.2 K"),
    ("outdoor_air_temperature", "K", "0.3 K"),
    ("compressor_current", "A", "1 % of reading"),
)
STATION_PA = 98_827.0  # 210 m, within a few pascals


class Unit:
    """Readings of a unit with a given subcooling, and a little noise."""

    def __init__(self, job: Work, subcooling_k: float) -> None:
        self.job, self.subcooling_k = job, subcooling_k
        self._random = random.Random(7)

    def run(self, seconds: int) -> Any:
        fluid = refrigerant("R-32")
        high, low = fluid.bubble_pressure_pa_abs(312.0), fluid.dew_pressure_pa_abs(281.0)
        assert isinstance(high, float)
        assert isinstance(low, float)
        for _ in range(seconds):
            some = self._random.gauss
            self.job.readings = {
                "liquid_pressure": high - STATION_PA + some(0.0, 500.0),
                "liquid_temperature": 312.0 - self.subcooling_k + some(0.0, 0.02),
                "suction_pressure": low - STATION_PA + some(0.0, 300.0),
                "suction_temperature": 287.0 + some(0.0, 0.02),
                "outdoor_air_temperature": 297.0 + some(0.0, 0.02),
                "compressor_current": 11.0 + some(0.0, 0.02),
            }
            self.job.run(1)
        return self.job.snapshot

    def until(self, wanted: Callable[[Any], bool], seconds: int = 1800) -> Any:
        for _ in range(seconds):
            if wanted(self.run(1)):
                return self.job.snapshot
        raise AssertionError(self.job.says)


def finals(job: Work) -> list[CheckJudged]:
    return [check for check in job.checks() if check.check == "final_reading"]


def at_stop(work: Make, head: str = "") -> tuple[Any, Unit]:
    job = work(HELD + CONDITIONS, head, PROBES)
    unit = Unit(job, 5.0)
    unit.run(2)
    job.mark(MarkKind.CONFIRMED, text="filters_panels")
    job.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    unit.until(lambda s: s.advice.action is Action.STOP)
    return job, unit


def test_a_reading_that_has_just_settled_is_not_yet_the_final_one(work: Make) -> None:
    job, unit = at_stop(work)
    assert not finals(job)
    assert "let it run as it is for" in job.says
    assert job.snapshot.waits_for is None
    unit.run(590)
    assert not finals(job)
    assert job.snapshot.stage is Stage.VERIFICATION
    unit.run(20)
    (check,) = finals(job)
    assert check.result is CheckResult.PASS
    assert check.figures["held_s"] == pytest.approx(600.0, abs=1.5)
    assert check.figures["subcooling_k"] == pytest.approx(5.0, abs=0.1)
    assert check.figures["superheat_k"] == pytest.approx(6.0, abs=0.1)
    assert check.figures["approach_k"] == pytest.approx(10.0, abs=0.1)
    assert check.figures["amps_a"] == pytest.approx(11.0, abs=0.1)
    assert check.sources == (
        "installation manual, page 12 (equipment instructions)",
        "charging label inside the service panel",
        "job file",
    )
    said = wording.check(check, UnitSystem.SI)
    assert "stood for 10 min (10 min asked for)" in said
    assert "superheat 6.0 K, approach 10.0 K, amps 11.0" in said
    assert "the close-out comes next" in job.says
    # It is judged once while it goes on standing; the key leads to the close-out.
    unit.run(300)
    assert finals(job) == [check]
    mark = job.snapshot.next_mark
    assert (mark.kind, mark.text) == (MarkKind.STAGE_BEGUN, "close-out")
    job.mark(mark.kind, mark.text)
    unit.run(2)
    assert finals(job) == [check]


def test_a_lost_hold_begins_it_anew(work: Make) -> None:
    job, unit = at_stop(work)
    unit.run(400)
    job.mark(MarkKind.FREQUENCY_LEFT)
    unit.run(5)
    job.mark(MarkKind.FREQUENCY_HELD, frequency_hz=72.0)
    unit.run(400)
    assert not finals(job)
    unit.until(lambda s: bool(finals(job)), 900)
    assert finals(job)[0].figures["held_s"] < 602.0


def test_what_was_judged_does_not_outlive_a_change(work: Make) -> None:
    job, unit = at_stop(work)
    unit.run(620)
    job.mark(MarkKind.STEP_BEGUN)
    unit.run(5)
    first, second = finals(job)
    assert first.result is CheckResult.PASS
    assert (second.result, second.cause) == (CheckResult.NOT_JUDGED, "final_reopened")
    job.mark(MarkKind.STAGE_BEGUN, "close-out")
    left = finals(job)[-1]
    assert (left.result, left.cause) == (CheckResult.NOT_JUDGED, "final_left")


def test_closing_without_one_is_recorded(work: Make) -> None:
    job, unit = at_stop(work)
    unit.run(120)
    job.mark(MarkKind.STAGE_BEGUN, "close-out")
    (check,) = finals(job)
    assert check.result is CheckResult.NOT_JUDGED
    said = wording.check(check, UnitSystem.SI)
    assert "closed without one, after 2 min" in said
    assert "of the 10 min asked for" in said


def test_where_nobody_says_how_long_the_default_says_so(work: Make) -> None:
    limit = work().job.limit(LimitKey.FINAL_HOLD)
    assert limit is not None
    assert limit.value_si == 300.0
    assert limit.citation == "default of this program (rule of thumb)"


def test_a_job_closed_without_one_and_taken_up_again_has_nothing_to_withdraw(work: Make) -> None:
    job, unit = at_stop(work)
    unit.run(120)
    job.mark(MarkKind.STAGE_BEGUN, "close-out")
    unit.run(5)
    job.mark(MarkKind.STAGE_BEGUN, "charging")
    unit.run(5)
    assert [check.cause for check in finals(job)] == ["final_left"]
    unit.until(lambda s: s.advice.action is Action.STOP)
    unit.run(60)
    job.mark(MarkKind.STAGE_BEGUN, "close-out")
    first, second = finals(job)
    assert (first.cause, second.cause) == ("final_left", "final_left")
    assert second.figures["held_s"] == pytest.approx(60.0, abs=2.0)
