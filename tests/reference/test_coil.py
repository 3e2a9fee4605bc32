"""What a coil does to the air, against published operating figures; each row names its source."""

import psychrolib
import pytest

from chargeassist.model.values import NoValue
from chargeassist.physics.coil import CoilRange, coil_range
from chargeassist.physics.saturation import refrigerant

PSI = 0.45359237 * 9.80665 / 0.0254**2


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) / 1.8


def found(dry_f: float, wet_f: float | None, outdoor_f: float) -> CoilRange:
    wet_k = None if wet_f is None else kelvin(wet_f)
    at = coil_range(kelvin(dry_f), wet_k, kelvin(outdoor_f), 101_325.0)
    assert not isinstance(at, NoValue)
    return at


@pytest.mark.parametrize(
    ("outdoor_f", "suction_psig"), [(65, 130), (75, 133), (85, 136), (95, 141), (105, 146)]
)
def test_the_boiling_point_of_a_published_pressure_table_is_in_order(
    outdoor_f: float, suction_psig: float
) -> None:
    """5-ton R-410A unit, 80 °F dry bulb and 67 °F wet bulb: manualshive.com LRP14AC, p. 23."""
    dew = refrigerant("R-410A").dew_temp_k(suction_psig * PSI + 101_325.0)
    assert isinstance(dew, float)
    at = found(80.0, 67.0, outdoor_f)
    assert at.boiling_low_k < dew - kelvin(80.0) < at.boiling_high_k


def test_the_split_of_the_rating_is_the_usual_twenty_degrees() -> None:
    """20 °F at 400 cfm per ton and 80/67 °F: common practice, no published source."""
    at = found(80.0, 67.0, 95.0)
    assert at.split_low_k < 20.0 / 1.8 < at.split_high_k


def test_humid_air_gives_a_smaller_split() -> None:
    """hvacrschool.com/what-should-the-air-delta-t-be-air-temperature-split: lower when humid."""
    dry, humid = found(75.0, 58.0, 85.0), found(75.0, 68.0, 85.0)
    assert humid.split_high_k < dry.split_low_k


def test_half_the_air_is_out_of_order_where_the_wet_bulb_is_known() -> None:
    """Twice the heat per kilogram of the same air, by the enthalpies of the same handbook."""
    wet_k, dry_k = kelvin(63.0), kelvin(75.0)
    at = found(75.0, 63.0, 80.0)
    h = psychrolib.GetMoistAirEnthalpy(
        dry_k - 273.15, psychrolib.GetHumRatioFromTWetBulb(dry_k - 273.15, wet_k - 273.15, 101_325)
    )
    # Supply air at 90 % humidity that has lost 31 kJ/kg.
    low, high, middle = -10.0, 25.0, 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        ratio = psychrolib.GetHumRatioFromRelHum(middle, 0.9, 101_325)
        low, high = (
            (middle, high)
            if psychrolib.GetMoistAirEnthalpy(middle, ratio) < h - 31e3
            else (low, middle)
        )
    assert dry_k - 273.15 - middle > at.split_high_k + 1.0


def test_without_the_wet_bulb_the_range_holds_that_of_usual_rooms() -> None:
    wide = found(75.0, None, 85.0)
    assert not wide.humidity_known
    for wet_f in (59.0, 63.0, 66.0):
        narrow = found(75.0, wet_f, 85.0)
        assert wide.split_low_k <= narrow.split_low_k < narrow.split_high_k <= wide.split_high_k
        assert narrow.split_high_k - narrow.split_low_k < 0.6 * (
            wide.split_high_k - wide.split_low_k
        )


def test_air_that_cannot_be_has_no_range() -> None:
    assert isinstance(coil_range(200.0, None, 300.0, 101_325.0), NoValue)
