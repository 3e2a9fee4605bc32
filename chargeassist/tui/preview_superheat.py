"""Invented moments of a fixed orifice, charged by superheat, for the pictures of the dashboard."""

from dataclasses import replace

from chargeassist.guide.ahead import ahead
from chargeassist.guide.snapshot import Snapshot
from chargeassist.model.events import Action, Advice
from chargeassist.model.job import Target
from chargeassist.model.judged import SUPERHEAT
from chargeassist.model.limits import Method
from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.model.values import NoValue
from chargeassist.stream.facts import ChargeStep, Forecast, Measured, TargetFacts

TARGET = Target(
    method=Method.SUPERHEAT,
    tolerance_k=25.0 / 9.0,
    source="invented: published table",
    tolerance_source="invented profile",
)
GOAL = TargetFacts(
    value_k=6.5, tolerance_k=25.0 / 9.0, expanded_k=1.4, basis="published table",
    outdoor_k=KELVIN_AT_0_C + 29.9, wet_bulb_k=KELVIN_AT_0_C + 18.0, wet_bulb_told_by="probe",
    floor_k=20.0 / 9.0,
)  # fmt: skip
STEP = ChargeStep(
    number=1, mass_kg=0.11, begun_t=1050.0, ended_t=1150.0, measured_by="scale", before_k=18.1,
    after_k=14.2, gain_k_per_kg=-35.5, gain_over_kg=0.11,
)  # fmt: skip


def by_superheat(base: Snapshot) -> Snapshot:
    """Return `base`, settled below its target, as a unit whose superheat is too high."""
    reading = Measured(value_k=14.2, expanded_k=0.6)
    facts = replace(
        base.facts,
        judged=SUPERHEAT,
        target=GOAL,
        superheat=reading,
        settled=reading,
        settled_superheat_k=14.2,
        settled_subcooling_k=1.2,
        ledger=(STEP,),
    )
    figures = {
        "superheat_k": 14.2, "expanded_k": 0.6, "target_k": 6.5, "tolerance_k": 25.0 / 9.0,
        "floor_k": 20.0 / 9.0, "outdoor_k": KELVIN_AT_0_C + 29.9,
        "wet_bulb_k": KELVIN_AT_0_C + 18.0, "steps_left": 2.0, "minutes_s": 600.0,
    }  # fmt: skip
    advice = Advice(
        t=base.t, action=Action.ADD, cause="superheat_over_target", figures=figures, mass_kg=0.11
    )
    job = replace(base.job, target=TARGET, profile="california-installer", role="installer")
    return replace(base, job=job, facts=facts, advice=advice, diagnosis=None)


def superheat_moving(base: Snapshot) -> Snapshot:
    """Return `base`, which moves, as a unit whose superheat still falls."""
    forecast = Forecast(
        value_k=9.9, low_k=9.2, high_k=10.8, seconds=70.0, seconds_low=50.0, seconds_high=110.0
    )
    settled = by_superheat(base)
    facts = replace(
        settled.facts,
        superheat=Measured(value_k=11.1, expanded_k=0.6),
        settled=None,
        settled_superheat_k=None,
        settled_subcooling_k=None,
        ledger=(replace(STEP, after_k=None, gain_k_per_kg=None),),
        settling=replace(
            base.facts.settling, cause="falling", slope_k_per_s=-0.008, forecast=forecast
        ),
    )
    advice = Advice(
        t=base.t,
        action=Action.WAIT,
        cause="superheat_settling",
        subject="falling",
        figures={"slope_k_per_s": -0.008, "seconds_s": 70.0},
    )
    return replace(settled, facts=facts, advice=advice, ahead=ahead(settled.job, facts))


def no_target(base: Snapshot) -> Snapshot:
    """Return `base` where the published table has a dash."""
    settled = by_superheat(base)
    why = NoValue(
        "the table has no value at outdoor air of 95.0 °F (35.0 °C) and a return wet bulb of "
        "60.0 °F (15.6 °C): no valid test, weigh the charge in"
    )
    advice = Advice(t=base.t, action=Action.FIX_FIRST, cause="no_target", subject=why.reason)
    return replace(settled, facts=replace(settled.facts, target=why), advice=advice)
