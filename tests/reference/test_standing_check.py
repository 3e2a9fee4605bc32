"""Pressure probes against saturation at rest: an independent library, published limits, by hand."""

import math

import pytest
from CoolProp import CoolProp

from chargeassist.model.values import NoValue
from chargeassist.physics.saturation import refrigerant
from chargeassist.physics.standing_check import (
    REST_S,
    ReadAtRest,
    StandingCheck,
    StandingVerdict,
    StandsOn,
    standing_check,
)

PSI = 0.45359237 * 9.80665 / 0.0254**2
FLUIDS = {"R-410A": "R410A", "R-32": "R32", "R-134a": "R134a"}


def kelvin(temp_f: float) -> float:
    return (temp_f + 459.67) / 1.8


def check(
    name: str,
    pressure_pa_abs: float,
    temp_k: float,
    *,
    limit_psi: float = 7.0,
    temp_expanded_k: float = 0.3,
    rest_s: float | None = 5 * 3600.0,
    stands_on: StandsOn = StandsOn.CYLINDER,
    station_half_width_pa: float = 0.0,
) -> StandingCheck:
    read = ReadAtRest(
        pressure_pa_abs=pressure_pa_abs,
        temp_k=temp_k,
        temp_expanded_k=temp_expanded_k,
        station_half_width_pa=station_half_width_pa,
        rest_s=rest_s,
        stands_on=stands_on,
    )
    found = standing_check(refrigerant(name), read, limit_pa=limit_psi * PSI)
    assert isinstance(found, StandingCheck), found
    return found


@pytest.mark.parametrize("name", FLUIDS)
@pytest.mark.parametrize("temp_f", [50.0, 70.0, 100.0])
@pytest.mark.parametrize("shift_psi", [-20.0, 0.0, 8.0])
def test_the_offset_is_what_was_put_in(name: str, temp_f: float, shift_psi: float) -> None:
    """CoolProp 8's bubble pressure plus a shift; 0.1 % of the pressure for the table."""
    true_pa = CoolProp.PropsSI("P", "T", kelvin(temp_f), "Q", 0, FLUIDS[name])
    found = check(name, true_pa + shift_psi * PSI, kelvin(temp_f))
    assert found.offset_pa == pytest.approx(shift_psi * PSI, abs=0.001 * true_pa)


def test_a_published_chart_agrees_with_itself_inside_the_instrument_limit() -> None:
    """R-410A at 100 °F is 317.2 psig in an equipment manual, 1.3 psi under CoolProp.

    manualshive.com/en/manual/allied-air/4scu16lt-series/2901831, page 14.
    """
    found = check("R-410A", 317.2 * PSI + 101_325.0, kelvin(100.0))
    assert found.offset_pa / PSI == pytest.approx(-1.3, abs=0.2)
    assert found.verdict is StandingVerdict.AGREES


def test_the_limit_of_the_appendix_is_told_apart_both_ways() -> None:
    """7 psi, California RA3.2.2.2.2 (2013): 20 psi off is shifted, 8 psi off not certainly."""
    true_pa = CoolProp.PropsSI("P", "T", 295.0, "Q", 0, "R32")
    verdicts = {
        shift: check("R-32", true_pa + shift * PSI, 295.0).verdict
        for shift in (0.0, 6.0, 8.0, 20.0)
    }
    assert verdicts == {
        0.0: StandingVerdict.AGREES,
        6.0: StandingVerdict.AGREES_NOT_CERTAIN,
        8.0: StandingVerdict.SHIFTED_NOT_CERTAIN,
        20.0: StandingVerdict.SHIFTED,
    }


def test_eight_psi_of_r410a_reads_as_about_one_and_three_quarter_fahrenheit() -> None:
    """0.2198 °F/psi at 100 °F (CoolProp): 8 psi high looks like 1.76 °F more subcooling."""
    true_pa = CoolProp.PropsSI("P", "T", kelvin(100.0), "Q", 0, "R410A")
    found = check("R-410A", true_pa + 8.0 * PSI, kelvin(100.0))
    assert found.subcooling_shift_k * 1.8 == pytest.approx(1.76, abs=0.05)


def test_a_poor_thermometer_cannot_judge_a_good_pressure_probe() -> None:
    """1.4 K at 22 °C is about 6 psi of R-32; a limit of 2 psi is out of its reach."""
    true_pa = CoolProp.PropsSI("P", "T", 295.0, "Q", 0, "R32")
    found = check("R-32", true_pa + PSI, 295.0, limit_psi=2.0, temp_expanded_k=1.4)
    assert found.verdict is StandingVerdict.TOO_COARSE


