"""Airflow, temperature split and capacity of the indoor side, at the site's air density."""

import math

from chargeassist.guide.documented import performance_of
from chargeassist.guide.heat_balance import SOURCE as HEAT_SOURCE
from chargeassist.guide.heat_balance import Balance, newer
from chargeassist.guide.stages.judging import Look, Number, result_of
from chargeassist.model.channels import TEMP_ROUNDING_K, Accuracy, Role
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckJudged, CheckResult
from chargeassist.model.limits import LimitKey
from chargeassist.model.values import NoValue
from chargeassist.physics.air_side import Capacity, Estimate, coil_capacity
from chargeassist.physics.moist_air import moist_air, wet_bulb_of_probes
from chargeassist.physics.uncertainty import decide

_AIR_PLACES = (
    ("return_dry_k", "return air, dry bulb"),
    ("return_wet_k", "return air, wet bulb"),
    ("supply_dry_k", "supply air, dry bulb"),
    ("supply_wet_k", "supply air, wet bulb"),
)


def _typed_air(look: Look) -> Accuracy:
    """Return the limits of error assumed for a typed air temperature."""
    return Accuracy(absolute_si=look.job.limit_si(LimitKey.TYPED_AIR_ACCURACY))


def airflow(look: Look) -> CheckJudged | None:
    """Return the check of airflow per nominal capacity against the job's lower limit."""
    flow = _flow(look)
    if flow is None:
        return None
    plate, limit = look.job.plate, look.job.limit(LimitKey.AIRFLOW_LOW)
    figures = {"flow_m3_per_s": flow.value, **flow.figure("expanded_m3_per_s")}
    if plate.capacity_w is None:
        return look.judged(
            "airflow", CheckResult.NOT_JUDGED, "airflow_no_capacity", figures, _told_by(look)
        )
    per_w = flow.value / plate.capacity_w
    figures["flow_m3_per_s_per_w"] = per_w
    if limit is None:
        return look.judged(
            "airflow",
            CheckResult.NOT_JUDGED,
            "airflow_no_limit",
            figures,
            plate.source,
            _told_by(look),
        )
    figures["limit_m3_per_s_per_w"] = limit.value_si
    decision = decide(per_w, flow.u / plate.capacity_w, limit.lowest_si, math.inf)
    cause = "airflow_enough" if per_w >= limit.lowest_si else "airflow_short"
    return look.judged(
        "airflow",
        result_of(decision, flow),
        cause,
        figures,
        limit.citation,
        plate.source,
        _told_by(look),
    )


def airflow_by_heat(look: Look) -> CheckJudged | None:
    """Return the record of an airflow found by heat balance, or why none was found."""
    if look.balance_why:
        return look.no_value("airflow_by_heat", NoValue(look.balance_why))
    found = look.balance
    if found is None:
        return None
    figures = {
        "flow_m3_per_s": found.flow_m3_per_s,
        "heat_w": found.heat_w,
        "before_k": found.before_k,
        "after_k": found.after_k,
        "density_kg_per_m3": found.density_kg_per_m3,
        "by_probes": float(found.by_probes),
    }
    if found.expanded_m3_per_s is not None:
        figures["expanded_m3_per_s"] = found.expanded_m3_per_s
    return look.judged(
        "airflow_by_heat",
        CheckResult.RECORDED,
        "airflow_by_heat",
        figures,
        f"heat: {found.source}",
        HEAT_SOURCE,
    )


def airflow_design(look: Look) -> CheckJudged | None:
    """Return the check of the airflow against the design airflow."""
    flow, plan = _flow(look), look.job.stages.air
    if flow is None or plan.design_m3_per_s is None:
        return None
    limit = look.job.limit(LimitKey.AIRFLOW_TOLERANCE)
    design = plan.design_m3_per_s
    figures = {
        "flow_m3_per_s": flow.value,
        "design_m3_per_s": design,
        **flow.figure("expanded_m3_per_s"),
    }
    if limit is None:
        return look.judged(
            "airflow_design",
            CheckResult.NOT_JUDGED,
            "airflow_no_tolerance",
            figures,
            plan.source,
            _told_by(look),
        )
    figures["tolerance"] = limit.value_si
    deviation = round((flow.value - design) / design, 9)
    decision = decide(deviation, flow.u / design, -limit.value_si, limit.value_si)
    cause = "airflow_as_designed"
    if abs(deviation) > limit.value_si:
        cause = "airflow_under_design" if deviation < 0.0 else "airflow_over_design"
    return look.judged(
        "airflow_design",
        result_of(decision, flow),
        cause,
        figures,
        limit.citation,
        plan.source,
        _told_by(look),
    )


def temperature_split(look: Look) -> CheckJudged | None:
    """Return the check of return less supply air, dry bulb, against the maker's table.

    Without a column of the table for this weather the split is recorded but not judged: the
    published table of targets was not available.
    """
    typed_air = _typed_air(look)
    before = look.number(Role.RETURN_AIR_TEMPERATURE, Entry.RETURN_DRY_BULB, typed_air)
    after = look.number(Role.SUPPLY_AIR_TEMPERATURE, Entry.SUPPLY_DRY_BULB, typed_air)
    if before is None or after is None:
        return None
    figures = {
        "split_k": before.value - after.value,
        "return_k": before.value,
        "supply_k": after.value,
    }
    if before.declared and after.declared:
        figures["expanded_k"] = math.hypot(before.u, after.u)
    table = performance_of(look.job, look.facts)
    if table is None or table.air_split_k is None:
        cause = "split_recorded" if look.job.performance is None else "split_other_weather"
        return look.judged("temperature_split", CheckResult.RECORDED, cause, figures)
    half_k = table.split_tolerance_k + TEMP_ROUNDING_K
    low, high = table.air_split_k - half_k, table.air_split_k + half_k
    split = Number(value=figures["split_k"], expanded=figures.get("expanded_k"))
    figures |= {"target_k": table.air_split_k, "tolerance_k": table.split_tolerance_k}
    cause = "split_as_printed"
    if not low <= split.value <= high:
        cause = "split_low" if split.value < low else "split_high"
    decision = decide(split.value, split.u, low, high)
    return look.judged(
        "temperature_split",
        result_of(decision, split),
        cause,
        figures,
        *table.source_of("air_split"),
    )


