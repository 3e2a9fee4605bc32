"""Flow through holes against `fluids`, CoolProp and the limits that textbooks give."""

import math
from typing import Any

import fluids
import pytest
from CoolProp.CoolProp import PropsSI

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import PASCAL_PER_PSI, PASCAL_PER_TORR
from chargeassist.physics.nitrogen import GAS_CONSTANT, MOLAR_MASS_KG
from chargeassist.plant.leak import (
    DISCHARGE,
    Leak,
    capillary_mol_per_s,
    nitrogen_viscosity_pa_s,
    orifice_mol_per_s,
)

FLUIDS: Any = fluids


@pytest.mark.parametrize("temp_k", [250.0, 273.15, 295.0, 330.0])
def test_viscosity_agrees_with_coolprop(temp_k: float) -> None:
    expected = PropsSI("V", "T", temp_k, "P", 1e5, "Nitrogen")
    assert nitrogen_viscosity_pa_s(temp_k) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("pressure", [3e5, 1e6, 3.5e6])
def test_choked_flow_agrees_with_api_520(pressure: float) -> None:
    """API Standard 520 part 1, critical flow of gas, as implemented in fluids."""
    flow = orifice_mol_per_s(1e-3, pressure, 1e5, 300.0) * MOLAR_MASS_KG
    area = FLUIDS.API520_A_g(
        m=flow, T=300.0, Z=1.0, MW=1e3 * MOLAR_MASS_KG, k=1.4, P1=pressure, P2=1e5, Kd=DISCHARGE
    )
    assert area == pytest.approx(0.25 * math.pi * 1e-6, rel=1e-4)


def test_a_small_difference_gives_the_flow_of_a_liquid_of_that_density() -> None:
    """Bernoulli: sqrt(2 rho dp), textbook limit of the nozzle equation."""
    density = 1e5 * MOLAR_MASS_KG / (GAS_CONSTANT * 300.0)
    expected = DISCHARGE * 0.25 * math.pi * 1e-6 * math.sqrt(2.0 * density * 100.0)
    flow = orifice_mol_per_s(1e-3, 1e5 + 50.0, 1e5 - 50.0, 300.0) * MOLAR_MASS_KG
    assert flow == pytest.approx(expected, rel=2e-3)


def test_laminar_flow_agrees_with_the_isothermal_equation() -> None:
    """fluids.isothermal_gas with the laminar friction factor 64/Re; the acceleration term that
    it has and the long capillary has not is 1e-4 here."""
    d, length, p1, p2, temp = 2e-5, 0.02, 8e5, 4e5, 295.0
    flow = capillary_mol_per_s(d, length, p1, p2, temp) * MOLAR_MASS_KG
    reynolds = 4.0 * flow / (math.pi * d * nitrogen_viscosity_pa_s(temp))
    # Its equation divides by P1, so the density that belongs with it is the one at P1.
    density = p1 * MOLAR_MASS_KG / (GAS_CONSTANT * temp)
    expected = FLUIDS.isothermal_gas(rho=density, fd=64.0 / reynolds, P1=p1, P2=p2, L=length, D=d)
    assert flow == pytest.approx(expected, rel=2e-3)


def test_a_leak_is_sized_by_what_it_passes_into_vacuum() -> None:
    for size in (1e-7, 2.2e-5, 0.019, 1.0):
        leak = Leak.sized(size)
        passed = leak.mol_per_s(101_325.0, 0.0, 293.15) * GAS_CONSTANT * 293.15
        assert passed == pytest.approx(size, rel=1e-9)
        more = leak.mol_per_s(3.5e6, 101_325.0, 293.15)
        factor = more / leak.mol_per_s(101_325.0, 0.0, 293.15)
        # Between the nozzle's ratio of pressures and the capillary's ratio of their squares.
        assert 34.5 < factor < 1193.0
    small, large = Leak.sized(1e-6), Leak.sized(1.0)
    assert small.mol_per_s(2e6, 1e5, 300.0) / small.mol_per_s(1e6, 1e5, 300.0) > 3.5
    assert large.mol_per_s(2e6, 1e5, 300.0) / large.mol_per_s(1e6, 1e5, 300.0) < 2.6


def test_the_sizes_of_the_trade_in_si() -> None:
    """Ten litres losing 1 psi in an hour: 0.019 Pa m3/s; rising 1 micron a minute: 2.2e-5
    (arithmetic, volume times rate)."""
    psi_an_hour = 0.01 * PASCAL_PER_PSI / 3600.0
    micron_a_minute = 0.01 * 1e-3 * PASCAL_PER_TORR / 60.0
    assert psi_an_hour == pytest.approx(0.0192, abs=1e-4)
    assert micron_a_minute == pytest.approx(2.2e-5, rel=0.02)


def test_nothing_flows_uphill() -> None:
    leak = Leak(diameter_m=1e-4)
    assert leak.mol_per_s(1e5, 1e5, 300.0) == 0.0
    assert leak.mol_per_s(1e5, 2e5, 300.0) == 0.0
    assert orifice_mol_per_s(1e-4, 1e5, 2e5, 300.0) == 0.0
    assert capillary_mol_per_s(1e-4, 1e-3, 1e5, 2e5, 300.0) == 0.0


@pytest.mark.parametrize("size", [0.0, -1.0, 11.0, math.nan])
def test_a_size_that_cannot_be_is_refused(size: float) -> None:
    with pytest.raises(ConfigError, match="expected a leak from"):
        Leak.sized(size)
    with pytest.raises(ConfigError, match="a leak must be"):
        Leak(diameter_m=size)
