"""Marks of a charge step, as the ledger takes them."""

from chargeassist.model.events import Mark, MarkKind


def begun(t: float) -> Mark:
    return Mark(t=t, kind=MarkKind.STEP_BEGUN)


def ended(t: float, mass_kg: float | None = None) -> Mark:
    return Mark(t=t, kind=MarkKind.STEP_ENDED, mass_kg=mass_kg)
