"""Print how advice on typed readings alone does on random machines, beside the same with probes.

    python tests/benchmarks/advice/by_hand.py [--jobs 60] [--seed 0] [--orifice]

As `run.py`: each machine, its weather, its deficit and the errors of its instruments come from one
seed, and its own truth judges. Who has no probes reads the same instruments by eye: what they show,
with the eye's scatter, rounded to what the scale or the digits give, in any order, now and then the
other line first, now and then typed late with the time it was read. Rounding, scatter and habits
are drawn from the seed; they are assumptions. Figures are measured, not asserted.
"""

import argparse
import random
import statistics
import sys
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

if __package__ in (None, ""):
    sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Channel, Role
from chargeassist.model.entries import RUNNING_ROLES
from chargeassist.model.events import (
    Action,
    ChannelDeclared,
    FaultJudged,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
)
from chargeassist.model.stage_plan import ChargingPlan
from chargeassist.model.units import PASCAL_PER_PSI, Quantity
from tests.benchmarks.advice.cases import Case, case
from tests.benchmarks.advice.chargers import LOOKS_AT_STOP_FOR_S, PATIENCE_S, Advised
from tests.benchmarks.advice.orifice import orifice_case, steady_superheat_k
from tests.benchmarks.advice.shift import READS_FOR_S, Order, charge

SEEDS_APART: Final = 100_000
STEPS_SI: Final = {
    Quantity.PRESSURE: (1e3, PASCAL_PER_PSI, 1e4),
    Quantity.TEMPERATURE: (0.1, 0.2, 0.5),
}
"""What a reading is rounded to [Pa, K]: digits, or a scale of such parts."""

SCATTERS_SI: Final = {Quantity.PRESSURE: (1e3, 4e3), Quantity.TEMPERATURE: (0.03, 0.12)}
"""Standard deviation the eye adds lies between these [Pa, K]."""

BETWEEN_LOOKS_S: Final = (30.0, 90.0)
HANDS_S: Final = (5.0, 15.0)
"""From one instrument to the next, and from reading to typing [s]."""

OTHER_LINE_SHARE: Final = 0.15
LATE_SHARE: Final = 0.15
LATE_S: Final = (20.0, 100.0)
ENTRY_OF: Final = {role: entry for entry, role in RUNNING_ROLES.items()}


