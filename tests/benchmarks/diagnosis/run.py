"""Print how often faults are named rightly, and how often a unit in order is accused.

    python tests/benchmarks/diagnosis/run.py [--jobs 200] [--seed 0] [--thorough] [--documented]
                                             [--orifice]

Whole sessions: random machines, read through their probes, charged by a technician who does what
the program says and looks nowhere else. Half of the jobs have no trouble, half have one (see
`tests.benchmarks.plant.random_units`). The job knows what should be in to 6 % of the plate. With
`--thorough` the wet bulb of the return air is measured, the unit stands for ten minutes with the
probes on before it runs, and after the last word the probes stay on for ten minutes while it runs
and ten while it stands. With `--documented` the job holds a column of the maker's performance
table: what the machine shows without its trouble, in this weather, off by up to two thirds of what
the maker allows.
With `--orifice` the machines meter by a fixed one and are charged by superheat.
Figures are measured, not asserted. Seed S stands for the jobs S * 100000 onward.
"""

import argparse
import random
import sys
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.guide.drift import NEXT_CHECK as DRIFT_CHECK
from chargeassist.guide.drift import DriftCause
from chargeassist.guide.fault_terms import NEXT_CHECK, Cause
from chargeassist.guide.fault_verdicts import HUNTING_CHECK
from chargeassist.guide.fault_watch import HUNTING_CAUSE
from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import FaultJudged
from chargeassist.model.performance import (
    LIQUID_TOLERANCE_PA,
    SPLIT_TOLERANCE_K,
    SUCTION_TOLERANCE_PA,
    Performance,
)
from chargeassist.physics.atmosphere import SEA_LEVEL_PA_ABS
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.probes import EXTRA_PROBE_MODELS
from tests.benchmarks.advice.cases import STEADY_AFTER_S, Case, case
from tests.benchmarks.advice.chargers import Advised
from tests.benchmarks.advice.orifice import orifice_case
from tests.benchmarks.advice.shift import FREQUENCY_AT_S, charge

SEEDS_APART: Final = 100_000
STANDS_S: Final = 600
KNOWN_SHARE: Final = 0.06
"""What line set and plate leave open of the full charge [1]: never too little, or the limit of the
charge would stop the job before its target."""

RIGHT: Final = {
    "non_condensable_mol": {Cause.NON_CONDENSABLES.value},
    "restriction_pa": {Cause.RESTRICTION.value},
    "outdoor_air_share": {Cause.LOW_OUTDOOR_AIRFLOW.value},
    "indoor_air_share": {Cause.LOW_INDOOR_AIRFLOW.value},
    "valve_stuck": {Cause.RESTRICTION.value, Cause.VALVE_OPEN.value},
    "bulb_lag_s": {HUNTING_CAUSE},
    "compressor_leakage": {Cause.VALVE_LEAKAGE.value},
    "leak_kg_per_s": {DriftCause.LEAK.value},
    "liquid_temperature loose": {Cause.PROBE_LOOSE.value},
    "liquid_pressure zero": {Cause.ZERO_SHIFTED.value},
}
"""What each trouble of the random units is called by the diagnosis."""

DECIDES: Final = {
    "bulb_lag_s": HUNTING_CHECK,
    "leak_kg_per_s": DRIFT_CHECK[DriftCause.LEAK],
}
"""What to look at to tell each trouble; of the others, `NEXT_CHECK` of what it is called."""

STILL: Final = "bulb_lag_s, no swing"
SWINGS_K: Final = 2.0
"""A lag of the bulb that makes no valve swing: electronic ones have no bulb, nor has an orifice. It
is then a machine in order; superheat that swings by so much, in truth, is hunting [K]."""

BY_ITSELF: Final = "none, yet it swings"
"""A machine drawn in order whose valve hunts in truth: its lags happen to be such."""

AT_REST: Final = {"non_condensable_mol", "liquid_pressure zero"}
STANDING: Final = {"check_standing", "standing_high", "standing_low", "zero_moved"}
"""Troubles which the pressure at rest and the zero read in open air decide, and the instructions
that ask for one of them."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One session.

    Attributes
    ----------
    trouble : str
        Empty for none.
    first, among : bool
        The right cause was found; it, or one it cannot be told from, was.
    named : bool
        It was, or was called worth a look.
    asked : bool
        The measurement that decides was asked for, by whatever finding or instruction.
    other : tuple of str
        What was found and was not there.
    probes : tuple of str
        Probes that were doubted.
    done : str
        How it ended.
    """

    seed: int
    trouble: str
    first: bool
    among: bool
    named: bool
    asked: bool
    other: tuple[str, ...]
    probes: tuple[str, ...]
    done: str


