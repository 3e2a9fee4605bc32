"""Rules at their limits: one recomputed session with its end replaced; every number is invented."""

from dataclasses import replace
from typing import Any

import pytest

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import (
    Action,
    Advice,
    Event,
    Mark,
    MarkKind,
    Outcome,
    SessionMode,
    SessionStarted,
)
from chargeassist.model.values import NoValue
from chargeassist.qa.audit_finding import Finding, Policy
from chargeassist.qa.audit_rules import REASON_WITHIN_S, RULES
from chargeassist.qa.rescore import Rescored, rescore_events
from chargeassist.session.record.codec import job_from_json
from chargeassist.stream.facts import ChargeStep, Measured
from tests.unit.qa.audited import SCHOOL


@pytest.fixture(scope="module")
def session(good: list[Event]) -> Rescored:
    started = good[0]
    assert isinstance(started, SessionStarted)
    return rescore_events(iter(good), job_from_json(started.job))


def told(session: Rescored, rule: str, policy: Policy = SCHOOL) -> list[Finding]:
    return RULES[rule](session, policy)


def at_end(session: Rescored, **facts: Any) -> Rescored:
    """Change what was known at the end."""
    last = session.last
    assert isinstance(last, Snapshot)
    return replace(session, last=replace(last, facts=replace(last.facts, **facts)))


def step(number: int, mass_kg: float | None, begun_t: float, **more: Any) -> ChargeStep:
    return ChargeStep(
        number=number,
        mass_kg=mass_kg,
        begun_t=begun_t,
        ended_t=begun_t + 60.0,
        measured_by="scale",
        **more,
    )


def with_charge(session: Rescored, **charge: Any) -> Rescored:
    return replace(session, job=replace(session.job, charge=replace(session.job.charge, **charge)))


def test_a_step_may_pass_its_cap_by_what_the_scale_can_show(session: Rescored) -> None:
    session = with_charge(session, step_cap_kg=0.1, scale_resolution_kg=0.005)
    for mass_kg, over in ((0.1049, False), (0.1051, True), (-0.3, False), (None, False)):
        found = told(at_end(session, ledger=(step(1, mass_kg, 600.0),)), "step_over_cap")
        assert [f.t for f in found] == ([660.0] if over else [])


def test_the_last_step_need_not_have_settled_for_another(session: Rescored) -> None:
    ledger = (
        step(1, 0.1, 600.0, after_k=3.0),
        step(2, 0.1, 900.0),
        step(3, 0.1, 1020.0, after_k=4.0),
        step(4, 0.1, 1500.0),
    )
    (found,) = told(at_end(session, ledger=ledger), "next_step_too_early")
    assert found.t == 1020.0
    assert found.text == "step 3 begun 60 s after step 2, which had not settled"


@pytest.mark.parametrize(
    ("off_k", "expanded_k", "decision"),
    [
        (0.79, 0.4, ""),
        (0.81, 0.4, "fail, not certain"),
        (-0.81, 0.4, "fail, not certain"),
        (1.21, 0.4, "fail"),
        (0.81, None, "fail"),
        (0.79, None, ""),
    ],
)
def test_an_end_outside_its_band_is_found_certain_or_not(
    session: Rescored, off_k: float, expanded_k: float | None, decision: str
) -> None:
    """The band of this job is 0.8 K each way."""
    target_k = session.job.target.middle_k
    assert session.job.target.tolerance_k == pytest.approx(0.8)
    reading = Measured(value_k=target_k + off_k, expanded_k=expanded_k)
    found = told(at_end(session, settled=reading), "out_of_tolerance")
    assert [f.text.rpartition(": ")[2] for f in found] == ([decision] if decision else [])


def test_a_session_that_is_not_complete_is_not_judged_by_its_band(session: Rescored) -> None:
    far = at_end(session, settled=Measured(value_k=30.0, expanded_k=0.4))
    assert told(far, "out_of_tolerance")
    assert session.stopped is not None
    given_up = replace(far, stopped=replace(session.stopped, outcome=Outcome.ABANDONED))
    for other in (given_up, replace(far, stopped=None), replace(far, last=None)):
        assert told(other, "out_of_tolerance") == []
    assert told(at_end(session, settled=None), "out_of_tolerance") == []


def test_instruments_are_too_coarse_where_their_uncertainty_passes_the_tolerance(
    session: Rescored,
) -> None:
    middle_k = session.job.target.middle_k
    for expanded_k, coarse in ((0.8, False), (0.801, True), (None, True)):
        reading = Measured(value_k=middle_k, expanded_k=expanded_k)
        assert bool(told(at_end(session, settled=reading), "too_coarse")) is coarse
        live = at_end(session, settled=None, subcooling=reading)
        assert bool(told(live, "too_coarse")) is coarse
    nothing = at_end(session, settled=None, subcooling=NoValue("no probe"))
    assert told(nothing, "too_coarse") == []
    assert told(replace(session, last=None), "too_coarse") == []


def overriding(session: Rescored, action: Action, mass_kg: float, *notes: Mark) -> list[Finding]:
    advice = Advice(t=500.0, action=action, cause="invented", figures={})
    later = Advice(t=700.0, action=Action.WAIT, cause="later", figures={})
    changed = at_end(session, ledger=(step(1, mass_kg, 600.0),))
    return told(replace(changed, made=(advice, later), marks=notes), "override_without_reason")


