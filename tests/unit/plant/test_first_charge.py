"""The first charge in simulation: mass and energy are kept, and the pressures meet.

Densities and pressures are those of CoolProp 8.
"""

import pytest
from CoolProp.CoolProp import PropsSI

from chargeassist.model.channels import Role
from chargeassist.model.errors import ConfigError
from chargeassist.plant.first_charge import FirstCharge, FirstChargeSettings
from chargeassist.plant.property_table import fluid_names

VOLUME_M3 = 11e-3


def filled(seconds: float, **settings: float | str) -> FirstCharge:
    plant = FirstCharge(FirstChargeSettings(**settings))  # type: ignore[arg-type]
    plant.begin_step()
    plant.run_until(seconds)
    return plant


@pytest.mark.parametrize("name", fluid_names())
def test_what_leaves_the_scale_is_in_the_circuit(name: str) -> None:
    plant = FirstCharge(FirstChargeSettings(refrigerant=name))
    full_kg = plant.truth()[Role.CYLINDER_MASS]
    plant.begin_step()
    plant.run_until(200.0)
    plant.end_step()
    plant.run_until(260.0)
    gone_kg = full_kg - plant.truth()[Role.CYLINDER_MASS]
    assert gone_kg > 0.5
    assert plant.charge_kg == pytest.approx(gone_kg, abs=1e-6)
    assert plant.given_kg == pytest.approx(gone_kg, abs=1e-9)


@pytest.mark.parametrize("kg", [0.05, 0.2, 0.35])
def test_vapour_alone_has_the_pressure_of_its_density(kg: float) -> None:
    plant = filled(7200.0, cylinder_kg=kg, volume_m3=VOLUME_M3, outdoor_k=297.15, indoor_k=297.15)
    assert plant.circuit_k == pytest.approx(297.15, abs=0.05)
    expected = PropsSI("P", "T", 297.15, "D", kg / VOLUME_M3, "R32")
    # A second virial coefficient that meets the dew point: 1 % is what that form is good for.
    assert plant.pressure_pa_abs - 50.0 == pytest.approx(expected, rel=0.01)


def test_more_than_vapour_has_the_pressure_of_the_temperature() -> None:
    plant = filled(7200.0, cylinder_kg=2.0)
    assert plant.charge_kg == pytest.approx(2.0, abs=1e-3)
    expected = PropsSI("P", "T", plant.circuit_k, "Q", 0, "R32")
    assert plant.pressure_pa_abs == pytest.approx(expected, rel=2e-3)


def test_the_heat_that_boils_the_liquid_comes_from_the_metal() -> None:
    """Shut off from the air, circuit and charge keep their energy: enthalpy in is heat there."""
    plant = FirstCharge(
        FirstChargeSettings(air_w_per_k=0.0, cylinder_w_per_k=0.0, cylinder_k=297.15, hose_s=0.1)
    )
    before_j = 16e3 * plant.circuit_k
    plant.begin_step(0.3)
    plant.run_until(120.0)
    assert plant.charge_kg == pytest.approx(0.3, abs=1e-6)
    assert plant.circuit_k < 297.15 - 3.0
    density = plant.charge_kg / VOLUME_M3
    energy_j = 0.3 * PropsSI("U", "T", plant.circuit_k, "D", density, "R32")
    liquid_j = 0.3 * PropsSI("H", "T", 297.0, "Q", 0, "R32")
    # The table counts from the same zero as CoolProp; 1 kJ of some 50 is the form of the vapour.
    assert 16e3 * plant.circuit_k + energy_j - before_j == pytest.approx(liquid_j, abs=1.5e3)


def test_the_flow_dies_when_the_pressures_have_met_and_a_warm_cylinder_gives_more() -> None:
    even, warm = (filled(1800.0, cylinder_k=k, indoor_k=297.15) for k in (297.15, 303.15))
    assert even.charge_kg < warm.charge_kg
    for plant in (even, warm):
        before_kg = plant.charge_kg
        plant.run_until(2400.0)
        assert plant.charge_kg - before_kg < 0.005
        assert plant.cylinder_kg > 0.0
    assert even.cylinder_k < 297.15


def test_what_is_said_to_have_been_too_much_is_recovered() -> None:
    plant = filled(100.0)
    plant.end_step()
    plant.run_until(130.0)
    before_kg = plant.charge_kg
    plant.end_step(-0.2)
    plant.run_until(400.0)
    assert plant.charge_kg == pytest.approx(before_kg - 0.2, abs=1e-6)


def test_the_same_time_cut_otherwise_gives_the_same() -> None:
    whole, cut = filled(90.0), filled(0.0)
    for t in range(1, 181):
        cut.run_until(t / 2.0)
    assert whole.truth() == cut.truth()


def test_figures_no_job_has_are_refused() -> None:
    with pytest.raises(ConfigError, match="needs volume"):
        FirstChargeSettings(volume_m3=0.0)
    with pytest.raises(ConfigError, match="expected one of"):
        FirstCharge(FirstChargeSettings(refrigerant="R-999"))
