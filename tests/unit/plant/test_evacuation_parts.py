"""The evacuation simulator's parts: hoses, pump and its oil, gauge, time steps, refusals."""

import math

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.model.values import NoValue
from chargeassist.physics.water_vapour import MOLAR_MASS_KG
from chargeassist.plant.evacuation import GRID_S, REFRIGERANT_KG, Evacuation
from chargeassist.plant.evacuation_settings import EvacuationSettings, Place
from chargeassist.plant.leak import Leak
from chargeassist.plant.micron_gauge import WATER_READING, GaugeSettings
from chargeassist.plant.vacuum_flow import Volumes, flow_step, solve_three
from chargeassist.plant.vacuum_line import Line, Tube
from chargeassist.plant.vacuum_pump import PumpSettings
from tests.unit.plant.vessel import SMALL, far_pa, pulled, rise, saturation


def test_small_hoses_and_cores_cost_time() -> None:
    wide, narrow = Evacuation(EvacuationSettings()), Evacuation(EvacuationSettings(hose=SMALL))
    times = []
    for plant in (wide, narrow):
        plant.start_pump()
        while far_pa(plant) > 500.0 * PASCAL_PER_MICRON:
            plant.step(5.0)
        times.append(plant.t)
    assert times[1] > 5.0 * times[0]


def test_after_isolation_the_parts_equalise_first() -> None:
    """The first minute or two tell nothing about leaks."""
    plant = pulled(EvacuationSettings(), 90.0)
    near, far = plant.truth().pressure_pa_abs[1:]
    assert far > 1.5 * near
    plant.set_valve(is_open=False)
    plant.step(120.0)
    nearer, farther = plant.truth().pressure_pa_abs[1:]
    assert nearer > near
    assert farther < far
    assert farther == pytest.approx(nearer, rel=0.1)


def test_a_leaking_hose_counts_only_while_the_valve_is_open() -> None:
    plant = Evacuation(EvacuationSettings(air_humidity=0.0, start_humidity=0.0))
    plant.add_leak(Leak.sized(5e-3), place=Place.PUMP)
    plant.start_pump()
    plant.step(1800.0)
    plant.stop_pump()
    plant.step(600.0)
    open_pa = far_pa(plant)
    assert open_pa > 100.0  # hose and circuit rise together
    plant.start_pump()
    plant.step(1800.0)
    shown = rise(plant, 600.0, 600.0)
    assert shown[-1] < 20.0


def test_ballast_keeps_the_pumps_oil_dry() -> None:
    oil = []
    for ballast in (False, True):
        plant = Evacuation(EvacuationSettings(far_water_kg=3e-3))
        plant.start_pump()
        plant.set_ballast(is_open=ballast)
        plant.step(3600.0)
        oil.append(plant.truth().pump_oil_water_kg)
    assert oil[0] > 1.5e-3
    assert oil[1] < 0.3 * oil[0]


def test_milky_oil_holds_the_vacuum_up_and_an_oil_change_frees_it() -> None:
    settings = EvacuationSettings(pump=PumpSettings(oil_water_kg=3e-3))
    plant = pulled(settings, 1800.0)
    assert far_pa(plant) > 500.0 * PASCAL_PER_MICRON
    plant.change_oil()
    plant.step(900.0)
    assert far_pa(plant) < 100.0 * PASCAL_PER_MICRON


def test_refrigerant_in_the_oil_comes_out_slowly_and_reads_high() -> None:
    settings = EvacuationSettings(
        oil_refrigerant_kg=1e-3, gauge=GaugeSettings(resolution_pa=0.0), start_humidity=0.0
    )
    plant = pulled(settings, 1800.0)
    truth = plant.truth()
    assert 0.0 < truth.oil_refrigerant_kg < 1e-3
    shown = plant.gauge_pa_abs(Place.FAR)
    assert isinstance(shown, float)
    assert truth.refrigerant_pa_abs[Place.FAR] > 0.5 * far_pa(plant)
    assert shown > 1.05 * far_pa(plant)
    out = plant.pump.refrigerant_out_mol * REFRIGERANT_KG
    assert out > 5e-5
    levels = rise(plant, 1200.0, 400.0)
    assert levels[-1] > levels[0] + 10.0


def test_water_in_the_compressors_oil_comes_back_after_a_quick_vacuum() -> None:
    wet = rise(pulled(EvacuationSettings(oil_water_kg=3e-4), 900.0), 2400.0, 800.0)
    dry = rise(pulled(EvacuationSettings(), 900.0), 2400.0, 800.0)
    assert wet[-1] > dry[-1] + 200.0
    assert wet[-1] < saturation(295.15)


