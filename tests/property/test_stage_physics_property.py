"""What must hold for any numbers: the formulas of the stages before and after the charge."""

import math

import psychrolib
from hypothesis import given, settings
from hypothesis import strategies as st

from chargeassist.model.installation import ShortLine
from chargeassist.model.values import NoValue
from chargeassist.physics.cylinder import CapacityRule, net_capacity_kg
from chargeassist.physics.electrical import VoltageUnbalance, derating, voltage_unbalance
from chargeassist.physics.flammable import room_rule
from chargeassist.physics.moist_air import BOTH_BULBS_K, MoistAir, moist_air
from chargeassist.physics.rise_settings import RiseSettings
from chargeassist.physics.rise_test import Rise, RiseTest
from chargeassist.physics.tightness import Tightness, TightnessTest, TightVerdict
from chargeassist.physics.tightness_settings import TightnessSettings
from chargeassist.physics.vacuum_gauge import GaugeLimits
from chargeassist.physics.weigh_in import weigh_in


def about(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


@given(st.permutations([0, 1, 2]), st.tuples(*[about(150.0, 500.0)] * 3), about(0.5, 3.0))
def test_unbalance_knows_neither_order_nor_scale(
    order: list[int], volts: tuple[float, ...], factor: float
) -> None:
    one = voltage_unbalance(volts)
    other = voltage_unbalance([factor * volts[i] for i in order])
    assert isinstance(one, VoltageUnbalance)
    assert isinstance(other, VoltageUnbalance)
    assert math.isclose(one.unbalance, other.unbalance, rel_tol=1e-9, abs_tol=1e-12)
    # Three deviations add up to nothing, so the largest is at most two thirds of their sum.
    assert 0.0 <= one.unbalance <= 2.0 * (max(volts) - min(volts)) / (3.0 * one.mean_v) + 1e-12


@given(about(0.0, 0.05), about(0.0, 0.05))
def test_more_unbalance_never_allows_more(one: float, other: float) -> None:
    low, high = derating(min(one, other)), derating(max(one, other))
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert 0.76 <= high <= low <= 1.0


@given(about(0.0, 20.0), about(0.0, 60.0), about(0.0, 0.2))
def test_a_line_of_the_allowance_changes_nothing_and_leave_never_takes_out(
    plate: float, length: float, adder: float
) -> None:
    same = weigh_in(
        plate, length_m=length, adder_kg_per_m=adder, allowance_kg=adder * length,
        short_line=ShortLine.TAKE_OUT,
    )  # fmt: skip
    assert math.isclose(same.charge_kg, plate, abs_tol=1e-12)
    left = weigh_in(
        plate, length_m=0.5 * length, adder_kg_per_m=adder, allowance_kg=adder * length,
        short_line=ShortLine.LEAVE,
    )  # fmt: skip
    assert left.charge_kg >= plate


@given(about(0.5, 500.0), about(0.3, 1.5))
def test_the_lower_limit_is_below_both(capacity: float, gravity: float) -> None:
    lower = net_capacity_kg(capacity, gravity)
    for rule in CapacityRule:
        assert lower <= net_capacity_kg(capacity, gravity, rule=rule) + 1e-12


@given(about(0.05, 20.0), about(0.03, 0.4), about(0.3, 2.5))
def test_the_smallest_room_holds_the_charge(charge: float, limit: float, height: float) -> None:
    rule = room_rule(charge, limit, height)
    if rule.smallest_area_m2 > 0.0:
        back = room_rule(charge, limit, height, area_m2=rule.smallest_area_m2)
        assert back.largest_kg is not None
        assert math.isclose(back.largest_kg, charge, rel_tol=1e-9)


@given(about(250.0, 330.0), about(0.0, 20.0), about(60e3, 108e3))
def test_wetter_air_of_one_temperature_has_more_enthalpy(
    dry: float, depression: float, station: float
) -> None:
    one = moist_air(dry, dry - depression, station)
    wetter = moist_air(dry, dry - 0.5 * depression, station)
    driest_k = psychrolib.GetTWetBulbFromRelHum(dry - 273.15, 0.0, station) + 273.15
    if dry - depression < driest_k - BOTH_BULBS_K:  # no air is that dry
        assert isinstance(one, NoValue)
        return
    assert isinstance(one, MoistAir)
    assert isinstance(wetter, MoistAir)
    assert wetter.enthalpy_j_per_kg >= one.enthalpy_j_per_kg - 1e-6
    assert 0.0 < one.density_kg_per_m3 < 1.7


def standing() -> TightnessTest:
    return TightnessTest(
        TightnessSettings(
            hold_s=1200.0, settle_s=60.0, pressure_drift_half_width_pa=500.0,
            temp_drift_half_width_k=0.1, pressure_noise_pa=100.0,
        ),
        0.0,
    )  # fmt: skip


@settings(max_examples=15)
@given(about(0.5e6, 5e6), about(265.0, 315.0), about(265.0, 315.0))
def test_what_stands_still_is_tight_and_readings_that_are_none_leave_no_trace(
    pressure: float, outdoor: float, indoor: float
) -> None:
    clean, dirty = standing(), standing()
    said: list[Tightness] = []
    for k in range(1, 130):
        t = 10.0 * k
        one = clean.update(t, pressure, [outdoor, indoor])
        for bad, cold in ((math.nan, outdoor), (-1.0, outdoor), (2e7, outdoor), (pressure, 20.0)):
            assert isinstance(dirty.update(t, bad, [cold, indoor]), NoValue)
        other = dirty.update(t, pressure, [outdoor, indoor])
        assert isinstance(one, Tightness)
        assert repr(one) == repr(other)
        said.append(one)
    assert {each.verdict for each in said} == {TightVerdict.NOT_YET, TightVerdict.TIGHT}
    assert said[-1].verdict is TightVerdict.TIGHT
    assert math.isclose(said[-1].compensated_pa_abs, pressure, rel_tol=0.01)


@settings(max_examples=10)
@given(about(0.5, 80.0), about(0.0, 0.3), about(0.0, 200.0), st.integers(0, 100_000))
def test_a_rise_test_knows_no_clock(
    start: float, slope: float, rise: float, begun: int
) -> None:  # fmt: skip
    limits = RiseSettings(limit_pa_abs=66.7, hold_s=600.0, gauge=GaugeLimits())
    one, other = RiseTest(limits, 0.0), RiseTest(limits, float(begun))
    for k in range(1, 140):
        t = 5.0 * k
        pressure = start + slope * t - rise * math.expm1(-t / 300.0)
        a, b = one.update(t, pressure), other.update(begun + t, pressure)
        assert isinstance(one.update(t, math.nan), NoValue)
        assert isinstance(a, Rise)
        assert repr(a) == repr(b)
        if math.isfinite(a.dry_probability):
            for chance in (a.dry_probability, a.moist_probability, a.leak_probability):
                assert -1e-9 <= chance <= 1.0 + 1e-9
            assert a.dry_probability <= 1.0 - max(a.moist_probability, a.leak_probability) + 1e-3
