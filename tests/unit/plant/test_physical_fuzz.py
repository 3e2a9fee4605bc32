"""Random machines with random faults and handling: a clean result or a trip, never nonsense."""

import math
import random
from collections import Counter

import pytest

from chargeassist.model.channels import Role
from chargeassist.plant.faults import LIMITS, FaultCourse
from chargeassist.plant.metering import ValveKind
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.physical_settings import PhysicalSettings

RUNS = 500
PARTS = 10
SECONDS = 100

# As bad as a machine can get while still being one.
WORST = {
    "non_condensable_mol": (0.0, 0.15),
    "restriction_pa": (0.0, 4e6),
    "outdoor_air_share": (0.1, 1.2),
    "condenser_surface_share": (0.3, 1.0),
    "indoor_air_share": (0.1, 1.2),
    "valve_stuck": (0.0, 2.5),
    "valve_gain": (0.3, 4.0),
    "bulb_lag_s": (2.0, 60.0),
    "front_lag_s": (1.0, 7.0),
    "compressor_leakage": (0.0, 0.6),
    "leak_kg_per_s": (0.0, 0.02),
}


def drawn(draw: random.Random, seed: int) -> PhysicalSettings:
    name = draw.choice(["R-22", "R-32", "R-407C", "R-410A", "R-454B"])
    tons = draw.uniform(1.5, 5.0)
    plate_kg = 0.9 * tons * draw.uniform(0.85, 1.2)
    courses = []
    for fault, (low, high) in WORST.items():
        if draw.random() < 0.25:
            start_s = draw.uniform(0.0, 100.0)
            courses.append(
                FaultCourse(
                    name=fault,
                    amount=draw.uniform(low, high),
                    start_s=start_s,
                    full_s=start_s + draw.choice([0.0, 60.0]),
                )
            )
    dry_k = draw.uniform(288.0, 308.0)
    interrupted = random.Random(f"defrost {seed}")
    return PhysicalSettings(
        refrigerant=name,
        capacity_w=3500.0 * tons,
        plate_kg=plate_kg,
        charge_kg=plate_kg * draw.uniform(0.3, 1.5),
        start_hz=draw.choice([0.0, 30.0, 72.0, 100.0]),
        settle_s=draw.choice([0.0, 30.0, 120.0]),
        ramp_hz_per_s=draw.choice([0.5, 2.0, 20.0]),
        outdoor_k=draw.uniform(265.0, 324.0),
        return_k=dry_k,
        return_wet_k=dry_k - draw.uniform(0.5, 10.0),
        gust_k=0.3,
        valve=draw.choice(list(ValveKind)),
        courses=tuple(courses),
        flow_kg_per_s=draw.uniform(0.0005, 0.01),
        hose_s=draw.uniform(0.5, 20.0),
        cylinder_kg=draw.uniform(0.1, 8.0),
        altitude_m=draw.uniform(0.0, 3000.0),
        defrost_at_s=interrupted.uniform(0.0, 80.0) if interrupted.random() < 0.3 else -1.0,
        defrost_for_s=interrupted.uniform(0.0, 60.0),
        seed=seed,
    )


def handle(plant: PhysicalPlant, draw: random.Random) -> None:
    match draw.randrange(8):
        case 0:
            plant.begin_step()
        case 1:
            plant.begin_step(draw.uniform(0.02, 0.5))
        case 2:
            plant.begin_step(-draw.uniform(0.02, 0.5))
        case 3:
            plant.end_step()
        case 4:
            plant.end_step(-draw.uniform(0.02, 0.3))
        case 5 | 6:
            plant.command_frequency(draw.choice([0.0, 20.0, 72.0, 100.0, None]))
        case _:
            plant.reset_trip()


def test_every_fault_is_drawn() -> None:
    assert set(WORST) == set(LIMITS)


@pytest.mark.parametrize("part", range(PARTS))
def test_random_machines_never_lose_mass_run_negative_or_show_nonsense(part: int) -> None:
    outcomes: Counter[str] = Counter()
    for k in range(RUNS // PARTS):
        seed = part * (RUNS // PARTS) + k
        draw = random.Random(f"fuzz {seed}")
        plant = PhysicalPlant(drawn(draw, seed))
        circuit = plant.circuit
        mass_kg, energy_j = plant.circuit_kg + plant.cylinder_kg, circuit.energy_j
        for second in range(1, SECONDS + 1):
            if draw.random() < 0.04:
                handle(plant, draw)
            plant.run_until(float(second))
            high_kg, low_kg, liquid_kg, oil_kg = circuit.inventories_kg
            assert high_kg > 0.0, seed
            assert low_kg > 0.0, seed
            assert liquid_kg >= -1e-12, seed
            assert oil_kg >= -1e-12, seed
            truth = plant.truth()
            assert all(math.isfinite(value) for value in truth.values()), seed
            for role, value in truth.items():
                if role.value.endswith("temperature"):
                    assert 200.0 < value < 470.0, (seed, role, value)
            assert 5e4 < truth[Role.SUCTION_PRESSURE] < 6e6, seed
        missing = plant.circuit_kg + plant.hose_kg + plant.cylinder_kg + plant.leaked_kg - mass_kg
        assert abs(missing) < 1e-9 * mass_kg, seed
        assert abs(circuit.energy_j - energy_j - circuit.heat_in_j) < 1e-3, seed
        outcomes[str(plant.trip)] += 1
    assert outcomes["None"] > 10  # most machines run on
    assert sum(outcomes.values()) == RUNS // PARTS
