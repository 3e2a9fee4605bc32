"""Print how soon a fault is found in a whole session, and how soon it is withdrawn once mended.

    python tests/benchmarks/diagnosis/repaired.py [--jobs 6] [--seed 0] [--documented]

The random machines of `run.py`, at their full charge, held at their frequency from the start, with
one fault until the technician mends it in the 30th minute: the outdoor coil is washed, the filter
changed, the valve freed, the clamp refastened (and, in half of those jobs, said so). Nobody adds
anything. Figures are measured, not asserted. Seed S stands for the jobs S * 100000 onward.
"""

import argparse
import statistics
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.fault_terms import Cause
from chargeassist.guide.fault_watch import HUNTING_CAUSE
from chargeassist.model.channels import Role
from chargeassist.model.events import (
    Action,
    ChannelDeclared,
    FaultJudged,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
)
from chargeassist.model.units import Reference
from chargeassist.plant.faults import FaultCourse, MachineFaults
from chargeassist.plant.probe_set import ProbeFault, ProbeFaultKind, ProbeSet
from tests.benchmarks.advice.cases import Case, case
from tests.benchmarks.diagnosis.run import _column, _weighed

SEEDS_APART: Final = 100_000
MENDED_S: Final = 1800
ENDS_S: Final = 3600
LOOSE_S: Final = 700.0

KINDS: Final = {
    "outdoor_air_share": (0.5, Cause.LOW_OUTDOOR_AIRFLOW.value),
    "indoor_air_share": (0.5, Cause.LOW_INDOOR_AIRFLOW.value),
    "valve_stuck": (0.55, Cause.RESTRICTION.value),
    "valve open": (1.5, Cause.VALVE_OPEN.value),
    "restriction_pa": (1e6, Cause.RESTRICTION.value),
    "bulb_lag_s": (11.0, HUNTING_CAUSE),
    "loose": (0.4, Cause.PROBE_LOOSE.value),
    "loose, said": (0.4, Cause.PROBE_LOOSE.value),
}
"""Each fault with its amount and what it is called."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One session.

    Attributes
    ----------
    found_t, gone_t : float or None
        When the first fault was found, and when the last one was withdrawn with none left [s].
    right : bool
        It was called by its name, or by one it cannot be told from.
    refused_before, refused_after : bool
        Refrigerant was refused shortly before the mending, and at the end.
    left : tuple of str
        What stood at the end.
    new : tuple of str
        What was found first after the mending.
    """

    found_t: float | None
    gone_t: float | None
    right: bool
    refused_before: bool
    refused_after: bool
    left: tuple[str, ...]
    new: tuple[str, ...]


def session(seed: int, kind: str, *, documented: bool) -> Outcome:
    """Let the machine of a seed run with a fault, and on without it."""
    this = _weighed(case(seed))
    if documented:
        this = replace(this, job=replace(this.job, performance=_column(this)))
    amount, right = KINDS[kind]
    name = "valve_stuck" if kind == "valve open" else kind
    settings = this.random.settings
    courses: list[FaultCourse] = []
    if not kind.startswith("loose"):
        courses = _course(name, amount)
        if name == "bulb_lag_s":
            courses += _course("front_lag_s", 4.0)
    machine = replace(
        this.random,
        settings=replace(settings, charge_kg=this.random.full_kg, courses=tuple(courses)),
    )
    return _run(replace(this, random=machine), kind, amount, right)


def _course(name: str, amount: float) -> list[FaultCourse]:
    healthy = getattr(MachineFaults(), name)
    at = float(MENDED_S)
    return [
        FaultCourse(name=name, amount=amount),
        FaultCourse(name=name, amount=healthy, start_s=at, full_s=at),
    ]


class _Clamp:
    """Two probe sets that see the same: one with the clamp loose, one with it fast."""

    def __init__(self, this: Case, amount: float) -> None:
        machine = this.random
        role = Role.LIQUID_TEMPERATURE
        loose = ProbeFault(
            role=role, trouble=ProbeFaultKind.LOOSE, amount=amount, start_s=LOOSE_S, full_s=LOOSE_S
        )
        self._sound = machine.probes()
        faults = (*machine.probe_faults, loose)
        self._loose = ProbeSet(machine.seed, machine.models, faults=faults)

    def follow(self, truth: dict[Role, float], dt_s: float) -> None:
        for each in (self._sound, self._loose):
            each.follow(truth, dt_s)

    def read(self, t: float) -> dict[Role, float]:
        sound, loose = self._sound.read(), self._loose.read()
        return loose if t < MENDED_S else sound


