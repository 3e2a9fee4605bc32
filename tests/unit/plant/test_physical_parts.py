"""Parts of the physical plant: air, faults over time, cylinder, compressor, table file."""

import json
import math
from dataclasses import replace

import pytest

from chargeassist.model.errors import ConfigError, RecordDamagedError
from chargeassist.physics.build_tables import BuildError, new_state
from chargeassist.plant import build_properties
from chargeassist.plant.air import (
    IndoorAir,
    enthalpy_j_per_kg,
    humidity_ratio_from_wet_bulb,
    saturated_humidity_ratio,
)
from chargeassist.plant.compressor import Compressor
from chargeassist.plant.drive import Drive
from chargeassist.plant.faults import FaultCourse, FaultSchedule, MachineFaults
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.physical_settings import PhysicalSettings
from chargeassist.plant.property_table import (
    FILE_NAME,
    Fluid,
    decode,
    distance_of_superheat,
    document,
    fluid,
)
from chargeassist.plant.reference_compressor import FLOW_R410A, POWER_R410A, polynomial
from chargeassist.plant.root import PressureRoot
from chargeassist.plant.stores import Cylinder
from chargeassist.plant.unit import Unit


# CoolProp's humid air (ASHRAE RP-1485 formulation) is the outside check of the short formulas.
@pytest.mark.parametrize(("dry_f", "wet_f"), [(80.0, 67.0), (75.0, 63.0), (70.0, 58.0)])
@pytest.mark.parametrize("station_pa", [101325.0, 85e3])
def test_moist_air_agrees_with_coolprop(dry_f: float, wet_f: float, station_pa: float) -> None:
    from CoolProp.HumidAirProp import HAPropsSI

    dry, wet = (dry_f + 459.67) / 1.8, (wet_f + 459.67) / 1.8
    ratio = HAPropsSI("W", "T", dry, "B", wet, "P", station_pa)
    assert humidity_ratio_from_wet_bulb(dry, wet, station_pa) == pytest.approx(ratio, rel=0.015)
    full = HAPropsSI("W", "T", wet, "R", 1.0, "P", station_pa)
    assert saturated_humidity_ratio(wet, station_pa) == pytest.approx(full, rel=0.01)
    rise = HAPropsSI("H", "T", dry, "W", ratio, "P", station_pa) - HAPropsSI(
        "H", "T", wet, "W", full, "P", station_pa
    )
    mine = enthalpy_j_per_kg(dry, ratio) - enthalpy_j_per_kg(wet, full)
    assert mine == pytest.approx(rise, abs=150.0)


def test_a_wall_above_the_dew_point_takes_no_moisture() -> None:
    air = IndoorAir(300.0, 290.0, 1.0, 0.1, 400.0, 101325.0)
    # Dew point near 284 K; above it the heat is sensible only.
    assert air.heat_w(288.0, 1.0) == pytest.approx(0.9 * 1020.0 * 12.0)
    assert air.heat_w(280.0, 1.0) > 0.9 * 1020.0 * 20.0 * 1.1


def test_slow_air_is_bypassed_less_and_leaves_colder() -> None:
    fast, slow = (IndoorAir(300.0, 290.0, 1.0, 0.12, 0.0, 101325.0) for _ in range(2))
    slow.set_flow(0.5)
    assert slow.touched_kg_per_s / slow.flow_kg_per_s > fast.touched_kg_per_s / fast.flow_kg_per_s
    assert slow.supply_k(282.0, 0.86, 0.0) < fast.supply_k(282.0, 0.86, 0.0)


def test_a_fault_grows_in_a_straight_line_and_goes_back_the_same_way() -> None:
    schedule = FaultSchedule(
        MachineFaults(),
        [
            FaultCourse(name="restriction_pa", amount=1e6, start_s=100.0, full_s=200.0),
            FaultCourse(name="restriction_pa", amount=0.0, start_s=300.0, full_s=400.0),
            FaultCourse(name="indoor_air_share", amount=0.5, start_s=150.0, full_s=150.0),
        ],
    )
    for t, restriction, air in (
        (0.0, 0.0, 1.0), (150.0, 5e5, 0.5), (250.0, 1e6, 0.5), (325.0, 7.5e5, 0.5),
        (500.0, 0.0, 0.5),
    ):  # fmt: skip
        now = schedule.at(t)
        assert now.restriction_pa == pytest.approx(restriction)
        assert now.indoor_air_share == air
    assert schedule.at(600.0) is schedule.at(700.0)