def capacity(look: Look) -> CheckJudged | None:
    """Return the record of the coil's capacity, once a supply wet bulb was typed."""
    if look.facts.entered.get(Entry.SUPPLY_WET_BULB) is None:
        return None
    typed_air = _typed_air(look)
    air = {
        "return_dry_k": look.number(Role.RETURN_AIR_TEMPERATURE, Entry.RETURN_DRY_BULB, typed_air),
        "return_wet_k": _return_wet_bulb(look),
        "supply_dry_k": look.number(Role.SUPPLY_AIR_TEMPERATURE, Entry.SUPPLY_DRY_BULB, typed_air),
        "supply_wet_k": look.typed(Entry.SUPPLY_WET_BULB, typed_air),
    }
    flow = _flow(look)
    known = {name: number for name, number in air.items() if number is not None}
    lacks = [label for name, label in _AIR_PLACES if name not in known]
    if flow is None:
        lacks.append("indoor airflow")
    if lacks or flow is None:
        return look.judged(
            "capacity",
            CheckResult.NOT_JUDGED,
            "capacity_lacks",
            {"lasts_s": look.typed_lasts_s},
            subject=", ".join(lacks),
        )
    return _capacity(look, flow, known)


def _capacity(look: Look, flow: Number, air: dict[str, Number]) -> CheckJudged:
    station_pa = look.facts.station_pa_abs
    before = moist_air(air["return_dry_k"].value, air["return_wet_k"].value, station_pa)
    if isinstance(before, NoValue):
        return look.no_value("capacity", before)
    after = moist_air(air["supply_dry_k"].value, air["supply_wet_k"].value, station_pa)
    if isinstance(after, NoValue):
        return look.no_value("capacity", after)
    # The coarser of both probes of a kind counts for both.
    found = coil_capacity(
        before,
        after,
        Estimate(value=flow.value, expanded=flow.u),
        dry_bulb_expanded_k=max(air["return_dry_k"].u, air["supply_dry_k"].u),
        wet_bulb_expanded_k=max(air["return_wet_k"].u, air["supply_wet_k"].u),
    )
    if isinstance(found, NoValue):
        return look.no_value("capacity", found)
    figures = {name: number.value for name, number in air.items()}
    figures |= {
        "total_w": found.total.value,
        "sensible_w": found.sensible.value,
        "latent_w": found.latent.value,
        "flow_m3_per_s": flow.value,
        "density_kg_per_m3": before.density_kg_per_m3,
    }
    if flow.declared and all(number.declared for number in air.values()):
        figures |= {
            "typed_k": look.job.limit_si(LimitKey.TYPED_AIR_ACCURACY),
            "total_expanded_w": found.total.expanded,
            "sensible_expanded_w": found.sensible.expanded,
            "latent_expanded_w": found.latent.expanded,
        }
    figures |= _share(look, found)
    source = look.job.plate.source if "share" in figures else ""
    return look.judged(
        "capacity", CheckResult.RECORDED, "capacity_recorded", figures, source, _told_by(look)
    )


def _share(look: Look, found: Capacity) -> dict[str, float]:
    """Return the total as a fraction of the plate's capacity, which holds at rating conditions."""
    nominal_w = look.job.plate.capacity_w
    if nominal_w is None:
        return {}
    return {"share": found.total.value / nominal_w, "plate_w": nominal_w}


def _flow(look: Look) -> Number | None:
    """Return the airflow, typed or by heat balance, whichever is newer.

    Only the technician changes it, so it does not age.
    """
    balance = _balance(look)
    if balance is not None:
        return Number(value=balance.flow_m3_per_s, expanded=balance.expanded_m3_per_s)
    return look.typed(Entry.AIRFLOW, look.job.stages.air.airflow_accuracy, lasts_s=math.inf)


def _balance(look: Look) -> Balance | None:
    """Return the heat balance if it is newer than any typed airflow; else None."""
    return newer(look.balance, look.facts)


def _told_by(look: Look) -> str:
    """Return the source of an airflow by heat balance; empty for a typed one."""
    balance = _balance(look)
    return "" if balance is None else f"airflow by heat balance, heat: {balance.source}"


def _return_wet_bulb(look: Look) -> Number | None:
    """Return the wet bulb of the return air: by probe, from humidity, else as typed [K]."""
    probe = look.by_probe(Role.RETURN_AIR_WET_BULB)
    if probe is not None:
        return probe
    dry = look.by_probe(Role.RETURN_AIR_TEMPERATURE)
    humidity = look.by_probe(Role.RETURN_AIR_HUMIDITY)
    if dry is not None and humidity is not None:
        found = wet_bulb_of_probes(
            dry.value,
            humidity.value,
            look.facts.station_pa_abs,
            dry_bulb_expanded_k=dry.expanded,
            humidity_expanded=humidity.expanded,
        )
        if not isinstance(found, NoValue):
            return Number(value=found[0], expanded=found[1], live=True)
    return look.typed(Entry.RETURN_WET_BULB, _typed_air(look))
