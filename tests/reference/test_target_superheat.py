"""Target superheat against three printed tables and a psychrometric library."""

import math

import psychrolib
import pytest

from chargeassist.model.values import NoValue
from chargeassist.physics.moist_air import wet_bulb_expanded_k, wet_bulb_k
from chargeassist.physics.target_superheat import (
    OUTDOOR_F,
    TABLE_F,
    TABLE_HALF_WIDTH_K,
    WET_BULB_F,
    TargetSuperheat,
    target_superheat,
)

MANUAL = (
    "Equipment installation manual, fixed-orifice superheat table, p. 26: homeappliance."
    "manualsonline.com/manuals/mfg/lennox_international_inc/merit_series_14acx_units.html"
)

# The same page, typed again from the print: rows 40 to 115 °F by 5, columns 50 to 76 °F by 2.
PRINTED = {
    40: "15 18 20 23 26 29 32 34 38 41 43 46 48 51",
    45: "13 16 18 21 24 27 30 33 36 39 41 44 46 49",
    50: "11 14 16 19 22 25 28 31 34 37 39 42 44 47",
    55: "9 12 14 17 20 23 27 30 33 36 38 40 42 44",
    60: "7 10 12 15 18 21 24 27 30 33 35 38 40 43",
    65: "- 6 10 13 16 19 21 24 27 30 33 36 38 41",
    70: "- - 7 10 13 16 19 21 24 27 30 33 36 39",
    75: "- - - 6 9 12 15 18 21 24 28 31 34 37",
    80: "- - - - 5 8 12 15 18 21 25 28 31 35",
    85: "- - - - - - 8 11 15 19 22 26 30 33",
    90: "- - - - - - 5 9 13 16 20 24 27 31",
    95: "- - - - - - - 6 10 14 18 22 25 29",
    100: "- - - - - - - - 8 12 16 21 24 28",
    105: "- - - - - - - - 5 9 13 17 22 26",
    110: "- - - - - - - - - 6 11 15 20 25",
    115: "- - - - - - - - - - 8 14 18 24",
}

SI_COPY = (
    "Equipment manual, table 6, superheat charging table (SI), p. 10: "
    "manualshive.com/en/manual/carrier/38tua/2561896"
)
# Typed from that page without its column of 15 °C, which is interpolated between 58 and 60 °F.
SI_PRINTED = {
    55: "5.0 6.7 7.8 9.4 11.1 12.8 14.4 16.1 17.8 19.4 20.6 22.2 23.3 25.0",
    60: "3.9 5.6 6.7 8.3 10.0 11.7 13.3 15.0 16.7 18.3 20.0 21.1 22.2 23.9",
    65: "- 3.3 5.6 7.2 8.9 10.6 11.7 13.3 15.0 16.7 18.3 20.0 21.1 22.8",
    70: "- - 3.9 5.6 7.2 8.9 10.6 11.7 13.3 15.0 16.7 18.3 20.0 21.7",
    75: "- - - 3.3 5.0 6.7 8.3 10.0 11.7 7.8 15.6 17.2 18.9 20.6",
    80: "- - - - 2.8 4.4 6.7 8.3 10.0 11.7 13.9 15.6 17.2 19.4",
    85: "- - - - - - 4.4 6.1 8.3 10.6 12.2 14.4 16.7 18.3",
    90: "- - - - - - 2.8 5.0 7.2 8.9 11.1 13.3 15.0 17.2",
    95: "- - - - - - - 3.3 5.6 7.8 10.0 12.2 13.9 16.1",
    100: "- - - - - - - - 4.4 6.7 8.3 11.1 12.8 15.0",
    105: "- - - - - - - - 2.8 5.0 7.2 9.4 12.2 14.4",
    110: "- - - - - - - - - 3.3 6.1 8.3 11.1 13.9",
    115: "- - - - - - - - - - 4.4 7.8 10.0 12.8",
}
# In print, 24 °C outdoors and 20 °C wet bulb give 7.8 °C between 11.7 and 15.6: an error of
# typing, 13.3 °C (24 °F) is meant; the °F table of the same series prints 24.
SI_MISPRINT = (75, 68)
# Both other printings (the SI copy, and the °F table on p. 9 of manuals.online/carrier/heat-pump/
# 38vta040/dimensions-and-installation-guide/19xq4) differ by 1 °F here; all lie inside the 5 °F
# tolerance of the method.
DIFFERENT = {
    *((55, wet_bulb) for wet_bulb in (62, 64, 66, 68, 70, 76)),
    (60, 70),
    *((100, wet_bulb) for wet_bulb in (70, 74, 76)),
    (100, 72),
    (115, 76),
}


