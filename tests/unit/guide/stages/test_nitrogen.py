"""The supply by what was told, and what raise and verdict have in common. Readings are invented."""

import pytest

from chargeassist.guide import wording
from chargeassist.guide.stages.nitrogen import (
    Supply,
    highest_pa_gauge,
    judged,
    new_raise,
    settle_s,
    told_verdict,
)
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import CheckResult, MarkKind
from chargeassist.model.limits import LimitKey
from chargeassist.physics.staged_raise import RaiseState, RaiseStep
from chargeassist.physics.tightness import Tightness, TightVerdict
from chargeassist.tui.key_words import keys_for
from tests.unit.guide.stages.conftest import make_job

TABLES = """
[plate]
high_side = "4.2 MPa(g)"
low_side = "2.4 MPa(g)"
source = "unit plate"
[tightness]
steps = ["0.3 MPa(g) for 3 min", "2.0 MPa(g) for {hold}"]
source = "installation sheet 2"
"""


@pytest.mark.parametrize(
    ("before", "mark", "after"),
    [
        (Supply.SHUT, MarkKind.NITROGEN_ON, Supply.OPEN),
        (Supply.LET_OUT, MarkKind.NITROGEN_ON, Supply.OPEN),
        (Supply.OPEN, MarkKind.NITROGEN_OFF, Supply.SHUT),
        (Supply.SHUT, MarkKind.NITROGEN_OFF, Supply.SHUT),
        # Nothing is filled by shutting a supply that was never opened again.
        (Supply.LET_OUT, MarkKind.NITROGEN_OFF, Supply.LET_OUT),
        (Supply.OPEN, MarkKind.VENTED, Supply.LET_OUT),
        (Supply.SHUT, MarkKind.VENTED, Supply.LET_OUT),
        # Who closes a leak has the supply shut, and raises from the beginning.
        (Supply.OPEN, MarkKind.LEAK_MENDED, Supply.SHUT),
        (Supply.LET_OUT, MarkKind.LEAK_MENDED, Supply.SHUT),
    ],
)
def test_where_the_nitrogen_is_after_a_mark(before: Supply, mark: MarkKind, after: Supply) -> None:
    assert before.after(mark) is after


@pytest.mark.parametrize("before", Supply)
def test_marks_of_other_things_leave_the_supply_as_it_is(before: Supply) -> None:
    others = set(MarkKind) - {
        MarkKind.NITROGEN_ON,
        MarkKind.NITROGEN_OFF,
        MarkKind.VENTED,
        MarkKind.LEAK_MENDED,
    }
    assert {before.after(mark) for mark in others} == {before}


def test_the_raise_of_a_job_ends_at_the_test_and_below_what_the_weaker_side_takes() -> None:
    job = make_job(TABLES.format(hold="24 h"))
    assert highest_pa_gauge(job) == pytest.approx(2.4e6)
    raised = new_raise(job)
    assert raised is not None
    over = job.limit_or_usual(LimitKey.TIGHTNESS_OVER).value_si
    for pressure_pa, state in (
        (2.4e6 * (1.0 + over) - 1.0, RaiseState.HOLD),
        (2.4e6 * (1.0 + over) + 1.0, RaiseState.TOO_HIGH),
    ):
        step = raised.update(1.0, pressure_pa)
        assert isinstance(step, RaiseStep)
        assert step.state is state
    assert raised.stages[-1].hold_s == 0.0, "the hold of the last step is the test itself"
    assert new_raise(make_job()) is None


@pytest.mark.parametrize(("hold", "settles_s"), [("24 h", None), ("20 min", 300.0)])
def test_the_heat_of_filling_takes_no_more_than_a_quarter_of_the_hold(
    hold: str, settles_s: float | None
) -> None:
    job = make_job(TABLES.format(hold=hold))
    usual_s = job.limit_or_usual(LimitKey.TIGHTNESS_SETTLING).value_si
    assert settle_s(job) == (usual_s if settles_s is None else min(usual_s, settles_s))


def found(verdict: TightVerdict, change_pa: float = 0.0) -> Tightness:
    return Tightness(
        verdict=verdict,
        compensated_pa_abs=2.1e6,
        ideal_check_pa_abs=2.1e6,
        change_pa=change_pa,
        expanded_pa=8e3,
        rate_pa_per_s=0.0,
        rate_expanded_pa_per_s=0.1,
        smallest_leak_pa_per_s=0.2,
        needed_s=None,
        reason="",
        elapsed_s=86_400.0,
        remaining_s=0.0,
    )


@pytest.mark.parametrize(
    ("verdict", "change_pa", "certain", "readings", "result"),
    [
        (TightVerdict.TIGHT, 0.0, True, None, CheckResult.PASS),
        (TightVerdict.TIGHT, 0.0, False, None, CheckResult.PASS_NOT_CERTAIN),
        (TightVerdict.TIGHT, -9e3, True, None, CheckResult.PASS_NOT_CERTAIN),
        (TightVerdict.FALLING, -5e4, True, 3, CheckResult.FAIL),
        (TightVerdict.FALLING, -5e4, False, 2, CheckResult.FAIL_NOT_CERTAIN),
        (TightVerdict.FALLING, -5e4, False, None, CheckResult.FAIL_NOT_CERTAIN),
        (TightVerdict.RISING, 5e4, True, None, CheckResult.FAIL_NOT_CERTAIN),
    ],
)
def test_how_certain_a_verdict_is(
    *,
    verdict: TightVerdict,
    change_pa: float,
    certain: bool,
    readings: int | None,
    result: CheckResult,
) -> None:
    job = make_job(TABLES.format(hold="24 h"))
    check = judged(
        9.0, found(verdict, change_pa), {"change_pa": change_pa}, job,
        certain=certain, readings=readings,
    )  # fmt: skip
    assert check.result is result
    assert check.figures["pressure_pa"] == 2.0e6
    assert check.figures.get("readings") == (None if readings is None else float(readings))
    assert check.sources[0].startswith("installation sheet 2")


@pytest.mark.parametrize(
    ("verdict", "change_pa", "cause", "mark"),
    [
        (TightVerdict.TIGHT, 0.0, "tight", MarkKind.VENTED),
        (TightVerdict.TIGHT, -9e3, "tight_doubted", MarkKind.VENTED),
        (TightVerdict.FALLING, -5e4, "nitrogen_leaks", MarkKind.LEAK_MENDED),
        (TightVerdict.RISING, 5e4, "rising_alone", MarkKind.NITROGEN_OFF),
    ],
)
def test_what_a_decided_test_says_and_what_the_key_tells_then(
    verdict: TightVerdict, change_pa: float, cause: str, mark: MarkKind
) -> None:
    advice, told = told_verdict(9.0, found(verdict, change_pa), {})
    assert advice.cause == cause
    assert told is not None
    assert told.kind is mark


def test_a_doubtful_test_names_both_ways_on_and_the_one_that_is_told() -> None:
    figures = {"change_pa": -9e3, "expanded_pa": 5e3, "smallest_pa_per_h": 2e3}
    advice, told = told_verdict(9.0, found(TightVerdict.TIGHT, -9e3), figures)
    assert told is not None
    assert told.label == "nitrogen let out"
    assert wording.headline(advice, UnitSystem.SI) == "Wait or let out"
    reason = wording.reason(advice, UnitSystem.SI)
    assert "let it stand longer to know more, or let the nitrogen out" in reason
    assert keys_for(advice.cause) == "press Enter when it is out"
