"""Print how often and how soon a probe at fault is doubted in a whole session, and a sound one.

    python tests/benchmarks/diagnosis/probes.py [--jobs 20] [--seed 0] [--only "loose liquid"]

The same random machines and technician as `run.py`; in each job one probe goes wrong in the eighth
minute, or is clipped on late, or has had a wrong zero from the beginning (which nothing shows but
the pressure of the idle circuit). Figures are measured, not asserted. Seed S stands for the jobs
S * 100000 onward.
"""

import argparse
import math
import statistics
import sys
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.guide.fault_terms import Cause
from chargeassist.model.channels import Channel, Role
from chargeassist.plant.probe_set import ProbeFault, ProbeFaultKind
from chargeassist.stream.probe_findings import ProbeTrouble as Doubt
from tests.benchmarks.advice.cases import Case, case
from tests.benchmarks.advice.chargers import Advised
from tests.benchmarks.advice.shift import FREQUENCY_AT_S, Order, charge
from tests.benchmarks.diagnosis.run import STANDS_S, thorough

SEEDS_APART: Final = 100_000
BEGINS_S: Final = 480.0
PIPES: Final = (Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE, Role.DISCHARGE_TEMPERATURE)
PRESSURES: Final = (Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE)
CIRCUIT: Final = (*PRESSURES, *PIPES, Role.COMPRESSOR_CURRENT)

CLIPPED_ON_S: Final = 420.0
SLOW_S: Final = 75.0
"""A clamp is put on its pipe in the seventh minute, and comes to it with this time constant [s]: a
pipe sensor may take 90 s to its rated accuracy (California RA3.2.2.2.2, 2013)."""

OPEN_K: Final = 73.0
SPIKE_K: Final = 45.0
SPIKE_PA: Final = 2e6
SPIKE_EVERY_S: Final = 40
"""A broken sensor reads the lower end of its converter; a bad contact throws single samples."""

ZERO_PA: Final = 90e3

