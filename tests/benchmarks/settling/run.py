"""Print how the settling detector does on invented jobs, beside simple published tests.

    python tests/benchmarks/settling/run.py [--jobs 36] [--seed 901] [--machines 40]

Figures are measured, not asserted; the limits that must hold are in tests/unit/stream.
"""

import argparse
import math
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.stream.settling import SettlingDetector
from tests.benchmarks.settling.baselines import (
    EwVariance,
    ExponentialFit,
    MovingSpread,
    Mser5,
    SlopeEquivalence,
    SlopeTest,
    TwoWindows,
    VarianceRatio,
)
from tests.benchmarks.settling.generator import (
    FOREIGN,
    KNOWN,
    RATES_HZ,
    WEATHERS,
    Job,
    make_jobs,
)
from tests.benchmarks.settling.plant_jobs import make_plant_jobs
from tests.benchmarks.settling.scoring import Detector, StepScore, evaluate, summarise

HEADER = "steps  false%  stale%  missed%   median    p90   hold%"

PUBLISHED: dict[str, Callable[[], Detector]] = {
    "moving spread": MovingSpread,
    "EW variance": EwVariance,
    "slope t test": SlopeTest,
    "R statistic": VarianceRatio,
    "two windows, t and F": TwoWindows,
    "MSER-5": Mser5,
    "slope equivalence": SlopeEquivalence,
    "exponential fit": ExponentialFit,
}
DETECTORS = PUBLISHED | {"this detector": SettlingDetector}


def compare(title: str, jobs: list[Job], *, told: bool) -> None:
    print(f"\n{title}, disturbances {'announced' if told else 'not announced'}")
    print(f"{'':22s}{HEADER}")
    for name, make in DETECTORS.items():
        print(f"{name:22s}{summarise(evaluate(make, jobs, told=told)).row()}")


def by_kind(seed: int, count: int) -> None:
    print("\nThis detector by kind of transient, of reading and of rate, announced")
    print(f"{'':28s}{HEADER}")
    kinds = {family: make_jobs(seed, count, families=(family,)) for family in (*KNOWN, *FOREIGN)}
    kinds["probes of 0.1 psi, 0.05 K"] = make_jobs(seed, count, weathers=("clean",))
    kinds["probes of 0.5 psi, 0.1 F"] = make_jobs(seed, count, weathers=("coarse",))
    for weather in ("noisy", "hunting", "drift", "gaps"):
        kinds[weather] = make_jobs(seed, count, weathers=(weather,))
    for rate_hz in RATES_HZ:
        kinds[f"{rate_hz:g} Hz"] = make_jobs(seed, count, rate_hz=rate_hz)
    for kind, jobs in kinds.items():
        print(f"{kind:28s}{summarise(evaluate(SettlingDetector, jobs, told=True)).row()}")


def by_machine(machines: list[Job]) -> None:
    """Print where on the physical plant this detector is right and where not."""
    print("\nThis detector on the physical plant, announced")
    print(f"{'':28s}{HEADER}")
    judged = [(job, evaluate(SettlingDetector, [job], told=True)) for job in machines]
    groups: dict[str, list[StepScore]] = {}
    for job, scores in judged:
        for one in scores:
            part = "charge steps" if one.number else "start-up"
            groups.setdefault(part, []).append(one)
            if one.number:
                for kind in (job.weather, job.family, f"{job.rate_hz:g} Hz"):
                    groups.setdefault(f"  {kind}", []).append(one)
    for kind in sorted(groups, key=lambda kind: (kind.startswith(" "), kind)):
        print(f"{kind:28s}{summarise(groups[kind]).row()}")


def steps_of_one_plant(seed: int, count: int) -> None:
    jobs = make_jobs(seed, count, one_plant=True, steps=6)
    print(
        "\nSix charge steps on one plant: median delay [s] by step (0 is the start-up), announced"
    )
    for name, share in (("with memory", 0.3), ("without", 0.0)):
        scores = evaluate(partial(SettlingDetector, plant_share=share), jobs, told=True)
        cells = []
        for number in range(7):
            delays = [s.delay_s for s in scores if s.number == number and s.delay_s == s.delay_s]
            cells.append(f"{np.median(delays):6.0f}")
        print(f"{name:14s}{''.join(cells)}   {summarise(scores).row()}")


