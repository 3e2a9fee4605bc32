"""How fast the physical plant runs: ``python tests/benchmarks/plant/speed.py``.

Simulated time over processor time of one core, with readings taken once a simulated second, for
each refrigerant and metering device: settled, while refrigerant is added, with a hunting valve,
from rest. Processor time, so that neighbours on the machine count less; the best of several runs.
Nothing here passes or fails.
"""

import statistics
import time
from collections.abc import Callable

from chargeassist.plant.faults import MachineFaults
from chargeassist.plant.metering import ValveKind
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.physical_settings import PhysicalSettings
from chargeassist.plant.probe_set import ProbeSet

SECONDS = 600
RUNS = 5


def run(plant: PhysicalPlant, seconds: int, probes: ProbeSet | None = None) -> float:
    """Return simulated over processor time."""
    start_t = plant.t
    begin = time.process_time()
    for second in range(1, seconds + 1):
        plant.run_until(start_t + second)
        truth = plant.truth()
        if probes is not None:
            probes.follow(truth, 1.0)
            probes.read()
    return seconds / (time.process_time() - begin)


def plant_of(**changes: object) -> PhysicalPlant:
    given = {"charge_kg": 2.15, "start_hz": 72.0, "settle_s": 300.0, **changes}
    return PhysicalPlant(PhysicalSettings(**given))  # type: ignore[arg-type]


def adding() -> PhysicalPlant:
    plant = plant_of(charge_kg=1.8, flow_kg_per_s=0.0008)
    plant.begin_step()
    return plant


CASES: dict[str, Callable[[], PhysicalPlant]] = {
    "R-32, settled": plant_of,
    "R-410A, settled": lambda: plant_of(refrigerant="R-410A"),
    "R-454B, settled": lambda: plant_of(refrigerant="R-454B"),
    "electronic valve": lambda: plant_of(valve=ValveKind.ELECTRONIC),
    "orifice": lambda: plant_of(valve=ValveKind.ORIFICE),
    "no liquid seal": lambda: plant_of(charge_kg=1.7),
    "refrigerant being added": adding,
    "hunting valve": lambda: plant_of(faults=MachineFaults(bulb_lag_s=11.0, front_lag_s=4.0)),
    "starting from rest": lambda: plant_of(start_hz=0.0),
}


def main() -> None:
    print(f"{'case':28s} {'x real time':>12s}   (best of {RUNS}; median)")
    for name, make in CASES.items():
        rates = []
        for _ in range(RUNS):
            plant = make()
            if name == "starting from rest":
                plant.command_frequency()
            rates.append(run(plant, SECONDS))
        print(f"{name:28s} {max(rates):12.0f}   {statistics.median(rates):12.0f}")
    rates = [run(plant_of(), SECONDS, ProbeSet(1)) for _ in range(RUNS)]
    print(
        f"{'R-32 with all probes read':28s} {max(rates):12.0f}   {statistics.median(rates):12.0f}"
    )
    begin = time.process_time()
    plant_of(settle_s=900.0)
    print(f"making a plant that ran 900 s: {time.process_time() - begin:.3f} s")


if __name__ == "__main__":
    main()
