"""Print how often a leak and a creeping zero are named by the drift of a settled reading.

    python tests/benchmarks/diagnosis/drifting.py [--jobs 10] [--seed 0] [--orifice]

Random machines at their full charge, held at their frequency for 25 minutes while nobody does
anything: with a leak from the fifth minute (0.003 to 0.01 % of the plate charge a second), with a
liquid pressure zero that creeps by 0.4 to 0.9 bar from 500 to 1100 s, and with neither. With
`--orifice` they meter by a fixed one. A falling
reading is always said to be one or the other; "right" is the one named first. Figures are measured,
not asserted. Seed S stands for the jobs S * 100000 onward.
"""

import argparse
import random
import statistics
import sys
from dataclasses import replace
from pathlib import Path
from typing import Final

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.guide.drift import Drift, DriftCause, DriftWatch
from chargeassist.model.channels import Role
from chargeassist.model.events import ChannelDeclared, Reading
from chargeassist.model.judged import SUBCOOLING
from chargeassist.model.units import Reference
from chargeassist.plant.faults import FaultCourse
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.probe_set import ProbeFault, ProbeFaultKind, ProbeSet
from chargeassist.stream.processor import Processor
from tests.benchmarks.advice.cases import Case, case
from tests.benchmarks.advice.orifice import orifice_case

SEEDS_APART: Final = 100_000
LASTS_S: Final = 1500
LEAKS_FROM_S: Final = 300.0
CREEPS_S: Final = (500.0, 1100.0)
KINDS: Final = {"leak": DriftCause.LEAK, "zero": DriftCause.ZERO, "none": None}


def first_drift(seed: int, kind: str, *, orifice: bool = False) -> tuple[float, Drift] | None:
    """Return when the first drift was named, and which."""
    this = orifice_case(seed) if orifice else case(seed)
    draw = random.Random(f"drift {seed}")  # seeded play, no secret
    machine = this.random
    courses: tuple[FaultCourse, ...] = ()
    faults = machine.probe_faults
    if kind == "leak":
        rate = machine.settings.plate_kg * draw.uniform(3e-5, 1e-4)
        courses = (
            FaultCourse(
                name="leak_kg_per_s", amount=rate, start_s=LEAKS_FROM_S, full_s=LEAKS_FROM_S
            ),
        )
    if kind == "zero":
        amount = draw.choice((-1.0, 1.0)) * draw.uniform(4e4, 9e4)
        faults += (
            ProbeFault(
                role=Role.LIQUID_PRESSURE,
                trouble=ProbeFaultKind.ZERO,
                amount=amount,
                start_s=CREEPS_S[0],
                full_s=CREEPS_S[1],
            ),
        )
    settings = replace(machine.settings, charge_kg=machine.full_kg, courses=courses)
    return _run(this, PhysicalPlant(settings), ProbeSet(seed, machine.models, faults=faults))


def _run(this: Case, plant: PhysicalPlant, probes: ProbeSet) -> tuple[float, Drift] | None:
    processor, watch = (
        Processor(this.job),
        DriftWatch(orifice=this.job.target.judged is not SUBCOOLING),
    )
    station_pa = plant.settings.station_pa_abs
    for channel in this.channels:
        processor.take(ChannelDeclared(t=0.0, channel=channel))
    for second in range(1, LASTS_S + 1):
        t = float(second)
        if second == 10:
            plant.command_frequency()
        plant.run_until(t)
        probes.follow(plant.truth(), 1.0)
        shown = probes.read()
        facts, _ = processor.tick(t)
        found = watch.tick(facts)
        if found is not None:
            return t, found
        for channel in this.channels:
            zero = station_pa if channel.reference is Reference.GAUGE else 0.0
            processor.take(Reading(t=t, channel=channel.name, value=shown[channel.role] - zero))
    return None


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=10, help="of each kind")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--orifice", action="store_true", help="fixed orifice, by superheat")
    arguments = parser.parse_args()
    first = arguments.seed * SEEDS_APART
    print(f"{arguments.jobs} jobs of each kind from seed {first}\n")
    print(
        f"{'trouble':10s}{'right':>7s}{'other':>7s}{'nothing':>9s}{'after s, median and last':>27s}"
    )
    begins: dict[str, float] = {"leak": LEAKS_FROM_S, "zero": CREEPS_S[0], "none": 0.0}
    for kind, cause in KINDS.items():
        found = [
            first_drift(seed, kind, orifice=arguments.orifice)
            for seed in range(first, first + arguments.jobs)
        ]
        named = [each for each in found if each is not None]
        right = [t - begins[kind] for t, drift in named if drift.cause is cause]
        print(
            f"{kind:10s}{len(right):7d}{len(named) - len(right):7d}{found.count(None):9d}"
            + (f"{statistics.median(right):20.0f}{max(right):7.0f}" if right else ""),
            flush=True,
        )


if __name__ == "__main__":
    main()
