"""Molar masses against CoolProp, asked for the shipped compositions."""

import pytest
from CoolProp.CoolProp import PropsSI

from chargeassist.physics import nitrogen, water_vapour
from chargeassist.physics.build_tables import new_state
from chargeassist.physics.molar_mass import molar_mass_kg
from chargeassist.physics.saturation import refrigerant, refrigerant_names


@pytest.mark.parametrize("name", refrigerant_names())
def test_a_molar_mass_is_that_of_coolprop(name: str) -> None:
    """0.02 %: CoolProp's own equations of some blends round their components."""
    expected = new_state(name).molar_mass()
    assert molar_mass_kg(refrigerant(name)) == pytest.approx(expected, rel=2e-4)


def test_water_and_nitrogen_have_the_molar_mass_of_coolprop() -> None:
    for ours, name in (
        (water_vapour.MOLAR_MASS_KG, "Water"),
        (nitrogen.MOLAR_MASS_KG, "Nitrogen"),
    ):
        assert ours == pytest.approx(PropsSI("molar_mass", name), rel=1e-5)
