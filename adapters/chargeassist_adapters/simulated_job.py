"""A whole job behind the simulator: one scenario after the other, as the stages are begun.

The address names the scenarios, joined by a plus, in the order of the work::

    simulator:nitrogen-tight+vacuum-dry+millrace-lane-library

A ``stage_begun`` of tightness or dryness goes to the circuit of that stage, at its beginning; that
of the weigh-in puts the cylinder of the last scenario's unit on the scale beside that unit's empty
circuit. What has flowed in is what the unit holds when it is first started, in the place of
the scenario's own charge, and the scale goes on from there; where no scale is simulated, the
technician's word counts. A circuit that was under nitrogen is evacuated from dry nitrogen, not from
moist air. Each circuit has its own time, from the moment it is gone to. Marks do there what they do
alone.
"""

from collections.abc import Mapping
from dataclasses import replace

from chargeassist.model.channels import Channel, Role
from chargeassist.model.errors import ConfigError
from chargeassist.model.events import Mark, MarkKind, Stage
from chargeassist.plant.evacuation_settings import EvacuationSettings
from chargeassist.plant.first_charge import FirstChargeSettings, circuit_of
from chargeassist.plant.physical_settings import LEAST_CHARGE_SHARE, MOST_CHARGE_SHARE
from chargeassist.session.scenario.scenario import Scenario, ScenarioUnit
from chargeassist.session.scenario.stage import StageUnit
from chargeassist_adapters.simulated_first_charge import FirstChargeUnit
from chargeassist_adapters.simulated_stage import stage_unit
from chargeassist_adapters.simulated_unit import PhysicalUnit, SimulatedUnit

_RUNNING = frozenset({Stage.RUN_UP.value, Stage.CHARGING.value, Stage.VERIFICATION.value})
_IN_THE_SHADE_K = 1.0
"""So much colder than the outdoor air is the cylinder at first [K] (assumption): the pressures meet
before all of the charge is in, as they often do, and the rest is left for the running unit."""


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
        unit = parts[-1].unit
        if unit is None:
            raise AssertionError("a scenario of a unit that runs has one")
        self._runs = unit
        self._parts = {part.stage.value: described(part) for part in parts}
        self._channels = channels
        self._first: FirstChargeUnit | None = None
        self._told_kg = 0.0
        self._at = parts[0].stage.value
        self._since = 0.0
        self._unit = self._made(self._at)

    def _made(self, stage: str) -> SimulatedUnit:
        part = self._parts[stage]
        channels = self._delivered(part)
        if isinstance(part, StageUnit):
            return stage_unit(self._after_nitrogen(part), channels)
        settings = part.settings
        if self._first is not None:
            settings = replace(settings, cylinder_kg=self._first.cylinder_kg)
        lowest_kg = LEAST_CHARGE_SHARE * settings.plate_kg
        highest_kg = MOST_CHARGE_SHARE * settings.plate_kg
        charge_kg = min(max(self._charged_kg(channels), lowest_kg), highest_kg)
        return PhysicalUnit(
            replace(part, settings=replace(settings, charge_kg=charge_kg)), channels
        )

    def _delivered(self, part: ScenarioUnit | StageUnit) -> tuple[Channel, ...]:
        return tuple(each for each in self._channels if each.role in part.probes.models)

    def _charged_kg(self, channels: tuple[Channel, ...]) -> float:
        """Return what the first charge has come to [kg]."""
        if self._first is not None and any(each.role is Role.CYLINDER_MASS for each in channels):
            return self._first.charge_kg
        return self._told_kg

    def _weigh_in(self) -> FirstChargeUnit:
        """Return the evacuated circuit of the unit that runs later, its cylinder on the scale."""
        part = self._runs
        settings = part.settings
        volume_m3, metal_j_per_k = circuit_of(settings.machine())
        first = FirstChargeSettings(
            refrigerant=settings.refrigerant,
            volume_m3=volume_m3,
            metal_j_per_k=metal_j_per_k,
            outdoor_k=settings.outdoor_k,
            indoor_k=settings.return_k,
            cylinder_kg=settings.cylinder_kg,
            tare_kg=settings.tare_kg,
            cylinder_k=settings.outdoor_k - _IN_THE_SHADE_K,
            station_pa_abs=settings.station_pa_abs,
        )
        return FirstChargeUnit(first, self._delivered(part), part.probes, settings.seed)

    def _after_nitrogen(self, part: StageUnit) -> StageUnit:
        """Return a circuit to be evacuated as the nitrogen that was let out leaves it: dry."""
        settings = part.settings
        if Stage.TIGHTNESS.value not in self._parts or not isinstance(settings, EvacuationSettings):
            return part
        return replace(part, settings=replace(settings, start_humidity=0.0))

    def run_until(self, t: float) -> None:
        """Advance the circuit that is there to `t` [s]."""
        self._unit.run_until(t - self._since)

    def act(self, mark: Mark) -> None:
        """Go to another circuit, or let the technician do something to the present one."""
        if mark.kind is MarkKind.STAGE_BEGUN:
            self._go_to(mark)
            return
        self._unit.act(replace(mark, t=mark.t - self._since))
        if mark.kind is MarkKind.STEP_ENDED and self._at == Stage.WEIGH_IN.value:
            self._told_kg += mark.mass_kg or 0.0

    def _go_to(self, mark: Mark) -> None:
        stage = Stage.CHARGING.value if mark.text in _RUNNING else mark.text
        weigh_in, running = Stage.WEIGH_IN.value, Stage.CHARGING.value
        if stage == weigh_in and self._at not in {weigh_in, running}:
            self._first = self._weigh_in()
            self._at, self._since, self._unit = stage, mark.t, self._first
        elif stage in self._parts and not stage == self._at == running:
            if stage != running:  # what was in it is let out again
                self._first, self._told_kg = None, 0.0
            self._at, self._since = stage, mark.t
            self._unit = self._made(stage)

    def truth(self) -> Mapping[str, float]:
        """Return what is so in the circuit that is there."""
        return self._unit.truth()

    def read(self, t: float, dt_s: float) -> Mapping[str, float]:
        """Return what the channels read at `t`; see `SimulatedUnit`."""
        since_s = t - self._since
        return self._unit.read(since_s, min(dt_s, since_s))
