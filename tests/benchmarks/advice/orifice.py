"""Print how advice by superheat does on random machines with a fixed orifice, beside fixed steps.

    python tests/benchmarks/advice/orifice.py [--jobs 100] [--seed 0]

As `run.py`, with the maker's superheat as the target: what the machine shows, in that weather, at
its full charge. Overshoot is the machine's own truth: the superheat at which it settles, in still
air, with the most charge it held at any time of the job, below target less tolerance. Figures are
measured, not asserted. Seed S stands for the jobs S * 100000 onward.
"""

import argparse
import random
import statistics
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Final

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.model.limits import Method
from tests.benchmarks.advice.cases import Case, case
from tests.benchmarks.advice.chargers import POUND_KG, Advised, OnceSettled
from tests.benchmarks.advice.shift import Order, charge
from tests.benchmarks.plant.random_units import random_job

SEEDS_APART: Final = 100_000
TOLERANCES_K: Final = (2.0, 5.0 / 1.8)
"""5 °F is what California Reference Appendix RA3.2 (2008) allows an installer."""


def orifice_case(seed: int, *, faulty: bool = False) -> Case:
    """Return the job of a seed."""
    machine = random_job(seed, orifice=True, faulty=faulty)
    draw = random.Random(f"orifice {seed}")  # seeded play, no secret
    this = case(seed, machine=machine)
    target = replace(
        this.job.target,
        method=Method.SUPERHEAT,
        subcooling_k=None,
        superheat_k=machine.target_superheat_k,
        tolerance_k=draw.choice(TOLERANCES_K),
    )
    return replace(this, job=replace(this.job, target=target))


def steady_superheat_k(this: Case, charge_kg: float) -> float:
    """Return the superheat at which the machine settles with a charge, in still air [K]."""
    return this.settled(charge_kg).superheat_k


class FixedSteps(OnceSettled):
    """Always the same amount while the settled superheat is above the band."""

    def __init__(self, this: Case, step_kg: float) -> None:
        super().__init__(this)
        self._step_kg = step_kg

    def decide(self, settled_k: float) -> Order:
        """Return the amount, or the end."""
        above = settled_k > self._case.high_k
        return Order(self._step_kg) if above else Order(done="not above")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    arguments = parser.parse_args()
    first = arguments.seed * SEEDS_APART
    cases = [orifice_case(seed) for seed in range(first, first + arguments.jobs)]
    print(f"{len(cases)} jobs from seed {first}, target the maker's superheat\n")
    print(f"{'':18s}{'over %':>8s}{'inside %':>10s}{'steps':>7s}{'minutes':>9s}{'accused %':>11s}")
    for name, step_lb in (
        ("this program", None),
        ("0.5 lb, settled", 0.5),
        ("0.25 lb, settled", 0.25),
    ):
        over, inside, steps, minutes, accused, ends = 0, 0, [], [], 0, Counter[str]()
        for this in cases:
            charger = Advised(this) if step_lb is None else FixedSteps(this, step_lb * POUND_KG)
            course = charge(this, charger)
            target = this.job.target
            low_k = max(target.middle_k - target.tolerance_k, target.floor_k)
            end_k = steady_superheat_k(this, course.end_kg)
            most_k = end_k
            if course.most_kg > course.end_kg:
                most_k = steady_superheat_k(this, course.most_kg)
            over += most_k < low_k
            inside += low_k <= end_k <= target.middle_k + target.tolerance_k
            steps.append(len(course.steps_kg))
            minutes.append(course.seconds / 60.0)
            ends[course.done] += 1
            if isinstance(charger, Advised):
                accused += any(fault.found for fault in charger.faults)
        count = len(cases)
        print(
            f"{name:18s}{100 * over / count:8.1f}{100 * inside / count:10.1f}"
            f"{statistics.median(steps):7.1f}{statistics.median(minutes):9.1f}"
            + (f"{100 * accused / count:11.1f}" if step_lb is None else "          –"),
            flush=True,
        )
        print("   ended: " + ", ".join(f"{end} {n}" for end, n in ends.most_common(6)))


if __name__ == "__main__":
    main()
