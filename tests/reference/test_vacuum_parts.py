"""Hoses, pump and gauge of the evacuation model against vacuum handbooks and CoolProp."""

import math

import pytest
from CoolProp.CoolProp import PropsSI

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.model.values import NoValue
from chargeassist.physics.water_vapour import MOLAR_MASS_KG, saturation_pressure_pa_abs
from chargeassist.plant.micron_gauge import (
    _GASES,
    WATER_READING,
    GaugeSettings,
    MicronGauge,
    refrigerant_reading,
    relative_reading,
)
from chargeassist.plant.vacuum_line import (
    CHOKED_M_PER_S,
    CORE_IN,
    CORE_OUT,
    HALF_INCH_HOSE,
    QUARTER_INCH_HOSE,
    Line,
    Tube,
)
from chargeassist.plant.vacuum_pump import (
    BACK_SHARE,
    BALLAST_SHARE,
    EXHAUST_SHARE,
    PumpSettings,
    VacuumPump,
)

AIR_KG = 0.02896
R = 8.31446261815324


@pytest.mark.parametrize(
    ("diameter_cm", "length_cm", "mbar"), [(1.0, 100.0, 1.0), (1.2, 1000.0, 0.1), (0.48, 150.0, 10)]
)
def test_conductance_of_a_pipe(diameter_cm: float, length_cm: float, mbar: float) -> None:
    """Leybold, Fundamentals of Vacuum Technology, section 1.5: 135 d^4 p / l and 12.1 d^3 / l for
    air at 20 degrees Celsius in L/s, cm, mbar."""
    line = Line(Tube(diameter_m=diameter_cm / 100.0, length_m=length_cm / 100.0))
    viscous = 1e-3 * 135.0 * diameter_cm**4 * mbar / length_cm
    limit = CHOKED_M_PER_S * 0.25 * math.pi * (diameter_cm / 100.0) ** 2
    joined = viscous * limit / (viscous + limit)
    assert line.viscous_m3_per_s(100.0 * mbar) == pytest.approx(joined, rel=0.02)
    molecular = 1e-3 * 12.1 * diameter_cm**3 / length_cm
    short = 1.0 + 4.0 * diameter_cm / (3.0 * length_cm)
    assert line.molecular_m3_per_s(AIR_KG, 293.15) == pytest.approx(molecular / short, rel=0.01)


def test_an_opening_passes_what_a_thin_aperture_passes() -> None:
    """11.6 L/(s cm2) for air, molecular (the same source); the short-tube rule tends to it."""
    line = Line(Tube(diameter_m=0.02, length_m=1e-3))
    aperture = 11.6e-3 * 0.25 * math.pi * 2.0**2
    assert line.molecular_m3_per_s(AIR_KG, 293.15) == pytest.approx(aperture, rel=0.05)


def test_lines_in_series_and_what_narrows_them() -> None:
    one, two = Line(HALF_INCH_HOSE), Line(HALF_INCH_HOSE, HALF_INCH_HOSE)
    assert two.molecular_m3_per_s(AIR_KG, 293.0) == pytest.approx(
        0.5 * one.molecular_m3_per_s(AIR_KG, 293.0)
    )
    # Common practice: wide hoses and no cores; a quarter-inch hose with a core passes little.
    wide, narrow = Line(HALF_INCH_HOSE, CORE_OUT), Line(QUARTER_INCH_HOSE, CORE_IN)
    assert wide.viscous_m3_per_s(100.0) > 20.0 * narrow.viscous_m3_per_s(100.0)
    assert wide.viscous_m3_per_s(1e9) <= CHOKED_M_PER_S * 0.25 * math.pi * 6e-3**2
    with pytest.raises(ConfigError, match="at least one"):
        Line()
    with pytest.raises(ConfigError, match="a tube must be"):
        Tube(diameter_m=0.0, length_m=1.0)


@pytest.mark.parametrize(
    ("name", "expected"), [("R-32", 1.14), ("R-134a", 1.70), ("R-125", 1.75), ("R-1234yf", 1.93)]
)
def test_refrigerant_vapour_reads_high(name: str, expected: float) -> None:
    """The estimate with heat capacities from CoolProp, computed apart; rounded to 0.01."""
    assert refrigerant_reading(name) == pytest.approx(expected, abs=0.01)
    fluid = name.replace("-", "")
    mass, ratio = _GASES[name]
    assert mass == pytest.approx(PropsSI("M", fluid), rel=1e-4)
    cp = PropsSI("CP0MASS", "T", 298.15, "P", 1e3, fluid) * PropsSI("M", fluid)
    assert ratio == pytest.approx(cp / (cp - R), abs=1e-4)


def test_water_vapour_reads_high_and_nitrogen_true() -> None:
    assert pytest.approx(1.47, abs=0.02) == WATER_READING
    assert relative_reading(0.0280134, 1.4) == 1.0


