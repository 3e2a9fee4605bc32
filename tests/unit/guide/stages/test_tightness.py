"""Nitrogen, told through a whole assistant. The unit is invented; the gas stands still."""

from collections.abc import Callable
from typing import Any

import pytest

from chargeassist.model.events import Action, CheckResult, MarkKind, Stage

Make = Callable[..., Any]

PLATE = """
[plate]
high_side = "4.2 MPa(g)"
low_side = "2.4 MPa(g)"
source = "unit plate"
[tightness]
steps = ["0.3 MPa(g) for 1 min", "2.0 MPa(g) for 30 min"]
source = "installation sheet 2"
"""


def filled(job: Any, pressure_pa: float) -> None:
    job.readings = {
        "liquid_pressure": pressure_pa,
        "suction_pressure": pressure_pa,
        "liquid_temperature": 295.0,
        "suction_temperature": 296.0,
        "outdoor_air_temperature": 295.5,
    }


def test_cautions_come_first_and_no_pressure_is_made_up(work: Make) -> None:
    bare = work()
    assert bare.begin(Stage.TIGHTNESS).advice.cause == "tightness_missing"
    assert "plate's test pressures" in bare.says
    job = work(PLATE)
    filled(job, 0.0)
    job.begin(Stage.TIGHTNESS, reads=False)
    job.run(1)
    assert "never oxygen or air" in job.says


def test_raise_hold_and_stand(work: Make) -> None:
    job = work(PLATE)
    filled(job, 0.0)
    job.begin(Stage.TIGHTNESS)
    assert job.run(1).advice.cause == "nitrogen_raise"
    job.done()
    filled(job, 0.3e6)
    assert job.run(2).advice.cause == "nitrogen_hold"
    assert job.run(61).advice.cause == "nitrogen_raise"
    filled(job, 2.0e6)
    assert job.run(3).advice.cause == "nitrogen_shut"
    job.done()
    assert job.run(2).advice.cause == "standing"
    snapshot = job.until(lambda s: s.advice.cause != "standing", 2400)
    assert snapshot.advice.cause == "tight"
    (check,) = job.checks()
    assert check.result is CheckResult.PASS
    assert check.sources == ("installation sheet 2 (equipment instructions)",)
    assert check.figures["smallest_pa_per_h"] > 0.0
    job.done()
    filled(job, 0.0)
    assert job.run(2).advice.cause == "tightness_over"


@pytest.mark.parametrize(("pressure_pa", "too_high"), [(2.405e6, False), (2.5e6, True)])
def test_the_weaker_side_says_how_much_is_too_much(
    work: Make, pressure_pa: float, *, too_high: bool
) -> None:
    job = work(PLATE)
    filled(job, 0.0)
    job.begin(Stage.TIGHTNESS)
    filled(job, pressure_pa)
    advice = job.run(3).advice
    assert (advice.cause == "nitrogen_too_high") is too_high
    if too_high:
        assert advice.action is Action.FIX_FIRST
        assert "let nitrogen out now" in job.says


def test_a_fall_in_a_short_hold_stops_the_raise(work: Make) -> None:
    job = work(PLATE)
    filled(job, 0.0)
    job.begin(Stage.TIGHTNESS)
    job.mark(MarkKind.NITROGEN_ON)
    filled(job, 0.4e6)
    job.run(5)
    filled(job, 0.32e6)
    assert job.run(2).advice.cause == "nitrogen_falls"