def kelvin(temp_f: float) -> float:
    return (temp_f + 459.67) / 1.8


def look_up(outdoor_f: float, wet_bulb_f: float) -> TargetSuperheat | NoValue:
    return target_superheat(kelvin(outdoor_f), kelvin(wet_bulb_f))


def value_f(outdoor_f: float, wet_bulb_f: float) -> float:
    found = look_up(outdoor_f, wet_bulb_f)
    assert isinstance(found, TargetSuperheat), found
    return found.value_k * 1.8


CELLS = [
    (outdoor, wet_bulb, text)
    for outdoor, row in PRINTED.items()
    for wet_bulb, text in zip(WET_BULB_F, row.split(), strict=True)
]


@pytest.mark.parametrize(("outdoor", "wet_bulb", "text"), CELLS)
def test_every_printed_cell(outdoor: int, wet_bulb: int, text: str) -> None:
    found = look_up(outdoor, wet_bulb)
    if text == "-":
        assert isinstance(found, NoValue), MANUAL
        assert "weigh the charge in" in found.reason
    else:
        assert isinstance(found, TargetSuperheat)
        assert found.value_k * 1.8 == pytest.approx(float(text), abs=1e-9), MANUAL


def test_the_table_has_the_printed_shape() -> None:
    assert tuple(PRINTED) == OUTDOOR_F
    assert {len(row) for row in TABLE_F} == {len(WET_BULB_F)} == {14}
    from_55 = [v for f, row in zip(OUTDOOR_F, TABLE_F, strict=True) if f >= 55 for v in row]
    assert sum(value is not None for value in from_55) == 118


@pytest.mark.parametrize("outdoor", SI_PRINTED)
def test_an_independent_si_copy_agrees(outdoor: int) -> None:
    """Printed to 0.1 °C: half a digit is 0.09 °F."""
    for wet_bulb, text in zip(WET_BULB_F, SI_PRINTED[outdoor].split(), strict=True):
        found = look_up(outdoor, wet_bulb)
        if text == "-":
            assert isinstance(found, NoValue), (SI_COPY, wet_bulb)
            continue
        assert isinstance(found, TargetSuperheat)
        difference_f = (float(text) - found.value_k) * 1.8
        if (outdoor, wet_bulb) == SI_MISPRINT:
            assert abs(difference_f) > 9.0
        elif (outdoor, wet_bulb) in DIFFERENT:
            assert abs(abs(difference_f) - 1.0) < 0.1, (outdoor, wet_bulb, difference_f)
            assert abs(difference_f) / 1.8 < TABLE_HALF_WIDTH_K
        else:
            assert abs(difference_f) < 0.1, (SI_COPY, outdoor, wet_bulb, difference_f)


@pytest.mark.parametrize(
    ("outdoor", "wet_bulb", "expected"),
    [
        (95, 76, 29), (85, 62, 8), (85, 66, 15), (75, 62, 15), (65, 60, 19), (55, 50, 9),
        (110, 68, 6), (90, 62, 5), (100, 70, 16), (100, 72, 21), (105, 68, 9), (105, 70, 13),
        (95, 62, None), (85, 60, None), (100, 64, None), (115, 68, None), (90, 60, None),
    ],
)  # fmt: skip
def test_cells_read_from_the_page_a_second_time(
    outdoor: int, wet_bulb: int, expected: int | None
) -> None:
    """`MANUAL`. The columns of 70 and 72 °F at 100 and 105 °F are easily taken one too far left."""
    found = look_up(outdoor, wet_bulb)
    if expected is None:
        assert isinstance(found, NoValue)
    else:
        assert value_f(outdoor, wet_bulb) == pytest.approx(expected, abs=1e-9)


