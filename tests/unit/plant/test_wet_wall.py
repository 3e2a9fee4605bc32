"""Water on a wall under vacuum: it cools, freezes, sublimes slowly; its balances close."""

import math
import random

import pytest
from CoolProp.CoolProp import PropsSI

from chargeassist.model.errors import ConfigError
from chargeassist.physics.water_vapour import (
    MOLAR_MASS_KG,
    TRIPLE_POINT_K,
)
from chargeassist.plant.wet_wall import (
    EVAPORATION_J_PER_KG,
    FUSION_J_PER_KG,
    ICE_J_PER_KG_K,
    LIQUID_J_PER_KG_K,
    VAPOUR_J_PER_KG_K,
    WallSettings,
    WetWall,
)

DT = 0.25


def wet(kg: float, wall_k: float = 295.15, **settings: float) -> WetWall:
    return WetWall(WallSettings(**settings), kg / MOLAR_MASS_KG, wall_k)


def vapour_j_per_kg(temp_k: float) -> float:
    return EVAPORATION_J_PER_KG + VAPOUR_J_PER_KG_K * (temp_k - TRIPLE_POINT_K)


def evaporate(
    water: WetWall, seconds: float, wall_k: float, over_pa: float, gas_pa: float
) -> float:
    """Hold a vapour pressure over it and return what it gave [kg]."""
    before = water.mass_kg
    for _ in range(round(seconds / DT)):
        rate, own_pa = water.exchange(DT, wall_k, over_pa, gas_pa)
        water.lose(DT, rate * (own_pa - over_pa) * DT, gas_pa)
    return before - water.mass_kg


def test_the_heats_are_those_of_the_handbook() -> None:
    """The enthalpies of liquid, ice and vapour together give the heats of evaporation and of
    sublimation: ASHRAE Handbook - Fundamentals (2017), chapter 1, equations 33 and 35, which have
    2 501 - 2.326 t and 2 830 - 0.24 t kJ/kg; that of evaporation is CoolProp's too."""
    for temp_k in (275.0, 290.0, 310.0):
        latent = vapour_j_per_kg(temp_k) - LIQUID_J_PER_KG_K * (temp_k - TRIPLE_POINT_K)
        assert latent == pytest.approx(2.501e6 - 2326.0 * (temp_k - 273.15), rel=1e-3)
        steam, water = (PropsSI("H", "T", temp_k, "Q", q, "Water") for q in (1, 0))
        assert latent == pytest.approx(steam - water, rel=3e-3)
    for temp_k in (240.0, 260.0, 272.0):
        ice = ICE_J_PER_KG_K * (temp_k - TRIPLE_POINT_K) - FUSION_J_PER_KG
        assert vapour_j_per_kg(temp_k) - ice == pytest.approx(
            2.830e6 - 240.0 * (temp_k - 273.15), rel=2e-3
        )


def test_pulled_hard_it_freezes_and_then_stays_cold() -> None:
    water = wet(5e-3, wall_w_per_m2_k=20.0)
    assert water.temp_k == pytest.approx(295.15)
    assert water.ice_share == 0.0
    seen_both = False
    for _ in range(2400):
        evaporate(water, DT, 295.15, 60.0, 0.0)
        if 0.1 < water.ice_share < 0.9:
            seen_both = True
            assert water.temp_k == TRIPLE_POINT_K
    assert seen_both
    assert water.ice_share == 1.0
    assert 245.0 < water.temp_k < 262.0


def test_insulated_water_freezes_a_share_set_by_its_heats() -> None:
    """(c dT + fusion) / evaporation: some 17 % of water at 22 degrees Celsius boils away to freeze
    the rest (arithmetic from the heats)."""
    water = wet(5e-3, wall_w_per_m2_k=1.0)
    lost = 0.0
    while water.ice_share < 1.0:
        lost += evaporate(water, DT, 295.15, 500.0, 0.0)
    per_kg = (LIQUID_J_PER_KG_K * 22.0 + FUSION_J_PER_KG * (5e-3 - lost) / 5e-3) / 2.49e6
    assert lost / 5e-3 == pytest.approx(per_kg, rel=0.08)


def test_energy_and_mass_balance() -> None:
    random_ = random.Random(7)
    for kg, wall_k in ((5e-3, 295.15), (1e-4, 278.0), (0.0, 260.0), (2e-2, 310.0)):
        water = wet(kg, wall_k)
        start_j, start_mol = water.energy_j, water.mol
        carried_j = gone = 0.0
        for _ in range(4000):
            over_pa = random_.choice([5.0, 300.0, 800.0, 2000.0])
            gas_pa = random_.choice([0.0, 100.0, 9e4])
            rate, own_pa = water.exchange(DT, wall_k, over_pa, gas_pa)
            mol = rate * (own_pa - over_pa) * DT
            temp_k = water.temp_k
            water.lose(DT, mol, gas_pa)
            gone += mol
            carried_j += mol * MOLAR_MASS_KG * vapour_j_per_kg(temp_k)
            assert water.mol >= 0.0
            assert 190.0 <= water.temp_k < 330.0
            assert 0.0 <= water.ice_share <= 1.0
        assert start_mol - gone == pytest.approx(water.mol, abs=1e-9)
        brought = water.heat_in_j - carried_j
        assert water.energy_j - start_j == pytest.approx(brought, abs=1e-6)


def test_vapour_condenses_on_a_cold_dry_wall_as_frost() -> None:
    wall = wet(0.0, 263.15)
    gained = -evaporate(wall, 60.0, 263.15, 400.0, 0.0)
    assert gained > 1e-5
    assert wall.ice_share == 1.0
    dry = wet(0.0, 295.15)
    assert evaporate(dry, 60.0, 295.15, 600.0, 0.0) == 0.0


def test_standing_gas_hinders_evaporation() -> None:
    in_vacuum = evaporate(wet(5e-3), 10.0, 295.15, 1300.0, 0.0)
    in_air = evaporate(wet(5e-3), 10.0, 295.15, 1300.0, 1e5)
    assert in_air < 0.02 * in_vacuum


def test_gas_helps_ice_to_warm() -> None:
    """Gas in the gaps conducts once it is dense enough: why ice melts sooner under nitrogen."""
    left: list[float] = []
    for gas_pa in (0.0, 2e4):
        ice = wet(5e-3, 260.0)
        for _ in range(1200):
            ice.exchange(DT, 295.15, 300.0, gas_pa)
            ice.lose(DT, 0.0, gas_pa)
        left.append(ice.ice_share)
    assert left[1] < 0.5 * left[0]


@pytest.mark.parametrize("change", [{"area_m2": 0.0}, {"depth_m": math.nan}, {"ice_share": 2.0}])
def test_settings_that_cannot_be_are_refused(change: dict[str, float]) -> None:
    with pytest.raises(ConfigError, match="simulated water on a wall"):
        WallSettings(**change)