def session(
    seed: int, *, faulty: bool, stands: bool, documented: bool, orifice: bool = False
) -> Outcome:
    """Charge the job of a seed and return what was found on the way."""
    drawn = orifice_case(seed, faulty=faulty) if orifice else case(seed, faulty=faulty)
    this = _weighed(drawn)
    if documented:
        this = replace(this, job=replace(this.job, performance=_column(this)))
    begins_s = FREQUENCY_AT_S
    if stands:
        this, begins_s = thorough(this), STANDS_S
    program = Advised(this)
    after_s = STANDS_S if stands else 0
    course = charge(this, program, begins_s, stays_s=after_s, stands_s=after_s)
    trouble = this.random.trouble
    right = RIGHT.get(trouble, set())
    if trouble == "bulb_lag_s" and not _hunts(this):
        trouble, right = STILL, set()
    found = [fault for fault in program.faults if fault.found]
    if not trouble and any(fault.cause == HUNTING_CAUSE for fault in found) and _hunts(this):
        trouble, right = BY_ITSELF, {HUNTING_CAUSE}
    return Outcome(
        seed=seed,
        trouble=trouble,
        first=any(fault.cause in right for fault in found),
        among=any(right & {fault.cause, *fault.alternatives} for fault in found),
        named=any(right & {fault.cause, *fault.alternatives} for fault in found)
        or any(look.partition("; to tell: ")[0] in right for look in program.looks),
        asked=_asked(trouble, right, found, program),
        other=tuple(
            fault.cause for fault in found if not right & {fault.cause, *fault.alternatives}
        ),
        probes=tuple(sorted(f"{name} {kind}" for name, kind in program.probes)),
        done=course.done,
    )


def _asked(trouble: str, right: set[str], found: list[FaultJudged], program: Advised) -> bool:
    """Whether what decides was asked for; of a machine in order, whether anything was."""
    if trouble in {"", STILL}:
        return bool(program.looks)
    wanted = {NEXT_CHECK[cause] for cause in NEXT_CHECK if cause.value in right}
    wanted |= {DECIDES[trouble]} if trouble in DECIDES else set()
    role = trouble.partition(" ")[0]
    return (
        any(check in fault.next_check for fault in found for check in wanted)
        or any(check in look for look in program.looks for check in wanted)
        or (trouble in AT_REST and bool(program.said & STANDING))
        or (trouble.endswith("loose") and any(name == role for name, _ in program.probes))
    )


def _hunts(this: Case) -> bool:
    """Whether superheat swings in truth, at the full charge and the required frequency."""
    settings = this.random.settings
    plant = PhysicalPlant(
        replace(settings, charge_kg=this.random.full_kg, start_hz=settings.required_hz)
    )
    seen = []
    for second in range(1, 1201):
        plant.run_until(float(second))
        seen.append(plant.superheat_k)
    return max(seen[-400:]) - min(seen[-400:]) >= SWINGS_K


def _weighed(this: Case) -> Case:
    """Return the job with a plate and line set that say nearly what the machine takes."""
    draw = random.Random(f"weighed {this.random.seed}")  # seeded play, no secret
    charge = this.job.charge
    full_kg = this.random.full_kg * (1.0 + draw.uniform(0.0, KNOWN_SHARE))
    charge = replace(charge, allowance_kg=full_kg - charge.plate_kg)
    return replace(this, job=replace(this.job, charge=charge))


def _column(this: Case) -> Performance:
    """Return what the maker would print of this machine in order, in this weather."""
    draw = random.Random(f"column {this.random.seed}")  # seeded play, no secret
    settings = this.random.settings
    sound = replace(
        settings, charge_kg=this.random.full_kg, start_hz=settings.required_hz,
        settle_s=STEADY_AFTER_S, gust_k=0.0, courses=(),
    )  # fmt: skip
    truth = PhysicalPlant(sound).truth()

    def off(tolerance: float) -> float:
        return draw.uniform(-tolerance, tolerance) * 2.0 / 3.0

    sea = SEA_LEVEL_PA_ABS
    return Performance(
        source="what the simulated machine shows at its full charge",
        outdoor_k=settings.outdoor_k,
        return_k=settings.return_k,
        liquid_pressure_pa_gauge=truth[Role.LIQUID_PRESSURE] - sea + off(LIQUID_TOLERANCE_PA),
        suction_pressure_pa_gauge=truth[Role.SUCTION_PRESSURE] - sea + off(SUCTION_TOLERANCE_PA),
        air_split_k=truth[Role.RETURN_AIR_TEMPERATURE]
        - truth[Role.SUPPLY_AIR_TEMPERATURE]
        + off(SPLIT_TOLERANCE_K),
    )


