"""The plant's property tables against CoolProp, asked by other routes than the builder takes."""

import math
from typing import Any

import CoolProp
import numpy as np
import pytest
from CoolProp.CoolProp import AbstractState

from chargeassist.physics.saturation import refrigerant
from chargeassist.plant import build_properties
from chargeassist.plant.homogeneous import mixed_density_kg_per_m3, mixed_pressure_pa_abs
from chargeassist.plant.property_table import (
    COLUMNS,
    distance_of_superheat,
    document,
    fluid,
    fluid_names,
)
from chargeassist.plant.reference_compressor import FLOW_R410A, polynomial
from chargeassist.plant.void_fraction import mean_void

NAMES = ["R-22", "R-32", "R-407C", "R-410A", "R-454B"]
PRESSURES = [1.5e5, 4e5, 8e5, 1.1e6, 1.7e6, 2.3e6, 2.9e6, 3.5e6, 4.0e6]


def state_of(name: str) -> Any:
    if name == "R-454B":
        state = AbstractState("HEOS", "R32&R1234yf")
        state.set_mass_fractions([0.689, 0.311])
        return state
    return AbstractState("HEOS", name.replace("-", ""))


def imposed(state: Any, phase: int, p: float, temp: float) -> tuple[float, float]:
    """Enthalpy and density of a single phase by CoolProp's own pressure-temperature flash."""
    state.specify_phase(phase)
    state.update(CoolProp.PT_INPUTS, p, temp)
    return state.hmass(), state.rhomass()


def test_the_plant_knows_a_pure_fluid_a_near_azeotrope_and_a_blend_with_glide() -> None:
    assert set(fluid_names()) == set(NAMES)
    s = fluid("R-454B").state(2.3e6)
    assert 1.2 < s[1] - s[0] < 1.7  # glide; 1.46 K at a bubble point of 40 °C


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("p", PRESSURES)
def test_saturation_agrees_with_the_saturation_table(name: str, p: float) -> None:
    shipped = refrigerant(name)
    s = fluid(name).state(p)
    assert s[0] == pytest.approx(shipped.bubble_temp_k(p), abs=1e-3)
    assert s[1] == pytest.approx(shipped.dew_temp_k(p), abs=1e-3)
    assert fluid(name).bubble_pressure_pa_abs(s[0]) == pytest.approx(p, rel=2e-5)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("p", PRESSURES)
def test_vapour_beside_the_dew_line(name: str, p: float) -> None:
    # Limits in the middle of the fits: 0.3 K, 0.4 %; in the far corners twice that.
    state, s = state_of(name), fluid(name).state(p)
    for superheat in (4.0, 11.1, 25.0, 45.0, 70.0):
        h, rho = imposed(state, CoolProp.iphase_gas, p, s[1] + superheat)
        d = h - s[3]
        shown = ((s[8] * d + s[7]) * d + s[6]) * d
        corner = 2.0 if p > 3e6 else 1.0
        assert shown == pytest.approx(superheat, abs=0.3 * corner)
        back = distance_of_superheat(s[6], s[7], s[8], superheat)
        assert back == pytest.approx(d, abs=400.0 * corner)
        assert mixed_density_kg_per_m3(s, h) == pytest.approx(rho, rel=4e-3 * corner)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("p", [8e5, 1.7e6, 2.3e6, 2.9e6, 3.5e6])
def test_liquid_beside_the_bubble_line(name: str, p: float) -> None:
    state, table = state_of(name), fluid(name)
    s = table.state(p)
    for subcooling in (2.0, 5.0, 8.0, 14.0):
        h, rho = imposed(state, CoolProp.iphase_liquid, p, s[0] - subcooling)
        d = s[2] - h
        assert (s[13] * d + s[12]) * d == pytest.approx(subcooling, abs=0.07)
        assert table.liquid_enthalpy_j_per_kg(p, s[0] - subcooling) == pytest.approx(h, abs=150.0)
        assert mixed_density_kg_per_m3(s, h) == pytest.approx(rho, rel=1.5e-3)


def test_the_builder_makes_the_shipped_numbers() -> None:
    shipped = document()
    for name in build_properties.REFRIGERANTS:
        built = build_properties.build_entry(name)
        for column in COLUMNS:
            # Curvatures of fits near the critical point are the most sensitive to the last digit.
            np.testing.assert_allclose(
                built[column], shipped["refrigerants"][name][column], rtol=1e-4, err_msg=column
            )


@pytest.mark.parametrize("name", ["R-22", "R-32", "R-407C", "R-454B"])
def test_compressor_maps_of_other_refrigerants_keep_the_efficiencies(name: str) -> None:
    # Flow at equal dew temperatures goes with suction density: R-410A's published map times the
    # ratio of densities, by CoolProp; the fit may miss it by 2 % in the corners.
    assert document()["refrigerants"][name]["map_misfit"] < 0.02
    other, base = state_of(name), state_of("R-410A")
    for s_f, d_f in ((40.0, 110.0), (46.0, 95.0), (30.0, 120.0)):
        densities = []
        for state, fluid_name in ((other, name), (base, "R-410A")):
            temp = (s_f + 459.67) / 1.8
            p = refrigerant(fluid_name).dew_pressure_pa_abs(temp)
            assert isinstance(p, float)
            densities.append(imposed(state, CoolProp.iphase_gas, p, temp + 100.0 / 9.0)[1])
        expected = polynomial(FLOW_R410A, s_f, d_f) * densities[0] / densities[1]
        assert polynomial(fluid(name).flow_map, s_f, d_f) == pytest.approx(expected, rel=0.01)


def test_the_reference_map_is_a_three_ton_compressor() -> None:
    # 45/115 °F: 36 000 Btu/h over about 75 Btu/lb of refrigerating effect is some 480 lb/h.
    assert 400.0 < polynomial(FLOW_R410A, 45.0, 115.0) < 560.0


@pytest.mark.parametrize("p", [8e5, 1.2e6, 2.8e6])
@pytest.mark.parametrize(("low", "high"), [(0.0, 1.0), (0.2, 1.0), (0.1, 0.6)])
def test_mean_void_is_the_integral_of_the_local_one(p: float, low: float, high: float) -> None:
    s = fluid("R-410A").state(p)
    slip = (s[5] / s[4]) ** (2.0 / 3.0)
    x = np.linspace(low, high, 20001)
    local = x / (x + (1.0 - x) * slip)
    assert mean_void(slip, low, high) == pytest.approx(float(np.mean(local)), abs=1e-4)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("quality", "p"), [(0.3, 9e5), (0.9, 3e5), (1.3, 6e5), (0.02, 2.5e6)])
def test_a_mixed_volume_has_the_pressure_of_its_mass_and_energy(
    name: str, quality: float, p: float
) -> None:
    table = fluid(name)
    s = table.state(p)
    h = s[2] + quality * (s[3] - s[2])
    mass, volume = 0.8, 0.8 / mixed_density_kg_per_m3(s, h)
    energy = mass * h - p * volume
    for guess in (2e5, 1e6, 3.5e6):
        found = mixed_pressure_pa_abs(table, mass, energy, volume, guess)
        assert math.log(found / p) == pytest.approx(0.0, abs=2e-4)
