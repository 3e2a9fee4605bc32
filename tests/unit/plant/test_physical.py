"""The physical plant: what it conserves, how it answers, that it repeats itself."""

import builtins
import itertools
import random
import subprocess
import sys
from collections.abc import Callable

import pytest

from chargeassist.model.channels import VOLTAGE_ROLES, Role
from chargeassist.model.errors import ConfigError
from chargeassist.physics.cycle import subcooling_k, superheat_k
from chargeassist.physics.saturation import refrigerant
from chargeassist.plant.metering import ValveKind
from chargeassist.plant.physical import PhysicalPlant
from chargeassist.plant.physical_settings import PhysicalSettings

REFRIGERANTS = ["R-22", "R-32", "R-407C", "R-410A", "R-454B"]


def still(**changes: object) -> PhysicalSettings:
    """The demo's unit at the required frequency, without gusts."""
    given = {"gust_k": 0.0, "start_hz": 72.0, "charge_kg": 2.15, **changes}
    return PhysicalSettings(**given)  # type: ignore[arg-type]


def total_kg(plant: PhysicalPlant) -> float:
    return plant.circuit_kg + plant.hose_kg + plant.cylinder_kg + plant.leaked_kg


@pytest.mark.parametrize("name", REFRIGERANTS[1:4])
def test_mass_and_energy_add_up_over_half_an_hour_of_work(name: str) -> None:
    draw = random.Random(7)
    plant = PhysicalPlant(PhysicalSettings(refrigerant=name, charge_kg=1.9, settle_s=60.0))
    circuit = plant.circuit
    mass_kg, energy_j = total_kg(plant), circuit.energy_j
    actions: list[Callable[[], None]] = [
        plant.begin_step,
        lambda: plant.begin_step(0.1),
        lambda: plant.begin_step(-0.08),
        plant.end_step,
        lambda: plant.end_step(-0.05),
        lambda: plant.command_frequency(draw.choice([0.0, 40.0, 72.0])),
        plant.command_frequency,
    ]
    for minute in range(30):
        draw.choice(actions)()
        for second in range(60):
            plant.run_until(60.0 * minute + second + draw.choice([0.37, 1.0]))
            assert min(circuit.inventories_kg[:2]) > 0.0
            assert min(circuit.inventories_kg) >= 0.0
        assert abs(total_kg(plant) - mass_kg) < 1e-9 * mass_kg
        assert abs(circuit.energy_j - energy_j - circuit.heat_in_j) < 1e-3


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_halving_the_step_changes_next_to_nothing(name: str) -> None:
    # Bounds: 0.05 °F of subcooling and 0.15 psi of head.
    coarse, fine = (
        PhysicalPlant(still(refrigerant=name, settle_s=300.0), grid_s=grid)
        for grid in (0.25, 0.125)
    )
    for plant in (coarse, fine):
        plant.begin_step(0.11)
    for second in range(1, 400):
        if second == 200:
            for plant in (coarse, fine):
                plant.command_frequency(50.0)
        coarse.run_until(float(second))
        fine.run_until(float(second))
        assert abs(coarse.subcooling_k - fine.subcooling_k) * 1.8 < 0.05
        assert abs(coarse.circuit.head_pa_abs - fine.circuit.head_pa_abs) < 0.15 * 6894.76
        assert abs(coarse.superheat_k - fine.superheat_k) * 1.8 < 0.5


def trajectory(plant: PhysicalPlant, seconds: int = 300) -> list[dict[Role, float]]:
    rows = []
    for second in range(1, seconds):
        if second == 50:
            plant.begin_step(0.1)
        if second == 200:
            plant.command_frequency(55.0)
        plant.run_until(float(second))
        rows.append(dict(plant.truth()))
    return rows


def test_same_seed_same_numbers_other_seed_other_weather() -> None:
    one, same, other = (
        trajectory(PhysicalPlant(PhysicalSettings(seed=seed, settle_s=100.0))) for seed in (5, 5, 6)
    )
    assert one == same
    assert [r[Role.OUTDOOR_AIR_TEMPERATURE] for r in one] != [
        r[Role.OUTDOOR_AIR_TEMPERATURE] for r in other
    ]


def test_weather_does_not_depend_on_how_the_time_is_cut() -> None:
    whole, cut = (PhysicalPlant(PhysicalSettings(settle_s=30.0)) for _ in range(2))
    draw = random.Random(3)
    whole.run_until(120.0)
    while cut.t < 120.0:
        cut.run_until(min(120.0, cut.t + draw.uniform(0.01, 0.9)))
    assert whole.outdoor_k == cut.outdoor_k
    assert whole.subcooling_k == pytest.approx(cut.subcooling_k, abs=0.02)


