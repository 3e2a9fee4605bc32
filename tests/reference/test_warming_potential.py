"""Warming potentials and CO2 equivalents against published figures."""

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.values import NoValue
from chargeassist.physics.table import shipped_table
from chargeassist.physics.warming_potential import (
    COMPONENT_GWP,
    EDITION,
    WarmingPotential,
    blend_gwp,
    co2_equivalent_kg,
)


def gwp(name: str) -> WarmingPotential:
    found = blend_gwp(shipped_table().entries[name].composition)
    assert isinstance(found, WarmingPotential), found
    return found


@pytest.mark.parametrize(
    ("name", "value", "from_memory"),
    # Components: legislation.gov.uk/eur/2014/517/annexes/adopted, annex I. Blends as they are sold
    # in the Union, from memory: R-410A 2088, R-407C 1774, R-404A 3922, R-454B 466, R-513A 631.
    [
        ("R-32", 675.0, False),
        ("R-134a", 1430.0, False),
        ("R-410A", 2088.0, False),
        ("R-407C", 1774.0, False),
        ("R-404A", 3922.0, False),
        ("R-454B", 466.0, True),
        ("R-513A", 631.0, True),
        ("R-1234yf", 4.0, True),
    ],
)
def test_blends_by_mass(name: str, value: float, *, from_memory: bool) -> None:
    found = gwp(name)
    assert found.value == pytest.approx(value, abs=1.0)
    assert found.edition == EDITION
    assert found.from_memory is from_memory


def test_every_refrigerant_has_one_but_for_the_one_that_is_in_no_annex() -> None:
    entries = shipped_table().entries.items()
    without = [name for name, entry in entries if isinstance(blend_gwp(entry.composition), NoValue)]
    assert without == ["R-466A"]


def test_five_tonnes_of_co2_are_2_39_kg_of_r410a() -> None:
    """Published summary of that regulation: zerosottozero.it/avJ2S."""
    assert 5000.0 / co2_equivalent_kg(1.0, gwp("R-410A")) == pytest.approx(2.39, abs=0.01)


def test_what_the_table_lacks_is_said() -> None:
    assert isinstance(blend_gwp([("R-32", 0.689), ("R-161", 0.311)]), NoValue)
    assert isinstance(blend_gwp([("R-32", 0.5)]), NoValue)
    other = {**COMPONENT_GWP, "R-125": WarmingPotential(value=3170.0, edition="AR5")}
    assert isinstance(blend_gwp([("R-32", 0.5), ("R-125", 0.5)], other), NoValue)
    with pytest.raises(ConfigError):
        co2_equivalent_kg(-1.0, gwp("R-32"))
