"""The shipped table against the installed CoolProp, every refrigerant and line, whole range.

From an independent implementation as far as the interpolation, the file and the roots go: the
points lie between the nodes, and CoolProp's plain flash is asked without the builder's guess.
"""

import re

import CoolProp
import pytest
from CoolProp.CoolProp import AbstractState

from chargeassist.physics import build_tables
from chargeassist.physics.saturation import refrigerant, refrigerant_names

POINTS = 97
"""Not a divisor of the 256 steps of the table: the points fall everywhere between nodes."""

WITHIN_K = 0.002


def pressures(name: str) -> list[float]:
    fluid = refrigerant(name)
    return build_tables.grid(fluid.pressure_min_pa_abs, fluid.pressure_max_pa_abs, POINTS)


@pytest.mark.parametrize("name", refrigerant_names())
def test_table_is_within_2_mk_of_guided_coolprop(name: str) -> None:
    fluid = refrigerant(name)
    state = build_tables.new_state(name)
    mixture = fluid.model == "mixture"
    for quality, look_up in ((0.0, fluid.bubble_temp_k), (1.0, fluid.dew_temp_k)):
        line = build_tables.walk(state, quality, pressures(name), mixture=mixture)
        for pressure, (temp, _) in zip(pressures(name), line, strict=True):
            assert look_up(pressure) == pytest.approx(temp, abs=WITHIN_K), (quality, pressure)


@pytest.mark.parametrize("name", refrigerant_names())
def test_liquid_density_is_within_0_01_percent_of_coolprop(name: str) -> None:
    fluid = refrigerant(name)
    state = build_tables.new_state(name)
    line = build_tables.walk(state, 0.0, pressures(name), mixture=fluid.model == "mixture")
    for temp, density in line[1:-1]:
        found = fluid.saturated_liquid_density_kg_per_m3(temp)
        assert found == pytest.approx(density, rel=1e-4), temp


@pytest.mark.parametrize("name", refrigerant_names())
def test_table_is_within_2_mk_of_plain_coolprop_wherever_it_answers(name: str) -> None:
    """Plain flashes fail at some pressures, and may rarely give a wrong root (2 of 10 400 seen)."""
    fluid = refrigerant(name)
    state = build_tables.new_state(name)
    for quality, look_up in ((0.0, fluid.bubble_temp_k), (1.0, fluid.dew_temp_k)):
        answered = agreed = 0
        for pressure in pressures(name):
            try:
                state.update(CoolProp.PQ_INPUTS, pressure, quality)
            except ValueError:
                continue
            answered += 1
            temp = look_up(pressure)
            assert isinstance(temp, float)
            agreed += abs(temp - state.T()) < WITHIN_K
        assert answered >= 0.85 * POINTS
        assert agreed >= answered - 1


@pytest.mark.parametrize("name", build_tables.PSEUDO_PURE)
def test_pseudo_pure_and_mixture_routes_agree(name: str) -> None:
    """15 mK up to 3 MPa: two ways of modelling one blend, fitted to much the same data."""
    fluid = refrigerant(name)
    state = build_tables.new_state(name, as_mixture=True)
    grid = build_tables.grid(100_000.0, 3_000_000.0, POINTS)
    for quality, look_up in ((0.0, fluid.bubble_temp_k), (1.0, fluid.dew_temp_k)):
        line = build_tables.walk(state, quality, grid, mixture=True)
        for pressure, (temp, _) in zip(grid, line, strict=True):
            assert look_up(pressure) == pytest.approx(temp, abs=0.015), (quality, pressure)


@pytest.mark.parametrize("name", sorted(set(build_tables.BLENDS) - {"R-515B"}))
def test_compositions_agree_with_coolprops_predefined_mixtures(name: str) -> None:
    """0.01 mass percent; CoolProp has no predefined R-515B."""
    state = AbstractState("HEOS", name.replace("-", "") + ".mix")
    theirs = dict(zip(state.fluid_names(), state.get_mass_fractions(), strict=True))
    plain = {build_tables.COMPONENTS[part]: part for part, _ in refrigerant(name).composition}
    assert len(theirs) == len(plain)
    for part, fraction in refrigerant(name).composition:
        alias = AbstractState("HEOS", build_tables.COMPONENTS[part]).fluid_names()[0]
        found = {AbstractState("HEOS", each).fluid_names()[0]: x for each, x in theirs.items()}
        assert found[alias] == pytest.approx(fraction, abs=1e-4)


def test_critical_points_are_those_of_coolprop_for_pure_fluids() -> None:
    for name, alias in build_tables.PURE.items():
        state = AbstractState("HEOS", alias)
        fluid = refrigerant(name)
        assert fluid.critical_pressure_pa_abs == pytest.approx(state.p_critical(), abs=1.0)
        assert fluid.critical_temp_k == pytest.approx(state.T_critical(), abs=1e-3)
        assert fluid.pressure_max_pa_abs < 0.9501 * fluid.critical_pressure_pa_abs


def test_installed_coolprop_is_new_enough_for_blends() -> None:
    version = tuple(int(part) for part in re.findall(r"\d+", CoolProp.__version__)[:2])
    assert version >= (8, 0), f"CoolProp {CoolProp.__version__}: R-454B differs by 0.3 K"
