"""Random jobs for judging advice: machines, loads, deficits and probes that nobody tuned for.

Every job is drawn from its own seed: a machine with its own coefficients, weather, a charge that is
too low, a probe set good or poor. What the right charge is, and which subcooling belongs to it, the
plant itself says: the target is what the machine shows at its full charge under that load, as a
plate would say it, in whole tenths of a kelvin. The spreads are assumptions of this project.
"""

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from chargeassist.model.channels import Accuracy, Role
from chargeassist.model.units import WATT_PER_TON
from chargeassist.plant.faults import FaultCourse
from chargeassist.plant.metering import ValveKind
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.physical_settings import PhysicalSettings
from chargeassist.plant.probe_grades import GRADES, ProbeGrade
from chargeassist.plant.probe_set import ProbeFault, ProbeFaultKind, ProbeSet
from chargeassist.plant.probes import PROBE_MODELS, ProbeModel
from chargeassist.plant.unit import Unit, sized_unit

PLATE_KG_PER_TON: Final = {
    "R-22": 1.03, "R-32": 0.80, "R-407C": 1.0, "R-410A": 0.97, "R-454B": 0.87,
}  # fmt: skip
"""Charge on the plate [kg per ton]; R-410A is the base machine's, the others follow density."""

TARGET_LOW_K: Final = 3.0
TARGET_HIGH_K: Final = 8.5
"""Subcooling that a plate asks for lies between these [K]; other machines are drawn again."""

SUPERHEAT_LOW_K: Final = 5.0
SUPERHEAT_HIGH_K: Final = 14.0
"""Superheat that an orifice shows at its full charge, in the loads drawn here [K]: from 9 to 25 °F,
the middle of the published table."""

MOST_DRAWS: Final = 80