def test_the_gauge_says_nothing_near_the_atmosphere_and_water_reads_high() -> None:
    plant = Evacuation(EvacuationSettings(far_water_kg=0.02))
    assert isinstance(plant.gauge_pa_abs(), NoValue)
    plant.start_pump()
    plant.step(600.0)
    shown = plant.gauge_pa_abs()
    assert isinstance(shown, float)
    assert shown == pytest.approx(WATER_READING * far_pa(plant), rel=0.02)


def test_what_is_wet_is_counted_in_kilograms() -> None:
    plant = Evacuation(EvacuationSettings(near_water_kg=1e-3, far_water_kg=2e-3, far_k=265.0))
    truth = plant.truth()
    assert truth.near_water_kg == pytest.approx(1e-3)
    assert truth.far_water_kg == pytest.approx(2e-3)
    assert (truth.near_ice_share, truth.far_ice_share) == (0.0, 1.0)
    assert plant.water_mol * MOLAR_MASS_KG > 3e-3


def test_how_the_time_is_cut_does_not_matter_on_the_grid() -> None:
    settings = EvacuationSettings(far_water_kg=1e-3)
    one = pulled(settings, 100.0)
    two = pulled(settings, 0.0)
    for _ in range(400):
        two.step(GRID_S)
    assert one.truth() == two.truth()
    two.run_until(3.0)  # past: without effect
    assert one.truth() == two.truth()


def test_the_step_is_short_enough() -> None:
    """Cut into steps of 50 ms, the pull-down comes out within a few percent."""
    settings = EvacuationSettings(far_water_kg=2e-3)
    coarse, fine = pulled(settings, 300.0), pulled(settings, 0.0)
    for k in range(1, 6001):
        fine.run_until(0.05 * k)
    a, b = coarse.truth(), fine.truth()
    assert a.far_water_kg == pytest.approx(b.far_water_kg, rel=0.01)
    for one, two in zip(a.pressure_pa_abs, b.pressure_pa_abs, strict=True):
        assert one == pytest.approx(two, rel=0.03)


def test_three_equations() -> None:
    lower, diagonal, upper = (-1.0, -2.0), (4.0, 5.0, 6.0), (-0.5, -1.5)
    x = solve_three(lower, diagonal, upper, (1.0, 2.0, 3.0))
    assert diagonal[0] * x[0] + upper[0] * x[1] == pytest.approx(1.0)
    assert lower[0] * x[0] + diagonal[1] * x[1] + upper[1] * x[2] == pytest.approx(2.0)
    assert lower[1] * x[1] + diagonal[2] * x[2] == pytest.approx(3.0)


def test_flow_comes_to_rest_at_one_pressure_and_shut_lines_pass_nothing() -> None:
    capacity, temps = [1e-6, 2e-6, 3e-6], [295.0] * 3
    nothing = [[0.0] * 3, [0.0] * 3]
    mol = [[0.1, 0.0, 0.0], [0.0, 0.0, 0.03]]
    line = Line(Tube(diameter_m=0.01, length_m=1.0))
    new: list[list[float]] = []
    for _ in range(20000):
        joined = Volumes(temps, capacity, [line, line])
        new = flow_step(1.0, joined, mol, [0.029, 0.018], nothing, nothing)
        mol = [[c * p for c, p in zip(capacity, gas, strict=True)] for gas in new]
    assert sum(mol[0]) == pytest.approx(0.1, rel=1e-12)
    assert sum(mol[1]) == pytest.approx(0.03, rel=1e-12)
    totals = [a + b for a, b in zip(*new, strict=True)]
    assert totals == pytest.approx([0.13 / 6e-6] * 3, rel=1e-9)
    shut = Volumes(temps, capacity, [None, None])
    still = flow_step(1.0, shut, mol, [0.029, 0.018], nothing, nothing)
    assert still[0] == pytest.approx(new[0], rel=1e-12)


@pytest.mark.parametrize(
    "change",
    [{"near_k": 200.0}, {"far_water_kg": -1.0}, {"start_humidity": 1.5}, {"hose_m3": math.nan}],
)
def test_settings_that_cannot_be_are_refused(change: dict[str, float]) -> None:
    with pytest.raises(ConfigError, match="the simulated evacuation needs"):
        EvacuationSettings(**change)  # type: ignore[arg-type]


def test_actions_that_cannot_be_are_refused() -> None:
    plant = Evacuation(EvacuationSettings())
    with pytest.raises(ConfigError, match="expected a pressure to break to"):
        plant.break_with_nitrogen(0.0)
    with pytest.raises(ConfigError, match="expected a wall"):
        plant.set_walls(far_k=400.0)
    with pytest.raises(ConfigError, match="expected one of R-32"):
        EvacuationSettings(refrigerant="R-999")