@pytest.mark.parametrize("action", list(Action))
def test_adding_and_recovering_each_need_their_advice(session: Rescored, action: Action) -> None:
    added, taken = overriding(session, action, 0.1), overriding(session, action, -0.1)
    assert bool(added) is (action not in {Action.ADD, Action.DO})
    assert bool(taken) is (action not in {Action.RECOVER, Action.DO})
    if added:
        assert added[0].text.startswith(f'step 1 added while the advice was "{action.value}"')
    if taken:
        assert taken[0].text.startswith(f'step 1 recovered while the advice was "{action.value}"')


def test_a_note_is_the_reason_of_a_step_up_to_five_minutes_after_it(session: Rescored) -> None:
    assert REASON_WITHIN_S == 300.0

    def noted(t: float, text: str = "on the office's word") -> bool:
        note = Mark(t=t, kind=MarkKind.NOTE, text=text)
        return not overriding(session, Action.STOP, 0.1, note)

    assert noted(10.0)
    assert noted(960.0)  # ended at 660 s
    assert not noted(960.1)
    assert not noted(700.0, " ")
    # A note before the step before it was of that one.
    advice = Advice(t=0.0, action=Action.STOP, cause="invented", figures={})
    both = at_end(session, ledger=(step(1, 0.1, 600.0), step(2, 0.1, 1200.0)))
    note = Mark(t=650.0, kind=MarkKind.NOTE, text="the first")
    (found,) = told(replace(both, made=(advice,), marks=(note,)), "override_without_reason")
    assert found.text.startswith("step 2 ")


def test_more_than_the_plate_is_found_after_a_step_or_at_the_end(session: Rescored) -> None:
    session = with_charge(
        session, plate_kg=2.0, allowance_kg=0.1, weighed_in_kg=2.04, scale_resolution_kg=0.005
    )
    for mass_kg, over in ((0.064, False), (0.066, True), (None, False)):
        found = told(at_end(session, ledger=(step(1, mass_kg, 600.0),)), "over_plate")
        assert [f.t for f in found] == ([660.0] if over else [])
    # What was taken out again is not in.
    back = at_end(session, ledger=(step(1, -0.1, 600.0), step(2, 0.16, 900.0)))
    assert told(back, "over_plate") == []
    full = with_charge(at_end(session, ledger=()), weighed_in_kg=2.2)
    (ended,) = told(full, "over_plate")
    assert session.stopped is not None
    assert ended.t == session.stopped.t
    assert "at the end" in ended.text
    assert told(replace(full, stopped=None), "over_plate") == []
    assert told(with_charge(full, weighed_in_kg=2.104), "over_plate") == []


def test_a_session_of_a_field_is_not_called_simulated(session: Rescored) -> None:
    source = session.job.sources[0]
    field = replace(session.started, mode=SessionMode.FIELD)
    probes = replace(session.job, sources=(replace(source, url="serial:/dev/ttyUSB0"),))
    assert told(replace(session, started=field, job=probes), "simulated_as_field", Policy()) == []
    (found,) = told(replace(session, started=field), "simulated_as_field", Policy())
    assert found.text == f"says field, but its source is a {source.scheme}"
    (simulated,) = told(session, "simulated_as_field", Policy())
    assert "no proof of field work" in simulated.text
    assert told(session, "simulated_as_field", SCHOOL) == []


def test_an_end_without_a_settled_reading_needs_one_that_had_stood(session: Rescored) -> None:
    """A unit is stopped after its final reading has stood; nothing is settled any more then."""
    moving = at_end(session, settled=None)
    moving = replace(moving, recorded=(), recorded_at=())
    without = replace(moving, made=())
    (found,) = told(without, "judged_before_settled")
    assert session.stopped is not None
    assert found.t == session.stopped.t
    assert told(moving, "judged_before_settled") == []
    assert told(replace(without, stopped=None), "judged_before_settled") == []
    (nothing,) = told(replace(without, last=None), "judged_before_settled")
    assert nothing.text == "ended as complete while the reading was not there"
    settled = at_end(without, settled=Measured(value_k=5.0, expanded_k=0.4))
    assert told(settled, "judged_before_settled") == []


@pytest.mark.parametrize(
    ("action", "cause", "claims"),
    [
        (Action.STOP, "inside", True),
        (Action.STOP, "inside_not_certain", True),
        (Action.STOP, "step_too_fine", False),
        (Action.ADD, "inside", False),
    ],
)
def test_a_recorded_verdict_claims_a_settled_reading_if_it_says_inside(
    session: Rescored, action: Action, cause: str, claims: bool
) -> None:
    advice = Advice(t=700.0, action=action, cause=cause, figures={})
    unsettled = at_end(session, settled=None).last
    for at, found in ((unsettled, claims), (None, claims), (session.last, False)):
        recorded = replace(session, recorded=(advice,), recorded_at=(at,))
        times = [f.t for f in told(recorded, "judged_before_settled")]
        assert times == ([700.0] if found else [])
