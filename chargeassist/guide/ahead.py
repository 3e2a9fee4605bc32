"""Steps and minutes left while a reading still moves, from the forecast of its settled value.

This is an outlook, not a promise: it holds if the reading goes where the forecast says and the next
steps do what the last ones did.
"""

from dataclasses import dataclass

from chargeassist.guide import step_size
from chargeassist.model.job import Job
from chargeassist.stream.facts import Facts, Measured, TargetFacts

WIDEST_STEPS = 4
"""A forecast whose ends are more steps apart than this is not shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """Steps and minutes left.

    Attributes
    ----------
    steps_low, steps_high : int
        From the two ends of the 90 % forecast of the settled value; 0 if it will be in the band.
    seconds : float
        Until the last step can be judged, by the middle of the forecast [s]; where `wait_known` is
        false, from the end of the present wait on.
    wait_known : bool
        Whether the forecast says how long the present wait takes.
    may_pass, passes : bool
        Whether an end of the forecast, or its middle, lies past the far end of the band: there may
        be too much refrigerant in already.
    """

    steps_low: int
    steps_high: int
    seconds: float
    wait_known: bool = True
    may_pass: bool = False
    passes: bool = False


def ahead(job: Job, facts: Facts) -> Ahead | None:
    """Return what is left after the reading that is settling now; None if that cannot be told.

    Parameters
    ----------
    job : Job
    facts : Facts
    """
    forecast, goal, reading = facts.settling.forecast, facts.goal(job.target), facts.reading
    if forecast is None or facts.settled is not None or facts.step_open is not None:
        return None
    if not isinstance(goal, TargetFacts) or not isinstance(reading, Measured):
        return None
    if any(step.mass_kg is None for step in facts.ledger):
        return None
    aim = step_size.aim_of(job, goal)
    expanded_k = reading.expanded_k
    gain = step_size.learnt_gain(job.charge.plate_kg, facts.ledger, expanded_k, facts.judged)

    def steps(level_k: float) -> int:
        if aim.shortfall_k(level_k) <= aim.tolerance_k:
            return 0
        return step_size.steps_left(aim, gain, level_k, expanded_k)

    ends = sorted((steps(forecast.low_k), steps(forecast.high_k)))
    if ends[1] - ends[0] > WIDEST_STEPS:
        return None
    past_k = min(aim.shortfall_k(forecast.low_k), aim.shortfall_k(forecast.high_k))
    middle = min(max(steps(forecast.value_k), ends[0]), ends[1])
    more_s = step_size.seconds_left(facts.ledger, middle)
    return Ahead(
        steps_low=ends[0],
        steps_high=ends[1],
        seconds=(forecast.seconds or 0.0) + more_s,
        wait_known=forecast.seconds is not None,
        may_pass=past_k < -aim.far_k,
        passes=aim.shortfall_k(forecast.value_k) < -aim.far_k,
    )
