"""Facts an advisor is asked about."""

from dataclasses import replace

from chargeassist.guide.charging import Findings, advise
from chargeassist.guide.conditions import Condition, ConditionState
from chargeassist.guide.cure import Cure, Remedy
from chargeassist.guide.diagnosis import RankedCause
from chargeassist.guide.evidence import Said
from chargeassist.guide.fault_terms import Cause
from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.events import Advice
from chargeassist.model.job import Guards, Hold, Job
from chargeassist.model.limits import Authority, Limit, LimitKey
from chargeassist.model.units import Quantity, Reference
from chargeassist.stream.facts import (
    ChannelFacts,
    ChargeStep,
    Facts,
    HoldFacts,
    Measured,
    SettleState,
    Settling,
)
from tests.unit.guide import room
from tests.unit.guide.bare_facts import bare_facts

JOB = replace(
    room.JOB,
    hold=Hold(required_hz=72.0),
    guards=Guards(
        liquid_pressure_high_pa_gauge=3.0e6,
        suction_pressure_low_pa_gauge=6.5e5,
        discharge_temp_high_k=383.15,
        current_high_a=9.0,
    ),
)

VALUES = {
    Role.LIQUID_PRESSURE: 2.3e6,
    Role.LIQUID_TEMPERATURE: 305.0,
    Role.SUCTION_PRESSURE: 9.0e5,
    Role.DISCHARGE_TEMPERATURE: 340.0,
    Role.COMPRESSOR_CURRENT: 7.0,
}


def channel(role: Role, value_si: float | None, *, age_s: float | None = 0.5) -> ChannelFacts:
    pressure = role.quantity is Quantity.PRESSURE
    return ChannelFacts(
        channel=Channel(
            name=role.value,
            role=role,
            unit="Pa",
            reference=Reference.GAUGE if pressure else None,
            accuracy=Accuracy(absolute_si=0.2),
        ),
        value_si=value_si,
        age_s=age_s,
    )


def channels(**changed: float | None) -> tuple[ChannelFacts, ...]:
    values = {role.value: value for role, value in VALUES.items()} | changed
    return tuple(channel(Role(name), value) for name, value in values.items())


def settled(value_k: float, expanded_k: float | None = 0.4, **changes: object) -> Facts:
    """Return the facts of a tick at which everything is well and subcooling has settled."""
    reading = Measured(value_k=value_k, expanded_k=expanded_k)
    facts = bare_facts(
        t=1000.0,
        channels=channels(),
        subcooling=reading,
        superheat=Measured(value_k=6.0, expanded_k=0.5),
        liquid_saturation_k=309.0,
        suction_saturation_k=280.0,
        settling=Settling(state=SettleState.SETTLED, cause="settled", since_s=300.0),
        settled=reading,
        settled_superheat_k=6.0,
        hold=HoldFacts(required_hz=72.0, actual_hz=72.0, held=True, told_by="technician"),
    )
    return replace(facts, **changes)  # type: ignore[arg-type]


def moving(cause: str = "rising", **changes: object) -> Facts:
    settling = Settling(state=SettleState.MOVING, cause=cause, since_s=100.0, slope_k_per_s=0.01)
    return replace(settled(3.0, settled=None, settling=settling), **changes)  # type: ignore[arg-type]


def step(mass_kg: float | None) -> ChargeStep:
    return ChargeStep(number=1, mass_kg=mass_kg, begun_t=1.0, ended_t=2.0, measured_by="technician")


def said(
    facts: Facts, previous: Advice | None = None, job: Job = JOB, *, expired: bool = False
) -> Advice:
    return advise(job, facts, previous, findings=Findings(hold_expired=expired))


def condition(
    key: LimitKey, state: ConditionState, limit_si: float, value_si: float | None = None
) -> Findings:
    """Return the findings of a tick at which one condition, invented, is in `state`."""
    limit = Limit(
        key=key,
        value_si=limit_si,
        as_written="invented",
        source="invented manual, page 12",
        edition="",
        authority=Authority.EQUIPMENT,
    )
    return Findings(conditions=(Condition(limit=limit, state=state, value_si=value_si),))


def cure(remedy: Remedy, cause: Cause = Cause.RESTRICTION) -> Cure:
    ranked = RankedCause(
        cause=cause, pattern="", probability=0.6, asked=(), said=Said(()), next_check=""
    )
    return Cure(remedy=remedy, cause=ranked, probability=0.83)


COARSE_SCALE = replace(JOB, charge=replace(JOB.charge, scale_resolution_kg=0.1))
