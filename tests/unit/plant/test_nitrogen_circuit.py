"""The circuit under nitrogen: balances, weather, sun, leaks, and the settling after filling."""

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from scipy.optimize import brentq

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import PASCAL_PER_PSI
from chargeassist.physics.nitrogen import (
    GAS_CONSTANT,
    density_mol_per_m3,
    ideal_pressure_pa_abs,
    slope_pa_per_k,
)
from chargeassist.plant.leak import Leak
from chargeassist.plant.nitrogen_circuit import (
    GRID_S,
    INDOOR,
    NitrogenCircuit,
    NitrogenTruth,
)
from chargeassist.plant.nitrogen_settings import NitrogenSettings, Part

VOLUMES = (7e-3, 3e-3)


def raised(circuit: NitrogenCircuit, psig: float, fill_s: float = 240.0) -> NitrogenCircuit:
    circuit.set_regulator(psig * PASCAL_PER_PSI)
    circuit.set_supply(is_open=True)
    circuit.step(fill_s)
    circuit.set_supply(is_open=False)
    return circuit


def amount_mol(pressure: float, temps_k: Sequence[float]) -> float:
    """Nitrogen in both parts at one pressure [mol]."""
    densities = [density_mol_per_m3(pressure, temp) for temp in temps_k]
    return sum(v * d for v, d in zip(VOLUMES, densities, strict=True) if isinstance(d, float))


def pressure_pa_abs(held_mol: float, temps_k: Sequence[float]) -> float:
    """The one pressure at which both parts hold an amount, by a general root finder."""
    found: float = brentq(
        lambda pressure: amount_mol(pressure, temps_k) - held_mol, 0.0, 9.9e6, xtol=1e-5
    )
    return found


def expected_pa(start: NitrogenTruth, now: NitrogenTruth) -> float:
    """What a tight circuit shows now, by pipe temperatures as a technician has them."""
    held = amount_mol(start.pressure_pa_abs, (start.outdoor_pipe_k, start.indoor_pipe_k))
    return pressure_pa_abs(held, (now.outdoor_pipe_k, now.indoor_pipe_k))


def test_gas_and_energy_are_conserved_through_a_whole_test() -> None:
    circuit = NitrogenCircuit(NitrogenSettings(outdoor_swing_k=5.0, swing_period_s=3600.0))
    mol, energy = circuit.amount_mol, circuit.energy_j
    circuit.add_leak(Leak.sized(0.02))
    circuit.add_leak(Leak.sized(0.005), part=INDOOR)
    for psig in (45.0, 220.0, 550.0):
        raised(circuit, psig, 180.0).step(120.3)
    circuit.set_sun(12.0)
    circuit.step(1800.0)
    circuit.set_vent(is_open=True)
    circuit.step(900.0)
    came = circuit.supplied_mol - circuit.leaked_mol - circuit.vented_mol
    assert circuit.supplied_mol > 10.0
    assert circuit.leaked_mol > 0.01
    assert circuit.vented_mol > 10.0
    assert circuit.amount_mol - mol == pytest.approx(came, abs=1e-9)
    brought = circuit.heat_in_j + circuit.gas_energy_in_j
    assert circuit.energy_j - energy == pytest.approx(brought, abs=1e-9 * energy)
    # Vented to the atmosphere and no further.
    assert circuit.truth().pressure_pa_gauge == pytest.approx(0.0, abs=50.0)


def test_both_parts_hold_the_one_pressure_of_real_nitrogen() -> None:
    circuit = raised(NitrogenCircuit(NitrogenSettings(outdoor_k=310.0, indoor_k=290.0)), 500.0)
    circuit.step(100.0)
    truth = circuit.truth()
    gas = (truth.outdoor_gas_k, truth.indoor_gas_k)
    by_parts = pressure_pa_abs(circuit.amount_mol, gas)
    assert truth.pressure_pa_abs == pytest.approx(by_parts, abs=1e-3)