SPREADS: Final = {
    "condensing_w_per_k": 0.15,
    "condenser_air_side_w_per_k": 0.12,
    "condenser_air_w_per_k": 0.12,
    "desuperheating_w_per_k": 0.15,
    "subcooling_w_per_k": 0.2,
    "boiling_w_per_k": 0.12,
    "superheating_w_per_k": 0.15,
    "evaporator_m3": 0.06,
    "suction_line_m3": 0.3,
    "liquid_line_m3": 0.3,
    "oil_kg": 0.3,
    "oil_lag_s": 0.3,
    "boil_off_s": 0.35,
    "shell_j_per_k": 0.2,
    "valve_superheat_k": 0.12,
    "indoor_air_kg_per_s": 0.1,
}
"""Coefficients that differ from machine to machine, and by how much [half width, relative]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RandomJob:
    """One machine with its load, its deficit and its probes.

    Attributes
    ----------
    seed : int
    settings : PhysicalSettings
        Of the plant as it is found: too little charge, running at its start frequency.
    full_kg : float
        Charge at which the target is met under this load [kg].
    target_subcooling_k : float
        True subcooling at that charge, rounded to a tenth [K].
    grade : str
        Key of `GRADES`.
    models : mapping of Role to ProbeModel
    accuracies : mapping of Role to Accuracy
        As declared for the two pressures and the two line temperatures.
    probe_faults : tuple of ProbeFault
        At least the calibration errors, inside the declared limits.
    trouble : str
        What is wrong beside the charge: a field of `MachineFaults`, or role and trouble of a probe;
        empty for nothing.
    target_superheat_k : float
        True superheat at the full charge, rounded to a tenth, of a machine with an orifice; else 0.
    """

    seed: int
    settings: PhysicalSettings
    full_kg: float
    target_subcooling_k: float
    grade: str
    models: Mapping[Role, ProbeModel]
    accuracies: Mapping[Role, Accuracy]
    probe_faults: tuple[ProbeFault, ...]
    trouble: str
    target_superheat_k: float = 0.0

    def plant(self) -> PhysicalPlant:
        """Return the plant as it is found."""
        return PhysicalPlant(self.settings)

    def probes(self) -> ProbeSet:
        """Return its probes."""
        return ProbeSet(self.seed, self.models, faults=self.probe_faults)


def random_job(seed: int, *, faulty: bool = False, orifice: bool = False) -> RandomJob:
    """Return the job of a seed.

    Parameters
    ----------
    seed : int
        Same seed, same job.
    faulty : bool
        Let the machine or a probe have one trouble as well.
    orifice : bool
        Let it meter by a fixed orifice; then its superheat says whether it can be used.
    """
    draw = random.Random(f"random job {seed}")  # seeded play, no secret
    for _ in range(MOST_DRAWS):
        full = _full_settings(draw, seed)
        if orifice:
            full = replace(full, valve=ValveKind.ORIFICE)
        plant = PhysicalPlant(full)
        target_k, superheat_k = round(plant.subcooling_k, 1), round(plant.superheat_k, 1)
        usable = TARGET_LOW_K <= target_k <= TARGET_HIGH_K
        if orifice:
            usable = SUPERHEAT_LOW_K <= superheat_k <= SUPERHEAT_HIGH_K
        if plant.trip is None and usable:
            break
    else:
        raise AssertionError(f"no usable machine in {MOST_DRAWS} draws of seed {seed}")
    grade_name = draw.choice(sorted(GRADES))
    models, accuracies, errors = _probes(draw, GRADES[grade_name])
    courses: tuple[FaultCourse, ...] = ()
    trouble = ""
    if faulty:
        courses, lying, trouble = _trouble(draw, full)
        errors += lying
    deficit = draw.uniform(0.06, 0.3)
    found = replace(
        full,
        charge_kg=full.charge_kg * (1.0 - deficit),
        start_hz=full.required_hz * draw.uniform(0.35, 0.6),
        settle_s=600.0,
        gust_k=draw.uniform(0.05, 0.4),
        courses=courses,
        seed=seed,
    )
    return RandomJob(
        seed=seed,
        settings=found,
        full_kg=full.charge_kg,
        target_subcooling_k=target_k,
        grade=grade_name,
        models=models,
        accuracies=accuracies,
        probe_faults=errors,
        trouble=trouble,
        target_superheat_k=superheat_k if orifice else 0.0,
    )


def _full_settings(draw: random.Random, seed: int) -> PhysicalSettings:
    """Return a machine at its full charge, settled at the required frequency in still weather."""
    name = draw.choice(sorted(PLATE_KG_PER_TON))
    tons = draw.choice([1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0])
    plate_kg = round(PLATE_KG_PER_TON[name] * tons * draw.uniform(0.9, 1.1), 2)
    required_hz = float(draw.randrange(45, 111))
    unit = _varied(draw, sized_unit(name, tons * WATT_PER_TON, plate_kg, required_hz))
    return_k = draw.uniform(294.0, 301.0)
    return PhysicalSettings(
        refrigerant=name,
        capacity_w=tons * WATT_PER_TON,
        plate_kg=plate_kg,
        charge_kg=plate_kg * draw.uniform(0.97, 1.05),
        required_hz=required_hz,
        start_hz=required_hz,
        load_hz=0.5 * required_hz,
        oil_return_hz=1.2 * required_hz,
        settle_s=1500.0,
        valve=ValveKind.ELECTRONIC if draw.random() < 0.4 else ValveKind.THERMOSTATIC,
        outdoor_k=draw.uniform(291.0, 311.0),
        return_k=return_k,
        return_wet_k=return_k - draw.uniform(4.0, 9.0),
        gust_k=0.0,
        altitude_m=draw.choice([0.0, 210.0, 800.0, 1450.0]),
        flow_kg_per_s=draw.uniform(0.0006, 0.0025),
        hose_s=draw.uniform(3.0, 10.0),
        cylinder_kg=draw.uniform(4.0, 10.0),
        unit=unit,
        seed=seed,
    )


def _varied(draw: random.Random, unit: Unit) -> Unit:
    changes = {
        name: getattr(unit, name) * (1.0 + draw.uniform(-spread, spread))
        for name, spread in SPREADS.items()
    }
    return replace(
        unit,
        bulb_lag_s=draw.uniform(40.0, 80.0),
        front_lag_s=draw.uniform(2.0, 3.2),
        **changes,
    )


def _probes(
    draw: random.Random, grade: ProbeGrade
) -> tuple[dict[Role, ProbeModel], dict[Role, Accuracy], tuple[ProbeFault, ...]]:
    models: dict[Role, ProbeModel] = {}
    accuracies: dict[Role, Accuracy] = {}
    errors: list[ProbeFault] = []
    for role, model in PROBE_MODELS.items():
        if role in (Role.LIQUID_PRESSURE, Role.SUCTION_PRESSURE):
            step, limit = grade.pressure_step_pa, grade.pressure_limit_pa
        elif role in (Role.LIQUID_TEMPERATURE, Role.SUCTION_TEMPERATURE):
            step, limit = grade.temp_step_k, grade.temp_limit_k
        else:
            models[role] = model
            continue
        models[role] = replace(
            model,
            lag_s=model.lag_s * grade.lag * draw.uniform(0.7, 1.3),
            noise_si=model.noise_si * grade.noise * draw.uniform(0.7, 1.3),
            drift_si=model.drift_si * grade.noise * draw.uniform(0.7, 1.3),
            resolution_si=step,
        )
        accuracies[role] = Accuracy(absolute_si=limit)
        # Calibration errors fill the declared limits evenly to two thirds: most probes are better.
        amount = draw.uniform(-limit, limit) * 2.0 / 3.0
        errors.append(ProbeFault(role=role, trouble=ProbeFaultKind.ZERO, amount=amount))
    return models, accuracies, tuple(errors)


def _trouble(
    draw: random.Random, settings: PhysicalSettings
) -> tuple[tuple[FaultCourse, ...], tuple[ProbeFault, ...], str]:
    """Return one trouble of the machine or of a probe, and its name."""
    start_s = draw.uniform(0.0, 1200.0)
    plate_kg = settings.plate_kg
    choices: list[FaultCourse | ProbeFault] = [
        _course("non_condensable_mol", draw.uniform(0.03, 0.08), 0.0),
        _course("restriction_pa", draw.uniform(0.6e6, 1.3e6), 0.0),
        _course("outdoor_air_share", draw.uniform(0.4, 0.65), 0.0),
        _course("indoor_air_share", draw.uniform(0.4, 0.7), 0.0),
        _course("valve_stuck", draw.choice([0.55, 1.5]), 0.0),
        _course("bulb_lag_s", draw.uniform(9.0, 12.0), 0.0),
        _course("compressor_leakage", draw.uniform(0.15, 0.35), 0.0),
        _course("leak_kg_per_s", plate_kg * draw.uniform(3e-5, 1e-4), start_s),
        _loose(draw, start_s),
        _creeping(draw, start_s),
    ]
    chosen = draw.choice(choices)
    if isinstance(chosen, ProbeFault):
        return (), (chosen,), f"{chosen.role.value} {chosen.trouble.value}"
    courses: tuple[FaultCourse, ...] = (chosen,)
    if chosen.name == "bulb_lag_s":
        courses += (_course("front_lag_s", 4.0, 0.0),)
    return courses, (), chosen.name


def _course(name: str, amount: float, start_s: float) -> FaultCourse:
    return FaultCourse(name=name, amount=amount, start_s=start_s, full_s=start_s)


def _loose(draw: random.Random, start_s: float) -> ProbeFault:
    return ProbeFault(
        role=Role.LIQUID_TEMPERATURE,
        trouble=ProbeFaultKind.LOOSE,
        amount=draw.uniform(0.2, 0.6),
        start_s=start_s,
        full_s=start_s,
    )


def _creeping(draw: random.Random, start_s: float) -> ProbeFault:
    return ProbeFault(
        role=Role.LIQUID_PRESSURE,
        trouble=ProbeFaultKind.ZERO,
        amount=math.copysign(draw.uniform(4e4, 9e4), draw.random() - 0.5),
        start_s=start_s,
        full_s=start_s + 600.0,
    )