@pytest.mark.parametrize(
    "given",
    [
        {"name": "gremlin", "amount": 1.0},
        {"name": "restriction_pa", "amount": -1.0},
        {"name": "outdoor_air_share", "amount": 0.0},
        {"name": "leak_kg_per_s", "amount": float("nan")},
        {"name": "leak_kg_per_s", "amount": 1e-4, "start_s": 5.0, "full_s": 4.0},
    ],
)
def test_a_fault_out_of_its_limits_is_refused(given: dict[str, object]) -> None:
    with pytest.raises(ConfigError, match="came"):
        FaultCourse(**given)  # type: ignore[arg-type]


def test_a_leak_loses_what_its_rate_says_and_subcooling_falls() -> None:
    # 0.35 g/s at 1.5 MPa: the loss goes with the pressure above the atmosphere.
    leak = FaultCourse(name="leak_kg_per_s", amount=3.5e-4, start_s=60.0, full_s=60.0)
    plant = PhysicalPlant(
        PhysicalSettings(charge_kg=2.25, start_hz=72.0, gust_k=0.0, courses=(leak,))
    )
    before_k, before_kg = plant.subcooling_k, plant.circuit_kg
    plant.run_until(60.0)
    assert plant.leaked_kg < 1e-3
    plant.run_until(360.0)
    head = plant.circuit.head_pa_abs
    rate = plant.leaked_kg / 300.0
    assert rate == pytest.approx(3.5e-4 * (head - 101325.0) / 1.4e6, rel=0.05)
    assert plant.circuit_kg == pytest.approx(before_kg - plant.leaked_kg, abs=1e-12)
    assert plant.subcooling_k < before_k - 0.8


def vapour_enthalpy_j_per_kg(table: Fluid, pressure_pa_abs: float, temp_k: float) -> float:
    s = table.state(pressure_pa_abs)
    return s[3] + distance_of_superheat(s[6], s[7], s[8], temp_k - s[1])


def test_the_compressor_at_map_conditions_is_the_published_polynomial() -> None:
    # At 20 °F of superheat and the base frequency nothing but the size is left.
    table = fluid("R-410A")
    compressor = Compressor(table, Unit(displacement=1.0))
    suction_pa, discharge_pa = 9.5e5, 2.7e6
    s, d = table.state(suction_pa)[1], table.state(discharge_pa)[1]
    inlet = vapour_enthalpy_j_per_kg(table, suction_pa, s + 100.0 / 9.0)
    flow, power = compressor.run(suction_pa, discharge_pa, inlet, 1.0)
    s_f, d_f = s * 1.8 - 459.67, d * 1.8 - 459.67
    assert flow == pytest.approx(polynomial(FLOW_R410A, s_f, d_f) * 0.45359237 / 3600.0, rel=1e-4)
    assert power == pytest.approx(polynomial(POWER_R410A, s_f, d_f), rel=1e-4)


@pytest.mark.parametrize("name", ["R-22", "R-32", "R-407C", "R-410A", "R-454B"])
def test_the_compressor_draws_in_proportion_to_density_far_below_its_map(name: str) -> None:
    # What keeps a dry evaporator from going below nothing.
    table = fluid(name)
    compressor = Compressor(table, Unit())
    flows = []
    for p in (1.6e5, 0.8e5):
        h = vapour_enthalpy_j_per_kg(table, p, 290.0)
        flow, power = compressor.run(p, 2.0e6, h, 1.0)
        assert flow > 0.0
        assert power > 0.0
        flows.append(flow)
    assert flows[1] / flows[0] == pytest.approx(0.5, abs=0.1)


def test_the_scale_sees_what_the_machine_has_not_got_yet() -> None:
    cylinder = Cylinder(5.0, 0.001, 0.002, 8.0)
    cylinder.begin(0.1)
    arrived = sum(cylinder.give(0.25, 1.0) for _ in range(200))  # 50 s
    assert 5.0 - cylinder.cylinder_kg == pytest.approx(0.05)
    # Held back at a steady flow: flow times time constant.
    assert 5.0 - cylinder.cylinder_kg - arrived == pytest.approx(0.008, rel=0.05)
    arrived += sum(cylinder.give(0.25, 1.0) for _ in range(2000))
    assert arrived == pytest.approx(0.1, abs=1e-9)
    assert not cylinder.busy