def test_half_way_is_the_mean_of_the_corners() -> None:
    """By hand: 85/90 °F and 66/68 °F have 15, 19, 13, 16."""
    assert value_f(87.5, 67.0) == pytest.approx((15 + 19 + 13 + 16) / 4.0, abs=1e-9)
    assert value_f(85.0, 67.0) == pytest.approx(17.0, abs=1e-9)
    assert value_f(87.5, 66.0) == pytest.approx(14.0, abs=1e-9)
    assert value_f(86.25, 66.5) == pytest.approx(15.4375, abs=1e-9)


def test_one_dashed_corner_is_enough_to_refuse() -> None:
    """80/85 °F and 60/62 °F have 8, 12, -, 8: inside no value, on the printed edges a value."""
    assert isinstance(look_up(81.0, 60.5), NoValue)
    assert value_f(80.0, 61.0) == pytest.approx(10.0, abs=1e-9)
    assert value_f(82.5, 62.0) == pytest.approx(10.0, abs=1e-9)
    refused = look_up(86.0, 59.0)
    assert isinstance(refused, NoValue)
    assert "86.0 °F (30.0 °C)" in refused.reason
    assert "59.0 °F (15.0 °C)" in refused.reason


@pytest.mark.parametrize(
    ("outdoor", "wet_bulb", "word"),
    [(39.9, 60, "outdoor"), (115.1, 76, "outdoor"), (80, 49.9, "wet bulb"), (80, 76.1, "wet bulb")],
)
def test_outside_the_table_is_refused_by_name(outdoor: float, wet_bulb: float, word: str) -> None:
    found = look_up(outdoor, wet_bulb)
    assert isinstance(found, NoValue)
    assert word in found.reason


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_no_number_is_no_value(bad: float) -> None:
    assert isinstance(target_superheat(bad, kelvin(60)), NoValue)
    assert isinstance(target_superheat(kelvin(80), bad), NoValue)


def test_the_uncertainty_follows_the_slope_of_the_table() -> None:
    """At 85/66 °F: neighbours 11 and 19 across (2 °F/°F), 18 and 13 along (-0.5 °F/°F)."""
    found = look_up(85.0, 66.0)
    assert isinstance(found, TargetSuperheat)
    assert found.per_wet_bulb_k == pytest.approx(2.0)
    assert found.per_outdoor_k == pytest.approx(-0.5)
    table_k = 2.0 * TABLE_HALF_WIDTH_K / math.sqrt(3.0)
    assert found.expanded_k(1.0, 0.5) == pytest.approx(math.hypot(0.5, 1.0, table_k))


def test_cold_weather_is_cautioned() -> None:
    mild, cold = look_up(80.0, 66.0), look_up(60.0, 60.0)
    assert isinstance(mild, TargetSuperheat)
    assert isinstance(cold, TargetSuperheat)
    assert not mild.caution
    assert "weak" in cold.caution


# AHRI Standard 210/240 cooling conditions: 80 °F dry bulb, 67 °F wet bulb indoors; ASHRAE equation
# 35 turns that into the humidity ratio 0.011169 at 14.696 psia, 51.1 % relative humidity.
def test_the_wet_bulb_of_the_rating_condition() -> None:
    """0.511 is rounded: half a digit is 0.03 °F."""
    found = wet_bulb_k(kelvin(80.0), 0.511, 101_325.0)
    assert isinstance(found, float)
    assert found == pytest.approx(kelvin(67.0), abs=0.03)


