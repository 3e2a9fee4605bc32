"""Molar masses against CoolProp, asked for the shipped compositions."""

import pytest

from chargeassist.physics.build_tables import new_state
from chargeassist.physics.molar_mass import molar_mass_kg
from chargeassist.physics.saturation import refrigerant, refrigerant_names


@pytest.mark.parametrize("name", refrigerant_names())
def test_a_molar_mass_is_that_of_coolprop(name: str) -> None:
    """0.02 %: CoolProp's own equations of some blends round their components."""
    expected = new_state(name).molar_mass()
    assert molar_mass_kg(refrigerant(name)) == pytest.approx(expected, rel=2e-4)