def test_filling_warms_and_the_reading_falls_without_a_leak() -> None:
    """Compression: the gas comes in against what is there. That a reading is taken some minutes
    after filling is common practice."""
    circuit = raised(NitrogenCircuit(NitrogenSettings(supply_below_air_k=0.0)), 500.0, 120.0)
    start = circuit.truth()
    assert start.outdoor_gas_k > start.outdoor_pipe_k + 0.5
    assert start.outdoor_pipe_k > start.outdoor_air_k + 0.5
    circuit.step(600.0)
    soon = circuit.truth().pressure_pa_abs
    circuit.step(3600.0)
    settled = circuit.truth().pressure_pa_abs
    circuit.step(3600.0)
    assert start.pressure_pa_abs - soon > 0.3 * PASCAL_PER_PSI
    assert soon > settled
    assert circuit.truth().pressure_pa_abs == pytest.approx(settled, abs=0.05 * PASCAL_PER_PSI)
    assert circuit.leaked_mol == 0.0


def test_a_raise_stops_at_the_regulator_and_stages_add_up() -> None:
    circuit = NitrogenCircuit(NitrogenSettings())
    for psig in (44.0, 218.0, 550.0):
        raised(circuit, psig, 400.0)
        gauge = circuit.truth().pressure_pa_gauge
        assert gauge == pytest.approx(psig * PASCAL_PER_PSI, rel=5e-3)
        assert gauge <= psig * PASCAL_PER_PSI + 50.0
        circuit.step(180.0)


def test_a_tight_circuit_follows_the_weather_as_real_nitrogen_does() -> None:
    settings = NitrogenSettings(outdoor_swing_k=8.0, swing_period_s=14_400.0)
    circuit = raised(NitrogenCircuit(settings), 500.0)
    circuit.step(3600.0)
    start = circuit.truth()
    worst = fooled = 0.0
    for _ in range(24):
        circuit.step(600.0)
        now = circuit.truth()
        worst = max(worst, abs(now.pressure_pa_abs - expected_pa(start, now)))
        weighted = [(0.7 * x.outdoor_pipe_k + 0.3 * x.indoor_pipe_k) for x in (start, now)]
        ideal = ideal_pressure_pa_abs(start.pressure_pa_abs, *weighted)
        fooled = max(fooled, abs(now.pressure_pa_abs - ideal))
    # The gas is some five seconds behind the pipes, which change by 13 K an hour.
    assert worst < 0.05 * PASCAL_PER_PSI
    assert fooled > 0.4 * PASCAL_PER_PSI


def test_pressure_lags_the_air() -> None:
    circuit = raised(NitrogenCircuit(NitrogenSettings()), 500.0)
    circuit.step(7200.0)
    before = circuit.truth()
    circuit.set_sun(10.0)  # as air that much warmer would
    circuit.step(120.0)
    slope = slope_pa_per_k(before.pressure_pa_abs, before.outdoor_gas_k)
    assert isinstance(slope, float)
    at_once = circuit.truth().pressure_pa_abs - before.pressure_pa_abs
    circuit.step(7200.0)
    in_the_end = circuit.truth().pressure_pa_abs - before.pressure_pa_abs
    assert 0.0 < at_once < 0.3 * in_the_end
    assert in_the_end == pytest.approx(0.7 * 10.0 * slope, rel=0.05)


def test_sun_on_the_pipes_misleads_who_goes_by_the_air() -> None:
    """About 1 psi per °F at 500 psig (arithmetic from the slope of real nitrogen)."""
    circuit = raised(NitrogenCircuit(NitrogenSettings()), 500.0)
    circuit.step(7200.0)
    start = circuit.truth()
    circuit.set_sun(10.0)
    circuit.step(7200.0)
    now = circuit.truth()
    assert now.outdoor_air_k == start.outdoor_air_k
    assert now.pressure_pa_abs - start.pressure_pa_abs > 10.0 * PASCAL_PER_PSI
    assert now.pressure_pa_abs == pytest.approx(expected_pa(start, now), abs=0.02 * PASCAL_PER_PSI)


