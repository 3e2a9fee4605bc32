"""Running amps, supply voltage, its unbalance and phase order of the running unit."""

import math

from chargeassist.guide.stages.judging import Look, Number, cited, result_of
from chargeassist.model.channels import Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckJudged, CheckResult, Stage
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.electrical import (
    CurrentSays,
    VoltageUnbalance,
    judge_current,
    judge_rated_load,
    judge_voltage,
    voltage_unbalance,
)
from chargeassist.physics.uncertainty import Decision, decide

PHASE_ORDER = "phase_order"
"""Text of the mark that confirms it."""

OVER_RATED = "over_rated_load_a"
"""Figure of running amps above the rated load: by how much [A]; absent if they are not."""

VOLTAGES = {
    Entry.VOLTAGE_AB: Role.VOLTAGE_AB,
    Entry.VOLTAGE_BC: Role.VOLTAGE_BC,
    Entry.VOLTAGE_CA: Role.VOLTAGE_CA,
}
"""Typed voltages, and the probe that makes each unnecessary."""

DERATING_SOURCE = (
    "derating curve of NEMA MG 1, as read by an engineering table "
    "(engineeringtoolbox.com/electrical-motor-voltage-imbalance-d_648.html)"
)
PHASE_SOURCE = "symptoms of a reversed compressor: common practice, no published source"

_SAYS = {
    CurrentSays.AS_EXPECTED: "amps_as_expected",
    CurrentSays.LOW: "amps_low",
    CurrentSays.HIGH: "amps_high",
    CurrentSays.NOT_CERTAIN: "amps_not_certain",
}


def running_amps(look: Look) -> CheckJudged | None:
    """Return the check of running amps against the maker's figure at the test frequency.

    Amps are judged only while that frequency is held; without it a probe is ignored, and a typed
    reading is recorded but not judged.
    """
    plan, plate = look.job.stages.electrical, look.job.plate
    amps = look.by_probe(Role.COMPRESSOR_CURRENT)
    if amps is None and Entry.CURRENT in look.told:
        amps = look.typed(Entry.CURRENT, plan.amps_accuracy)
    if amps is None or (amps.live and not look.facts.hold.held):
        return None
    figures = {"amps_a": amps.value, **amps.figure("expanded_a")}
    if look.facts.hold.required_hz is not None:
        figures["frequency_hz"] = look.facts.hold.required_hz
    if not look.facts.hold.held:
        return look.judged("running_amps", CheckResult.NOT_JUDGED, "amps_not_held", figures)
    plate_source = ""
    if plate.rated_load_a is not None:
        plate_source = plate.source
        figures["rated_load_a"] = plate.rated_load_a
        over = judge_rated_load(amps.value, plate.rated_load_a, amps.u)
        if over in {Decision.FAIL, Decision.FAIL_NOT_CERTAIN}:
            figures[OVER_RATED] = amps.value - plate.rated_load_a
    if plan.amps_a is None or plan.amps_tolerance <= 0.0:
        if plan.amps_a is not None:
            figures["expected_a"] = plan.amps_a
        return look.judged(
            "running_amps", CheckResult.NOT_JUDGED, "amps_no_figure", figures, plate_source
        )
    found = judge_current(amps.value, plan.amps_a, tolerance=plan.amps_tolerance, expanded_a=amps.u)
    if isinstance(found, NoValue):
        return look.no_value("running_amps", found)
    figures |= {"expected_a": plan.amps_a, "tolerance_a": plan.amps_tolerance * plan.amps_a}
    if amps.declared:
        figures["conformance"] = found.inside_probability
    return look.judged(
        "running_amps",
        result_of(found.decision, amps),
        _SAYS[found.says],
        figures,
        plan.source,
        plate_source,
    )


