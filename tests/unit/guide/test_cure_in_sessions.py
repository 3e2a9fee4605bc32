"""What the assistant says to a physical plant with a fault: add, or look for something else.

The plant conserves mass and energy and knows nothing of the table of signs; the assistant gets what
probes without error would deliver from its steady state. Computed, not measured.
"""

from functools import cache

import pytest

from chargeassist.guide import wording
from chargeassist.guide.assistant import DIAGNOSE_EVERY_S, Assistant
from chargeassist.guide.diagnosis import Verdict
from chargeassist.guide.fault_signs import Cause
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.model.events import (
    Action,
    ChannelDeclared,
    Mark,
    MarkKind,
    Reading,
    SessionMode,
)
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.units import Quantity, Reference
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


class Room:
    """An assistant beside the plant in that state; 1 Hz readings."""

    def __init__(self, charge_kg: float, faults: MachineFaults, target_k: float) -> None:
        self.values, station_pa = steady(charge_kg, faults)
        self.t = 0.0
        self.assistant = Assistant(
            Job(
                name="invented",
                refrigerant="R-32",
                target=Target(subcooling_k=target_k, tolerance_k=0.8, source="invented"),
                charge=ChargeLimits(plate_kg=PLATE_KG, step_cap_kg=0.11, weighed_in_kg=1.7),
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
                self.assistant.step(Reading(t=self.t, channel=role.value, value=value))
        snapshot = self.assistant.snapshot()
        assert snapshot is not None
        return snapshot

    def settled(self) -> Snapshot:
        for _ in range(900):
            snapshot = self.run(1)
            if snapshot.facts.settled is not None:
                return snapshot
        raise AssertionError("constant readings did not settle")


@cache
def target_k() -> float:
    """Return the subcooling of the same unit in order, as its plate would give it."""
    facts = Room(PLATE_KG, MachineFaults(), 5.0).settled().facts
    assert facts.settled is not None
    return facts.settled.value_k


def judged(charge_kg: float, **faults: float) -> Snapshot:
    return Room(charge_kg, MachineFaults(**faults), target_k()).settled()


def test_the_unit_in_order_is_called_inside() -> None:
    snapshot = judged(PLATE_KG)
    assert snapshot.advice.action is Action.STOP
    assert not any(item.cause == "suspect" for item in snapshot.cautions)


@pytest.mark.parametrize("charge_kg", [2.15, 2.07, 1.9, 1.7, 1.6])
def test_a_plain_shortage_is_always_cured(charge_kg: float) -> None:
    snapshot = judged(charge_kg)
    assert (snapshot.advice.action, snapshot.advice.cause) == (Action.ADD, "below_target")
    assert not any(item.cause == "suspect" for item in snapshot.cautions)


RESTRICTED = [
    (2.3, {"restriction_pa": 1.0e6}),
    (2.3, {"restriction_pa": 1.6e6}),
    (2.1, {"restriction_pa": 1.0e6}),
    (2.3, {"valve_stuck": 0.5}),
]


@pytest.mark.parametrize(("charge_kg", "faults"), RESTRICTED)
def test_a_restriction_at_its_target_is_not_fed(charge_kg: float, faults: dict[str, float]) -> None:
    snapshot = judged(charge_kg, **faults)
    assert (snapshot.advice.action, snapshot.advice.cause) == (Action.FIX_FIRST, "not_the_charge")
    diagnosis = snapshot.diagnosis
    assert diagnosis is not None
    assert diagnosis.causes[0].cause is Cause.RESTRICTION
    suspects = [item for item in snapshot.cautions if item.cause == "suspect"]
    assert bool(suspects) is (diagnosis.verdict is Verdict.LIKELY)
    assert {item.subject for item in suspects} <= {Cause.RESTRICTION.value}


@pytest.mark.parametrize(
    ("charge_kg", "faults", "among"),
    [
        (2.1, {"outdoor_air_share": 0.5}, {Cause.LOW_OUTDOOR_AIRFLOW}),
        (2.0, {"outdoor_air_share": 0.4}, {Cause.LOW_OUTDOOR_AIRFLOW}),
        # Valves that leak and a valve that stands open look alike by general ranges.
        (2.3, {"compressor_leakage": 0.5}, {Cause.VALVE_LEAKAGE, Cause.VALVE_OPEN}),
    ],
)
def test_a_fault_that_reads_short_is_not_filled_up(
    charge_kg: float, faults: dict[str, float], among: set[Cause]
) -> None:
    snapshot = judged(charge_kg, **faults)
    advice = snapshot.advice
    assert snapshot.facts.settled is not None
    assert snapshot.facts.settled.value_k < target_k() - 0.8
    assert (advice.action, advice.cause) == (Action.FIX_FIRST, "not_the_cure")
    assert advice.subject in among
    chance = advice.figures["chance"]
    assert 0.6 <= chance <= 1.0
    for system in UnitSystem:
        assert wording.sentence(advice, system) == (
            f"Fix first: refrigerant is not the cure ({chance * 100:.0f} % likely); "
            f"the readings look most like: {advice.subject}"
        )


def test_too_much_refrigerant_is_still_recovered() -> None:
    # Non-condensables look the same by general ranges; the diagnosis must not stand in the way.
    assert judged(2.7).advice.action is Action.RECOVER


def test_causes_are_ranked_while_settled_only_and_anew_every_while() -> None:
    room = Room(2.1, MachineFaults(outdoor_air_share=0.5), target_k())
    assert room.run(5).diagnosis is None
    first = room.settled().diagnosis
    assert first is not None
    # The pattern goes away while the reading stays settled: noticed at the next look.
    room.values = {
        **room.values,
        Role.OUTDOOR_AIR_TEMPERATURE: room.values[Role.OUTDOOR_AIR_TEMPERATURE] + 9.0,
    }
    assert room.run(int(DIAGNOSE_EVERY_S) - 2).diagnosis is first
    later = room.run(4)
    assert later.diagnosis is not None
    assert later.diagnosis is not first
    assert later.advice.action is Action.ADD
    room.assistant.step(Mark(t=room.t, kind=MarkKind.STEP_BEGUN))
    assert room.run(2).diagnosis is None
