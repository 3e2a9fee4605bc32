"""What the report says of the unit, its plate and its line set, as the job file has it."""

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.installation import LineSet, Plate
from chargeassist.model.job import Job
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Reference, find_unit
from chargeassist.model.values import NoValue
from chargeassist.physics.table import shipped_table
from chargeassist.physics.warming_potential import blend_gwp, co2_equivalent_kg
from chargeassist.qa.report_table import NOT_SAID


def unit_facts(job: Job, last: Snapshot | None, system: UnitSystem) -> list[tuple[str, str]]:
    """Return label and text of each line, in the units of `system`."""
    charge = job.charge
    hold = job.hold.required_hz
    total = None if last is None else last.facts.total_kg
    equipment = " ".join(filter(None, (job.equipment.make, job.equipment.model)))
    return [
        ("Unit", plain(equipment, 120) or NOT_SAID),
        ("Serial number", plain(job.equipment.serial, 60) or NOT_SAID),
        ("Refrigerant", job.refrigerant),
        ("Charge on the plate", display.mass(charge.plate_kg, system)),
        *_plate(job.plate, system),
        *([] if job.line_set is None else [("Line set", _line_set(job.line_set, system))]),
        ("Line-set allowance", display.mass(charge.allowance_kg, system)),
        ("In the circuit before", display.mass(charge.weighed_in_kg, system)),
        ("In the circuit at the end", NOT_SAID if total is None else display.mass(total, system)),
        ("CO2 equivalent at the end", _co2(job, total)),
        ("Largest step allowed", display.mass(charge.step_cap_kg, system)),
        ("Judged at", "fixed speed" if hold is None else f"{hold:g} Hz"),
        ("Judged by", f"{job.target.judged.name}, source: {plain(job.target.source, 120)}"),
        ("Profile of limits", plain(job.profile, 80) or "none"),
        ("Company", plain(job.crew.company, 60) or NOT_SAID),
        ("Certificate", plain(job.crew.certificate, 60) or NOT_SAID),
    ]


def _plate(plate: Plate, system: UnitSystem) -> list[tuple[str, str]]:
    found = [
        (label, display.pressure(value, Reference.GAUGE, system))
        for label, value in (
            ("Design pressure, high side", plate.high_side_pa_gauge),
            ("Design pressure, low side", plate.low_side_pa_gauge),
        )
        if value is not None
    ]
    found += [
        (label, display.reading(value, quantity, None, system))
        for label, quantity, value in (
            ("Rated-load amps", Quantity.CURRENT, plate.rated_load_a),
            ("Minimum circuit ampacity", Quantity.CURRENT, plate.minimum_circuit_a),
            ("Rated voltage", Quantity.VOLTAGE, plate.voltage_v),
        )
        if value is not None
    ]
    return found


def _line_set(line: LineSet, system: UnitSystem) -> str:
    """Return length, height, and the pipes' outside diameters where the job gives them."""
    length, lift = (
        display.reading(value, Quantity.LENGTH, None, system)
        for value in (line.length_m, line.lift_m)
    )
    unit = find_unit("in" if system is UnitSystem.US else "mm", Quantity.LENGTH)
    pipes = [
        f"{name} {unit.from_si(diameter):.4g} {unit.symbol}"
        for name, diameter in (
            ("liquid", line.liquid_diameter_m),
            ("suction", line.suction_diameter_m),
        )
        if diameter is not None
    ]
    return "; ".join([f"{length}, {lift} of height", *filter(None, [", ".join(pipes)])])


def _co2(job: Job, total_kg: float | None) -> str:
    """Return the charge as tonnes of CO2, with whose warming potential it was reckoned."""
    gwp = blend_gwp(shipped_table().entries[job.refrigerant].composition)
    if isinstance(gwp, NoValue):
        return f"not known: {gwp.reason}"
    if total_kg is None:
        return NOT_SAID
    memory = ", from memory" if gwp.from_memory else ""
    mass = display.co2(co2_equivalent_kg(total_kg, gwp))
    return f"{mass}: charge times {gwp.value:g}, {gwp.edition}{memory}"