@pytest.mark.parametrize("station_pa", [101_325.0, 84_307.0])
@pytest.mark.parametrize("humidity", [0.2, 0.5, 0.9])
def test_the_wet_bulb_fulfils_the_balance_it_is_defined_by(
    station_pa: float, humidity: float
) -> None:
    """ASHRAE Fundamentals 2017, chapter 1, equation 33, written out here; 0.001 K of iteration."""
    dry_c = 26.0
    found = wet_bulb_k(dry_c + 273.15, humidity, station_pa)
    assert isinstance(found, float)
    wet_c = found - 273.15
    actual = psychrolib.GetHumRatioFromRelHum(dry_c, humidity, station_pa)
    saturated = psychrolib.GetSatHumRatio(wet_c, station_pa)
    balance = ((2501 - 2.326 * wet_c) * saturated - 1.006 * (dry_c - wet_c)) / (
        2501 + 1.86 * dry_c - 4.186 * wet_c
    )
    assert balance == pytest.approx(actual, abs=2e-6)


def test_saturated_air_has_its_dry_bulb_and_altitude_lowers_the_wet_bulb() -> None:
    full = wet_bulb_k(295.0, 1.0, 101_325.0)
    low, high = wet_bulb_k(300.0, 0.4, 101_325.0), wet_bulb_k(300.0, 0.4, 80_000.0)
    assert isinstance(full, float)
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert full == pytest.approx(295.0, abs=0.01)
    assert 0.1 < low - high < 1.0


@pytest.mark.parametrize(
    ("dry_k", "humidity", "station_pa"),
    [(295.0, 1.2, 1e5), (295.0, -0.1, 1e5), (math.nan, 0.5, 1e5), (295.0, 0.5, 1e3),
     (500.0, 0.5, 1e5), (295.0, math.nan, 1e5)],
)  # fmt: skip
def test_air_that_cannot_be_has_no_wet_bulb(
    dry_k: float, humidity: float, station_pa: float
) -> None:
    assert isinstance(wet_bulb_k(dry_k, humidity, station_pa), NoValue)


def test_the_wet_bulbs_uncertainty_agrees_with_its_slopes() -> None:
    """At 80 °F and 51.1 %: slopes by finite differences of the library itself."""
    point = (kelvin(80.0) - 273.15, 0.511, 101_325.0)
    wet = psychrolib.GetTWetBulbFromRelHum
    per_k = (wet(point[0] + 0.5, *point[1:]) - wet(point[0] - 0.5, *point[1:])) / 1.0
    per_rh = (wet(point[0], 0.531, point[2]) - wet(point[0], 0.491, point[2])) / 0.04
    found = wet_bulb_expanded_k(
        kelvin(80.0), 0.511, 101_325.0, dry_bulb_expanded_k=0.6, humidity_expanded=0.04
    )
    assert isinstance(found, float)
    assert found == pytest.approx(math.hypot(0.6 * per_k, 0.04 * per_rh), rel=0.02)


def test_the_uncertainty_of_nearly_saturated_air_is_one_sided() -> None:
    """98 ± 5 %: more than 100 % is not air; the wet bulb stays under the dry bulb."""
    found = wet_bulb_expanded_k(
        295.0, 0.98, 101_325.0, dry_bulb_expanded_k=0.0, humidity_expanded=0.10
    )
    low, high = wet_bulb_k(295.0, 0.93, 101_325.0), wet_bulb_k(295.0, 1.0, 101_325.0)
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert found == pytest.approx(high - low, abs=0.003)


@pytest.mark.parametrize("station_pa", [45e3, 60e3, 110e3])
def test_high_and_low_places_have_a_wet_bulb(station_pa: float) -> None:
    assert isinstance(wet_bulb_k(295.0, 0.5, station_pa), float)
    for beyond in (39e3, 120e3):
        refused = wet_bulb_k(295.0, 0.5, beyond)
        assert isinstance(refused, NoValue)
        assert f"{beyond / 1000.0:.0f} kPa" in refused.reason
    damp = wet_bulb_k(295.0, 1.5, station_pa)
    assert isinstance(damp, NoValue)
    assert "150 %" in damp.reason
