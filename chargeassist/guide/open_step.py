"""While a charge step is open: how much is in, and when the valve has to be shut.

What comes first while somebody stands at the valve may be a limit or a lost probe; that the amount
is in is told beside it, whatever comes first.
"""

from dataclasses import replace

from chargeassist.guide.guards import DRIVEN_UP, STEP_OPEN
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Job
from chargeassist.stream.facts import Facts, OpenStep
from chargeassist.stream.ledger import STILL_KG

_OWN = frozenset({"step_open", "step_full", "scale_lost"})
_SHUT_ANYWAY = DRIVEN_UP | {"charge_limit"}
_WANTED, _MOST = "wanted_kg", "most_kg"


def scale_lost(facts: Facts, previous: Advice | None) -> Advice | None:
    """Have the valve shut where the scale an open step is read by no longer reads."""
    step: OpenStep | None = facts.step_open
    if step is None or not step.scale_lost or step.so_far_kg is None:
        return None
    figures = {"so_far_kg": step.so_far_kg, **_wanted(step, previous)}
    return Advice(t=facts.t, action=Action.WAIT, cause="scale_lost", figures=figures)


def step_open(job: Job, facts: Facts, previous: Advice | None) -> Advice | None:
    """Return how much of an open step is in, and that it is as much as is to go in at once.

    That is the amount that was asked for; where none was, the most that is proposed at once.
    """
    step: OpenStep | None = facts.step_open
    if step is None:
        return None
    figures, cause = _wanted(step, previous), "step_open"
    if step.so_far_kg is not None:
        figures["so_far_kg"] = step.so_far_kg
        if _is_full(job, step, figures, previous):
            cause = "step_full"
            figures |= _most(job, figures)
    return Advice(t=facts.t, action=Action.WAIT, cause=cause, figures=figures)


def beside_what_comes_first(
    job: Job, facts: Facts, previous: Advice | None, advice: Advice
) -> Advice:
    """Return `advice`, which came before the open step, with the amount kept in mind.

    Once it is in, or more is in the circuit than is allowed, the figure `STEP_OPEN` has the valve
    shut.
    """
    step: OpenStep | None = facts.step_open
    if step is None or advice.cause in _OWN:
        return advice
    figures = {**advice.figures, **_wanted(step, previous)}
    too_much = advice.cause == "charge_limit"
    full = _is_full(job, step, figures, previous)
    if step.so_far_kg is not None and (too_much or full):
        figures |= {STEP_OPEN: 1.0, "so_far_kg": step.so_far_kg}
        figures |= _most(job, figures) if full else {}
    return replace(advice, figures=figures)


def _most(job: Job, figures: dict[str, float]) -> dict[str, float]:
    """Return the most that is proposed at once, where no amount was asked for."""
    return {} if _WANTED in figures else {_MOST: job.charge.step_cap_kg}


def _is_full(job: Job, step: OpenStep, figures: dict[str, float], previous: Advice | None) -> bool:
    """Return whether as much is in as is to go in at once.

    That is an amount that was asked for as near as the scale can tell; nothing asked for the other.
    Once that was said, a scale that swings about it does not take it back.
    """
    if step.so_far_kg is None:
        return False
    full_kg, count_kg = job.charge.step_cap_kg, job.charge.scale_resolution_kg
    if _WANTED in figures:
        full_kg = max(figures[_WANTED] - count_kg, min(figures[_WANTED], count_kg))
    if previous is not None and _says_full(previous) and step.begun_t <= previous.t:
        full_kg -= max(STILL_KG, count_kg)
    return step.so_far_kg >= full_kg


def _says_full(advice: Advice) -> bool:
    """Whether the amount was said to be in."""
    beside = STEP_OPEN in advice.figures and "so_far_kg" in advice.figures
    return advice.cause == "step_full" or (beside and advice.cause not in _SHUT_ANYWAY)


def _wanted(step: OpenStep, previous: Advice | None) -> dict[str, float]:
    """Return the amount that was asked for before the step, and stays asked for during it."""
    if previous is None:
        return {}
    if previous.action is Action.ADD and previous.mass_kg is not None:
        return {_WANTED: previous.mass_kg}
    if step.begun_t > previous.t:  # what is kept there was asked for before the step before it
        return {}
    return {key: value for key, value in previous.figures.items() if key == _WANTED}
