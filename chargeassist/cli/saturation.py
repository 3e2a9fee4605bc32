"""``saturation``: the shipped table by hand."""

import argparse

from chargeassist.cli.as_json import no_answer, print_json
from chargeassist.model import display
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.errors import ConfigError
from chargeassist.model.text import plain
from chargeassist.model.units import Quantity, Reference, parse, parse_pressure
from chargeassist.model.values import NoValue
from chargeassist.physics.atmosphere import absolute_from_gauge, pressure_at_altitude_pa_abs
from chargeassist.physics.cycle import subcooling_k
from chargeassist.physics.saturation import refrigerant, refrigerant_names
from chargeassist.physics.table import table_hash


def saturation(arguments: argparse.Namespace) -> int:
    """Print bubble and dew point at a pressure; 1 if the pressure is outside the table."""
    if arguments.refrigerant == "list":
        if arguments.pressure is not None:
            raise ConfigError(
                f"saturation list: expected nothing more, got {plain(arguments.pressure)!r}"
            )
        if arguments.json:
            print_json(refrigerant_names())
        else:
            print("\n".join(refrigerant_names()))
        return 0
    fluid = refrigerant(arguments.refrigerant)
    if arguments.pressure is None:
        raise ConfigError('saturation: expected a pressure such as 248psig or "1.2 MPa(a)"')
    absolute_pa, reference = parse_pressure(arguments.pressure)
    line_k = None if arguments.line is None else _line_k(arguments.line)
    answer: dict[str, object] = {"refrigerant": fluid.name, "table_sha256": table_hash()}
    if reference is Reference.GAUGE:
        station_pa, said = station_pressure(arguments)
        absolute_pa = absolute_from_gauge(absolute_pa, station_pa)
        answer |= {"station_pressure_pa_abs": station_pa, "station_pressure_from": said}
        _say(arguments, f"station pressure   {station_pa / 1000:.2f} kPa  ({said})")
    bubble, dew = fluid.bubble_temp_k(absolute_pa), fluid.dew_temp_k(absolute_pa)
    _say(arguments, f"absolute pressure  {absolute_pa / 1000:.1f} kPa")
    if isinstance(bubble, NoValue) or isinstance(dew, NoValue):
        reasons = {value.reason for value in (bubble, dew) if isinstance(value, NoValue)}
        return no_answer(arguments, f"{fluid.name}: no value: {'; '.join(sorted(reasons))}")
    answer |= {"pressure_pa_abs": absolute_pa, "bubble_temp_k": bubble, "dew_temp_k": dew}
    _say(arguments, f"{fluid.name} bubble point  {_both(bubble)}  (for subcooling)")
    _say(arguments, f"{fluid.name} dew point     {_both(dew)}  (for superheat)")
    if line_k is not None:
        result = subcooling_k(fluid, absolute_pa, line_k)
        if isinstance(result, NoValue):
            return no_answer(arguments, f"{fluid.name}: no subcooling: {result.reason}")
        si = display.difference(result, UnitSystem.SI, 2)
        us = display.difference(result, UnitSystem.US, 2)
        answer["subcooling_k"] = result
        _say(arguments, f"subcooling         {si}  {us}")
    _say(arguments, f"table {table_hash()[:16]}")
    if arguments.json:
        print_json(answer)
    return 0


def _line_k(text: str) -> float:
    low_k, high_k = Entry.DISCHARGE_PIPE.span_si  # the widest of those a pipe is believed to have
    temp_k = parse(text, Quantity.TEMPERATURE)
    if not low_k <= temp_k <= high_k:
        span = " to ".join(display.temperature(each, UnitSystem.SI, 0) for each in (low_k, high_k))
        raise ConfigError(f"--line: expected {span}, got {plain(text, 40)}")
    return temp_k


def _say(arguments: argparse.Namespace, line: str) -> None:
    if not arguments.json:
        print(line)


def station_pressure(arguments: argparse.Namespace) -> tuple[float, str]:
    """Return the station pressure [Pa] the arguments ask for, and where it comes from."""
    if arguments.barometer is not None:
        pressure_pa, _ = parse_pressure(arguments.barometer, Reference.ABSOLUTE)
        if not 40_000.0 <= pressure_pa <= 115_000.0:
            raise ConfigError(
                "--barometer: expected the station's absolute pressure, 40 to 115 kPa, "
                f"got {pressure_pa / 1000:.1f} kPa"
            )
        return pressure_pa, "barometer"
    if arguments.altitude is not None:
        altitude_m = parse(arguments.altitude, Quantity.LENGTH)
        return pressure_at_altitude_pa_abs(altitude_m), f"standard atmosphere at {altitude_m:g} m"
    return pressure_at_altitude_pa_abs(0.0), "sea level; say --altitude or --barometer"


def _both(temp_k: float) -> str:
    si = display.temperature(temp_k, UnitSystem.SI, 2)
    us = display.temperature(temp_k, UnitSystem.US, 2)
    return f"{si}  {us}"
