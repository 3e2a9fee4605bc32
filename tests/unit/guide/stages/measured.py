"""Jobs and meters the checks beside the charge are tested with."""

from typing import Any

from chargeassist.guide import wording
from chargeassist.model.display import UnitSystem
from chargeassist.model.entries import Entry
from chargeassist.model.events import CheckJudged

PROFILES = 'profile = ["california-installer", "supply-and-cylinder"]\n'
PLATE = """
[plate]
rated_load = "12.0 A"
voltage = "{volts}"
phases = {phases}
capacity = "3 ton"
source = "unit plate"
"""
METERS = """
[electrical]
amps = "10.0 A"
tolerance = "10 %"
source = "service manual, table 4"
amps_accuracy = "2 % of reading"
voltage_accuracy = "0.5 % of reading"
[air]
design = "1200 cfm"
source = "duct design"
airflow_accuracy = "5 % of reading"
"""
AIR_PROBES = (
    ("liquid_pressure", "Pa(g)", "2 kPa"),
    ("liquid_temperature", "K", "0.3 K"),
    ("compressor_current", "A", "1 % of reading"),
    ("return_air_temperature", "K", "0.5 K"),
    ("supply_air_temperature", "K", "0.5 K"),
)
CFM = 0.3048**3 / 60.0


def kelvin(temp_f: float) -> float:
    return (temp_f + 459.67) / 1.8


def plate(volts: str = "230 V", phases: int = 1) -> str:
    return PLATE.format(volts=volts, phases=phases)


def newest(session: Any, name: str) -> CheckJudged:
    found = [check for check in session.checks() if check.check == name]
    assert found, f"{name} was not judged"
    check: CheckJudged = found[-1]
    return check


def said(check: CheckJudged, system: UnitSystem = UnitSystem.SI) -> str:
    return wording.check(check, system)


def type_air(session: Any, *, flow_cfm: float | None = 1200.0) -> None:
    """80/67 °F before and 58/56.5 °F after the coil: the air of trade example TC097."""
    session.enter(Entry.RETURN_DRY_BULB, kelvin(80.0))
    session.enter(Entry.RETURN_WET_BULB, kelvin(67.0))
    session.enter(Entry.SUPPLY_DRY_BULB, kelvin(58.0))
    session.enter(Entry.SUPPLY_WET_BULB, kelvin(56.5))
    if flow_cfm is not None:
        session.enter(Entry.AIRFLOW, flow_cfm * CFM)
    session.run(1)
