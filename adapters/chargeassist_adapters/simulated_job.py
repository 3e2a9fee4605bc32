"""A whole job behind the simulator: one scenario after the other, as the stages are begun.

The address names the scenarios, joined by a plus, in the order of the work::

    simulator:nitrogen-tight+vacuum-dry+millrace-lane-library

A ``stage_begun`` of tightness or dryness goes to the circuit of that stage, at its beginning. While
the first charge is weighed in the probes are off; what the technician says went in is what the unit
of the last scenario holds when it is first started, in the place of the scenario's own charge. A
circuit that was under nitrogen is evacuated from dry nitrogen, not from moist air. Each
circuit has its own time, from the moment it is gone to. Marks do there what they do alone.
"""

from collections.abc import Mapping
from dataclasses import replace

from chargeassist.model.channels import Channel
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, MarkKind, Stage
from chargeassist.plant.evacuation_settings import EvacuationSettings
from chargeassist.session.scenario.scenario import Scenario, ScenarioUnit
from chargeassist.session.scenario.stage import StageUnit
from chargeassist_adapters.simulated_stage import stage_unit
from chargeassist_adapters.simulated_unit import PhysicalUnit, SimulatedUnit

_RUNNING = frozenset({Stage.RUN_UP.value, Stage.CHARGING.value, Stage.VERIFICATION.value})
_USUAL_KG = 0.05
"""The least a unit is started with, where nobody weighed anything in [kg]: the nitrogen and air of
an empty circuit are no part of this plant."""


def described(scenario: Scenario) -> ScenarioUnit | StageUnit:
    """Return the unit or circuit of a scenario."""
    found = scenario.unit or scenario.stage_unit
    if found is None:
        raise AssertionError("a scenario has a unit or a circuit")
    return found


def channels_of(parts: tuple[Scenario, ...], source: str) -> tuple[Channel, ...]:
    """Return the channels of all scenarios, one per role, as the first that has it declares it."""
    found: dict[str, Channel] = {}
    for part in parts:
        for channel in described(part).probes.channels(source):
            found.setdefault(channel.name, channel)
    return tuple(found.values())


class WholeJob:
    """The circuits and the unit of one job, one of which is there at a time.

    Parameters
    ----------
    parts : tuple of Scenario
        In the order of the work; the last is a whole unit, the others of different stages.
    channels : tuple of Channel
        What is delivered.

    Raises
    ------
    ConfigError
        The scenarios are no such order.
    """

    def __init__(self, parts: tuple[Scenario, ...], channels: tuple[Channel, ...]) -> None:
        stages = [part.stage for part in parts]
        if stages[-1] is not Stage.CHARGING or len(set(stages)) != len(stages):
            raise ConfigError(
                "simulator: expected scenarios of different stages, the last a unit that runs, "
                f"came {', '.join(part.name for part in parts)}"
            )
        self._parts = {part.stage.value: described(part) for part in parts}
        self._channels = channels
        self._weighing = False
        self._weighed_kg = 0.0
        self._at = parts[0].stage.value
        self._since = 0.0
        self._unit = self._made(self._at)

    def _made(self, stage: str) -> SimulatedUnit:
        part = self._parts[stage]
        channels = tuple(each for each in self._channels if each.role in part.probes.models)
        if isinstance(part, StageUnit):
            return stage_unit(self._after_nitrogen(part), channels)
        charge_kg = max(self._weighed_kg, _USUAL_KG)
        return PhysicalUnit(
            replace(part, settings=replace(part.settings, charge_kg=charge_kg)), channels
        )

    def _after_nitrogen(self, part: StageUnit) -> StageUnit:
        """Return a circuit to be evacuated as the nitrogen that was let out leaves it: dry."""
        settings = part.settings
        if Stage.TIGHTNESS.value not in self._parts or not isinstance(settings, EvacuationSettings):
            return part
        return replace(part, settings=replace(settings, start_humidity=0.0))

    def run_until(self, t: float) -> None:
        """Let the circuit that is there live until `t` [s]."""
        self._unit.run_until(t - self._since)

    def act(self, mark: Mark) -> None:
        """Go to another circuit, or let the technician do something to the present one."""
        if mark.kind is MarkKind.STAGE_BEGUN:
            self._go_to(mark)
        elif not self._weighing:
            self._unit.act(replace(mark, t=mark.t - self._since))
        elif mark.kind is MarkKind.STEP_ENDED:
            self._weighed_kg += mark.mass_kg or 0.0

    def _go_to(self, mark: Mark) -> None:
        self._weighing = mark.text == Stage.WEIGH_IN.value
        stage = Stage.CHARGING.value if mark.text in _RUNNING else mark.text
        if stage not in self._parts or (stage == self._at and stage == Stage.CHARGING.value):
            return  # weighing in, closing up, or the unit that runs already
        self._at, self._since = stage, mark.t
        self._unit = self._made(stage)

    def truth(self) -> Mapping[str, float]:
        """Return what is so in the circuit that is there."""
        return self._unit.truth()

    def read(self, t: float, dt_s: float) -> Mapping[str, float]:
        """Return what the channels read at `t`; see `SimulatedUnit`."""
        if self._weighing:
            return {}
        since_s = t - self._since
        return self._unit.read(since_s, min(dt_s, since_s))
