"""``standing``: is a pressure probe's zero right, by a cylinder or an idle circuit at rest."""

import argparse

from chargeassist.cli.as_json import no_answer, print_json
from chargeassist.cli.saturation import station_pressure
from chargeassist.cli.sizes import size
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.errors import ConfigError
from chargeassist.model.limits import LimitKey
from chargeassist.model.units import (
    Quantity,
    Reference,
    parse,
    parse_pressure,
    parse_pressure_difference,
)
from chargeassist.model.usual_limits import USUAL
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import absolute_from_gauge
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.standing_check import (
    ReadAtRest,
    StandingVerdict,
    StandsOn,
    standing_check,
)

PLACES = {"cylinder": StandsOn.CYLINDER, "circuit": StandsOn.IDLE_CIRCUIT}


def standing(arguments: argparse.Namespace) -> int:
    """Print what the check says; 1 unless the probe agrees with saturation."""
    fluid = refrigerant(arguments.refrigerant)
    value_pa, reference = parse_pressure(arguments.pressure)
    station, station_half_width_pa = "", 0.0
    if reference is Reference.GAUGE:
        known = USUAL[LimitKey.BAROMETER_ACCURACY]
        station_half_width_pa = known.value_si
        station_pa, said = station_pressure(arguments)
        station = f"station pressure   {station_pa / 1000:.2f} kPa ± {known.as_written}  ({said})"
        value_pa = absolute_from_gauge(value_pa, station_pa)
    usual = USUAL[LimitKey.CYLINDER_REST]
    needed_s, needed = usual.value_si, usual.told
    if arguments.needs is not None:
        needed_s, needed = size(arguments.needs, Quantity.DURATION, "--needs"), arguments.needs
    temp_k = parse(arguments.temperature, Quantity.TEMPERATURE)
    limit_pa = _limit_pa(arguments.limit)
    read = ReadAtRest(
        pressure_pa_abs=value_pa,
        temp_k=temp_k,
        temp_expanded_k=size(
            arguments.uncertainty, Quantity.TEMPERATURE_DIFFERENCE, "--uncertainty"
        ),
        station_half_width_pa=station_half_width_pa,
        rest_s=size(arguments.rested, Quantity.DURATION, "--rested"),
        stands_on=PLACES[arguments.place],
    )
    if station and not arguments.json:
        print(station)
    check = standing_check(fluid, read, limit_pa=limit_pa, rest_needed_s=needed_s)
    if isinstance(check, NoValue):
        return no_answer(arguments, f"{fluid.name}: no value: {check.reason}")
    code = 0 if check.verdict is StandingVerdict.AGREES else 1
    if arguments.json:
        print_json(check)
        return code
    print(f"pressure probe     {check.verdict.value}")
    if check.verdict is StandingVerdict.NOT_RESTED:
        print(f"asked for          {needed}")
    for system in UnitSystem:
        offset = display.pressure(check.offset_pa, None, system)
        give_or_take = display.pressure(check.expanded_pa, None, system)
        shift = display.difference(check.subcooling_shift_k, system)
        print(f"reads off by       {offset} ± {give_or_take}, subcooling by {shift}")
    return code


def _limit_pa(text: str) -> float:
    value_pa = parse_pressure_difference(text)
    if not value_pa > 0.0:
        raise ConfigError(f"--limit: expected more than 0, got {text!r}")
    return value_pa
