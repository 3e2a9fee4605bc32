"""What the tightness test by probes and by hand have in common: the raise and the verdict."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from enum import Enum, auto

from chargeassist.guide.stages.stage import Instruction, NextMark, StageRow, say
from chargeassist.model.channels import Channel
from chargeassist.model.events import Action, CheckJudged, CheckResult, MarkKind, Stage
from chargeassist.model.job import Job
from chargeassist.model.limits import Limit, LimitKey
from chargeassist.physics.staged_raise import StagedRaise
from chargeassist.physics.tightness import Tightness, TightVerdict

NOISE_PA = 300.0
"""Smallest scatter of one reading [Pa]. Assumption; not a limit, a fit is weighted with it."""

ROOM_K = 293.15
"""Pipe temperature at which the thermometer's limits of error are taken [K]: 20 °C."""

LIMITS = (
    LimitKey.TIGHTNESS_THERE,
    LimitKey.TIGHTNESS_OVER,
    LimitKey.TIGHTNESS_FALL,
    LimitKey.TIGHTNESS_SETTLING,
    LimitKey.TIGHTNESS_ATMOSPHERE,
)
"""Limits of raise and standing test, besides the pressures and holds of the plan."""

_RESULT = {
    TightVerdict.TIGHT: CheckResult.PASS,
    TightVerdict.FALLING: CheckResult.FAIL,
    TightVerdict.RISING: CheckResult.FAIL_NOT_CERTAIN,
}
_NOT_CERTAIN = {
    CheckResult.PASS: CheckResult.PASS_NOT_CERTAIN,
    CheckResult.FAIL: CheckResult.FAIL_NOT_CERTAIN,
}
_CAUSE = {
    TightVerdict.TIGHT: "found_tight",
    TightVerdict.FALLING: "found_leaking",
    TightVerdict.RISING: "found_rising",
}


OPEN = NextMark(kind=MarkKind.NITROGEN_ON, label="nitrogen supply open")
SHUT = NextMark(kind=MarkKind.NITROGEN_OFF, label="nitrogen supply shut")
MENDED = NextMark(kind=MarkKind.LEAK_MENDED, label="a leak was found and closed")
VENTED = NextMark(kind=MarkKind.VENTED, label="nitrogen let out")
BEGIN_DRYNESS = NextMark(kind=MarkKind.STAGE_BEGUN, text=Stage.DRYNESS.value, label="begin dryness")
ALWAYS_TOLD = (OPEN, SHUT, MENDED, VENTED)
"""Marks that can be made at any time of the test."""


class Supply(Enum):
    """Where the nitrogen is, by what the technician told."""

    SHUT = auto()  # the circuit is closed, filled or not yet
    OPEN = auto()  # nitrogen flows in: what flows in hides what flows out
    LET_OUT = auto()  # the circuit was vented

    def after(self, mark: MarkKind) -> "Supply":
        """Return where it is after a mark of this kind."""
        match mark:
            case MarkKind.NITROGEN_ON:
                return Supply.OPEN
            case MarkKind.NITROGEN_OFF if self is Supply.OPEN:
                return Supply.SHUT
            case MarkKind.VENTED:
                return Supply.LET_OUT
            case MarkKind.LEAK_MENDED:
                return Supply.SHUT
            case _:
                return self


def new_raise(job: Job) -> StagedRaise | None:
    """Return the raise of the job at its beginning; None if the job has no steps."""
    steps = job.stages.tightness.steps
    if not steps:
        return None

    def share(key: LimitKey) -> float:
        return job.limit_or_usual(key).value_si

    return StagedRaise(
        (*steps[:-1], replace(steps[-1], hold_s=0.0)),  # the last one's hold is the test itself
        highest_pa_gauge=highest_pa_gauge(job) * (1.0 + share(LimitKey.TIGHTNESS_OVER)),
        tolerance_pa=share(LimitKey.TIGHTNESS_THERE) * steps[0].pressure_pa_gauge,
        fall_pa=share(LimitKey.TIGHTNESS_FALL) * steps[-1].pressure_pa_gauge,
    )


def highest_pa_gauge(job: Job) -> float:
    """Return the most the circuit may be brought to [Pa gauge]; the job has steps.

    Both sides stand under the nitrogen, so the weaker one decides; without the plate's test
    pressures it is the last step.
    """
    weaker = job.plate.weaker_side_pa_gauge
    return weaker or job.stages.tightness.steps[-1].pressure_pa_gauge


def drift(
    job: Job, gauge: Channel | None, pipes: Iterable[Channel | None], pressure_pa: float
) -> tuple[float, float]:
    """Return how far the probes of a standing test may drift, half widths [Pa], [K].

    Their declared limits of error, else the job's for probes without; of the pipes the coarsest
    counts, of the gauge no less than half its smallest step.

    Parameters
    ----------
    job : Job
    gauge : Channel or None
    pipes : iterable of Channel or None
    pressure_pa : float
        That the circuit stands at [Pa gauge].
    """
    pressure = None if gauge is None else gauge.half_width(pressure_pa)
    if pressure is None:
        pressure = job.limit_si(LimitKey.TIGHTNESS_GAUGE) * pressure_pa
    step_pa = None if gauge is None else gauge.resolution_si
    usual_k = job.limit_si(LimitKey.TIGHTNESS_THERMOMETER)
    declared = [None if pipe is None else pipe.half_width(ROOM_K) for pipe in pipes]
    return (
        max(pressure, 0.5 * (step_pa or 0.0)),
        max((usual_k if each is None else each for each in declared), default=usual_k),
    )


