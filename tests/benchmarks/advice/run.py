"""Print how advice does on random simulated jobs, beside fixed steps and one who knows.

    python tests/benchmarks/advice/run.py [--jobs 200] [--seed 0] [--workers 1] [--cap 0.05]

Every job is charged once by the program and once by each of four simple rules on the same machine,
under the same weather, with the same probes. What counts as overshoot is the machine's own truth:
the subcooling at which it settles, in still air, with the most charge it held at any time of the
job. Figures are measured, not asserted. Seed S stands for the jobs S * 100000 onward.
"""

import argparse
import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.guide.assistant import Assistant
from chargeassist.model.channels import Role
from chargeassist.model.events import ChannelDeclared, Reading, SessionMode
from chargeassist.model.units import Reference
from tests.benchmarks.advice.cases import CAP_OF_PLATE, Case, case
from tests.benchmarks.advice.chargers import (
    LOOKS_AT_STOP_FOR_S,
    POUND_KG,
    Advised,
    FixedSteps,
    FixedStepsByClock,
    fewest_steps,
)
from tests.benchmarks.advice.shift import charge

SEEDS_APART: Final = 100_000
LEFT_OUT: Final = (Role.BAROMETER, Role.CYLINDER_MASS)
"""Of twelve channels these are left out when ten are timed."""

