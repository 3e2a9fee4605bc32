"""Who advises: the program, steps of a fixed size, and one who knows the machine."""

import math
from abc import ABC, abstractmethod
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Channel, Role
from chargeassist.model.events import (
    Action,
    Advice,
    ChannelDeclared,
    FaultJudged,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
)
from chargeassist.physics.atmosphere import absolute_from_gauge
from chargeassist.physics.cycle import subcooling_k
from chargeassist.physics.saturation import refrigerant
from chargeassist.stream.probe_findings import Severity
from chargeassist.stream.processor import Processor
from tests.benchmarks.advice.cases import Case
from tests.benchmarks.advice.shift import READS_FOR_S, Order

POUND_KG: Final = 0.45359237
LOOKS_AT_STOP_FOR_S: Final = 90.0
PATIENCE_S: Final = 900.0
"""After so long with nothing but an objection the technician goes home."""

LOOKS_EVERY_S: Final = 5.0
LOOKS: Final = {"worth_a_look", "amps_apart"}
"""Cautions that name a fault that is not found, and how to tell."""

FIRST_WAIT_S: Final = 900.0
"""Running time before the first reading is believed by one who goes by the clock alone; 15 minutes
stand in many instructions (common practice)."""

WAIT_S: Final = 120.0


@dataclass(frozen=True, slots=True)
class Outlook:
    """What was said to be left when a step was ordered at `t`; `least` where it said "at least"."""

    t: float
    steps: int
    minutes: float
    least: bool


class Advised:
    """The program itself, obeyed.

    Attributes
    ----------
    recoveries : int
        How often it asked for refrigerant back.
    outlooks : list of Outlook
        One per step ordered.
    faults : list of FaultJudged
    first_doubted : dict of (str, str) to float
        Channel and trouble of every probe that was doubted for a while, and since when [s].
    probes : set of (str, str)
        The same without the times.
    said : set of str
        Causes of all instructions.
    looks : set of str
        What was called worth a look, and how to tell.

    Parameters
    ----------
    case : Case
    notes : bool
        Whether a probe that is not good yet counts as doubted, too.
    """

    def __init__(self, case: Case, *, notes: bool = False) -> None:
        self._notes = notes
        self._assistant = Assistant(case.job, SessionMode.SIMULATED)
        for channel in case.channels:
            self._assistant.step(ChannelDeclared(t=0.0, channel=channel))
        self._said: Advice | None = None
        self._since_t = 0.0
        self._open_t: float | None = None
        self.recoveries = 0
        self.outlooks: list[Outlook] = []
        self.faults: list[FaultJudged] = []
        self.first_doubted: dict[tuple[str, str], float] = {}
        self.said: set[str] = set()
        self.looks: set[str] = set()

    def look(self, t: float, readings: Mapping[Channel, float]) -> Order | None:
        """Hear one second of readings; see `shift.Charger`."""
        for channel, value in readings.items():
            for verdict in self._assistant.step(Reading(t=t, channel=channel.name, value=value)):
                if isinstance(verdict, FaultJudged):
                    self.faults.append(verdict)
                if isinstance(verdict, Advice):
                    said = self._said
                    if said is None or (said.action, said.cause) != (verdict.action, verdict.cause):
                        self._since_t = t
                    self._said = verdict
                    self.said.add(verdict.cause)
        self._doubt(t)
        advice = self._said
        if advice is None or t - self._since_t < READS_FOR_S:
            return None
        if advice.action is Action.ADD and advice.mass_kg is not None:
            if self._open_t is None:
                self._foresee(t, advice)
            return Order(advice.mass_kg)
        if advice.action is Action.RECOVER and advice.mass_kg is not None:
            self.recoveries += 1
            return Order(-advice.mass_kg)
        if advice.action is Action.STOP and t - self._since_t >= LOOKS_AT_STOP_FOR_S:
            return Order(done=advice.cause)
        if advice.action is Action.FIX_FIRST and t - self._since_t >= PATIENCE_S:
            return Order(done=f"refused: {advice.cause} {advice.subject}".strip())
        return None

    def snapshot(self) -> Snapshot | None:
        """Return what the program shows now."""
        return self._assistant.snapshot()

    def _doubt(self, t: float) -> None:
        snapshot = self._assistant.snapshot() if t % LOOKS_EVERY_S == 0.0 else None
        if snapshot is not None:
            self.looks |= {c.subject for c in snapshot.cautions if c.cause in LOOKS}
            for each in snapshot.facts.findings:
                if self._notes or each.severity is not Severity.NOTE:
                    self.first_doubted.setdefault((each.channel, each.kind.value), t)

    @property
    def probes(self) -> set[tuple[str, str]]:
        """Channel and trouble of every probe that was doubted."""
        return set(self.first_doubted)

    def _foresee(self, t: float, advice: Advice) -> None:
        figures = advice.figures
        self.outlooks.append(
            Outlook(
                t,
                round(figures["steps_left"]),
                figures["minutes_s"] / 60.0,
                "unsealed_below_k" in figures,
            )
        )

    def opened(self, t: float, mass_kg: float) -> None:
        """Hear that the valve was opened."""
        self._open_t = t
        self._assistant.step(Mark(t=t, kind=MarkKind.STEP_BEGUN, mass_kg=mass_kg))

    def shut(self, t: float, mass_kg: float | None) -> None:
        """Hear that a step has ended."""
        self._open_t = None
        self._assistant.step(Mark(t=t, kind=MarkKind.STEP_ENDED, mass_kg=mass_kg))