def thorough(this: Case) -> Case:
    """Return the job with a wet bulb, and with a machine that stands at first."""
    machine = this.random
    wet = Role.RETURN_AIR_WET_BULB
    models = {**machine.models, wet: EXTRA_PROBE_MODELS[wet]}
    settings = replace(machine.settings, start_hz=0.0, settle_s=1800.0)
    channel = Channel(name=wet.value, role=wet, unit="K")
    return replace(
        this,
        random=replace(machine, settings=settings, models=models),
        channels=(*this.channels, channel),
    )


def share(some: int, of: int) -> str:
    return f"{100.0 * some / of:6.1f}" if of else "     –"


def report(outcomes: list[Outcome]) -> None:
    kinds: dict[str, list[Outcome]] = defaultdict(list)
    for outcome in outcomes:
        kinds[outcome.trouble or "none"].append(outcome)
    print(
        f"{'trouble':26s}{'jobs':>5s}{'first %':>9s}{'among %':>9s}{'named %':>9s}"
        f"{'asked %':>9s}{'other %':>9s}"
        f"{'stopped %':>11s}{'refused %':>11s}{'probe %':>9s}"
    )
    for name, some in sorted(kinds.items()):
        count = len(some)
        print(
            f"{name:26s}{count:5d}   {share(sum(o.first for o in some), count)}"
            f"   {share(sum(o.among for o in some), count)}"
            f"   {share(sum(o.named for o in some), count)}"
            f"   {share(sum(o.asked for o in some), count)}"
            f"   {share(sum(bool(o.other) for o in some), count)}"
            f"     {share(sum(o.done.startswith('inside') for o in some), count)}"
            f"     {share(sum(o.done.startswith('refused') for o in some), count)}"
            f"   {share(sum(bool(o.probes) for o in some), count)}"
        )
    print(
        "\nfirst: the right cause was found; among: it was, or stood among those it cannot be told"
        "\nfrom; named: or was called worth a look; asked: what decides was asked for, or the"
        "\nprobe doubted"
        "\nother: something was found that is not there; stopped, refused: how the job ended;"
        "\nprobe: a probe was doubted for a while"
    )
    for name, some in sorted(kinds.items()):
        print(f"\n{name}: ended {top([o.done for o in some])}")
        print(f"  found beside: {top([cause for o in some for cause in o.other])}")
        print(f"  probes: {top([probe for o in some for probe in o.probes])}")
    sound = [o for o in outcomes if o.trouble in {"", STILL}]
    faulty = [o for o in outcomes if o.trouble not in {"", STILL}]
    print(
        f"\nmachines in order: {len(sound)}, something worth a look in "
        f"{sum(o.asked for o in sound)}; with a fault: {len(faulty)}, named in "
        f"{sum(o.named for o in faulty)}, found in {sum(o.among for o in faulty)}"
    )
    print(f"accused although in order: {[o.seed for o in sound if o.other]}")


def top(things: list[str]) -> str:
    return ", ".join(f"{thing} {count}" for thing, count in Counter(things).most_common(6))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=200, help="without a trouble, and as many with")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--thorough", action="store_true", help="wet bulb, and at rest first")
    parser.add_argument("--documented", action="store_true", help="with the maker's table")
    parser.add_argument("--orifice", action="store_true", help="fixed orifice, by superheat")
    arguments = parser.parse_args()
    first = arguments.seed * SEEDS_APART
    began = time.perf_counter()
    outcomes = []
    for seed in range(first, first + arguments.jobs):
        for faulty in (False, True):
            outcomes.append(
                session(
                    seed,
                    faulty=faulty,
                    stands=arguments.thorough,
                    documented=arguments.documented,
                    orifice=arguments.orifice,
                )
            )
    print(f"{len(outcomes)} jobs from seed {first}, {time.perf_counter() - began:.0f} s\n")
    report(outcomes)


if __name__ == "__main__":
    main()
