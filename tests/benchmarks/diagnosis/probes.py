"""Print how often a probe at fault is doubted in a whole session, and how often a sound one is.

    python tests/benchmarks/diagnosis/probes.py [--jobs 20] [--seed 0]

The same random machines and technician as `run.py`; in each job one probe goes wrong in the eighth
minute. Figures are measured, not asserted. Seed S stands for the jobs S * 100000 onward.
"""

import argparse
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Final

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.model.channels import Role
from chargeassist.plant.probe_set import ProbeFault, ProbeTrouble
from tests.benchmarks.advice.cases import case
from tests.benchmarks.advice.chargers import Advised
from tests.benchmarks.advice.shift import charge

SEEDS_APART: Final = 100_000
BEGINS_S: Final = 480.0
PIPES: Final = (Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE, Role.DISCHARGE_TEMPERATURE)
CIRCUIT: Final = (Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE, *PIPES, Role.COMPRESSOR_CURRENT)
TROUBLES: Final = (
    *((ProbeTrouble.STUCK, role, 0.0) for role in CIRCUIT),
    *((ProbeTrouble.NOISY, role, 12.0) for role in CIRCUIT),
    *((ProbeTrouble.LOOSE, role, 0.3) for role in PIPES),
)


def doubted(seed: int, fault: ProbeFault | None) -> tuple[frozenset[tuple[str, str]], str]:
    """Return which probes were doubted in the job of a seed, and how it ended."""
    this = case(seed)
    if fault is not None:
        faults = (*this.random.probe_faults, fault)
        this = replace(this, random=replace(this.random, probe_faults=faults))
    program = Advised(this)
    course = charge(this, program)
    return frozenset(program.probes), course.done


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0)
    arguments = parser.parse_args()
    first = arguments.seed * SEEDS_APART
    seeds = range(first, first + arguments.jobs)
    sound = [doubted(seed, None)[0] for seed in seeds]
    print(f"{arguments.jobs} jobs each from seed {first}\n")
    print(f"sound probes: doubted in {sum(bool(each) for each in sound)} jobs", end="; ")
    print(Counter(probe for each in sound for probe in each).most_common(4))
    print(f"\n{'trouble':8s}{'probe':28s}{'so %':>6s}{'any %':>7s}{'other %':>9s}  most common end")
    for trouble, role, amount in TROUBLES:
        fault = ProbeFault(role=role, trouble=trouble, amount=amount, start_s=BEGINS_S, full_s=9e3)
        found = [doubted(seed, fault) for seed in seeds]
        so = sum((role.value, trouble.value) in probes for probes, _ in found)
        at = sum(any(name == role.value for name, _ in probes) for probes, _ in found)
        other = sum(any(name != role.value for name, _ in probes) for probes, _ in found)
        end, count = Counter(done for _, done in found).most_common(1)[0]
        shares = [100.0 * each / arguments.jobs for each in (so, at, other)]
        print(
            f"{trouble.value:8s}{role.value:28s}{shares[0]:6.0f}{shares[1]:7.0f}{shares[2]:9.0f}"
            f"  {end} {count}"
        )
    print("\nso: doubted for what is wrong with it; any: for anything; other: another probe was")


if __name__ == "__main__":
    main()
