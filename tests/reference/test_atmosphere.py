"""Standard atmosphere against `fluids`, an independent implementation, and printed values."""

import pytest
from fluids import ATMOSPHERE_1976

from chargeassist.physics.atmosphere import pressure_at_altitude_pa_abs


@pytest.mark.parametrize(
    "altitude_m", [-500.0, -100.0, 0.0, 210.0, 305.0, 1450.0, 1609.344, 3048.0, 6000.0]
)
def test_pressure_agrees_with_fluids(altitude_m: float) -> None:
    """1e-8: the same 1976 constants, so only rounding remains."""
    expected = ATMOSPHERE_1976(altitude_m).P
    assert pressure_at_altitude_pa_abs(altitude_m) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(("altitude_m", "pressure_pa"), [(1000.0, 89876.0), (5000.0, 54048.0)])
def test_pressure_agrees_with_the_printed_table(altitude_m: float, pressure_pa: float) -> None:
    """U.S. Standard Atmosphere, 1976, table I: 898.76 and 540.48 hPa (from memory)."""
    assert pressure_at_altitude_pa_abs(altitude_m) == pytest.approx(pressure_pa, abs=1.0)


def test_pressure_agrees_with_the_closed_formula_of_the_ashrae_handbook() -> None:
    """ASHRAE Handbook Fundamentals, Psychrometrics, equation 3 (from memory); 0.013 kPa apart
    at 3 048 m because it takes geometric altitude."""
    for altitude_m in (0.0, 500.0, 1500.0, 3048.0):
        expected = 101_325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.2559
        assert pressure_at_altitude_pa_abs(altitude_m) == pytest.approx(expected, abs=20.0)