class ByHand:
    """The program, fed by somebody who reads instruments and types.

    Parameters
    ----------
    this : Case
    at_once : int
        Instruments read at one look: both of a line, or one.

    Attributes
    ----------
    recoveries : int
        How often it asked for refrigerant back.
    found : bool
        A fault was found at some time, if only as a caution.
    """

    def __init__(self, this: Case, at_once: int) -> None:
        draw = self._draw = random.Random(f"by hand {this.random.seed}")  # seeded play, no secret
        self._at_once = at_once
        self._steps_si = {quantity: draw.choice(some) for quantity, some in STEPS_SI.items()}
        self._scatter_si = {quantity: draw.uniform(*span) for quantity, span in SCATTERS_SI.items()}
        declared = this.random.accuracies
        plan = ChargingPlan(
            gauge_accuracy=declared[Role.LIQUID_PRESSURE],
            suction_gauge_accuracy=declared[Role.SUCTION_PRESSURE],
            thermometer_accuracy=declared[Role.LIQUID_TEMPERATURE],
            source="as the probes of the same seed",
        )
        job = replace(this.job, stages=replace(this.job.stages, charging=plan))
        self._assistant = Assistant(job, SessionMode.SIMULATED)
        self._air = [c for c in this.channels if c.role is Role.OUTDOOR_AIR_TEMPERATURE]
        for channel in self._air:
            self._assistant.step(ChannelDeclared(t=0.0, channel=channel))
        self._queue: list[Mark] = []
        self._to_read: list[tuple[float, Role]] = []
        self._next_look_t = draw.uniform(*BETWEEN_LOOKS_S)
        self._judged = job.target.judged
        self._said: tuple[Action, str] | None = None
        self._since_t = 0.0
        self._told_t = -1e9
        self.recoveries = 0
        self.found = False

    def look(self, t: float, readings: Mapping[Channel, float]) -> Order | None:
        """Read and type what is due; see `shift.Charger`."""
        for channel in self._air:
            self._hear(
                self._assistant.step(Reading(t=t, channel=channel.name, value=readings[channel]))
            )
        snapshot = self._assistant.snapshot()
        if snapshot is None:
            return None
        self._read(t, {channel.role: value for channel, value in readings.items()}, snapshot)
        for mark in [each for each in self._queue if each.t <= t]:
            self._queue.remove(mark)
            self._hear(self._assistant.step(replace(mark, t=t)))
        return self._order(t, snapshot)

    def snapshot(self) -> Snapshot | None:
        """Return what the program shows now."""
        return self._assistant.snapshot()

    def _hear(self, verdicts: tuple[object, ...]) -> None:
        self.found |= any(isinstance(v, FaultJudged) and v.found for v in verdicts)

    def _order(self, t: float, snapshot: Snapshot) -> Order | None:
        advice = snapshot.advice
        if self._said != (advice.action, advice.cause):
            self._said, self._since_t = (advice.action, advice.cause), t
        stands_s = t - self._since_t
        if snapshot.facts.step_open is not None or stands_s < READS_FOR_S:
            return None
        if advice.cause == "hold_missing" and t - self._told_t > READS_FOR_S:
            self._told_t = t
            hertz = advice.figures["required_hz"]
            self._hear(
                self._assistant.step(Mark(t=t, kind=MarkKind.FREQUENCY_HELD, frequency_hz=hertz))
            )
        if advice.action is Action.ADD and advice.mass_kg is not None:
            return Order(advice.mass_kg)
        if advice.action is Action.RECOVER and advice.mass_kg is not None:
            self.recoveries += 1
            return Order(-advice.mass_kg)
        if advice.action is Action.STOP and stands_s >= LOOKS_AT_STOP_FOR_S:
            return Order(done=advice.cause)
        if advice.action is Action.FIX_FIRST and stands_s >= PATIENCE_S:
            return Order(done=f"refused: {advice.cause} {advice.subject}".strip())
        return None

    def _read(self, t: float, shown: Mapping[Role, float], snapshot: Snapshot) -> None:
        """Look at the instruments when it is time to, one after the other."""
        draw = self._draw
        if t >= self._next_look_t and not self._to_read and snapshot.facts.step_open is None:
            at_t = t
            for role in self._chosen(snapshot):
                self._to_read.append((at_t, role))
                at_t += draw.uniform(*HANDS_S)
            self._next_look_t = at_t + draw.uniform(*BETWEEN_LOOKS_S)
        while self._to_read and self._to_read[0][0] <= t:
            _, role = self._to_read.pop(0)
            quantity = role.quantity
            step = self._steps_si[quantity]
            value = shown[role] + draw.gauss(0.0, self._scatter_si[quantity])
            late = draw.random() < LATE_SHARE
            told_t = t + draw.uniform(*(LATE_S if late else HANDS_S))
            self._queue.append(
                Mark(
                    t=told_t,
                    kind=MarkKind.ENTERED,
                    text=ENTRY_OF[role].value,
                    value_si=round(value / step) * step,
                    read_t=t if late else None,
                )
            )

    def _chosen(self, snapshot: Snapshot) -> list[Role]:
        """Return the instruments of one look, in the order they are read."""
        draw = self._draw
        ours = [self._judged.pressure, self._judged.temperature]
        other = [Role.SUCTION_PRESSURE, Role.SUCTION_TEMPERATURE]
        if self._judged.pressure is Role.SUCTION_PRESSURE:
            other = [Role.LIQUID_PRESSURE, Role.LIQUID_TEMPERATURE]
        draw.shuffle(ours)
        draw.shuffle(other)
        aside = draw.random() < OTHER_LINE_SHARE
        if self._at_once > 1:
            return [*other, *ours] if aside else ours
        if aside:
            return other[:1]
        mark, hand = snapshot.waits_for, snapshot.facts.by_hand
        if mark is None or mark.entry is None:
            return []  # what is said is to wait
        asked = RUNNING_ROLES[mark.entry]
        return [draw.choice(hand.wanted) if hand and asked in hand.wanted else asked]

    def opened(self, t: float, mass_kg: float) -> None:
        """Hear that the valve was opened."""
        self._to_read.clear()
        self._hear(self._assistant.step(Mark(t=t, kind=MarkKind.STEP_BEGUN, mass_kg=mass_kg)))

    def shut(self, t: float, mass_kg: float | None) -> None:
        """Hear that a step has ended."""
        self._next_look_t = t + self._draw.uniform(*BETWEEN_LOOKS_S)
        self._hear(self._assistant.step(Mark(t=t, kind=MarkKind.STEP_ENDED, mass_kg=mass_kg)))


