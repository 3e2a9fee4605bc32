"""One job charged from its first second to the technician's last: machine, probes and hands.

The technician is the same whoever advises: reads an instruction for a few seconds, opens the
cylinder valve, watches the scale and shuts the valve, goes by the next instruction.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Protocol

from chargeassist.model.channels import Channel, Role
from chargeassist.model.units import Reference
from tests.benchmarks.advice.cases import SCALE_STEP_KG, Case

LONGEST_S: Final = 7200
MOST_STEPS: Final = 12
FREQUENCY_AT_S: Final = 10
READS_FOR_S: Final = 6.0
VALVE_OPEN_AT_MOST_S: Final = 900.0


@dataclass(frozen=True, slots=True)
class Order:
    """What the technician is told: add (positive) or recover (negative) a mass [kg], or pack up."""

    mass_kg: float = 0.0
    done: str = ""


class Charger(Protocol):
    """Who says what to do."""

    def look(self, t: float, readings: Mapping[Channel, float]) -> Order | None:
        """Hear one second of readings; return an order that has stood long enough to be done."""

    def opened(self, t: float, mass_kg: float) -> None:
        """Hear that the valve was opened to add a mass."""

    def shut(self, t: float, mass_kg: float | None) -> None:
        """Hear that a step has ended; its mass where it is said, negative when recovered."""


@dataclass(slots=True)
class Course:
    """How a job went.

    Attributes
    ----------
    steps_kg : list of float
        What truly went in, negative when recovered.
    most_kg, end_kg : float
        Largest and last charge of the machine.
    done : str
        Why it ended.
    seconds : float
    """

    end_kg: float
    most_kg: float
    steps_kg: list[float] = field(default_factory=list)
    done: str = "time is up"
    seconds: float = float(LONGEST_S)


def charge(
    case: Case,
    charger: Charger,
    begins_s: int = FREQUENCY_AT_S,
    *,
    stays_s: int = 0,
    stands_s: int = 0,
) -> Course:
    """Charge the machine of a case by what a charger says.

    Parameters
    ----------
    case : Case
    charger : Charger
    begins_s : int
        When someone lets the compressor go to its required frequency [s].
    stays_s, stands_s : int
        How long the probes stay on after the technician is done: first while the unit runs, then
        while it stands [s]. Nothing is done meanwhile, whatever is said.
    """
    plant, probes = case.random.plant(), case.random.probes()
    found_kg = plant.circuit_kg
    course = Course(end_kg=found_kg, most_kg=found_kg)
    station_pa = plant.settings.station_pa_abs
    full_cylinder_kg = plant.cylinder_kg
    opened_t: float | None = None
    wanted_kg = before_kg = 0.0
    left_s = 10**9
    for second in range(1, LONGEST_S + stays_s + stands_s + 1):
        t = float(second)
        if second == begins_s:
            plant.command_frequency()
        plant.run_until(t)
        probes.follow(plant.truth(), 1.0)
        shown = probes.read()
        readings = {
            channel: shown[channel.role]
            - (station_pa if channel.reference is Reference.GAUGE else 0.0)
            for channel in case.channels
        }
        order = charger.look(t, readings)
        if second >= left_s:
            if second == left_s + stays_s:
                plant.command_frequency(0.0)
            if second >= left_s + stays_s + stands_s:
                return course
            continue
        if opened_t is not None:
            scale_kg = plant.cylinder_kg if case.told else shown[Role.CYLINDER_MASS]
            slack_kg = 1e-6 if case.told else min(SCALE_STEP_KG, 0.5 * wanted_kg)
            full = before_kg - scale_kg >= wanted_kg - slack_kg
            if full or t - opened_t > VALVE_OPEN_AT_MOST_S:
                plant.end_step()
                charger.shut(t, wanted_kg if case.told else None)
                opened_t = None
                charge_kg = found_kg + full_cylinder_kg - plant.cylinder_kg
                course.steps_kg.append(charge_kg - course.end_kg)
                course.end_kg = charge_kg
                course.most_kg = max(course.most_kg, charge_kg)
            continue
        if order is None:
            continue
        if order.done or len(course.steps_kg) >= MOST_STEPS:
            course.done, course.seconds = order.done or "too many steps", t
            if not stays_s and not stands_s:
                return course
            left_s = second
            continue
        if order.mass_kg > 0.0:
            opened_t, wanted_kg = t, order.mass_kg
            before_kg = plant.cylinder_kg if case.told else shown[Role.CYLINDER_MASS]
            plant.begin_step(wanted_kg if case.told else None)
            charger.opened(t, wanted_kg)
        else:
            plant.end_step(order.mass_kg)
            charger.shut(t, order.mass_kg)
            course.steps_kg.append(order.mass_kg)
            course.end_kg += order.mass_kg
    return course
