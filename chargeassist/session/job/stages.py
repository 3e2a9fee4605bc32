"""The tables of a job file that say what each stage is judged by.

::

    [tightness]
    steps = ["0.3 MPa(g) for 3 min", "1.5 MPa(g) for 3 min", "2.4 MPa(g) for 1 h"]
    source = "installation manual, page 11"
    volume = "4.2 L"
    leak = "1 psi/h"                    # what the test must be able to see
    gauge_accuracy = "0.2 bar"          # of the instruments whose readings are typed
    thermometer_accuracy = "0.5 K"
    left_out = "10 min"                 # after the supply is shut; and other limits of the test:
    counts_as_falling = "3 %"           # counts_as_reached, counts_as_too_high, gauge_step, ...

    [dryness]
    target = "500 micron"
    rise_limit = "500 micron"
    rise_time = "20 min"
    source = "installation manual, page 12"
    coldest = "12 °C"                   # of the circuit, where no probe tells
    gauge_accuracy = "10 % of reading"  # of the vacuum gauge whose readings are typed

    [charging]
    gauge_accuracy = "0.5 % of 800 psi" # of the hand gauges whose readings are typed
    suction_gauge_accuracy = "2 psi"    # left out: as the other gauge
    thermometer_accuracy = "0.5 K"
    source = "data sheets; calibrated 2026-05"

    [electrical]
    amps = "11.6 A"                     # at the frequency of the test
    tolerance = "10 %"
    source = "service manual, table 4"
    amps_accuracy = "2 % of reading + 0.1 A"    # of the meters whose readings are typed
    voltage_accuracy = "1 % of reading"

    [air]
    design = "1050 cfm"
    source = "duct design"
    airflow_accuracy = "7 % of reading"
    heat = "9.6 kW"                     # airflow by heat balance: heater, or a furnace's output
    heat_accuracy = "5 % of reading"
    heat_source = "heater's plate, at 240 V"
"""

from chargeassist.model.errors import UnitError
from chargeassist.model.installation import Plate
from chargeassist.model.limits import LimitKey
from chargeassist.model.stage_plan import (
    AirPlan,
    ChargingPlan,
    DrynessPlan,
    ElectricalPlan,
    PressureStep,
    StagePlan,
    TightnessPlan,
)
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, find_unit, parse_pressure_difference
from chargeassist.session.job.limits import DRYNESS_LIMITS, TIGHTNESS_LIMITS, JobLimits
from chargeassist.session.job.pressure_step import pressure_step
from chargeassist.session.job.probes import read_accuracy
from chargeassist.session.job.toml_table import TomlTable, came


def read_stage_plan(top: TomlTable, plate: Plate, limits: JobLimits) -> StagePlan:
    """Return what the stages are judged by.

    Raises
    ------
    ConfigError
        If a number is no such number, comes without its source, or passes the plate's pressure.
    """
    return StagePlan(
        tightness=_tightness(top.table("tightness", optional=True), plate, limits),
        dryness=_dryness(top.table("dryness", optional=True)),
        electrical=_electrical(top.table("electrical", optional=True)),
        air=_air(top.table("air", optional=True)),
        charging=_charging(top.table("charging", optional=True)),
    )


def _tightness(table: TomlTable, plate: Plate, limits: JobLimits) -> TightnessPlan:
    for key in TIGHTNESS_LIMITS:
        table.get(key)
    source = plain(table.text("source", default=""))
    written = table.get("steps")
    if written is None:
        steps = _usual_steps(plate, limits)
    else:
        texts = isinstance(written, list) and all(isinstance(item, str) for item in written)
        if not texts or not written:
            raise table.error(
                "steps", 'expected texts such as ["1.5 MPa(g) for 3 min"]', came(written)
            )
        if not source.strip():
            raise table.error("source", "expected where the steps were read", "nothing")
        cited = f"{source} (equipment instructions)"
        steps = tuple(pressure_step(table, "steps", text, cited) for text in written)
    _check_rising(table, steps, plate)
    plan = TightnessPlan(
        steps=steps,
        leak_pa_per_h=_leak_pa_per_h(table),
        volume_m3=table.optional_between("volume", Quantity.VOLUME, 1e-4, 10.0),
        gauge_accuracy=read_accuracy(table, find_unit("Pa", Quantity.PRESSURE), "gauge_accuracy"),
        thermometer_accuracy=read_accuracy(
            table, find_unit("K", Quantity.TEMPERATURE), "thermometer_accuracy"
        ),
    )
    table.finish()
    return plan


