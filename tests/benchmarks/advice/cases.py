"""Random machines made into jobs: plate, tolerance, step cap and how the amount becomes known.

The machine, its load, its deficit and its probes come from `tests.benchmarks.plant.random_units`.
What a job says beside them is drawn here from the same seed. Spreads are assumptions.
"""

import random
from dataclasses import dataclass, replace
from typing import Final

from chargeassist.model.channels import Channel, Role
from chargeassist.model.job import ChargeLimits, Hold, Job, Site, Target
from chargeassist.model.units import Quantity, Reference
from chargeassist.plant.physical import PhysicalPlant
from tests.benchmarks.plant.random_units import RandomJob, random_job

TOLERANCES_K: Final = (0.8, 2.0 / 1.8, 3.0 / 1.8)
"""About 1.5, 2 and 3 °F; the last is what California Reference Appendix RA3.2 allows (from memory).
"""

CAP_OF_PLATE: Final = 0.05
ALLOWANCE_OF_PLATE: Final = 0.10
"""Room for the line set [1]: the size of steps is judged here, not the limit of a full charge."""

SCALE_STEP_KG: Final = 0.005
TOLD_SHARE: Final = 0.25
"""Share of jobs with a scale nobody connected: the amount is said with the end of a step."""

STEADY_AFTER_S: Final = 1500.0
UNITS: Final = {
    Quantity.PRESSURE: "Pa",
    Quantity.TEMPERATURE: "K",
    Quantity.CURRENT: "A",
    Quantity.FREQUENCY: "Hz",
    Quantity.MASS: "kg",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One job to be charged.

    Attributes
    ----------
    random : RandomJob
    job : Job
    channels : tuple of Channel
    told : bool
        The amount of a step is said, not read from a connected scale.
    """

    random: RandomJob
    job: Job
    channels: tuple[Channel, ...]
    told: bool

    @property
    def high_k(self) -> float:
        """Upper end of the tolerance [K]."""
        return self.job.target.middle_k + self.job.target.tolerance_k

    @property
    def low_k(self) -> float:
        """Lower end of the tolerance [K]."""
        return self.job.target.middle_k - self.job.target.tolerance_k

    def steady_k(self, charge_kg: float) -> float:
        """Return the true subcooling at which this machine settles with a charge [K]."""
        return self.settled(charge_kg).subcooling_k

    def settled(self, charge_kg: float) -> PhysicalPlant:
        """Return this machine as it stands with a charge, in still air, once it has settled."""
        settings = self.random.settings
        still = replace(
            settings,
            charge_kg=charge_kg,
            gust_k=0.0,
            start_hz=settings.required_hz,
            settle_s=STEADY_AFTER_S,
        )
        return PhysicalPlant(still)


def case(
    seed: int,
    cap_of_plate: float = CAP_OF_PLATE,
    *,
    faulty: bool = False,
    machine: RandomJob | None = None,
) -> Case:
    """Return the job of a seed.

    Parameters
    ----------
    seed : int
    cap_of_plate : float
        Largest step as a share of the plate charge [1].
    faulty : bool
        With one trouble of machine or probe beside the charge.
    machine : RandomJob, optional
        Instead of the one of the seed.
    """
    if machine is None:
        machine = random_job(seed, faulty=faulty)
    draw = random.Random(f"case {seed}")  # seeded play, no secret
    settings = machine.settings
    told = draw.random() < TOLD_SHARE
    job = Job(
        name=f"random job {seed}",
        refrigerant=settings.refrigerant,
        target=Target(
            subcooling_k=machine.target_subcooling_k,
            tolerance_k=draw.choice(TOLERANCES_K),
            source="what the simulated machine shows at its full charge",
        ),
        charge=ChargeLimits(
            plate_kg=settings.plate_kg,
            weighed_in_kg=settings.charge_kg,
            allowance_kg=ALLOWANCE_OF_PLATE * settings.plate_kg,
            step_cap_kg=cap_of_plate * settings.plate_kg,
            scale_resolution_kg=SCALE_STEP_KG,
        ),
        site=Site(altitude_m=settings.altitude_m),
        hold=Hold(required_hz=settings.required_hz),
    )
    channels = tuple(
        _channel(machine, role)
        for role in machine.models
        if not (told and role is Role.CYLINDER_MASS)
    )
    return Case(random=machine, job=job, channels=channels, told=told)


def _channel(machine: RandomJob, role: Role) -> Channel:
    reference = None
    if role is Role.BAROMETER:
        reference = Reference.ABSOLUTE
    elif role.quantity is Quantity.PRESSURE:
        reference = Reference.GAUGE
    return Channel(
        name=role.value,
        role=role,
        unit=UNITS[role.quantity],
        reference=reference,
        accuracy=machine.accuracies.get(role),
        resolution_si=machine.models[role].resolution_si,
    )
