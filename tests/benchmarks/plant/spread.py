"""What random jobs are like: ``python tests/benchmarks/plant/spread.py [jobs]``.

For each job of `tests.benchmarks.plant.random_units` the plant is run in at the required frequency
and given what it lacks in two steps, the last a small one. Printed are the spreads over the jobs of
what an advisor has to cope with: slope, time to settle, true subcooling at the full charge against
the target. Nothing here passes or fails; the jobs themselves are for judging advice.
"""

import statistics
import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.plant.physical import PhysicalPlant
from tests.benchmarks.plant.random_units import RandomJob, random_job

BAND_K = 0.28
LONGEST_S = 900


def settled_k(plant: PhysicalPlant, seconds: float) -> float:
    plant.run_until(plant.t + seconds)
    return plant.subcooling_k


def settling_s(plant: PhysicalPlant) -> float:
    """Return when true subcooling was last outside the band around its end, from now [s]."""
    start_t = plant.t
    values = [settled_k(plant, 1.0) for _ in range(LONGEST_S)]
    end_k = statistics.fmean(values[-60:])
    outside = [k for k, value in enumerate(values, start=1) if abs(value - end_k) > BAND_K]
    assert plant.t == start_t + LONGEST_S
    return float(outside[-1]) if outside else 0.0


def one(job: RandomJob) -> tuple[float, float, float, float]:
    """Return found and final subcooling, slope near the end, settling time [K, K, K/plate, s]."""
    plant = PhysicalPlant(replace(job.settings, gust_k=0.0))
    plant.command_frequency()
    found_k = settled_k(plant, 900.0)
    missing_kg = job.full_kg - plant.circuit_kg
    last_kg = min(0.05 * job.settings.plate_kg, 0.5 * missing_kg)
    plant.begin_step(missing_kg - last_kg)
    before_k = settled_k(plant, (missing_kg - last_kg) / job.settings.flow_kg_per_s + 900.0)
    plant.begin_step(last_kg)
    plant.run_until(plant.t + last_kg / job.settings.flow_kg_per_s)
    lag_s = settling_s(plant)
    after_k = plant.subcooling_k
    slope = (after_k - before_k) / (last_kg / job.settings.plate_kg)
    return found_k, after_k, slope, lag_s


def line(name: str, values: list[float]) -> None:
    ten = statistics.quantiles(values, n=20)
    print(
        f"{name:44s} {min(values):8.2f} {ten[0]:8.2f} {statistics.median(values):8.2f} "
        f"{ten[-1]:8.2f} {max(values):8.2f}"
    )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    begin = time.process_time()
    jobs = [random_job(seed) for seed in range(count)]
    print(f"{count} jobs drawn in {time.process_time() - begin:.1f} s of processor time")
    print(Counter(job.settings.refrigerant for job in jobs))
    print(Counter(job.grade for job in jobs), Counter(job.settings.valve.value for job in jobs))
    begin = time.process_time()
    results = [one(job) for job in jobs]
    print(f"run in {time.process_time() - begin:.1f} s")
    print(f"{'':44s} {'least':>8s} {'5 %':>8s} {'median':>8s} {'95 %':>8s} {'most':>8s}")
    line("target [K]", [job.target_subcooling_k for job in jobs])
    line("found [K]", [r[0] for r in results])
    line(
        "full charge less target [K]",
        [r[1] - job.target_subcooling_k for r, job in zip(results, jobs, strict=True)],
    )
    line("slope [K per plate charge]", [r[2] for r in results])
    line(f"settled within {BAND_K} K after the last step [s]", [r[3] for r in results])


if __name__ == "__main__":
    main()