def supply_voltage(look: Look) -> CheckJudged | None:
    """Return the check of the voltage furthest from the plate's against its tolerance."""
    read = _voltages(look)
    if not read:
        return None
    plate, limit = look.job.plate, look.job.limit(LimitKey.VOLTAGE_TOLERANCE)
    nameplate_v = plate.voltage_v
    if nameplate_v is None:
        volts = read[0]
        figures = {"volts_v": volts.value, **volts.figure("expanded_v")}
        return look.judged("supply_voltage", CheckResult.NOT_JUDGED, "voltage_no_plate", figures)
    rated_v = nameplate_v
    worst = max(read, key=lambda volts: abs(volts.value - rated_v))
    figures = {"volts_v": worst.value, "rated_v": rated_v, **worst.figure("expanded_v")}
    if limit is None:
        return look.judged(
            "supply_voltage", CheckResult.NOT_JUDGED, "voltage_no_limit", figures, plate.source
        )
    figures["tolerance"] = limit.value_si
    found = judge_voltage(worst.value, rated_v, expanded_v=worst.u, tolerance=limit.value_si)
    if isinstance(found, NoValue):
        return look.no_value("supply_voltage", found)
    inside = abs(found.deviation) <= limit.value_si
    return look.judged(
        "supply_voltage",
        result_of(found.decision, worst),
        "voltage_inside" if inside else "voltage_low" if found.deviation < 0.0 else "voltage_high",
        figures,
        limit.citation,
        plate.source,
    )


def unbalance(look: Look) -> CheckJudged | None:
    """Return the check of voltage unbalance, once all three voltages are known.

    Above the limit a motor must not run at all. Between the aim and the limit it gives less than
    its rated output, and the sentence says how much.
    """
    if look.job.plate.phases != 3:
        return None
    read = _voltages(look)
    if len(read) != len(VOLTAGES):
        return None
    coarsest = max(read, key=lambda volts: volts.u if volts.declared else math.inf)
    found = voltage_unbalance([volts.value for volts in read], expanded_v=coarsest.u)
    if isinstance(found, NoValue):
        return look.no_value("voltage_unbalance", found)
    return _judge_unbalance(look, found, coarsest, read[found.worst_leg].value)


def _judge_unbalance(
    look: Look, found: VoltageUnbalance, volts: Number, worst_v: float
) -> CheckJudged:
    aim = look.job.limit(LimitKey.VOLTAGE_UNBALANCE_AIM)
    high = look.job.limit(LimitKey.VOLTAGE_UNBALANCE_HIGH)
    figures = {
        "unbalance": found.unbalance,
        "mean_v": found.mean_v,
        "worst_pair": float(found.worst_leg + 1),
        "worst_v": worst_v,
    }
    if volts.declared:
        figures["expanded"] = found.expanded
    if aim is not None:
        figures["aim"] = aim.value_si
    if high is not None:
        figures["limit"] = high.value_si
    source = ""
    if not isinstance(found.derating, NoValue):
        figures["derating"] = found.derating
        source = DERATING_SOURCE if found.derating < 1.0 else ""
    limit = high or aim
    if limit is None:
        result, cause = CheckResult.NOT_JUDGED, "unbalance_no_limit"
    else:
        result = result_of(
            decide(found.unbalance, found.expanded, -math.inf, limit.value_si), volts
        )
        if found.unbalance > limit.value_si:
            cause = "unbalance_over"
        elif aim is not None and found.unbalance > aim.value_si:
            cause = "unbalance_over_aim"
        else:
            cause = "unbalance_inside"
    return look.judged("voltage_unbalance", result, cause, figures, *cited(high, aim), source)


def phase_order(look: Look) -> CheckJudged | None:
    """Return whether somebody confirmed the phase order, which no instrument here can see."""
    if look.job.plate.phases != 3:
        return None
    if PHASE_ORDER in look.facts.confirmed:
        result, cause = CheckResult.RECORDED, "phase_order_seen"
    elif look.stage is Stage.VERIFICATION:
        result, cause = CheckResult.NOT_JUDGED, "phase_order_open"
    else:
        return None
    return look.judged("phase_order", result, cause, {}, PHASE_SOURCE)


def _voltages(look: Look) -> list[Number]:
    accuracy = look.job.stages.electrical.voltage_accuracy
    read = (look.number(role, entry, accuracy) for entry, role in VOLTAGES.items())
    return [volts for volts in read if volts is not None]