class OnceSettled(ABC):
    """Who decides by what a settled reading says, and by nothing else.

    Parameters
    ----------
    case : Case
    """

    def __init__(self, case: Case) -> None:
        self._case = case
        self._processor = Processor(case.job)
        for channel in case.channels:
            self._processor.take(ChannelDeclared(t=0.0, channel=channel))
        self._settled_t: float | None = None

    @abstractmethod
    def decide(self, settled_k: float) -> Order:
        """Return what a settled reading [K] leads to."""

    def look(self, t: float, readings: Mapping[Channel, float]) -> Order | None:
        """Hear one second of readings; see `shift.Charger`."""
        facts, _ = self._processor.tick(t)
        for channel, value in readings.items():
            self._processor.take(Reading(t=t, channel=channel.name, value=value))
        if facts.settled is None:
            self._settled_t = None
            return None
        if self._settled_t is None:
            self._settled_t = t
        return self.decide(facts.settled.value_k) if t - self._settled_t >= READS_FOR_S else None

    def opened(self, t: float, mass_kg: float) -> None:
        """Hear that the valve was opened."""
        self._processor.take(Mark(t=t, kind=MarkKind.STEP_BEGUN, mass_kg=mass_kg))

    def shut(self, t: float, mass_kg: float | None) -> None:
        """Hear that a step has ended."""
        self._processor.take(Mark(t=t, kind=MarkKind.STEP_ENDED, mass_kg=mass_kg))


class FixedSteps(OnceSettled):
    """Always the same amount while the settled reading is under the band.

    Parameters
    ----------
    case : Case
    step_kg : float
    """

    def __init__(self, case: Case, step_kg: float) -> None:
        super().__init__(case)
        self._step_kg = step_kg
        self.recoveries = 0

    def decide(self, settled_k: float) -> Order:
        """Return the amount, or the end."""
        self.recoveries = int(settled_k > self._case.high_k)
        return _fixed(self._case, self._step_kg, settled_k)


class FixedStepsByClock:
    """Always the same amount while what is read two minutes after a step is under the band.

    Parameters
    ----------
    case : Case
    step_kg : float
    """

    def __init__(self, case: Case, step_kg: float) -> None:
        self._case = case
        self._step_kg = step_kg
        self._refrigerant = refrigerant(case.job.refrigerant)
        self._recent: deque[float] = deque(maxlen=10)
        self._due_t = FIRST_WAIT_S
        self.recoveries = 0

    def look(self, t: float, readings: Mapping[Channel, float]) -> Order | None:
        """Hear one second of readings; see `shift.Charger`."""
        station_pa = self._case.random.settings.station_pa_abs
        by_role = {channel.role: value for channel, value in readings.items()}
        value_k = subcooling_k(
            self._refrigerant,
            absolute_from_gauge(by_role[Role.LIQUID_PRESSURE], station_pa),
            by_role[Role.LIQUID_TEMPERATURE],
        )
        if isinstance(value_k, float):
            self._recent.append(value_k)
        if t < self._due_t or not self._recent:
            return None
        mean_k = sum(self._recent) / len(self._recent)
        self.recoveries = int(mean_k > self._case.high_k)
        return _fixed(self._case, self._step_kg, mean_k)

    def opened(self, t: float, mass_kg: float) -> None:
        """Hear that the valve was opened."""
        self._due_t = math.inf

    def shut(self, t: float, mass_kg: float | None) -> None:
        """Hear that a step has ended."""
        self._due_t = t + WAIT_S


def _fixed(case: Case, step_kg: float, value_k: float) -> Order:
    if value_k < case.low_k:
        return Order(step_kg)
    return Order(done="above" if value_k > case.high_k else "inside")


def fewest_steps(case: Case) -> tuple[int, int]:
    """Return the steps of one who knows the machine, under the same cap.

    Returns
    -------
    to_target, to_band : int
        To the middle of the tolerance, and to its lower end, which is the fewest there can be.
    """
    settings, cap_kg = case.random.settings, case.job.charge.step_cap_kg
    missing_kg = case.random.full_kg - settings.charge_kg
    # The curve is nearly straight between the lower end and the target; a secant finds the end.
    upper_kg, upper_k = case.random.full_kg, case.job.target.middle_k
    lower_kg = upper_kg - case.job.target.tolerance_k * settings.plate_kg / 37.0
    lower_k = case.steady_k(lower_kg)
    slope = (upper_k - lower_k) / (upper_kg - lower_kg)
    band_kg = missing_kg - case.job.target.tolerance_k / slope
    return max(1, math.ceil(missing_kg / cap_kg - 1e-9)), max(1, math.ceil(band_kg / cap_kg - 1e-9))