def test_the_gauge_lags_shifts_steps_and_ends() -> None:
    gauge = MicronGauge(GaugeSettings(lag_s=2.0, offset_pa=10.0, resolution_pa=0.0))
    assert isinstance(gauge.read_pa_abs(), NoValue)
    gauge.follow(0.0, 1000.0, 0.0, 0.0)
    gauge.follow(2.0, 100.0, 0.0, 0.0)
    assert gauge.read_pa_abs() == pytest.approx(110.0 + 900.0 * math.exp(-1.0))
    gauge.follow(100.0, 50.0, 10.0, 20.0)
    mixed = 60.0 + 10.0 * WATER_READING + 20.0 * refrigerant_reading("R-32")
    assert gauge.read_pa_abs() == pytest.approx(mixed, rel=1e-9)
    gauge.follow(100.0, 9e4, 0.0, 0.0)
    assert isinstance(gauge.read_pa_abs(), NoValue)
    coarse = MicronGauge(GaugeSettings(lag_s=0.0, offset_pa=-5.0))
    coarse.follow(1.0, 66.7, 0.0, 0.0)
    shown = coarse.read_pa_abs()
    assert isinstance(shown, float)
    assert shown / PASCAL_PER_MICRON == pytest.approx(round(61.7 / PASCAL_PER_MICRON))
    coarse.follow(1.0, 1.0, 0.0, 0.0)
    assert coarse.read_pa_abs() == 0.0
    with pytest.raises(ConfigError, match="expected one of R-32"):
        MicronGauge(GaugeSettings(), "R-999")
    with pytest.raises(ConfigError, match="the simulated gauge needs lag"):
        GaugeSettings(lag_s=-1.0)


def vapour(temp_k: float) -> float:
    pressure = saturation_pressure_pa_abs(temp_k)
    assert isinstance(pressure, float)
    return pressure


def test_without_ballast_vapour_condenses_in_the_oil_and_with_it_it_leaves() -> None:
    """Gaede's principle, as in Leybold, Fundamentals of Vacuum Technology, section 2.1.2: vapour
    leaves only as far as it stays below saturation at the pump's temperature and exhaust."""
    shut = VacuumPump(PumpSettings(), 295.15, 1e5)
    shut.running = True
    shut.take(1.0, 0.0, 1e-4, 0.0)
    assert shut.oil_mol == pytest.approx(1e-4)
    assert shut.water_out_mol == 0.0
    ballast = VacuumPump(PumpSettings(), 295.15, 1e5)
    ballast.running = ballast.ballast_open = True
    for _ in range(7200):
        ballast.take(1.0, 0.0, 0.0, 0.0)  # warm it up first
    before = ballast.water_out_mol
    ballast.take(1.0, 0.0, 1.0, 0.0)
    s = vapour(ballast.oil_k)
    air = BALLAST_SHARE * ballast.settings.displacement_m3_per_s * 1e5 / (R * 295.15)
    tolerated = air * s / (EXHAUST_SHARE * 1e5 - s)
    assert ballast.water_out_mol - before == pytest.approx(tolerated, rel=1e-9)
    # The water vapour it can stand at its inlet: some tens of millibars, the same source's order.
    speed = ballast.settings.displacement_m3_per_s
    assert 500.0 < tolerated * R * 295.15 / speed < 6000.0
    assert ballast.oil_k > 330.0


def test_wet_oil_holds_the_pump_up_until_it_is_changed_or_ballasted() -> None:
    """Common practice: milky oil does not reach a low vacuum; change it, or run with ballast."""
    pump = VacuumPump(PumpSettings(oil_water_kg=2e-3), 295.15, 1e5)
    assert pump.water_pa_abs(0.25) == 0.0
    pump.running = True
    assert pump.water_pa_abs(0.25) == pytest.approx(BACK_SHARE * vapour(295.15))
    start = pump.oil_mol + pump.water_out_mol
    pump.ballast_open = True
    for _ in range(4 * 3600):
        pump.take(1.0, 0.0, 0.0, 0.0)
    assert pump.oil_water_kg < 1e-5
    assert pump.oil_mol + pump.water_out_mol == pytest.approx(start, rel=1e-12)
    pump = VacuumPump(PumpSettings(oil_water_kg=2e-3), 295.15, 1e5)
    pump.running = True
    pump.change_oil()
    assert pump.water_pa_abs(0.25) == 0.0
    assert pump.water_out_mol * MOLAR_MASS_KG == pytest.approx(2e-3)


def test_the_oil_gives_back_no_more_than_it_has() -> None:
    pump = VacuumPump(PumpSettings(oil_water_kg=1e-12), 295.15, 1e5)
    pump.running = True
    given = pump.water_pa_abs(0.25) * pump.speed_m3_per_s * 0.25 / (R * 295.15)
    assert given <= pump.oil_mol * (1.0 + 1e-12)
    pump.take(0.25, 0.0, -given, 0.0)
    assert pump.oil_mol >= 0.0


@pytest.mark.parametrize("change", [{"displacement_m3_per_s": 0.0}, {"ultimate_pa_abs": math.nan}])
def test_a_pump_that_cannot_be_is_refused(change: dict[str, float]) -> None:
    with pytest.raises(ConfigError, match="the simulated pump needs"):
        PumpSettings(**change)
