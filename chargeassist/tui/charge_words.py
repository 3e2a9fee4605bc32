"""The charge in words: what is in the circuit, and how much of it belongs to the open step."""

from chargeassist.guide.snapshot import Snapshot
from chargeassist.model import display
from chargeassist.model.display import UnitSystem


def in_circuit(snapshot: Snapshot, system: UnitSystem) -> str:
    """Return the charge in the circuit against the full one: "2.31 kg of 2.45 kg".

    What the scale says of an open step counts; where none says it, more may be in than is known.
    """
    step_open, so_far_kg = snapshot.facts.step_open, 0.0
    unknown = {step.came_out for step in snapshot.facts.ledger if step.mass_kg is None}
    if step_open is not None:
        so_far_kg = step_open.so_far_kg or 0.0
        if step_open.so_far_kg is None or step_open.scale_lost:
            unknown |= {False}
    total = display.mass(snapshot.facts.total_kg + so_far_kg, system)
    bound = {(): "", (False,): "at least ", (True,): "at most "}.get(tuple(unknown), "about ")
    full = display.mass(snapshot.job.charge.full_kg, system)
    return f"{bound}{total} of {full}"


def in_open_step(snapshot: Snapshot, system: UnitSystem) -> str:
    """Return how much of what is in the circuit belongs to the step that is open; else nothing."""
    step_open = snapshot.facts.step_open
    if step_open is None:
        return ""
    if step_open.so_far_kg is None:
        return "the open step not counted"
    lost = ", then the scale fell silent" if step_open.scale_lost else ""
    return f"{display.mass(step_open.so_far_kg, system)} of it in the open step{lost}"