@dataclass(frozen=True, slots=True)
class Result:
    """One job: over the tolerance at any charge, inside it at the end, and what it took.

    Attributes
    ----------
    covered : bool or None
        The truth lies within the uncertainty of the last settled value; None: settled at no end.
    """

    seed: int
    over: bool
    inside: bool
    off_k: float
    covered: bool | None
    error_k: float
    steps: int
    minutes: float
    done: str
    found: bool


WAYS: Final[dict[str, Callable[[Case], ByHand | Advised]]] = {
    "with probes": Advised,
    "by hand, a line at a look": lambda this: ByHand(this, 2),
    "by hand, one at a look": lambda this: ByHand(this, 1),
}


def measure(seed: int, way: str, *, orifice: bool) -> Result:
    """Charge the machine of a seed in one way."""
    this = orifice_case(seed) if orifice else case(seed)
    told = this if way == "with probes" else replace(this, told=True)
    charger = WAYS[way](told)
    course = charge(told, charger)
    target = this.job.target
    low_k, high_k = target.middle_k - target.tolerance_k, target.middle_k + target.tolerance_k
    if orifice:
        low_k = max(low_k, target.floor_k)
    truth: Callable[[float], float] = (
        (lambda kg: steady_superheat_k(this, kg)) if orifice else this.steady_k
    )
    end_k = truth(course.end_kg)
    most_k = end_k if course.most_kg == course.end_kg else truth(course.most_kg)
    found = (
        charger.found
        if isinstance(charger, ByHand)
        else any(fault.found for fault in charger.faults)
    )
    last = charger.snapshot()
    settled = None if last is None else last.facts.settled
    error_k = float("nan") if settled is None else settled.value_k - end_k
    u_k = None if settled is None else settled.expanded_k
    return Result(
        seed=seed,
        covered=None if u_k is None else abs(error_k) <= u_k,
        error_k=error_k,
        over=most_k < low_k if orifice else most_k > high_k,
        inside=low_k <= end_k <= high_k,
        off_k=end_k - target.middle_k,
        steps=len(course.steps_kg),
        minutes=course.seconds / 60.0,
        done=course.done,
        found=found,
    )


def main() -> None:
    """Print a row for each way, and how its jobs ended."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=60)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--orifice", action="store_true", help="judged by superheat")
    parser.add_argument("--way", choices=sorted(WAYS), help="only this one")
    arguments = parser.parse_args()
    first = arguments.seed * SEEDS_APART
    print(f"{arguments.jobs} machines from seed {first}\n")
    print(
        f"{'':27s}{'over %':>7s}{'inside %':>9s}{'steps':>7s}{'minutes':>9s}{'p90':>6s}"
        f"{'off K':>7s}{'within U %':>12s}{'found %':>9s}"
    )
    for way in WAYS if arguments.way is None else (arguments.way,):
        results = [
            measure(seed, way, orifice=arguments.orifice)
            for seed in range(first, first + arguments.jobs)
        ]
        minutes = sorted(r.minutes for r in results)
        covered = [r.covered for r in results if r.covered is not None]
        share = 100.0 / len(results)
        print(
            f"{way:27s}{share * sum(r.over for r in results):7.1f}"
            f"{share * sum(r.inside for r in results):9.1f}"
            f"{statistics.median(r.steps for r in results):7.1f}"
            f"{statistics.median(minutes):9.1f}{minutes[int(0.9 * len(minutes))]:6.1f}"
            f"{statistics.median(abs(r.off_k) for r in results):7.2f}"
            f"{100.0 * sum(covered) / max(len(covered), 1):12.1f}"
            f"{share * sum(r.found for r in results):9.1f}"
        )
        ends = Counter(r.done for r in results)
        print("   ended: " + ", ".join(f"{end} {n}" for end, n in ends.most_common(8)))
        for r in results:
            if r.over or not r.inside or r.covered is False:
                print(
                    f"   seed {r.seed}: {'over, ' if r.over else ''}off {r.off_k:+.2f} K, last "
                    f"reading {r.error_k:+.2f} K from the truth, {r.steps} steps, "
                    f"{r.minutes:.0f} min, {r.done}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