def test_the_uncertainty_by_hand() -> None:
    """R-32 at 295 K: dp/dT from CoolProp, U_T 0.3 K, 0.2 % of the table."""
    true_pa = CoolProp.PropsSI("P", "T", 295.0, "Q", 0, "R32")
    warm_pa = CoolProp.PropsSI("P", "T", 295.5, "Q", 0, "R32")
    cold_pa = CoolProp.PropsSI("P", "T", 294.5, "Q", 0, "R32")
    expected = math.hypot(0.3 * (warm_pa - cold_pa), 0.002 * true_pa)
    assert check("R-32", true_pa, 295.0).expanded_pa == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize("rest_s", [None, 0.0, REST_S - 1.0])
def test_less_than_four_hours_of_rest_is_no_check(rest_s: float | None) -> None:
    """RA3.2 (2008), gauge check: the cylinder rests four hours."""
    found = check("R-32", 1.5e6, 295.0, rest_s=rest_s)
    assert found.verdict is StandingVerdict.NOT_RESTED
    assert check("R-32", 1.5e6, 295.0, rest_s=REST_S).verdict is not StandingVerdict.NOT_RESTED


def test_a_blend_in_a_circuit_stands_between_bubble_and_dew() -> None:
    """R-407C at 22 °C: about 1.4 bar of glide; the middle is expected, wider than in a cylinder."""
    fluid = refrigerant("R-407C")
    bubble, dew = fluid.bubble_pressure_pa_abs(295.0), fluid.dew_pressure_pa_abs(295.0)
    assert isinstance(bubble, float)
    assert isinstance(dew, float)
    circuit = check("R-407C", 0.5 * (bubble + dew), 295.0, stands_on=StandsOn.IDLE_CIRCUIT)
    cylinder = check("R-407C", bubble, 295.0)
    assert circuit.offset_pa == pytest.approx(0.0, abs=1.0)
    assert cylinder.offset_pa == pytest.approx(0.0, abs=1.0)
    glide_pa = bubble - dew
    for found, share in ((circuit, 0.5), (cylinder, 0.25)):
        composition_pa = 2.0 * share * glide_pa / math.sqrt(3.0)
        slope = fluid.bubble_slope_k_per_pa(bubble)
        assert isinstance(slope, float)
        assert found.expanded_pa == pytest.approx(
            math.hypot(0.3 / slope, 0.005 * bubble, composition_pa), rel=0.02
        )


@pytest.mark.parametrize(("pressure", "temp"), [(1e6, 1000.0), (math.nan, 295.0), (-1.0, 295.0)])
def test_what_cannot_be_has_no_check(pressure: float, temp: float) -> None:
    read = ReadAtRest(
        pressure_pa_abs=pressure, temp_k=temp, temp_expanded_k=0.3, station_half_width_pa=0.0
    )
    found = standing_check(refrigerant("R-32"), read, limit_pa=7 * PSI)
    assert isinstance(found, NoValue)


def test_how_well_the_air_pressure_is_known_is_in_the_uncertainty() -> None:
    """A limit of 15 hPa, as a rectangle: U = 2 · 1500 / √3 Pa beside the rest (JCGM 100:2008)."""
    true_pa = CoolProp.PropsSI("P", "T", kelvin(70.0), "Q", 0, "R410A")
    without = check("R-410A", true_pa, kelvin(70.0))
    told = check("R-410A", true_pa, kelvin(70.0), station_half_width_pa=1500.0)
    added = math.sqrt(told.expanded_pa**2 - without.expanded_pa**2)
    assert added == pytest.approx(2.0 * 1500.0 / math.sqrt(3.0))


def test_far_above_saturation_is_shifted_however_coarse_the_thermometer() -> None:
    """U of 30 psi against a limit of 7: nothing under 37 psi is certain, 60 psi are."""
    true_pa = CoolProp.PropsSI("P", "T", kelvin(80.0), "Q", 0, "R410A")
    slope = CoolProp.PropsSI("P", "T", kelvin(80.0) + 0.5, "Q", 0, "R410A") - CoolProp.PropsSI(
        "P", "T", kelvin(80.0) - 0.5, "Q", 0, "R410A"
    )
    coarse_k = 30.0 * PSI / slope
    for psi, verdict in ((30.0, StandingVerdict.TOO_COARSE), (60.0, StandingVerdict.SHIFTED)):
        for sign in (-1.0, 1.0):
            pressure = true_pa + sign * psi * PSI
            found = check("R-410A", pressure, kelvin(80.0), temp_expanded_k=coarse_k)
            assert found.verdict is verdict