def coverage(
    jobs: list[Job], *, told: bool = True, every_s: float = 30.0
) -> tuple[float, float, int]:
    """Return the share of 90 % intervals that hold the truth: settled value, seconds to go.

    A look each `every_s` [s] from 40 s after a step to 120 s after it has settled; their number is
    returned too.
    """
    inside_value = inside_time = total = 0
    for job in jobs:
        detector = SettlingDetector()
        onsets = [step.t0 for step in job.steps[1:]]
        steps = list(job.steps)
        due = -math.inf
        columns = (job.t, job.subcooling, job.superheat, job.asymptote_k)
        rows = zip(*(column.tolist() for column in columns), strict=True)
        for t, subcooling, superheat, truth_k in rows:
            if onsets and t >= onsets[0]:
                onset_t = onsets.pop(0)
                steps.pop(0)
                if told:
                    detector.disturbed(onset_t)
            detector.update(t, {"subcooling": subcooling, "superheat": superheat})
            step = steps[0]
            judged = math.isfinite(step.settled_t) and t - step.t0 >= 40.0
            if not judged or t > step.settled_t + 120.0 or t < due or detector.since_s < 20.0:
                continue
            due = t + every_s
            low, high = detector.forecast_low_k, detector.forecast_high_k
            soon, late = detector.seconds_to_go_low, detector.seconds_to_go_high
            if low is None or high is None or soon is None or late is None:
                continue
            to_go = max(step.settled_t - t, 0.0)
            total += 1
            inside_value += low <= truth_k <= high
            inside_time += soon - 1.0 <= to_go <= late + 1.0
    return inside_value / total, inside_time / total, total


def forecasts(seed: int, count: int) -> None:
    print("\n90 % intervals that hold the truth [%]: settled value, seconds to go, looks")
    sets = {"own shapes": make_jobs(seed, 2 * count)}
    sets |= {kind: make_jobs(seed, count, families=(kind,)) for kind in (*KNOWN, *FOREIGN)}
    sets |= {kind: make_jobs(seed, count, weathers=(kind,)) for kind in WEATHERS}
    for kind, jobs in sets.items():
        value, to_go, looks = coverage(jobs)
        print(f"{kind:28s}{100.0 * value:6.0f} {100.0 * to_go:6.0f} {looks:6d}")
    value, to_go, looks = coverage(sets["own shapes"], told=False)
    print(f"{'own shapes, not announced':28s}{100.0 * value:6.0f} {100.0 * to_go:6.0f} {looks:6d}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=36)
    parser.add_argument("--seed", type=int, default=901)
    parser.add_argument("--machines", type=int, default=40, help="jobs on the physical plant")
    arguments = parser.parse_args()
    count, seed = arguments.jobs, arguments.seed
    jobs = make_jobs(seed, count)
    compare("Transients of the detector's own families", jobs, told=True)
    compare("Transients of the detector's own families", jobs, told=False)
    compare("Foreign transients", make_jobs(seed + 1, count, families=FOREIGN), told=True)
    by_kind(seed + 2, max(count // 2, 6))
    machines = make_plant_jobs(seed, arguments.machines)
    compare("The physical plant, read through its probes", machines, told=True)
    compare("The physical plant, read through its probes", machines, told=False)
    by_machine(machines)
    steps_of_one_plant(seed + 3, max(count // 2, 6))
    forecasts(seed + 4, max(count // 2, 6))
    rng = np.random.default_rng(seed)
    detector = SettlingDetector()
    began = time.process_time()
    for t, y in enumerate((5.0 + rng.normal(0.0, 0.1, 3000)).tolist()):
        detector.update(float(t), {"subcooling": y, "superheat": y + 5.0})
    print(f"cost at 1 Hz: {(time.process_time() - began) / 3000 * 1e6:.0f} us per update")


if __name__ == "__main__":
    main()