def _run(this: Case, kind: str, amount: float, right: str) -> Outcome:
    plant, station_pa = this.random.plant(), this.random.settings.station_pa_abs
    clamp = _Clamp(this, amount) if kind.startswith("loose") else None
    probes = this.random.probes()
    full_kg = this.random.full_kg
    job = replace(this.job, charge=replace(this.job.charge, weighed_in_kg=full_kg))
    assistant = Assistant(job, SessionMode.SIMULATED)
    for channel in this.channels:
        assistant.step(ChannelDeclared(t=0.0, channel=channel))
    told: list[FaultJudged] = []
    refused_before = False
    for second in range(1, ENDS_S + 1):
        t = float(second)
        if second == 10:
            plant.command_frequency()
        plant.run_until(t)
        truth = dict(plant.truth())
        if clamp is None:
            probes.follow(truth, 1.0)
            shown = probes.read()
        else:
            clamp.follow(truth, 1.0)
            shown = clamp.read(t)
        if second == MENDED_S:
            snapshot = assistant.snapshot()
            refused_before = snapshot is not None and snapshot.advice.action is Action.FIX_FIRST
            if kind == "loose, said":
                assistant.step(
                    Mark(t=t, kind=MarkKind.PROBE_SEEN_TO, text=Role.LIQUID_TEMPERATURE.value)
                )
        for channel in this.channels:
            zero = station_pa if channel.reference is Reference.GAUGE else 0.0
            reading = Reading(t=t, channel=channel.name, value=shown[channel.role] - zero)
            told += [each for each in assistant.step(reading) if isinstance(each, FaultJudged)]
    snapshot = assistant.snapshot()
    refused_after = snapshot is not None and snapshot.advice.action is Action.FIX_FIRST
    return _outcome(told, right, refused_before, refused_after)


def _outcome(
    told: Sequence[FaultJudged], right: str, refused_before: bool, refused_after: bool
) -> Outcome:
    standing: dict[str, FaultJudged] = {}
    named, gone_t = False, None
    new = []
    for each in told:
        if each.found:
            standing[each.cause] = each
            named |= right in {each.cause, *each.alternatives} and each.t <= MENDED_S
            if each.t > MENDED_S:
                new.append(each.cause)
        else:
            standing.pop(each.cause, None)
            if not standing:
                gone_t = each.t
    found = [each.t for each in told if each.found and each.t <= MENDED_S]
    return Outcome(
        found_t=min(found, default=None),
        gone_t=None if standing else gone_t,
        right=named,
        refused_before=refused_before,
        refused_after=refused_after,
        left=tuple(standing),
        new=tuple(new),
    )


def row(kind: str, some: Sequence[Outcome]) -> str:
    """Return one line of the table."""
    found = [each for each in some if each.found_t is not None]
    after = [
        each.gone_t - MENDED_S
        for each in found
        if each.gone_t is not None and each.gone_t > MENDED_S
    ]
    early = sum(each.gone_t is not None and each.gone_t <= MENDED_S for each in found)
    delay = f"{statistics.median(after):7.0f}{max(after):7.0f}" if after else "      –      –"
    return (
        f"{kind:20s}{len(some):5d}{len(found):7d}{sum(e.right for e in some):7d}"
        f"{len(after):7d}{early:7d}{delay}"
        f"{sum(e.refused_before for e in some):8d}{sum(e.refused_after for e in some):8d}"
        f"  left {dict(Counter(x for e in some for x in e.left))}"
        f" new {dict(Counter(x for e in some for x in e.new))}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=6, help="of each kind")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--documented", action="store_true", help="with the maker's table")
    parser.add_argument("--only", default="", help="kinds that begin so")
    arguments = parser.parse_args()
    first = arguments.seed * SEEDS_APART
    seeds = range(first, first + arguments.jobs)
    print(f"{arguments.jobs} jobs of each kind from seed {first}; mended at {MENDED_S} s\n")
    print(f"{'fault':20s}{'jobs':>5s}{'found':>7s}{'right':>7s}{'gone':>7s}{'early':>7s}", end="")
    print(f"{'median':>7s}{'last':>7s}{'before':>8s}{'after':>8s}")
    for kind in KINDS:
        if kind.startswith(arguments.only):
            some = [session(seed, kind, documented=arguments.documented) for seed in seeds]
            print(row(kind, some), flush=True)
    print(
        "\nfound: anything; right: by its name; gone: withdrawn after the mending, with the median"
        "\nand the longest time [s]; early: withdrawn before; before, after: refrigerant refused"
        "\nshortly before the mending, and at the end; left: what stood at the end; new: first"
        "\nfound after the mending"
    )


if __name__ == "__main__":
    main()
