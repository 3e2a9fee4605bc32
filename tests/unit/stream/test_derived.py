"""Derived values agree with the physics called directly; gauge and absolute stay apart."""

import pytest

from chargeassist.model.channels import Accuracy, Channel, Role
from chargeassist.model.units import Reference
from chargeassist.model.values import NoValue
from chargeassist.physics.cycle import subcooling_k, superheat_k
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.uncertainty import (
    MeasurementLimits,
    subcooling_budget,
    superheat_budget,
)
from chargeassist.stream.derived import DerivedValue, Pair
from chargeassist.stream.facts import Measured

R454B = refrigerant("R-454B")  # a blend: its bubble and dew points differ
STATION_PA = 98_800.0
PRESSURE_ACCURACY = Accuracy(relative=0.005, absolute_si=1000.0)
TEMP_ACCURACY = Accuracy(absolute_si=0.3)


def pair(
    role: Role = Role.LIQUID_PRESSURE,
    *,
    reference: Reference | None = Reference.GAUGE,
    unit: str = "kPa",
    accuracy: Accuracy | None = PRESSURE_ACCURACY,
) -> Pair:
    liquid = role is Role.LIQUID_PRESSURE
    temp_role = Role.LIQUID_TEMPERATURE if liquid else Role.SUCTION_TEMPERATURE
    return Pair(
        Channel(name="p", role=role, unit=unit, reference=reference, accuracy=accuracy),
        Channel(name="t", role=temp_role, unit="K", accuracy=TEMP_ACCURACY),
    )


def test_subcooling_uses_the_bubble_point_at_the_absolute_pressure() -> None:
    value = DerivedValue(R454B, pair())
    gauge_pa, temp_k = 2.0e6, 300.0
    measured = value.measured(gauge_pa, temp_k, STATION_PA)
    assert isinstance(measured, Measured)
    assert measured.value_k == subcooling_k(R454B, gauge_pa + STATION_PA, temp_k)
    assert value.saturation_k(gauge_pa, STATION_PA) == R454B.bubble_temp_k(gauge_pa + STATION_PA)
    limits = MeasurementLimits(
        pressure_half_width_pa=1000.0 + 0.005 * gauge_pa, temp_half_width_k=0.3
    )
    budget = subcooling_budget(R454B, gauge_pa + STATION_PA, limits)
    assert not isinstance(budget, NoValue)
    assert measured.expanded_k == budget.expanded_u_k


def test_superheat_uses_the_dew_point() -> None:
    value = DerivedValue(R454B, pair(Role.SUCTION_PRESSURE), 200.0)
    gauge_pa, temp_k = 8.0e5, 290.0
    measured = value.measured(gauge_pa, temp_k, STATION_PA)
    assert isinstance(measured, Measured)
    assert measured.value_k == superheat_k(R454B, gauge_pa + STATION_PA, temp_k)
    assert value.saturation_k(gauge_pa, STATION_PA) == R454B.dew_temp_k(gauge_pa + STATION_PA)
    limits = MeasurementLimits(
        pressure_half_width_pa=1000.0 + 0.005 * gauge_pa,
        temp_half_width_k=0.3,
        barometer_half_width_pa=200.0,
    )
    budget = superheat_budget(R454B, gauge_pa + STATION_PA, limits)
    assert not isinstance(budget, NoValue)
    assert measured.expanded_k == budget.expanded_u_k


@pytest.mark.parametrize(
    ("reference", "unit"), [(Reference.ABSOLUTE, "kPa"), (None, "psia"), (None, "bar(a)")]
)
def test_an_absolute_probe_is_not_given_the_atmosphere_twice(
    reference: Reference | None, unit: str
) -> None:
    value = DerivedValue(R454B, pair(reference=reference, unit=unit))
    assert value.absolute_pa(2.0e6, STATION_PA) == 2.0e6
    gauge = DerivedValue(R454B, pair())
    absolute_u = value.measured(2.0e6 + STATION_PA, 300.0, STATION_PA)
    gauge_u = gauge.measured(2.0e6, 300.0, STATION_PA)
    assert isinstance(absolute_u, Measured)
    assert isinstance(gauge_u, Measured)
    assert absolute_u.value_k == gauge_u.value_k


def test_no_uncertainty_is_made_up_where_no_accuracy_is_declared() -> None:
    measured = DerivedValue(R454B, pair(accuracy=None)).measured(2.0e6, 300.0, STATION_PA)
    assert isinstance(measured, Measured)
    assert measured.expanded_k is None


def test_the_uncertainty_follows_the_pressure_within_one_per_cent() -> None:
    value = DerivedValue(R454B, pair())
    for step in range(200):
        gauge_pa = 1.0e6 + 7_000.0 * step
        measured = value.measured(gauge_pa, 290.0, STATION_PA)
        assert isinstance(measured, Measured)
        limits = MeasurementLimits(
            pressure_half_width_pa=1000.0 + 0.005 * gauge_pa, temp_half_width_k=0.3
        )
        budget = subcooling_budget(R454B, gauge_pa + STATION_PA, limits)
        assert not isinstance(budget, NoValue)
        assert measured.expanded_k == pytest.approx(budget.expanded_u_k, rel=0.01)


@pytest.mark.parametrize("gauge_pa", [-2e5, -STATION_PA, 0.0, 1e9, 1e308, float("nan")])
def test_a_pressure_off_the_table_is_no_value(gauge_pa: float) -> None:
    value = DerivedValue(R454B, pair())
    for result in (
        value.measured(gauge_pa - 1e5 if gauge_pa == 0.0 else gauge_pa, 300.0, STATION_PA),
        value.saturation_k(gauge_pa - 1e5 if gauge_pa == 0.0 else gauge_pa, STATION_PA),
    ):
        assert isinstance(result, NoValue)
        assert result.reason


@pytest.mark.parametrize(("unit", "degree_k"), [("°C", 1.0), ("°F", 5.0 / 9.0), ("K", 1.0)])
def test_a_share_of_the_reading_is_one_of_what_the_clamp_shows(unit: str, degree_k: float) -> None:
    """1 % of 35 °C is 0.35 K, of 95 °F 0.95 °F; of 308 K it would be 3 K."""
    clamp = Channel(
        name="t", role=Role.LIQUID_TEMPERATURE, unit=unit, accuracy=Accuracy(relative=0.01)
    )
    value = DerivedValue(R454B, Pair(pair().pressure, clamp))
    for celsius in (35.0, 15.0):
        shown = {"°C": celsius, "°F": 1.8 * celsius + 32.0, "K": celsius + 273.15}[unit]
        measured = value.measured(2.0e6, celsius + 273.15, STATION_PA)
        assert isinstance(measured, Measured)
        limits = MeasurementLimits(
            pressure_half_width_pa=1000.0 + 0.005 * 2.0e6,
            temp_half_width_k=0.01 * shown * degree_k,
        )
        budget = subcooling_budget(R454B, 2.0e6 + STATION_PA, limits)
        assert not isinstance(budget, NoValue)
        assert measured.expanded_k == pytest.approx(budget.expanded_u_k, rel=1e-9)
