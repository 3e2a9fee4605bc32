"""Moist air, capacity and airflow against psychrolib, the trade's factors and hand calculation."""

import math
import random

import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from chargeassist.model.units import KELVIN_AT_0_C
from chargeassist.model.values import NoValue
from chargeassist.physics.air_side import (
    Capacity,
    Estimate,
    coil_capacity,
    flow_by_heat,
)
from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs
from chargeassist.physics.moist_air import (
    MoistAir,
    moist_air,
    wet_bulb_expanded_k,
    wet_bulb_k,
    wet_bulb_of_probes,
)

SEA = 101_325.0
PSI = 6894.757293168361
CFM = 0.3048**3 / 60.0
BTU_H = 1055.05585262 / 3600.0
BTU_LB = 2326.0
FT3_LB = 0.3048**3 / 0.45359237


def kelvin(temp_f: float) -> float:
    return (temp_f + 459.67) / 1.8


def air(dry_f: float, wet_f: float, station: float = SEA) -> MoistAir:
    found = moist_air(kelvin(dry_f), kelvin(wet_f), station)
    assert isinstance(found, MoistAir), found
    return found


def test_the_state_at_the_rating_point() -> None:
    """TC093, TC094: 80/67 °F, psychrolib 2.5 (ASHRAE Fundamentals 2017, chapter 1), whose
    inch-pound side runs other code lines than the one used here."""
    found = air(80.0, 67.0)
    assert found.humidity_ratio == pytest.approx(0.011169, abs=2e-5)
    assert found.relative_humidity == pytest.approx(0.511, abs=0.002)
    psychrolib.SetUnitSystem(psychrolib.IP)
    try:
        ratio = psychrolib.GetHumRatioFromTWetBulb(80.0, 67.0, 14.696)
        enthalpy = psychrolib.GetMoistAirEnthalpy(80.0, ratio)
        zero = psychrolib.GetMoistAirEnthalpy(32.0, 0.0)
        volume = psychrolib.GetMoistAirVolume(80.0, ratio, 14.696)
    finally:
        psychrolib.SetUnitSystem(psychrolib.SI)
    assert enthalpy == pytest.approx(31.447, abs=0.01)
    # The two scales count from dry air at 0 °F and at 0 °C.
    assert found.enthalpy_j_per_kg / BTU_LB == pytest.approx(enthalpy - zero, abs=0.03)
    assert found.volume_m3_per_kg / FT3_LB == pytest.approx(volume, rel=1e-3)


def test_station_pressure_at_five_thousand_feet() -> None:
    """TC096: 12.228 psia."""
    station = pressure_at_altitude_pa_abs(1524.0)
    assert station / PSI == pytest.approx(12.228, abs=0.005)
    assert air(80.0, 67.0, station).density_kg_per_m3 < 0.84 * air(80.0, 67.0).density_kg_per_m3


def capacity(flow_cfm: float, *, at: float = SEA, **more: float) -> Capacity:
    found = coil_capacity(
        air(80.0, 67.0, at),
        air(58.0, 56.5, at),
        Estimate(value=flow_cfm * CFM, expanded=more.get("flow", 0.0) * flow_cfm * CFM),
        dry_bulb_expanded_k=more.get("dry", 0.0),
        wet_bulb_expanded_k=more.get("wet", 0.0),
    )
    assert isinstance(found, Capacity), found
    return found


def test_total_capacity_against_the_trades_factor() -> None:
    """TC097: 4.5 x 1200 cfm x 7.342 Btu/lb is 39 646 Btu/h with standard air (13.33 ft3/lb; the 4.5
    is from memory); here the air has its own volume, 13.84 ft3/lb."""
    found = capacity(1200.0)
    volume = air(80.0, 67.0).volume_m3_per_kg / FT3_LB
    assert found.total.value / BTU_H * volume / (60.0 / 4.5) == pytest.approx(39_646.0, rel=2e-3)