def test_no_step_asks_coolprop_or_opens_a_file(monkeypatch: pytest.MonkeyPatch) -> None:
    import CoolProp.CoolProp

    plant = PhysicalPlant(still(settle_s=10.0))

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("the running plant must not do this")

    for name in ("PropsSI", "AbstractState", "HAPropsSI"):
        monkeypatch.setattr(CoolProp.CoolProp, name, refuse)
    monkeypatch.setattr(builtins, "open", refuse)
    plant.run_until(30.0)
    plant.begin_step(0.1)
    plant.run_until(120.0)
    PhysicalPlant(still(refrigerant="R-32", settle_s=10.0)).run_until(10.0)


def test_importing_and_running_the_plant_does_not_import_coolprop() -> None:
    code = (
        "import sys\n"
        "from chargeassist.plant.physical import PhysicalPlant\n"
        "from chargeassist.plant.physical_settings import PhysicalSettings\n"
        "PhysicalPlant(PhysicalSettings(settle_s=5.0)).run_until(5.0)\n"
        "assert 'CoolProp' not in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_probes_and_the_program_see_the_plants_subcooling_and_superheat(name: str) -> None:
    plant = PhysicalPlant(still(refrigerant=name, settle_s=600.0, charge_kg=2.3))
    truth = plant.truth()
    assert set(truth) == set(Role) - {Role.VACUUM, *VOLTAGE_ROLES}  # nobody simulates these
    fluid = refrigerant(name)
    sc = subcooling_k(fluid, truth[Role.LIQUID_PRESSURE], truth[Role.LIQUID_TEMPERATURE])
    sh = superheat_k(fluid, truth[Role.SUCTION_PRESSURE], truth[Role.SUCTION_TEMPERATURE])
    assert sc == pytest.approx(plant.subcooling_k, abs=2e-3)
    assert sh == pytest.approx(plant.superheat_k, abs=2e-3)
    assert plant.subcooling_k > 3.0


def test_the_demo_unit_reaches_its_target_below_its_plate_charge() -> None:
    # 5.0 K at 72 Hz; the plate says 2.30 kg.
    plant = PhysicalPlant(still(charge_kg=1.90))
    assert plant.subcooling_k < 1.0
    while plant.subcooling_k < 5.0 and plant.circuit_kg < 2.30:
        plant.begin_step(0.05)
        plant.step(300.0)
    assert plant.subcooling_k >= 5.0
    assert 2.0 < plant.circuit_kg <= 2.30


@pytest.mark.parametrize("name", REFRIGERANTS)
@pytest.mark.parametrize("tons", [1.5, 5.0])
def test_a_plate_is_enough_to_size_a_machine(name: str, tons: float) -> None:
    # Rated capacity at 95/80/67 °F within 5 %, a usable subcooling at the plate charge, and
    # superheat that the valve can hold.
    capacity_w = tons * 3516.85
    plate_kg = 0.9 * tons
    plant = PhysicalPlant(
        PhysicalSettings(
            refrigerant=name,
            capacity_w=capacity_w,
            plate_kg=plate_kg,
            charge_kg=plate_kg,
            required_hz=65.0,
            start_hz=65.0,
            outdoor_k=308.15,
            return_k=299.82,
            return_wet_k=292.59,
            gust_k=0.0,
            altitude_m=0.0,
        )
    )
    plant.run_until(1.0)
    assert plant.capacity_w == pytest.approx(capacity_w, rel=0.05)
    assert 3.0 < plant.subcooling_k < 8.0
    assert 4.0 < plant.superheat_k < 9.0
    assert 0.8 < plant.circuit.valve.opening < 1.2


def test_altitude_thins_the_air_and_raises_the_head() -> None:
    low, high = (PhysicalPlant(still(altitude_m=z)) for z in (0.0, 2400.0))
    assert high.circuit.head_pa_abs > low.circuit.head_pa_abs + 2e4
    assert high.capacity_w < low.capacity_w


@pytest.mark.parametrize("kind", list(ValveKind))
def test_every_metering_device_settles(kind: ValveKind) -> None:
    plant = PhysicalPlant(still(valve=kind, charge_kg=2.2, settle_s=1500.0))
    values = []
    for second in range(1, 200):
        plant.run_until(float(second))
        values.append((plant.subcooling_k, plant.superheat_k))
    for series in zip(*values, strict=True):
        assert max(series) - min(series) < 0.1


def test_the_electronic_valve_holds_the_superheat_it_is_set_to() -> None:
    plant = PhysicalPlant(still(valve=ValveKind.ELECTRONIC, charge_kg=2.25, settle_s=1800.0))
    c = plant.circuit
    assert c.low.outlet_k() - c.low.dew_k == pytest.approx(c.unit.valve_superheat_k, abs=0.1)


def test_subcooling_with_an_orifice_moves_superheat_too() -> None:
    # With a fixed orifice charge shows in superheat (common practice); with a valve it hardly does.
    def rise(kind: ValveKind) -> float:
        lean, rich = (
            PhysicalPlant(still(valve=kind, charge_kg=kg, outdoor_k=308.15)).superheat_k
            for kg in (2.0, 2.4)
        )
        return lean - rich

    assert rise(ValveKind.ORIFICE) > 2.0
    assert abs(rise(ValveKind.THERMOSTATIC)) < 0.5


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("refrigerant", "R-744"),
        ("capacity_w", 100e3),
        ("plate_kg", 0.05),
        ("charge_kg", 9.0),
        ("required_hz", 500.0),
        ("start_hz", 5.0),
        ("outdoor_k", 400.0),
        ("return_wet_k", 310.0),
        ("gust_k", -1.0),
        ("barometer_pa_abs", 10e3),
        ("hose_s", 0.0),
        ("outdoor_k", float("nan")),
    ],
)
def test_what_cannot_be_simulated_is_refused_with_the_limits(field: str, value: object) -> None:
    with pytest.raises(ConfigError, match=r"expected|needs|sized"):
        PhysicalSettings(**{field: value})  # type: ignore[arg-type]


