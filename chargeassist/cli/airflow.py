"""``airflow``: the flow that a known heat warms or cools by so much, to be typed as a reading."""

import argparse

from chargeassist.cli.as_json import no_answer, print_json
from chargeassist.cli.saturation import station_pressure
from chargeassist.cli.sizes import size
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.units import Quantity, parse
from chargeassist.model.values import NoValue
from chargeassist.physics.air_side import Estimate, flow_by_heat
from chargeassist.physics.moist_air import moist_air, wet_bulb_k


def airflow(arguments: argparse.Namespace) -> int:
    """Print the airflow by heat balance; 1 where there is none to be told."""
    heat_w = parse(arguments.heat, Quantity.POWER)
    before_k = parse(arguments.before, Quantity.TEMPERATURE)
    after_k = parse(arguments.after, Quantity.TEMPERATURE)
    heat_within = size(arguments.heat_within, Quantity.FRACTION, "--heat-within")
    capacity_w = None
    if arguments.capacity is not None:
        capacity_w = size(arguments.capacity, Quantity.POWER, "--capacity", zero=False)
    station_pa, said = station_pressure(arguments)
    humidity = parse(arguments.humidity, Quantity.FRACTION)
    flow = _flow(
        Estimate(value=heat_w, expanded=heat_w * heat_within),
        before_k,
        after_k,
        humidity,
        station_pa,
        size(arguments.uncertainty, Quantity.TEMPERATURE_DIFFERENCE, "--uncertainty"),
    )
    if isinstance(flow, NoValue):
        return no_answer(arguments, f"no airflow: {flow.reason}")
    per_w = None if capacity_w is None else flow.value / capacity_w
    if arguments.json:
        print_json(
            {
                "flow_m3_per_s": flow.value,
                "expanded_m3_per_s": flow.expanded,
                "flow_m3_per_s_per_w": per_w,
                "station_pressure_pa_abs": station_pa,
                "station_pressure_from": said,
            }
        )
        return 0
    print(f"station pressure   {station_pa / 1000:.2f} kPa  ({said})")
    for system in UnitSystem:
        value, give_or_take = (
            display.reading(each, Quantity.AIRFLOW, None, system)
            for each in (flow.value, flow.expanded)
        )
        share = "" if per_w is None else f", {display.airflow_per_capacity(per_w, system)}"
        print(f"indoor airflow     {value} ± {give_or_take}{share}")
    return 0


def _flow(
    heat: Estimate,
    before_k: float,
    after_k: float,
    humidity: float,
    station_pa: float,
    expanded_k: float,
) -> Estimate | NoValue:
    wet_k = wet_bulb_k(before_k, humidity, station_pa)
    if isinstance(wet_k, NoValue):
        return wet_k
    before = moist_air(before_k, wet_k, station_pa)
    if isinstance(before, NoValue):
        return before
    return flow_by_heat(heat, before, after_k, dry_bulb_expanded_k=expanded_k)