Spoil = Callable[[float, float, float], float]
"""Time [s], the value shown, and outdoor air [K]: the value instead."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """What goes wrong: in the simulated probe, or with what it sent.

    Attributes
    ----------
    doubt : str
        What it should be doubted for.
    begins_s : float
    """

    doubt: str
    role: Role
    begins_s: float
    fault: ProbeFault | None = None
    spoil: Spoil | None = None


def _plant(trouble: ProbeFaultKind, role: Role, amount: float) -> Trouble:
    fault = ProbeFault(role=role, trouble=trouble, amount=amount, start_s=BEGINS_S, full_s=9e3)
    return Trouble(trouble.value, role, BEGINS_S, fault=fault)


def _clipped_on(t: float, value: float, air_k: float) -> float:
    if t < CLIPPED_ON_S:
        return air_k
    return value + (air_k - value) * math.exp(-(t - CLIPPED_ON_S) / SLOW_S)


def _broken(t: float, value: float, air_k: float) -> float:
    del air_k
    return value if t < BEGINS_S else OPEN_K


def _spikes(size: float) -> Spoil:
    def spoil(t: float, value: float, air_k: float) -> float:
        del air_k
        bad = t >= BEGINS_S and round(t - BEGINS_S) % SPIKE_EVERY_S == 0
        return value + size if bad else value

    return spoil


TROUBLES: Final = (
    *(_plant(ProbeFaultKind.STUCK, role, 0.0) for role in CIRCUIT),
    *(_plant(ProbeFaultKind.NOISY, role, 12.0) for role in CIRCUIT),
    *(_plant(ProbeFaultKind.LOOSE, role, 0.3) for role in PIPES),
    *(
        Trouble(Doubt.LAGGING.value, role, CLIPPED_ON_S, spoil=_clipped_on)
        for role in (Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE)
    ),
    *(Trouble(Doubt.OUT_OF_RANGE.value, role, BEGINS_S, spoil=_broken) for role in PIPES),
    *(Trouble(Doubt.JUMPING.value, role, BEGINS_S, spoil=_spikes(SPIKE_K)) for role in PIPES),
    *(Trouble(Doubt.JUMPING.value, role, BEGINS_S, spoil=_spikes(SPIKE_PA)) for role in PRESSURES),
    *(
        Trouble(
            "zero",
            Role.LIQUID_PRESSURE,
            0.0,
            fault=ProbeFault(
                role=Role.LIQUID_PRESSURE, trouble=ProbeFaultKind.ZERO, amount=sign * ZERO_PA
            ),
        )
        for sign in (1.0, -1.0)
    ),
)


class Spoilt(Advised):
    """The program, reading what a bad probe sends."""

    def __init__(self, this: Case, trouble: Trouble | None) -> None:
        super().__init__(this, notes=True)
        self._trouble = trouble

    def look(self, t: float, readings: Mapping[Channel, float]) -> Order | None:
        """Hear one second of readings, one of them spoilt."""
        trouble = self._trouble
        if trouble is None or trouble.spoil is None:
            return super().look(t, readings)
        air_k = next(v for c, v in readings.items() if c.role is Role.OUTDOOR_AIR_TEMPERATURE)
        return super().look(
            t,
            {
                channel: trouble.spoil(t, value, air_k) if channel.role is trouble.role else value
                for channel, value in readings.items()
            },
        )


@dataclass(frozen=True, slots=True)
class Outcome:
    """One session: which probes were doubted for what and when first, and how it ended.

    `zero_t` and `loose` are what the ranking of the readings said: a zero, and when; a loose clamp.
    """

    doubted: Mapping[tuple[str, str], float]
    zero_t: float | None
    loose: bool
    done: str


def session(seed: int, trouble: Trouble | None) -> Outcome:
    """Charge the job of a seed."""
    this = case(seed)
    begins_s = FREQUENCY_AT_S
    if trouble is not None and trouble.fault is not None:
        faults = (*this.random.probe_faults, trouble.fault)
        this = replace(this, random=replace(this.random, probe_faults=faults))
    if trouble is not None and trouble.doubt == "zero":
        this, begins_s = thorough(this), STANDS_S
    program = Spoilt(this, trouble)
    course = charge(this, program, begins_s)
    zero = [
        fault.t
        for fault in program.faults
        if fault.found and Cause.ZERO_SHIFTED.value in {fault.cause, *fault.alternatives}
    ]
    loose = any(
        fault.found and Cause.PROBE_LOOSE.value in {fault.cause, *fault.alternatives}
        for fault in program.faults
    )
    return Outcome(program.first_doubted, min(zero, default=None), loose, course.done)


def row(trouble: Trouble, found: list[Outcome]) -> str:
    """Return one line of the table."""
    role = trouble.role.value
    count = len(found)
    if trouble.doubt == "zero":
        delays = [each.zero_t for each in found if each.zero_t is not None]
        right = len(delays)
    else:
        times = [each.doubted.get((role, trouble.doubt)) for each in found]
        delays = [t - trouble.begins_s for t in times if t is not None and t >= trouble.begins_s]
        right = len(delays)
    some = sum(
        any(name == role and t >= trouble.begins_s for (name, _), t in each.doubted.items())
        for each in found
    )
    by_either = some if trouble.doubt != "zero" else right
    if trouble.doubt == Doubt.LOOSE.value:
        by_either = sum(each.loose or (role, trouble.doubt) in each.doubted for each in found)
    other = sum(any(name != role for name, _ in each.doubted) for each in found)
    end, ended = Counter(each.done for each in found).most_common(1)[0]
    delay = f"{statistics.median(delays):8.0f}" if delays else "       –"
    shares = [100.0 * each / count for each in (right, some, by_either, other)]
    name = f"{trouble.doubt:15s}{role:26s}"
    rest = f"{shares[1]:7.0f}{shares[2]:9.0f}{shares[3]:8.0f}"
    return f"{name}{shares[0]:6.0f}{delay}{rest}  {end} {ended}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", default="", help="troubles that begin so: trouble and probe")
    arguments = parser.parse_args()
    first = arguments.seed * SEEDS_APART
    seeds = range(first, first + arguments.jobs)
    sound = [session(seed, None).doubted for seed in seeds]
    print(f"{arguments.jobs} jobs each from seed {first}\n")
    print(f"sound probes: doubted in {sum(bool(each) for each in sound)} jobs", end="; ")
    print(Counter(probe for each in sound for probe in each).most_common(4))
    print(f"\n{'trouble':15s}{'probe':26s}{'so %':>6s}{'delay s':>8s}", end="")
    print(f"{'any %':>7s}{'either %':>9s}{'other %':>8s}  most common end")
    for trouble in TROUBLES:
        if f"{trouble.doubt} {trouble.role.value}".startswith(arguments.only):
            print(row(trouble, [session(seed, trouble) for seed in seeds]), flush=True)
    print(
        "\nso: doubted for what is wrong with it; any: for anything; either: so, or the ranking of"
        "\nthe readings said that a clamp is loose; other: another probe was doubted"
    )


if __name__ == "__main__":
    main()
