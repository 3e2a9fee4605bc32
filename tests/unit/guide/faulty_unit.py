"""A physical plant in its steady state, its faults among it, and the assistant beside it.

Readings are what probes without error would deliver. Computed, not measured.
"""

from functools import cache

from chargeassist.guide.assistant import Assistant
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import (
    ChannelDeclared,
    FaultJudged,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.units import Quantity, Reference
from chargeassist.physics.saturation import refrigerant
from chargeassist.plant.faults import MachineFaults
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.physical_settings import PhysicalSettings

ROLES = (
    Role.LIQUID_PRESSURE,
    Role.LIQUID_TEMPERATURE,
    Role.SUCTION_PRESSURE,
    Role.SUCTION_TEMPERATURE,
    Role.DISCHARGE_TEMPERATURE,
    Role.COMPRESSOR_CURRENT,
    Role.OUTDOOR_AIR_TEMPERATURE,
    Role.RETURN_AIR_TEMPERATURE,
    Role.SUPPLY_AIR_TEMPERATURE,
)
KINDS = {
    Quantity.PRESSURE: ("Pa", 8e3),
    Quantity.TEMPERATURE: ("K", 0.3),
    Quantity.CURRENT: ("A", 0.1),
}
"""Unit and half-width of each kind of probe: ordinary good ones, invented."""

PLATE_KG = 2.30


@cache
def steady(charge_kg: float, faults: MachineFaults) -> tuple[dict[Role, float], float]:
    """Return every reading after a quarter of an hour [SI, Pa absolute] and the atmosphere."""
    settings = PhysicalSettings(
        charge_kg=charge_kg, start_hz=72.0, settle_s=900.0, gust_k=0.0, faults=faults
    )
    plant = PhysicalPlant(settings)
    assert plant.trip is None
    truth = plant.truth()
    return {role: truth[role] for role in ROLES}, settings.station_pa_abs


class FaultyUnit:
    """An assistant beside the plant in that state; 1 Hz readings."""

    def __init__(
        self,
        charge_kg: float,
        faults: MachineFaults,
        target_k: float,
        weighed_in_kg: float | None = None,
    ) -> None:
        weighed_in_kg = charge_kg if weighed_in_kg is None else weighed_in_kg
        self.values, station_pa = steady(charge_kg, faults)
        self.t = 0.0
        self.found: list[FaultJudged] = []
        self.assistant = Assistant(
            Job(
                name="invented",
                refrigerant="R-32",
                target=Target(subcooling_k=target_k, tolerance_k=0.8, source="invented"),
                charge=ChargeLimits(
                    plate_kg=PLATE_KG, step_cap_kg=0.11, weighed_in_kg=weighed_in_kg
                ),
                site=Site(barometer_pa_abs=station_pa),
            ),
            SessionMode.SIMULATED,
        )
        for role in ROLES:
            unit, half_width = KINDS[role.quantity]
            channel = Channel(
                name=role.value,
                role=role,
                unit=unit,
                reference=Reference.ABSOLUTE if unit == "Pa" else None,
                accuracy=Accuracy(absolute_si=half_width),
            )
            self.assistant.step(ChannelDeclared(t=0.0, channel=channel))

    def run(self, seconds: int) -> Snapshot:
        for _ in range(seconds):
            self.t += 1.0
            for role, value in self.values.items():
                said = self.assistant.step(Reading(t=self.t, channel=role.value, value=value))
                self.found += [each for each in said if isinstance(each, FaultJudged)]
        snapshot = self.assistant.snapshot()
        assert snapshot is not None
        return snapshot

    def settled(self) -> Snapshot:
        for _ in range(900):
            snapshot = self.run(1)
            if snapshot.facts.settled is not None:
                return snapshot
        raise AssertionError("constant readings did not settle")

    def type_standing(self, offset_k: float) -> None:
        """Type the pressure of an idle circuit at 24 °C, as if it were so much warmer."""
        fluid = refrigerant("R-32")
        pressure = fluid.bubble_pressure_pa_abs(297.15 + offset_k)
        assert isinstance(pressure, float)
        for entry, value in (
            (Entry.STANDING_PRESSURE, pressure - PhysicalSettings().station_pa_abs),
            (Entry.STANDING_TEMPERATURE, 297.15),
        ):
            mark = Mark(t=self.t, kind=MarkKind.ENTERED, text=entry.value, value_si=value)
            self.assistant.step(mark)


@cache
def target_k() -> float:
    """Return the subcooling of the same unit in order, as its plate would give it."""
    facts = FaultyUnit(PLATE_KG, MachineFaults(), 5.0).settled().facts
    assert facts.settled is not None
    return facts.settled.value_k


def judged(charge_kg: float, **faults: float) -> Snapshot:
    return FaultyUnit(charge_kg, MachineFaults(**faults), target_k()).settled()