def _usual_steps(plate: Plate, limits: JobLimits) -> tuple[PressureStep, ...]:
    """Return the profile's raise up to the plate's pressure, held as long as the profile says."""
    highest_pa = plate.weaker_side_pa_gauge
    hold_s = limits.value(LimitKey.TIGHTNESS_HOLD)
    if highest_pa is None or hold_s is None:
        return ()
    before = tuple(step for step in limits.raises if step.pressure_pa_gauge < highest_pa)
    said = f"{plate.source} (plate); held as {limits.citation(LimitKey.TIGHTNESS_HOLD)}"
    return (*before, PressureStep(pressure_pa_gauge=highest_pa, hold_s=hold_s, source=said))


def _check_rising(table: TomlTable, steps: tuple[PressureStep, ...], plate: Plate) -> None:
    pressures = [step.pressure_pa_gauge for step in steps]
    if pressures != sorted(set(pressures)):
        raise table.error("steps", "expected each step above the one before", _in_order(pressures))
    highest_pa = plate.weaker_side_pa_gauge
    if pressures and highest_pa is not None and pressures[-1] > highest_pa * 1.000_001:
        raise table.error(
            "steps",
            f"expected at most the plate's test pressure of the weaker side, "
            f"{highest_pa / 1e6:.2f} MPa(g)",
            f"{pressures[-1] / 1e6:.2f} MPa(g)",
        )


def _in_order(pressures_pa: list[float]) -> str:
    return ", ".join(f"{pressure_pa / 1e6:g}" for pressure_pa in pressures_pa) + " MPa(g)"


def _leak_pa_per_h(table: TomlTable) -> float | None:
    text = table.written("leak")
    if text is None:
        return None
    loss, _, hour = text.rpartition("/")
    expected = 'expected a loss such as "1 psi/h"'
    try:
        leak_pa = parse_pressure_difference(loss)
    except UnitError as error:
        raise table.error("leak", expected, repr(plain(text, 40))) from error
    if hour.strip() != "h" or not 0.0 < leak_pa < 1e6:
        raise table.error("leak", expected, repr(plain(text, 40)))
    return leak_pa


def _dryness(table: TomlTable) -> DrynessPlan:
    for key in ("source", *DRYNESS_LIMITS):
        table.get(key)
    coldest_k = table.optional_between("coldest", Quantity.TEMPERATURE, 223.15, 328.15)
    gauge = read_accuracy(table, find_unit("Pa", Quantity.PRESSURE), "gauge_accuracy")
    table.finish()
    return DrynessPlan(coldest_k=coldest_k, gauge_accuracy=gauge)


def _charging(table: TomlTable) -> ChargingPlan:
    pascal, kelvin = find_unit("Pa", Quantity.PRESSURE), find_unit("K", Quantity.TEMPERATURE)
    gauge = read_accuracy(table, pascal, "gauge_accuracy")
    suction = read_accuracy(table, pascal, "suction_gauge_accuracy")
    plan = ChargingPlan(
        gauge_accuracy=gauge,
        suction_gauge_accuracy=gauge if suction is None else suction,
        thermometer_accuracy=read_accuracy(table, kelvin, "thermometer_accuracy"),
        source=plain(table.text("source", default="")),
    )
    table.finish()
    return plan


def _electrical(table: TomlTable) -> ElectricalPlan:
    plan = ElectricalPlan(
        amps_a=table.optional_between("amps", Quantity.CURRENT, 0.1, 2000.0),
        amps_tolerance=table.quantity_between("tolerance", Quantity.FRACTION, 0.0, 0.5, 0.0),
        source=plain(table.text("source", default="")),
        amps_accuracy=read_accuracy(table, find_unit("A", Quantity.CURRENT), "amps_accuracy"),
        voltage_accuracy=read_accuracy(table, find_unit("V", Quantity.VOLTAGE), "voltage_accuracy"),
    )
    if plan.amps_a is not None and not plan.source.strip():
        raise table.error("source", "expected where the amps were read", "nothing")
    table.finish()
    return plan


def _air(table: TomlTable) -> AirPlan:
    plan = AirPlan(
        design_m3_per_s=table.optional_between("design", Quantity.AIRFLOW, 0.005, 50.0),
        source=plain(table.text("source", default="")),
        airflow_accuracy=read_accuracy(
            table, find_unit("m3/s", Quantity.AIRFLOW), "airflow_accuracy"
        ),
        heat_w=table.optional_between("heat", Quantity.POWER, 200.0, 1e6),
        heat_accuracy=read_accuracy(table, find_unit("W", Quantity.POWER), "heat_accuracy"),
        heat_source=plain(table.text("heat_source", default="")),
    )
    if plan.design_m3_per_s is not None and not plan.source.strip():
        raise table.error("source", "expected where the airflow was read", "nothing")
    if plan.heat_w is not None and not plan.heat_source.strip():
        raise table.error("heat_source", "expected where the heat was read", "nothing")
    table.finish()
    return plan
