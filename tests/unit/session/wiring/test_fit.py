"""Units and roles a number may have.

The pairs of pressure and temperature are saturation values that a published reference library
gives; the ranges themselves are common practice.
"""

import pytest
from CoolProp.CoolProp import PropsSI

from chargeassist.model.channels import Role
from chargeassist.model.units import Reference, find_unit
from chargeassist.session.wiring.fit import USUAL, Fit, fit_of, roles_for, units_for

NONE: frozenset[Role] = frozenset()


def symbols(role: Role, number: float | None, said: str = "") -> list[str]:
    return [fit.unit.symbol for fit in units_for(role, number, said)]


def usual(role: Role, number: float) -> set[str]:
    return {fit.unit.symbol for fit in units_for(role, number) if fit.fit is Fit.USUAL}


def test_every_role_has_a_range_and_units() -> None:
    for role in Role:
        low, high = USUAL[role]
        assert low < high
        for fit in units_for(role, 1.0):
            assert fit.unit.quantity is role.quantity


@pytest.mark.parametrize("refrigerant", ["R32", "R410A", "R134a", "R22"])
@pytest.mark.parametrize("outdoor_c", [15.0, 25.0, 35.0, 45.0])
def test_saturation_at_condensing_and_at_rest_is_usual(refrigerant: str, outdoor_c: float) -> None:
    """Saturation by CoolProp: condensing 15 K over the outdoor air, and at rest at the air's."""
    for temp_c in (outdoor_c, outdoor_c + 15.0):
        pressure_pa = PropsSI("P", "T", temp_c + 273.15, "Q", 0, refrigerant)
        assert fit_of(Role.LIQUID_PRESSURE, pressure_pa, Reference.ABSOLUTE) is Fit.USUAL


@pytest.mark.parametrize("refrigerant", ["R32", "R410A", "R134a", "R22"])
def test_saturation_at_evaporating_is_usual(refrigerant: str) -> None:
    for temp_c in (-2.0, 5.0, 12.0):
        pressure_pa = PropsSI("P", "T", temp_c + 273.15, "Q", 1, refrigerant)
        assert fit_of(Role.SUCTION_PRESSURE, pressure_pa, Reference.ABSOLUTE) is Fit.USUAL


def test_psi_taken_for_bar_and_fahrenheit_for_celsius_are_told() -> None:
    likely = symbols(Role.LIQUID_PRESSURE, 248.1)
    assert likely[0] == "psig"
    assert "barg" not in usual(Role.LIQUID_PRESSURE, 248.1)
    assert symbols(Role.LIQUID_PRESSURE, 17.1)[0] == "barg"
    assert symbols(Role.LIQUID_TEMPERATURE, 95.0)[0] == "°F"
    assert symbols(Role.LIQUID_TEMPERATURE, 35.0)[0] == "°C"
    assert symbols(Role.VACUUM, 480.0)[0] == "micron"


def test_only_pressures_that_say_gauge_or_absolute_are_offered() -> None:
    assert "psi" not in symbols(Role.LIQUID_PRESSURE, 248.1)
    assert {"psig", "psia"} <= set(symbols(Role.LIQUID_PRESSURE, 248.1))
    for role in (Role.VACUUM, Role.BAROMETER):
        assert not any(s.endswith("g") and s != "inHg" for s in symbols(role, 1000.0))


def test_impossible_numbers_are_last() -> None:
    fits = units_for(Role.LIQUID_TEMPERATURE, -300.0)
    assert fits[-1].fit is Fit.IMPOSSIBLE
    assert {f.unit.symbol for f in fits if f.fit is Fit.IMPOSSIBLE} == {"K", "°C"}
    assert fit_of(Role.SUCTION_PRESSURE, -2e5, Reference.GAUGE) is Fit.IMPOSSIBLE
    assert fit_of(Role.VACUUM, -1.0, Reference.ABSOLUTE) is Fit.IMPOSSIBLE


def test_the_value_is_in_si() -> None:
    psig = next(f for f in units_for(Role.LIQUID_PRESSURE, 100.0) if f.unit.symbol == "psig")
    # NIST SP 811, B.8: 1 psi = 6.894757e3 Pa.
    assert psig.value_si == pytest.approx(689_475.7, rel=1e-6)
    assert psig.reference is Reference.GAUGE


def test_a_unit_sent_beside_the_number_is_the_only_one() -> None:
    assert set(symbols(Role.LIQUID_PRESSURE, 248.0, "psi")) == {"psig", "psia"}
    assert symbols(Role.LIQUID_PRESSURE, 248.0, "psia") == ["psia"]
    assert symbols(Role.LIQUID_TEMPERATURE, 35.0, "C") == ["°C"]
    assert symbols(Role.LIQUID_PRESSURE, 35.0, "C") == []
    roles = roles_for("x", 35.0, "°C", NONE)
    assert {role.quantity for role in roles} == {find_unit("°C", roles[0].quantity).quantity}


def test_roles_by_the_words_of_a_name_and_without_those_taken() -> None:
    assert roles_for("cart/suction temp", 12.0, "", NONE)[0] is Role.SUCTION_TEMPERATURE
    assert roles_for("job/clamps liquidTemp", 12.0, "", NONE)[0] is Role.LIQUID_TEMPERATURE
    assert roles_for("rack.barometer", 990.0, "", NONE)[0] is Role.BAROMETER
    first, *_ = roles_for("p", 248.0, "", NONE)
    assert first is Role.LIQUID_PRESSURE
    assert first not in roles_for("p", 248.0, "", frozenset({first}))