def steps_too_coarse(job: Job, gauge: Channel | None) -> bool:
    """Return whether the resolution of the gauge is coarser than a limit of the job allows."""
    limit = job.limit(LimitKey.TIGHTNESS_RESOLUTION)
    step_pa = None if gauge is None else gauge.resolution_si
    if limit is None or step_pa is None:
        return False
    test_pa = job.stages.tightness.steps[-1].pressure_pa_gauge
    return step_pa > limit.value_si * test_pa


def settle_s(job: Job) -> float:
    """Return the time left out after the supply is shut [s]: at most a quarter of the hold."""
    settling = job.limit_or_usual(LimitKey.TIGHTNESS_SETTLING)
    return min(settling.value_si, 0.25 * job.stages.tightness.steps[-1].hold_s)


def limit_rows(job: Job, *others: Limit) -> list[StageRow]:
    """Return a row with source for each of `LIMITS` and `others`."""
    limits = [*(job.limit_or_usual(key) for key in LIMITS), *others]
    here = {"here_s": settle_s(job)} if job.stages.tightness.steps else {}
    resolution = job.limit(LimitKey.TIGHTNESS_RESOLUTION)
    if resolution is not None:
        limits.append(resolution)
    return [
        StageRow(
            key=limit.key.value,
            figures={"value": limit.value_si}
            | (here if limit.key is LimitKey.TIGHTNESS_SETTLING else {}),
            subject=limit.note,
            source=limit.citation,
        )
        for limit in limits
    ]


def judged(
    t: float,
    found: Tightness,
    figures: Mapping[str, float],
    job: Job,
    *,
    certain: bool,
    readings: int | None = None,
    assumed: tuple[str, ...] = (),
) -> CheckJudged:
    """Return the verdict on the standing test as an event.

    Parameters
    ----------
    t : float
        [s].
    found : Tightness
        With a verdict.
    figures : mapping of str to float
        Its numbers [SI].
    job : Job
        Its last step is the test itself.
    certain : bool
        Whether the instruments, and the number of readings by hand, allow a certain verdict.
    readings : int, optional
        Number of readings, if they were taken by hand.
    assumed : tuple of str, optional
        Sources of what else it was judged by, such as accuracies assumed for want of declared ones.
    """
    step, result = job.stages.tightness.steps[-1], _RESULT[found.verdict]
    # Beyond its uncertainty (k = 2), but not likely enough to be called a fall.
    odd = abs(found.change_pa) > found.expanded_pa
    if result is CheckResult.PASS and odd:
        result = CheckResult.PASS_NOT_CERTAIN
    if not certain:
        result = _NOT_CERTAIN.get(result, result)
    told = dict(figures) | {
        "pressure_pa": step.pressure_pa_gauge,
        "held_s": found.elapsed_s,
    }
    if readings is not None:
        told["readings"] = float(readings)
    return CheckJudged(
        t=t,
        stage=Stage.TIGHTNESS,
        check="standing_pressure",
        result=result,
        cause=_CAUSE[found.verdict],
        figures=told,
        sources=tuple(dict.fromkeys((step.source, *_cited(job), *assumed))),
    )


def told_verdict(t: float, found: Tightness, figures: Mapping[str, float]) -> Instruction:
    """Return what a decided standing test says; `figures` are its numbers [SI]."""
    match found.verdict:
        case TightVerdict.TIGHT:
            cause = "tight" if abs(found.change_pa) <= found.expanded_pa else "tight_doubted"
            return say(t, Action.DO, cause, figures), VENTED
        case TightVerdict.FALLING:
            return say(t, Action.FIX_FIRST, "nitrogen_leaks", figures), MENDED
        case _:
            return say(t, Action.FIX_FIRST, "rising_alone", figures), SHUT


def _cited(job: Job) -> list[str]:
    settling = job.limit_or_usual(LimitKey.TIGHTNESS_SETTLING)
    atmosphere = job.limit_or_usual(LimitKey.TIGHTNESS_ATMOSPHERE)
    resolution = job.limit(LimitKey.TIGHTNESS_RESOLUTION)
    return [limit.told for limit in (settling, atmosphere, resolution) if limit is not None]


def figures_of(found: Tightness) -> dict[str, float]:
    """Return the figures of the standing test, units in their names; unknown ones are absent."""
    figures = {
        "compensated_pa_abs": found.compensated_pa_abs,
        "ideal_check_pa_abs": found.ideal_check_pa_abs,
        "elapsed_s": found.elapsed_s,
        "remaining_s": found.remaining_s,
    }
    for key, value in (
        ("change_pa", found.change_pa),
        ("expanded_pa", found.expanded_pa),
        ("rate_pa_per_h", 3600.0 * found.rate_pa_per_s),
        ("smallest_pa_per_h", 3600.0 * found.smallest_leak_pa_per_s),
        ("needed_s", found.needed_s),
    ):
        # A record holds no infinity.
        if value is not None and abs(value) < 1e12:
            figures[key] = value
    return figures