def test_a_leak_shows_as_what_temperature_does_not_explain() -> None:
    size = 0.019 / 100.0  # into vacuum; some hundredfold at 500 psig
    circuit = raised(NitrogenCircuit(NitrogenSettings()), 500.0)
    circuit.add_leak(Leak.sized(size))
    circuit.step(7200.0)
    start = circuit.truth()
    residuals = []
    for _ in range(4):
        circuit.step(900.0)
        now = circuit.truth()
        residuals.append(now.pressure_pa_abs - expected_pa(start, now))
    steps = [b - a for a, b in zip([0.0, *residuals], residuals, strict=False)]
    assert all(step < -100.0 for step in steps)
    assert max(steps) == pytest.approx(min(steps), rel=0.05)  # straight, as it hardly empties
    loss = start.leak_mol_per_s * GAS_CONSTANT * 297.0 / 0.01 * 900.0
    assert -steps[0] == pytest.approx(loss, rel=0.06)
    leaked = circuit.leaked_mol
    circuit.mend_leaks()
    circuit.step(600.0)
    assert circuit.leaked_mol == leaked
    assert circuit.truth().leak_mol_per_s == 0.0


def test_a_port_that_blows_off_chills_the_gas_and_the_model_goes_on() -> None:
    """Gas left in a vessel expands nearly adiabatically: (p2/p1)^(2/7) (textbook), less the heat
    that the metal gives."""
    part = Part(volume_m3=5e-3, metal_j_per_k=500.0, air_w_per_k=1.0, gas_w_per_k=1e-3)
    settings = NitrogenSettings(outdoor=part, indoor=part, vent_m=5e-3)
    circuit = raised(NitrogenCircuit(settings), 300.0, 1200.0)
    before = circuit.truth()
    assert before.outdoor_gas_k > 300.0
    mol, energy = circuit.amount_mol, circuit.energy_j
    heat, gas = circuit.heat_in_j, circuit.gas_energy_in_j
    circuit.set_vent(is_open=True)
    coldest, at = before.indoor_gas_k, before
    while circuit.truth().pressure_pa_gauge > 2e4:
        circuit.step(GRID_S)
        at = circuit.truth()
        coldest = min(coldest, at.indoor_gas_k)
    ratio = at.pressure_pa_abs / before.pressure_pa_abs
    assert coldest == pytest.approx(before.indoor_gas_k * ratio ** (2.0 / 7.0), rel=0.03)
    assert coldest < 223.0
    circuit.step(120.0)
    assert mol - circuit.amount_mol == pytest.approx(circuit.vented_mol, abs=1e-9)
    brought = circuit.heat_in_j - heat + circuit.gas_energy_in_j - gas
    assert circuit.energy_j - energy == pytest.approx(brought, abs=1e-6)


def test_how_the_time_is_cut_does_not_matter_on_the_grid() -> None:
    one, two = (raised(NitrogenCircuit(NitrogenSettings()), 300.0) for _ in range(2))
    one.step(500.0)
    for _ in range(1000):
        two.step(GRID_S)
    assert one.truth() == two.truth()
    two.run_until(10.0)  # past: without effect
    assert one.truth() == two.truth()


@pytest.mark.parametrize(
    "change",
    [
        {"outdoor_k": 200.0},
        {"indoor_k": math.nan},
        {"outdoor_swing_k": -1.0},
        {"station_pa_abs": 1e3},
        {"vent_m": 1.0},
        {"swing_period_s": 0.0},
        {"supply_mol_per_s_pa": 1.0},
        {"indoor": replace(NitrogenSettings().indoor, air_w_per_k=-1.0)},
        {"outdoor": replace(NitrogenSettings().outdoor, gas_w_per_k=math.inf)},
    ],
)
def test_settings_that_cannot_be_are_refused(change: dict[str, float]) -> None:
    with pytest.raises(ConfigError, match="the simulated standing test needs"):
        NitrogenSettings(**change)  # type: ignore[arg-type]


def test_actions_that_cannot_be_are_refused() -> None:
    circuit = NitrogenCircuit(NitrogenSettings())
    with pytest.raises(ConfigError, match="expected a regulator setting"):
        circuit.set_regulator(7e6)
    with pytest.raises(ConfigError, match="expected part"):
        circuit.add_leak(Leak.sized(1e-3), part=2)
    with pytest.raises(ConfigError, match="sun"):
        circuit.set_sun(-1.0)
