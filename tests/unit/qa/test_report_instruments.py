"""What a report says of the instruments: a declared limit of error is never rounded to nothing."""

from types import SimpleNamespace
from typing import Any

import pytest

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.display import UnitSystem
from chargeassist.qa.report_instruments import instruments_table
from chargeassist.session.job.demo import demo_job

SI, US = UnitSystem.SI, UnitSystem.US


def declared(role: Role, absolute_si: float, system: UnitSystem) -> str:
    channel = Channel(name="c", role=role, unit="", accuracy=Accuracy(absolute_si=absolute_si))
    session: Any = SimpleNamespace(channels=(channel,), marks=(), job=demo_job("library"))
    ((_, _, accuracy, _),) = instruments_table(session, system).rows
    return accuracy


@pytest.mark.parametrize(
    ("role", "absolute_si", "si", "us"),
    [
        (Role.LIQUID_PRESSURE, 6894.76, "± 6.9 kPa", "± 1.0 psi"),
        (Role.LIQUID_PRESSURE, 689.476, "± 0.69 kPa", "± 0.1 psi"),
        (Role.LIQUID_PRESSURE, 27579.0, "± 28 kPa", "± 4.0 psi"),
        (Role.BAROMETER, 30.0, "± 0.03 kPa", "± 0.0044 psi"),
        (Role.VACUUM, 1.33322, "± 1.3 Pa", "± 10 micron"),
        (Role.VACUUM, 66.661, "± 67 Pa", "± 500 micron"),
        (Role.LIQUID_TEMPERATURE, 0.3, "± 0.3 K", "± 0.54 °F"),
        (Role.LIQUID_TEMPERATURE, 0.03, "± 0.03 K", "± 0.054 °F"),
        (Role.LIQUID_TEMPERATURE, 2.0, "± 2.0 K", "± 3.6 °F"),
        (Role.CYLINDER_MASS, 0.0005, "± 0.5 g", "± 0.018 oz"),
        (Role.CYLINDER_MASS, 0.02, "± 20 g", "± 0.71 oz"),
        (Role.RETURN_AIR_HUMIDITY, 0.02, "± 2 %", "± 2 %"),
        (Role.COMPRESSOR_CURRENT, 0.05, "± 0.05 A", "± 0.05 A"),
    ],
)
def test_a_declared_limit_has_two_figures(role: Role, absolute_si: float, si: str, us: str) -> None:
    assert declared(role, absolute_si, SI) == si
    assert declared(role, absolute_si, US) == us
