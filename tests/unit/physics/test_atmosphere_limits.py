import math

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.job import Site
from chargeassist.physics.atmosphere import (
    ALTITUDE_MAX_M,
    ALTITUDE_MIN_M,
    EXPONENT,
    absolute_from_gauge,
    pressure_at_altitude_pa_abs,
    station_pressure_pa_abs,
)


@pytest.mark.parametrize("altitude_m", [math.nan, math.inf, -math.inf, -501.0, 6001.0, 1e308])
def test_an_altitude_out_of_range_is_refused_with_the_range(altitude_m: float) -> None:
    with pytest.raises(ConfigError, match=r"from -500 to 6000 m, came .* check the unit"):
        pressure_at_altitude_pa_abs(altitude_m)


def test_pressure_falls_all_the_way() -> None:
    altitudes = range(int(ALTITUDE_MIN_M), int(ALTITUDE_MAX_M) + 1, 50)
    pressures = [pressure_at_altitude_pa_abs(float(altitude)) for altitude in altitudes]
    assert pressures == sorted(pressures, reverse=True)


def test_exponent_is_the_printed_one() -> None:
    """5.25588, as printed in handbooks of psychrometrics (from memory)."""
    assert pytest.approx(5.25588, abs=5e-6) == EXPONENT


def test_absolute_is_gauge_plus_atmosphere() -> None:
    assert absolute_from_gauge(1_709_900.0, 83_432.0) == 1_793_332.0
    assert math.isnan(absolute_from_gauge(math.nan, 101_325.0))


def test_a_barometer_is_taken_as_it_is_and_an_altitude_by_the_atmosphere() -> None:
    """U.S. Standard Atmosphere, 1976, table I: 898.76 hPa at 1 000 m (from memory)."""
    assert station_pressure_pa_abs(Site(barometer_pa_abs=97_000.0)) == 97_000.0
    assert station_pressure_pa_abs(Site(altitude_m=1000.0)) == pytest.approx(89_876.0, abs=1.0)
    assert station_pressure_pa_abs(Site(altitude_m=0.0)) == pytest.approx(101_325.0)