def test_a_step_with_a_mass_weighs_that_mass_and_all_of_it_arrives() -> None:
    plant = PhysicalPlant(still(settle_s=60.0))
    before_kg = plant.circuit_kg
    plant.begin_step(0.11)
    plant.step(50.0)
    assert plant.hose_kg > 0.004  # what left the scale is not all in the machine yet
    plant.step(200.0)
    assert plant.cylinder_kg == pytest.approx(5.0 - 0.11, abs=1e-9)
    assert plant.circuit_kg - before_kg == pytest.approx(0.11, abs=1e-6)


def test_recovery_comes_back_to_the_cylinder() -> None:
    plant = PhysicalPlant(still(settle_s=60.0))
    before_kg = plant.circuit_kg
    plant.begin_step(-0.06)
    plant.step(60.0)
    assert plant.cylinder_kg == pytest.approx(5.06, abs=1e-9)
    assert plant.circuit_kg - before_kg == pytest.approx(-0.06, abs=1e-9)


def test_what_is_recovered_later_is_not_counted_with_an_earlier_step() -> None:
    plant = PhysicalPlant(still(settle_s=60.0))
    before_kg = plant.circuit_kg
    plant.begin_step(0.1)
    plant.step(150.0)
    plant.end_step()
    plant.end_step(-0.06)
    plant.step(120.0)
    assert plant.circuit_kg - before_kg == pytest.approx(0.04, abs=1e-6)


def test_an_open_step_that_is_told_as_recovered_comes_to_that_as_a_whole() -> None:
    plant = PhysicalPlant(still(settle_s=60.0))
    before_kg = plant.circuit_kg
    plant.begin_step()
    plant.step(30.0)
    plant.end_step(-0.06)
    plant.step(200.0)
    assert plant.circuit_kg - before_kg == pytest.approx(-0.06, abs=1e-6)


def test_a_step_without_a_mass_flows_until_it_is_ended() -> None:
    plant = PhysicalPlant(still(settle_s=30.0))
    plant.begin_step()
    plant.step(40.0)
    plant.end_step(0.2)  # the technician's word does not change what flowed
    plant.step(100.0)
    assert 5.0 - plant.cylinder_kg == pytest.approx(40.0 * 0.0011, abs=1e-6)


def test_a_step_that_was_not_seen_is_made_up_for() -> None:
    plant = PhysicalPlant(still(settle_s=30.0))
    plant.end_step(0.05)
    plant.step(120.0)
    assert 5.0 - plant.cylinder_kg == pytest.approx(0.05, abs=1e-9)


def test_an_empty_cylinder_gives_no_more() -> None:
    plant = PhysicalPlant(still(cylinder_kg=0.03, settle_s=30.0))
    plant.begin_step()
    plant.step(200.0)
    assert plant.cylinder_kg == 0.0
    assert plant.truth()[Role.CYLINDER_MASS] == plant.settings.tare_kg


def test_time_never_goes_back() -> None:
    plant = PhysicalPlant(still(settle_s=10.0))
    plant.run_until(5.0)
    before = dict(plant.truth())
    plant.run_until(3.0)
    assert plant.t == 5.0
    assert dict(plant.truth()) == before


def test_readings_move_together_after_an_addition() -> None:
    # Head and amps up, superheat at the port down while liquid sprays in (common experience).
    plant = PhysicalPlant(still())
    before = dict(plant.truth())
    superheat_before_k = plant.superheat_k
    plant.begin_step(0.11)
    lowest_k = superheat_before_k
    for _ in range(100):
        plant.step(1.0)
        lowest_k = min(lowest_k, plant.superheat_k)
    plant.step(400.0)
    after = plant.truth()
    assert lowest_k < superheat_before_k - 0.8
    assert after[Role.LIQUID_PRESSURE] > before[Role.LIQUID_PRESSURE]
    assert after[Role.COMPRESSOR_CURRENT] > before[Role.COMPRESSOR_CURRENT]


def test_more_charge_never_means_less_subcooling() -> None:
    values = [
        PhysicalPlant(still(charge_kg=kg, settle_s=1200.0)).subcooling_k
        for kg in (1.6, 1.8, 1.95, 2.05, 2.15, 2.3, 2.5)
    ]
    assert all(after >= before - 0.02 for before, after in itertools.pairwise(values))
