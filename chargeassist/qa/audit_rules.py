"""The rules of an audit: each a pure function from a recomputed session to what is wrong with it.

A rule looks at what today's software made of the raw readings, not at what the record claims, and
says in its docstring what it compares with what. `RULES` names them all.
"""

from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import Final

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import (
    Action,
    Advice,
    MarkKind,
    Outcome,
    SessionMode,
    Settled,
    StepRecorded,
    VerdictEvent,
)
from chargeassist.model.values import NoValue
from chargeassist.physics.uncertainty import Decision, decide
from chargeassist.qa.audit_calibration import calibration_not_stated, calibration_out_of_date
from chargeassist.qa.audit_conduct import cautions_unread, condition_waived
from chargeassist.qa.audit_finding import Finding as Finding
from chargeassist.qa.audit_finding import Policy as Policy
from chargeassist.qa.rescore import Rescored, charge_steps, final_reading
from chargeassist.stream.facts import ChargeStep, Measured

REASON_WITHIN_S = 300.0
"""A note so soon [s] after a step ended is its reason, as is one since the step before."""

NOT_FIELD_SCHEMES = frozenset({"simulator", "recording"})


def judged_before_settled(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a recorded settled value, or an end, where the recomputed reading had not settled."""
    found = [
        _finding(
            "judged_before_settled", f"{what} while the reading was {_state(snapshot)}", event.t
        )
        for event, snapshot in zip(session.recorded, session.recorded_at, strict=True)
        if (what := _judgement(event)) and (snapshot is None or snapshot.facts.settled is None)
    ]
    closed = final_reading(session) is not None  # the unit was stopped after it had stood
    unsettled = session.last is None or session.last.facts.settled is None
    if _complete(session) and unsettled and not closed:
        text = f"ended as complete while the reading was {_state(session.last)}"
        found.append(_finding("judged_before_settled", text, _end(session)))
    return found


def step_over_cap(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a charge step of more than the job's step cap, by more than the scale can tell."""
    charge, system = session.job.charge, _system(session)
    return [
        _finding(
            "step_over_cap",
            f"step {step.number}: {display.mass(step.mass_kg, system)} at once, cap "
            f"{display.mass(charge.step_cap_kg, system)}",
            step.ended_t,
        )
        for step in charge_steps(session)
        if step.mass_kg is not None
        and step.mass_kg > charge.step_cap_kg + charge.scale_resolution_kg
    ]


def next_step_too_early(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a charge step that was begun before the one before it had settled."""
    steps = charge_steps(session)
    return [
        _finding(
            "next_step_too_early",
            f"step {after.number} begun {after.begun_t - before.ended_t:.0f} s after step "
            f"{before.number}, which had not settled",
            after.begun_t,
        )
        for before, after in pairwise(steps)
        if before.after_k is None
    ]


def frequency_not_held(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a step, a recorded settled value or an end while the required frequency was not held."""
    required_hz = session.job.hold.required_hz
    if required_hz is None:
        return []
    events: list[tuple[str, float, Snapshot | None]] = [
        (what, event.t, snapshot)
        for event, snapshot in zip(session.recorded, session.recorded_at, strict=True)
        if (what := _judgement(event))
    ]
    charged = {step.number for step in charge_steps(session)}
    numbers: set[int] = set()
    for moment in session.moments:
        event = moment.event
        if isinstance(event, StepRecorded) and event.number in charged - numbers:
            numbers.add(event.number)
            events.append((f"step {event.number}", event.t, moment.snapshot))
    if _complete(session):
        events.append(("ended as complete", _end(session), session.last))
    return [
        _finding(
            "frequency_not_held",
            f"{what} while {required_hz:g} Hz was not held{_actual(snapshot)}",
            t,
        )
        for what, t, snapshot in sorted(events, key=lambda one: one[1])
        if snapshot is None or not snapshot.facts.hold.held
    ]


def out_of_tolerance(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a session that ended as complete with its settled value outside the target's band."""
    last = session.last
    if not _complete(session) or last is None or last.facts.settled is None:
        return []
    settled, goal = last.facts.settled, last.facts.goal(session.job.target)
    if isinstance(goal, NoValue):
        return [_finding("out_of_tolerance", "there is no target it could be judged by", last.t)]
    decision = decide(settled.value_k, settled.expanded_k or 0.0, goal.low_k, goal.high_k)
    if decision not in {Decision.FAIL, Decision.FAIL_NOT_CERTAIN}:
        return []
    system = _system(session)
    return [
        _finding(
            "out_of_tolerance",
            f"{session.job.target.judged.name} settled at "
            f"{display.difference(settled.value_k, system)}, band "
            f"{display.difference(goal.low_k, system)} to {display.difference(goal.high_k, system)}"
            f": {decision.value}",
            last.t,
        )
    ]


def too_coarse(session: Rescored, policy: Policy) -> list[Finding]:
    """Find probes without a declared accuracy, or an uncertainty larger than the tolerance."""
    last = session.last
    if last is None:
        return []
    live = last.facts.reading
    value = last.facts.settled or (live if isinstance(live, Measured) else None)
    if value is None:
        return []
    if value.expanded_k is None:
        return [_finding("too_coarse", "no accuracy is declared for a probe it was judged by")]
    goal, system = last.facts.goal(session.job.target), _system(session)
    if isinstance(goal, NoValue) or value.expanded_k <= goal.tolerance_k:
        return []
    return [
        _finding(
            "too_coarse",
            f"uncertainty {display.difference(value.expanded_k, system)}, tolerance "
            f"{display.difference(goal.tolerance_k, system)}",
        )
    ]


def override_without_reason(session: Rescored, policy: Policy) -> list[Finding]:
    """Find refrigerant moved against the standing advice, without a note that says why."""
    notes = [m.t for m in session.marks if m.kind is MarkKind.NOTE and m.text.strip()]
    found, since_t = [], 0.0
    for step in _ledger(session):
        advice = _advice_at(session, step.begun_t)
        reasons = [t for t in notes if since_t <= t <= step.ended_t + REASON_WITHIN_S]
        since_t = step.ended_t
        if advice is None or reasons or _allowed(advice.action, step):
            continue
        verb = "recovered" if (step.mass_kg or 0.0) < 0.0 else "added"
        text = (
            f"step {step.number} {verb} while the advice was "
            f'"{advice.action.value}" ({advice.cause}), and no note says why'
        )
        found.append(_finding("override_without_reason", text, step.begun_t))
    return found


def over_plate(session: Rescored, policy: Policy) -> list[Finding]:
    """Find more refrigerant in the circuit than the plate and its line-set allowance take."""
    charge, system = session.job.charge, _system(session)
    total_kg = charge.weighed_in_kg
    most_kg = charge.full_kg + charge.scale_resolution_kg
    full = f"plate and allowance {display.mass(charge.full_kg, system)}"
    for step in _ledger(session):
        added_kg = step.mass_kg or 0.0
        total_kg += added_kg
        if added_kg > 0.0 and total_kg > most_kg:
            text = f"{display.mass(total_kg, system)} after step {step.number}, {full}"
            return [_finding("over_plate", text, step.ended_t)]
    if _complete(session) and total_kg > most_kg:
        text = f"{display.mass(total_kg, system)} at the end, {full}"
        return [_finding("over_plate", text, _end(session))]
    return []


def simulated_as_field(session: Rescored, policy: Policy) -> list[Finding]:
    """Find a simulated session among field work, or one called "field" that comes from no probe."""
    schemes = {source.scheme for source in session.job.sources} & NOT_FIELD_SCHEMES
    if session.started.mode is SessionMode.FIELD and schemes:
        names = ", ".join(sorted(schemes))
        return [_finding("simulated_as_field", f"says field, but its source is a {names}")]
    if session.started.mode is SessionMode.SIMULATED and not policy.accept_simulated:
        return [_finding("simulated_as_field", "is simulated: it is no proof of field work")]
    return []


Rule = Callable[[Rescored, Policy], list[Finding]]

RULES: Final[Mapping[str, Rule]] = {
    rule.__name__: rule
    for rule in (
        judged_before_settled,
        step_over_cap,
        next_step_too_early,
        frequency_not_held,
        out_of_tolerance,
        too_coarse,
        calibration_out_of_date,
        calibration_not_stated,
        override_without_reason,
        condition_waived,
        cautions_unread,
        over_plate,
        simulated_as_field,
    )
}
"""Every rule over one session by its name; `chargeassist.qa.audit` adds those over files."""


def _finding(rule: str, text: str, t: float | None = None) -> Finding:
    return Finding(rule=rule, text=text, t=t)


def _system(session: Rescored) -> UnitSystem:
    return UnitSystem(session.job.units or UnitSystem.SI)


def _complete(session: Rescored) -> bool:
    return session.stopped is not None and session.stopped.outcome is Outcome.COMPLETE


def _end(session: Rescored) -> float:
    return 0.0 if session.stopped is None else session.stopped.t


def _ledger(session: Rescored) -> tuple[ChargeStep, ...]:
    return () if session.last is None else session.last.facts.ledger


def _judgement(event: VerdictEvent) -> str:
    """Return what a recorded verdict claims about a settled reading, or ""."""
    if isinstance(event, Settled):
        return "recorded as settled"
    if (
        isinstance(event, Advice)
        and event.action is Action.STOP
        and event.cause.startswith("inside")
    ):
        return "recorded as inside the band"
    return ""


def _state(snapshot: Snapshot | None) -> str:
    return "not there" if snapshot is None else snapshot.facts.settling.state.value


def _actual(snapshot: Snapshot | None) -> str:
    actual = None if snapshot is None else snapshot.facts.hold.actual_hz
    return "" if actual is None else f" (it was {actual:.0f} Hz)"


def _advice_at(session: Rescored, t: float) -> Advice | None:
    given = [e for e in session.made if isinstance(e, Advice) and e.t <= t]
    return given[-1] if given else None


def _allowed(action: Action, step: ChargeStep) -> bool:
    if (step.mass_kg or 0.0) < 0.0:
        return action in {Action.RECOVER, Action.DO}
    return action in {Action.ADD, Action.DO}