def test_sensible_capacity_against_the_trades_factor() -> None:
    """1.08 x cfm x dT with the same change of volume (factor from a manual:
    easymanua.ls/heat-controller/rse1318-1a/manual, page 14)."""
    found = capacity(1200.0)
    volume = air(80.0, 67.0).volume_m3_per_kg / FT3_LB
    trade = 1.08 * 1200.0 * 22.0 * (60.0 / 4.5) / volume
    # 1.08 is 4.5 x 0.24; moist air of 1 % water has 0.244.
    assert found.sensible.value / BTU_H == pytest.approx(trade, rel=0.025)
    assert found.latent.value == pytest.approx(found.total.value - found.sensible.value)
    assert 0.6 < found.sensible.value / found.total.value < 0.8


def test_thin_air_carries_less() -> None:
    high = pressure_at_altitude_pa_abs(1524.0)
    assert capacity(1200.0, at=high).sensible.value == pytest.approx(
        capacity(1200.0).sensible.value * high / SEA, rel=0.01
    )


def test_uncertainty_against_random_trials() -> None:
    """JCGM 101: 4 000 draws of probes and flow with these standard uncertainties."""
    dry, wet, flow = 0.3, 0.4, 0.07
    found = capacity(1200.0, dry=dry, wet=wet, flow=flow)
    rng = random.Random(5)
    totals, sensibles = [], []
    for _ in range(4000):
        states = []
        for d, w in ((80.0, 67.0), (58.0, 56.0)):
            state = moist_air(
                kelvin(d) + rng.gauss(0.0, dry / 2.0), kelvin(w) + rng.gauss(0.0, wet / 2.0), SEA
            )
            assert isinstance(state, MoistAir)
            states.append(state)
        volume = 1200.0 * CFM * (1.0 + rng.gauss(0.0, flow / 2.0))
        one = coil_capacity(
            states[0], states[1], Estimate(value=volume, expanded=0.0),
            dry_bulb_expanded_k=0.0, wet_bulb_expanded_k=0.0,
        )  # fmt: skip
        assert isinstance(one, Capacity)
        totals.append(one.total.value)
        sensibles.append(one.sensible.value)

    def spread(values: list[float]) -> float:
        mean = math.fsum(values) / len(values)
        return 2.0 * math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1))

    assert found.total.expanded == pytest.approx(spread(totals), rel=0.05)
    assert found.sensible.expanded == pytest.approx(spread(sensibles), rel=0.05)


def test_a_saturated_supply_still_has_an_uncertainty() -> None:
    found = coil_capacity(
        air(80.0, 67.0), air(56.0, 56.2), Estimate(value=0.5, expanded=0.0),
        dry_bulb_expanded_k=0.5, wet_bulb_expanded_k=0.8,
    )  # fmt: skip
    assert isinstance(found, Capacity)
    assert found.total.expanded > 0.03 * found.total.value


def test_air_that_cannot_be() -> None:
    for dry, wet, station in ((295.0, 297.0, SEA), (400.0, 290.0, SEA), (295.0, 290.0, 1e3),
                              (math.nan, 290.0, SEA)):  # fmt: skip
        assert isinstance(moist_air(dry, wet, station), NoValue)
    assert isinstance(
        coil_capacity(air(80.0, 67.0), air(58.0, 56.5), Estimate(value=0.0, expanded=0.0),
                      dry_bulb_expanded_k=0.1, wet_bulb_expanded_k=0.1),
        NoValue,
    )  # fmt: skip


def test_flow_from_electric_heat() -> None:
    """cfm = V A 3.414 / (1.08 dT), easymanua.ls/heat-controller/rse1318-1a/manual, page 14: 240 V
    and 41.7 A warm 1 000 cfm of standard air by 31.6 °F."""
    rise_f = 240.0 * 41.7 * 3.414 / (1.08 * 1000.0)
    before = air(70.0, 48.0)
    after_k = kelvin(70.0 + rise_f)
    found = flow_by_heat(
        Estimate(value=240.0 * 41.7, expanded=200.0), before, after_k, dry_bulb_expanded_k=0.3
    )
    assert isinstance(found, Estimate)
    # 1.08 stands for air of 13.33 ft3/lb and 0.24 Btu/(lb °F).
    volume = before.volume_m3_per_kg / FT3_LB
    assert found.value / CFM == pytest.approx(1000.0 * volume / (60.0 / 4.5), rel=0.01)
    relative = math.hypot(200.0 / (240.0 * 41.7), math.sqrt(2.0) * 0.3 / (rise_f / 1.8))
    assert found.expanded / found.value == pytest.approx(relative)
    for heat_w, after_k in ((1e4, kelvin(71.0)), (0.0, kelvin(90.0)), (1e4, math.nan)):
        heat = Estimate(value=heat_w, expanded=0.0)
        none = flow_by_heat(heat, before, after_k, dry_bulb_expanded_k=0.3)
        assert isinstance(none, NoValue)


