"""The plant of a scenario as the technician and the file's commands work it."""

from dataclasses import replace

from chargeassist.model.events import Mark, MarkKind
from chargeassist.plant.faults import FaultCourse
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.session.scenario.scenario import ScenarioUnit


class ScenarioPlant:
    """A physical plant that hears marks and is told its frequencies.

    Parameters
    ----------
    unit : ScenarioUnit

    Attributes
    ----------
    plant : PhysicalPlant
    """

    def __init__(self, unit: ScenarioUnit) -> None:
        self._unit = unit
        self._commands = list(unit.commands)
        self.plant = PhysicalPlant(unit.settings)

    def run_until(self, t: float) -> None:
        """Let the plant live until `t` [s], each command at its own time."""
        while self._commands and self._commands[0][0] <= t:
            at_s, frequency_hz = self._commands.pop(0)
            self.plant.run_until(at_s)
            self.plant.command_frequency(frequency_hz)
        self.plant.run_until(t)

    def act(self, mark: Mark) -> None:
        """Let the technician do something to the machine now; other marks do nothing."""
        match mark.kind:
            case MarkKind.STEP_BEGUN:
                self.plant.begin_step(mark.mass_kg)
            case MarkKind.STEP_ENDED:
                self.plant.end_step(mark.mass_kg)
            case MarkKind.FREQUENCY_HELD:
                self.plant.reset_trip()
                self.plant.command_frequency()
            case MarkKind.FREQUENCY_LEFT:
                self.plant.command_frequency(self._unit.settings.load_hz)
            case _:
                pass


def still_twin(unit: ScenarioUnit, until_s: float) -> ScenarioUnit:
    """Return the unit in still air, to which nothing more happens by itself after a time.

    Faults, commands, oil returns and defrosts that begin later are left out, a leak is shut then,
    and the frequency is held: what the charge in it at that time comes to is then a matter of
    waiting.
    """
    settings = unit.settings
    courses = tuple(course for course in settings.courses if course.start_s <= until_s)
    if any(course.name == "leak_kg_per_s" for course in courses):
        shut = FaultCourse(name="leak_kg_per_s", amount=0.0, start_s=until_s, full_s=until_s)
        courses = (*courses, shut)
    still = replace(
        settings,
        gust_k=0.0,
        hold_s=0.0,
        courses=courses,
        oil_return_at_s=_unless_later(settings.oil_return_at_s, until_s),
        defrost_at_s=_unless_later(settings.defrost_at_s, until_s),
    )
    commands = tuple(command for command in unit.commands if command[0] <= until_s)
    return replace(unit, settings=still, commands=commands)


def _unless_later(begin_s: float, until_s: float) -> float:
    """Return when an interruption begins; -1 for never where that is after `until_s` [s]."""
    return -1.0 if begin_s > until_s else begin_s
