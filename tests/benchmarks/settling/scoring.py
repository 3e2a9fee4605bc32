"""Scores a settling detector against the truth of invented jobs."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.settling.generator import BAND_K, Job

NEVER_S = 600.0
ENOUGH_S = 240.0
STALE_S = 60.0


class Detector(Protocol):
    """What is scored."""

    def update(self, t: float, values: Mapping[str, float]) -> bool: ...

    def disturbed(self, t: float) -> None: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class StepScore:
    """How one step was judged; delay and hold are NaN where they do not apply."""

    number: int
    weather: str
    false: bool
    stale: bool
    missed: bool
    delay_s: float
    hold: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """Shares [%] and delays [s] over many steps."""

    steps: int
    false: float
    stale: float
    missed: float
    delay_median_s: float
    delay_p90_s: float
    hold: float

    def row(self) -> str:
        return (
            f"{self.steps:5d} {self.false:7.1f} {self.stale:7.1f} {self.missed:8.1f} "
            f"{self.delay_median_s:8.0f} {self.delay_p90_s:6.0f} {self.hold:6.1f}"
        )


def run(make: Callable[[], Detector], job: Job, *, told: bool) -> NDArray[np.bool_]:
    """Feed one job; return the flag after each sample, shape (n,)."""
    detector = make()
    onsets = list(job.announced_t) if told else []
    flags = np.zeros(job.t.size, dtype=np.bool_)
    columns = (job.t, job.subcooling, job.superheat, job.amps)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    for k, (t, subcooling, superheat, amps) in enumerate(rows):
        while onsets and t >= onsets[0]:
            detector.disturbed(onsets.pop(0))
        flags[k] = detector.update(
            t, {"subcooling": subcooling, "superheat": superheat, "amps": amps}
        )
    return flags


def score(job: Job, flags: NDArray[np.bool_]) -> list[StepScore]:
    """Judge every step of one job.

    False: the flag comes up while more than 0.3 K is still to come. Stale: a flag carried over a
    disturbance stays up more than 60 s while more than 0.3 K is still to come. Missed: 240 s of
    settled time and no flag. Delay: from the settled instant to the first flag after which no more
    than 0.3 K is to come; 600 s when missed. Hold: share of the time after that the flag stays up.
    """
    scores = []
    for number, step in enumerate(job.steps):
        a, b = np.searchsorted(job.t, [step.t0, step.t1])
        flag, outside = flags[a:b], job.remaining_k[a:b] > BAND_K
        t = job.t[a:b]
        carried = 0
        if a and flags[a - 1]:
            down = np.flatnonzero(~flag)
            carried = int(down[0]) if down.size else flag.size
        stale = bool((outside[:carried] & (t[:carried] - step.t0 > STALE_S)).any())
        false = bool((flag[carried:] & outside[carried:]).any())
        missed, delay, hold = False, math.nan, math.nan
        if step.t1 - step.settled_t >= ENOUGH_S:
            last = np.flatnonzero(outside)
            inside = int(last[-1]) + 1 if last.size else 0
            up = np.flatnonzero(flag[inside:])
            if up.size:
                first = inside + int(up[0])
                delay = float(t[first]) - step.settled_t
                hold = float(flag[first:].mean())
            else:
                missed, delay = True, NEVER_S
        scores.append(
            StepScore(
                number=number,
                weather=job.weather,
                false=false,
                stale=stale,
                missed=missed,
                delay_s=math.nan if false else delay,
                hold=hold,
            )
        )
    return scores


def summarise(scores: list[StepScore]) -> Summary:
    """Return shares and delays over all steps."""
    delays = [s.delay_s for s in scores if not math.isnan(s.delay_s)]
    holds = [s.hold for s in scores if not math.isnan(s.hold)]
    judged = sum(1 for s in scores if s.missed or not math.isnan(s.hold))
    return Summary(
        steps=len(scores),
        false=100.0 * sum(s.false for s in scores) / len(scores),
        stale=100.0 * sum(s.stale for s in scores) / len(scores),
        missed=100.0 * sum(s.missed for s in scores) / max(judged, 1),
        delay_median_s=float(np.median(delays)) if delays else math.nan,
        delay_p90_s=float(np.percentile(delays, 90)) if delays else math.nan,
        hold=100.0 * float(np.mean(holds)) if holds else math.nan,
    )


def evaluate(make: Callable[[], Detector], jobs: list[Job], *, told: bool) -> list[StepScore]:
    """Run and judge a set of jobs."""
    return [s for job in jobs for s in score(job, run(make, job, told=told))]