def test_nothing_is_left_of_the_unit_system_of_a_test() -> None:
    assert psychrolib.GetUnitSystem() == psychrolib.SI
    assert KELVIN_AT_0_C == 273.15


@pytest.mark.parametrize("dry_c", [10.0, 25.0, 35.0, 50.0])
def test_a_wet_bulb_below_that_of_dry_air_cannot_be(dry_c: float) -> None:
    """The wet bulb at no humidity at all, by psychrolib; below it even dry air does not go."""
    driest_c = psychrolib.GetTWetBulbFromRelHum(dry_c, 0.0, SEA)
    for below_k, can_be in ((-0.1, True), (0.1, True), (1.0, False), (20.0, False)):
        found = moist_air(dry_c + KELVIN_AT_0_C, driest_c - below_k + KELVIN_AT_0_C, SEA)
        assert isinstance(found, MoistAir) is can_be, (below_k, found)


@pytest.mark.parametrize(("dry_f", "wet_f"), [(80.0, 67.0), (95.0, 85.0), (58.0, 56.5)])
def test_density_of_the_moist_air_agrees_with_coolprop(dry_f: float, wet_f: float) -> None:
    """ASHRAE RP-1485 as CoolProp solves it: volume of a kilogram with its water."""
    volume = HAPropsSI("Vha", "T", kelvin(dry_f), "B", kelvin(wet_f), "P", SEA)
    assert air(dry_f, wet_f).density_kg_per_m3 == pytest.approx(1.0 / volume, rel=1e-3)


def test_air_that_cannot_be_is_refused_in_the_units_people_read() -> None:
    def reason(found: MoistAir | float | NoValue) -> str:
        assert isinstance(found, NoValue)
        return found.reason

    text = "a wet bulb of 23.9 °C with a dry bulb of 21.9 °C cannot be"
    assert text in reason(moist_air(295.05, 297.05, SEA))
    assert "1.5 kPa absolute" in reason(moist_air(295.0, 290.0, 1.5e3))
    assert "400 K is no temperature" in reason(moist_air(400.0, 290.0, SEA))
    for humidity in (-0.01, 1.01):
        assert isinstance(wet_bulb_k(295.0, humidity, SEA), NoValue)


def test_a_humidity_probe_a_little_past_its_end_is_taken_at_the_end() -> None:
    """Saturated air has the wet bulb of its dry bulb; that of dry air is psychrolib's."""

    def told(humidity: float, dry_k: float | None = 0.5) -> tuple[float, float | None]:
        found = wet_bulb_of_probes(
            300.0, humidity, SEA, dry_bulb_expanded_k=dry_k, humidity_expanded=0.03
        )
        assert isinstance(found, tuple)
        return found

    assert told(1.02)[0] == pytest.approx(300.0, abs=0.01)
    driest_c = psychrolib.GetTWetBulbFromRelHum(300.0 - KELVIN_AT_0_C, 0.0, SEA)
    assert told(-0.02)[0] == pytest.approx(driest_c + KELVIN_AT_0_C, abs=0.01)
    assert told(0.5, None) == (told(0.5)[0], None)
    assert told(0.5)[1] == wet_bulb_expanded_k(
        300.0, 0.5, SEA, dry_bulb_expanded_k=0.5, humidity_expanded=0.03
    )
    for dry_bulb_k in (223.2, 343.1):  # a step beyond the ends of the equations
        either = wet_bulb_of_probes(
            dry_bulb_k, 0.5, SEA, dry_bulb_expanded_k=1.0, humidity_expanded=0.03
        )
        assert isinstance(either, tuple)
        assert either[1] is None
    assert isinstance(
        wet_bulb_of_probes(400.0, 0.5, SEA, dry_bulb_expanded_k=0.5, humidity_expanded=0.03),
        NoValue,
    )