def test_the_pressure_root_is_found_from_far_and_from_near() -> None:
    def miss(p: float) -> float:
        return 1e-3 * (p - 2e6) + 1e-10 * (p - 2e6) * abs(p - 2e6)

    root = PressureRoot(miss, 1e-3, 1e5, 4e6)
    for guess in (3e5, 1.9e6, 2.0001e6, 3.9e6):
        p, found = root.find(guess)
        assert found
        assert miss(p) == pytest.approx(0.0, abs=1.0)


def test_the_pressure_root_says_when_there_is_none_in_the_table() -> None:
    root = PressureRoot(lambda p: p - 9e6, 1.0, 1e5, 4e6)
    p, found = root.find(3e6)
    assert not found
    assert p == 4e6


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d["refrigerants"]["R-32"]["dew_temp_k"].__setitem__(5, 300.0),
        lambda d: d.__setitem__("format_version", 99),
        lambda d: d.__setitem__("format", "other"),
        lambda d: d.pop("sha256"),
    ],
)
def test_a_changed_property_file_is_refused(spoil: object) -> None:
    copy = json.loads(json.dumps(document()))
    decode(json.dumps(copy))
    spoil(copy)  # type: ignore[operator]
    with pytest.raises(RecordDamagedError, match=FILE_NAME):
        decode(json.dumps(copy))
    with pytest.raises(RecordDamagedError, match="JSON"):
        decode("not json")


def test_the_builder_refuses_a_density_it_cannot_reach() -> None:
    import CoolProp

    state = new_state("R-32")
    with pytest.raises(BuildError, match="no density"):
        build_properties.density(state, 2e6, 320.0, math.nan, CoolProp.iphase_gas)


@pytest.mark.parametrize("field", ["condenser_m3", "bypass"])
def test_a_machine_with_a_negative_part_is_refused(field: str) -> None:
    with pytest.raises(ConfigError, match=field):
        Unit(**{field: -1.0})


def test_a_valve_whose_hunting_is_over_has_its_own_bulb_again() -> None:
    """A fault that ends leaves nothing behind: the same machine answers as if it had never been."""
    settings = PhysicalSettings(gust_k=0.0)
    late = FaultCourse(name="bulb_lag_s", amount=11.0, start_s=0.0, full_s=0.0)
    over = FaultCourse(name="bulb_lag_s", amount=0.0, start_s=60.0, full_s=60.0)
    plant, sound = PhysicalPlant(replace(settings, courses=(late, over))), PhysicalPlant(settings)
    for each in (plant, sound):
        each.run_until(120.0)
    valve, own = plant.circuit.valve, sound.circuit.valve
    for device in (valve, own):
        device.pipe_k, device.bulb_k = 290.0, 280.0
        device.follow(0.25, 290.0, 280.0)
    assert valve.bulb_k == own.bulb_k


def test_a_switch_counts_anew_after_it_was_reset() -> None:
    """Five seconds over the limit each time, not five seconds in all."""
    drive = Drive(PhysicalSettings())
    over_pa = 1.01 * drive.high_switch_pa_abs
    opened = []
    for step in range(24):
        t = 0.25 * step
        drive.advance(0.25, t)
        drive.watch(0.25, t, 8e5, over_pa, 350.0)
        opened.append(drive.trip is not None)
    assert opened.index(True) == 19
    drive.reset()
    drive.advance(0.25, 6.0)
    drive.watch(0.25, 6.0, 8e5, over_pa, 350.0)
    assert drive.trip is None


def test_a_leak_is_driven_by_the_pressure_over_the_air_of_the_site() -> None:
    """In proportion to the gauge pressure, 1.4 MPa of it as named, at 1 450 m as at the sea."""
    faults = MachineFaults(leak_kg_per_s=1e-5)
    for altitude_m in (0.0, 1450.0):
        settings = PhysicalSettings(altitude_m=altitude_m, gust_k=0.0, faults=faults)
        plant = PhysicalPlant(settings)
        head_pa = plant.circuit.head_pa_abs
        plant.run_until(0.25)
        wanted = 1e-5 * (head_pa - settings.station_pa_abs) / 1.4e6
        assert plant.circuit.leak_kg_per_s == pytest.approx(wanted, rel=1e-4)