TIMED_S: Final = 1200
TIMED_RUNS: Final = 5
PROGRAM: Final = "this program"
RULES: Final[dict[str, Callable[[Case], Advised | FixedSteps | FixedStepsByClock]]] = {
    PROGRAM: Advised,
    "0.5 lb, settled": lambda c: FixedSteps(c, 0.5 * POUND_KG),
    "0.25 lb, settled": lambda c: FixedSteps(c, 0.25 * POUND_KG),
    "0.5 lb, 2 minutes": lambda c: FixedStepsByClock(c, 0.5 * POUND_KG),
    "0.25 lb, 2 minutes": lambda c: FixedStepsByClock(c, 0.25 * POUND_KG),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One job under one rule.

    Attributes
    ----------
    over_k, off_k : float
        True settled subcooling over the upper end of the tolerance at the largest charge of the
        job, and off the target at its last one [K].
    read_over : bool
        The reading, too, was found above the tolerance.
    """

    seed: int
    grade: str
    tolerance_k: float
    over_k: float
    off_k: float
    steps: int
    minutes: float
    done: str
    read_over: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreseen:
    """What was said to be left when a step was ordered, and what it came to."""

    said_steps: int
    steps: int
    said_minutes: float
    minutes: float
    least: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One job under every rule."""

    results: dict[str, Result]
    to_target: int
    to_band: int
    foreseen: tuple[Foreseen, ...]


def measure(seed: int, cap_of_plate: float, rules: Sequence[str]) -> Measured:
    """Charge the job of a seed by each rule."""
    this = case(seed, cap_of_plate)
    results = {}
    foreseen: tuple[Foreseen, ...] = ()
    for name in rules:
        charger = RULES[name](this)
        course = charge(this, charger)
        end_k = this.steady_k(course.end_kg)
        most_k = end_k if course.most_kg == course.end_kg else this.steady_k(course.most_kg)
        results[name] = Result(
            seed=seed,
            grade=this.random.grade,
            tolerance_k=this.job.target.tolerance_k,
            over_k=most_k - this.high_k,
            off_k=end_k - this.job.target.middle_k,
            steps=len(course.steps_kg),
            minutes=course.seconds / 60.0,
            done=course.done,
            read_over=charger.recoveries > 0,
        )
        if isinstance(charger, Advised) and charger.recoveries == 0:
            foreseen = tuple(
                Foreseen(
                    said_steps=told.steps,
                    steps=len(course.steps_kg) - k,
                    said_minutes=told.minutes,
                    minutes=(course.seconds - LOOKS_AT_STOP_FOR_S - told.t) / 60.0,
                    least=told.least,
                )
                for k, told in enumerate(charger.outlooks)
            )
    to_target, to_band = fewest_steps(this)
    return Measured(results=results, to_target=to_target, to_band=to_band, foreseen=foreseen)


def row(name: str, results: list[Result], known: list[int]) -> str:
    count = len(results)
    steps = [r.steps for r in results]
    over = sum(r.over_k > 0.0 for r in results)
    read = sum(r.read_over for r in results)
    inside = sum(abs(r.off_k) <= r.tolerance_k for r in results)
    tenth = statistics.quantiles(steps, n=10)[-1] if count > 1 else float(steps[0])
    ratio = statistics.median(steps) / statistics.median(known)
    each = statistics.median(a / b for a, b in zip(steps, known, strict=True))
    return (
        f"{name:22s}{100 * over / count:7.1f}{100 * read / count:8.1f}{100 * inside / count:9.1f}"
        f"{statistics.median(steps):8.1f}{tenth:6.1f}{ratio:7.2f}{each:7.2f}"
        f"{statistics.median(r.minutes for r in results):8.1f}"
        f"{statistics.median(abs(r.off_k) for r in results):8.2f}"
    )


HEADER: Final = (
    f"{'':22s}{'over %':>7s}{'read %':>8s}{'inside %':>9s}{'steps':>8s}{'p90':>6s}{'ratio':>7s}"
    f"{'each':>7s}{'minutes':>8s}{'off K':>8s}"
)
LEGEND: Final = """
over: settled truth above target + tolerance at any charge of the job; read: the reading was, too
inside: settled truth inside the tolerance at the end; off: median distance from target at the end
ratio: median steps over those of one who knows the machine, adding to the target under the same
cap; each: median over jobs of that ratio; minutes: until the technician packs up, run-up included
"""


def report(all_measured: list[Measured], rules: Sequence[str]) -> None:
    known = [m.to_target for m in all_measured]
    fewest = [m.to_band for m in all_measured]
    print(HEADER)
    for name in rules:
        print(row(name, [m.results[name] for m in all_measured], known))
    print(
        f"{'all-knowing':22s} steps to the target: median {statistics.median(known):g}, "
        f"to the band: median {statistics.median(fewest):g}"
    )
    print(LEGEND)
    program = [m.results[PROGRAM] for m in all_measured]
    print("this program by probe grade and tolerance")
    print(HEADER)
    for key in sorted({(r.grade, r.tolerance_k) for r in program}):
        some = [i for i, r in enumerate(program) if (r.grade, r.tolerance_k) == key]
        label = f"{key[0]}, {key[1]:.2f} K ({len(some)})"
        print(row(label, [program[i] for i in some], [known[i] for i in some]))
    outlook([each for m in all_measured for each in m.foreseen])
    print("\nhow jobs ended: " + ", ".join(f"{k} {n}" for k, n in ended(program)))
    worst = [r for r in program if r.over_k > 0.0 or abs(r.off_k) > r.tolerance_k]
    for r in sorted(worst, key=lambda r: -abs(r.off_k)):
        print(
            f"  seed {r.seed}: {r.grade}, tolerance {r.tolerance_k:.2f} K, over {r.over_k:+.2f} K, "
            f"off {r.off_k:+.2f} K, {r.steps} steps, {r.minutes:.0f} min, {r.done}"
        )


def outlook(foreseen: list[Foreseen]) -> None:
    """Print what "steps and minutes left" was worth."""
    for words, some in (
        ("about", [f for f in foreseen if not f.least]),
        ("at least", [f for f in foreseen if f.least]),
    ):
        if not some:
            continue
        off = [f.steps - f.said_steps for f in some]
        ratios = sorted(f.minutes / f.said_minutes for f in some)
        print(
            f"\n'{words} n steps, m min' was said {len(some)} times: steps right "
            f"{100 * off.count(0) / len(off):.0f} %, more than said "
            f"{100 * sum(o > 0 for o in off) / len(off):.0f} %; minutes taken over said: "
            f"5 % {ratios[len(ratios) // 20]:.2f}, median {statistics.median(ratios):.2f}, "
            f"95 % {ratios[-1 - len(ratios) // 20]:.2f}"
        )


def tick_cost(seed: int) -> tuple[int, float]:
    """Return how many channels a job had and what one second of it costs the program [us].

    All readings are made first and then fed, with the ticks and the advice they lead to.
    """
    this = case(seed)
    plant, probes = this.random.plant(), this.random.probes()
    plant.command_frequency()
    channels = [c for c in this.channels if c.role not in LEFT_OUT]
    seconds = []
    for second in range(1, TIMED_S + 1):
        plant.run_until(float(second))
        probes.follow(plant.truth(), 1.0)
        shown = probes.read()
        station_pa = plant.settings.station_pa_abs
        seconds.append(
            [
                (c.name, shown[c.role] - (station_pa if c.reference is Reference.GAUGE else 0.0))
                for c in channels
            ]
        )
    spent = []
    for _ in range(TIMED_RUNS):
        assistant = Assistant(this.job, SessionMode.SIMULATED)
        for channel in channels:
            assistant.step(ChannelDeclared(t=0.0, channel=channel))
        began = time.process_time()
        for k, readings in enumerate(seconds, start=1):
            for name, value in readings:
                assistant.step(Reading(t=float(k), channel=name, value=value))
        spent.append(time.process_time() - began)
    return len(channels), statistics.median(spent) / TIMED_S * 1e6


def ended(results: list[Result]) -> list[tuple[str, int]]:
    return Counter(r.done for r in results).most_common()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--cap", type=float, default=CAP_OF_PLATE, help="share of the plate charge")
    parser.add_argument("--only", action="store_true", help="leave out the fixed steps")
    arguments = parser.parse_args()
    rules = [PROGRAM] if arguments.only else list(RULES)
    first = arguments.seed * SEEDS_APART
    seeds = range(first, first + arguments.jobs)
    one = partial(measure, cap_of_plate=arguments.cap, rules=rules)
    began, began_cpu = time.perf_counter(), time.process_time()
    if arguments.workers > 1:
        with ProcessPoolExecutor(arguments.workers) as pool:
            done = list(pool.map(one, seeds))
    else:
        done = [one(seed) for seed in seeds]
    spent_s, cpu_s = time.perf_counter() - began, time.process_time() - began_cpu
    print(f"{len(done)} jobs from seed {first}, cap {arguments.cap:.0%} of plate")
    # With more workers than one the second number leaves their work out.
    print(f"{spent_s:.0f} s by the clock, {cpu_s:.0f} s of this process\n")
    report(done, rules)
    channels, cost_us = tick_cost(first)
    print(f"cost of one second of {channels} channels: {cost_us:.0f} us of processor time")


if __name__ == "__main__":
    main()
