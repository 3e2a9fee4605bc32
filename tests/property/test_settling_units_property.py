"""The verdict depends on what was measured, not on its unit nor on which channel spoke first."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.events import ChannelDeclared, Mark, MarkKind, Reading, Settled, Unsettled
from chargeassist.model.job import ChargeLimits, Job, Site, Target
from chargeassist.model.units import Quantity, Reference, find_unit
from chargeassist.stream.processor import Processor
from chargeassist.stream.settling import SettlingDetector

JOB = Job(
    name="invented",
    refrigerant="R-32",
    target=Target(subcooling_k=5.0, tolerance_k=0.8, source="invented"),
    charge=ChargeLimits(plate_kg=2.3, step_cap_kg=0.11, weighed_in_kg=2.0),
    site=Site(altitude_m=210.0),
)
USUAL = {
    Role.LIQUID_PRESSURE: 2.3e6,
    Role.LIQUID_TEMPERATURE: 308.0,
    Role.SUCTION_PRESSURE: 8.5e5,
    Role.SUCTION_TEMPERATURE: 285.0,
}
SECONDS, STEP_S = 620, 300


def readings(seed: int) -> dict[Role, list[float]]:
    """Return 1 Hz readings [Pa], [K] of an invented rise that a charge step repeats."""
    rng = np.random.default_rng([78, seed])
    t = np.arange(float(SECONDS))
    tau_s = float(rng.uniform(15.0, 45.0))
    rise = (1.0 - np.exp(-t / tau_s)) + np.where(
        t >= STEP_S, 1.0 - np.exp(-np.maximum(t - STEP_S, 0.0) / tau_s), 0.0
    )
    values = {}
    for role, usual in USUAL.items():
        noise = 2000.0 if role.quantity is Quantity.PRESSURE else 0.05
        moved = -rise if role is Role.LIQUID_TEMPERATURE else 0.0
        values[role] = (usual + moved + rng.normal(0.0, noise, t.size)).tolist()
    return values


def verdicts(
    values: dict[Role, list[float]], order: list[Role], pressure: str, temperature: str
) -> list[tuple[float, str, float]]:
    """Run the processor on readings that were written in these units; return its verdicts."""
    units = {
        role: find_unit(
            pressure if role.quantity is Quantity.PRESSURE else temperature, role.quantity
        )
        for role in USUAL
    }
    processor = Processor(JOB)
    for role in order:
        gauge = Reference.GAUGE if role.quantity is Quantity.PRESSURE else None
        accuracy = Accuracy(absolute_si=3000.0 if gauge else 0.2)
        processor.take(
            ChannelDeclared(
                t=0.0,
                channel=Channel(
                    name=role.value,
                    role=role,
                    unit=units[role].symbol,
                    reference=gauge,
                    accuracy=accuracy,
                ),
            )
        )
    said = []
    for second in range(SECONDS):
        if second == STEP_S:
            processor.take(Mark(t=second + 0.2, kind=MarkKind.STEP_BEGUN))
            processor.take(Mark(t=second + 0.3, kind=MarkKind.STEP_ENDED, mass_kg=0.05))
        for role in order:
            unit = units[role]
            written = unit.from_si(values[role][second])
            processor.take(Reading(t=second + 0.5, channel=role.value, value=unit.to_si(written)))
        _, new = processor.tick(second + 1.0)
        said += [
            (v.t, type(v).__name__, v.value_k if isinstance(v, Settled) else 0.0)
            for v in new
            if isinstance(v, Settled | Unsettled)
        ]
    return said


@given(seed=st.integers(0, 10_000), order=st.permutations(list(USUAL)))
@settings(max_examples=6, deadline=None)
def test_neither_unit_nor_order_of_the_channels_changes_a_verdict(
    seed: int, order: list[Role]
) -> None:
    values = readings(seed)
    plain = verdicts(values, list(USUAL), "Pa", "K")
    assert "Settled" in {name for _, name, _ in plain}
    other = verdicts(values, order, "psi", "°F")
    assert [(t, name) for t, name, _ in other] == [(t, name) for t, name, _ in plain]
    for (_, _, here), (_, _, there) in zip(plain, other, strict=True):
        assert math.isclose(here, there, abs_tol=1e-6)


@given(seed=st.integers(0, 10_000))
@settings(max_examples=8, deadline=None)
def test_channels_it_does_not_judge_by_change_nothing(seed: int) -> None:
    rng = np.random.default_rng([79, seed])
    here, there = SettlingDetector(), SettlingDetector()
    for t in range(300):
        own, other, odd = rng.normal(0.0, 0.1, 3).tolist()
        plain = {"subcooling": 5.0 + own, "superheat": 9.0 + other}
        mixed = {"t_out": 300.0 + odd, "superheat": 9.0 + other, "subcooling": 5.0 + own}
        assert here.update(float(t), plain) == there.update(float(t), mixed)
        assert here.chance_settled == there.chance_settled
