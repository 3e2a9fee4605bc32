"""Standing tests from a few readings, on gas whose pressure comes from CoolProp."""

import math
import random
from dataclasses import replace
from functools import partial

import pytest
from CoolProp.CoolProp import PropsSI

from chargeassist.model.values import NoValue
from chargeassist.physics.standing_by_hand import HandReading, judge_by_hand
from chargeassist.physics.tightness import Tightness, TightVerdict
from chargeassist.physics.tightness_settings import TightnessSettings

SETTINGS = TightnessSettings(
    hold_s=3600.0,
    settle_s=600.0,
    pressure_drift_half_width_pa=20e3,
    temp_drift_half_width_k=0.5,
    station_half_width_pa=500.0,
)


def gas(density: float, temp_k: float) -> float:
    return float(PropsSI("P", "Dmolar", density, "T", temp_k, "Nitrogen"))


FINE_GAUGE = replace(SETTINGS, pressure_drift_half_width_pa=2e3, temp_drift_half_width_k=1.0)


def stood(
    rng: random.Random,
    loss_per_h: float,
    times: tuple[float, ...],
    pipes: int = 2,
    settings: TightnessSettings = SETTINGS,
    *,
    thermometers: int = 2,
) -> Tightness | NoValue:
    """Return what is said of a circuit of two parts, read within the declared limits."""
    gauge_pa, off_k = settings.pressure_drift_half_width_pa, settings.temp_drift_half_width_k
    start_k = rng.uniform(283.0, 303.0)
    density = float(PropsSI("Dmolar", "P", 3.8e6, "T", start_k, "Nitrogen"))
    warms_k = rng.uniform(-4.0, 4.0)
    apart_k = rng.uniform(-1.0, 1.0)
    readings = []
    for t in times:
        share = (t - times[0]) / 3600.0
        one, two = start_k + warms_k * share, start_k + (warms_k + apart_k) * share
        pressure = gas(density * (1.0 - loss_per_h * share), 0.5 * (one + two))
        first_k, second_k = (rng.uniform(-off_k, off_k) for _ in range(2))
        both_k = (first_k, first_k if thermometers == 1 else second_k)
        read = tuple(temp + off for temp, off in zip((one, two), both_k, strict=True))[:pipes]
        readings.append(HandReading(t, pressure + rng.uniform(-gauge_pa, gauge_pa), read))
    return judge_by_hand(readings, settings, 0.0, times[-1])


@pytest.mark.parametrize("times", [(600.0, 3600.0), (600.0, 1800.0, 3600.0, 7200.0)])
@pytest.mark.parametrize("thermometers", [1, 2])
@pytest.mark.parametrize("settings", [SETTINGS, FINE_GAUGE])
def test_tight_circuits_are_not_called_leaking_and_visible_leaks_are_found(
    settings: TightnessSettings, thermometers: int, times: tuple[float, ...]
) -> None:
    """Also where one thermometer reads both pipes: its error is then common to them."""
    stand = partial(stood, times=times, settings=settings, thermometers=thermometers)
    false = seen = risen = 0
    for seed in range(200):
        tight = stand(random.Random(seed), 0.0)
        assert isinstance(tight, Tightness)
        false += tight.verdict is not TightVerdict.TIGHT
        # The same circuit, read with the same errors, with a leak as large as the test claims.
        loss_per_h = tight.smallest_leak_pa_per_s * 3600.0 / 3.8e6
        leaking = stand(random.Random(seed), loss_per_h)
        assert isinstance(leaking, Tightness)
        seen += leaking.verdict is TightVerdict.FALLING
        # As much more gas, from a supply that is not shut.
        rising = stand(random.Random(seed), -loss_per_h)
        assert isinstance(rising, Tightness)
        risen += rising.verdict is TightVerdict.RISING
        assert rising.verdict is not TightVerdict.RISING or "is the supply shut" in rising.reason
    assert false <= 2  # 0.5 % either way is what is meant
    assert seen >= 190  # 95 %
    assert risen >= 190


def test_one_reading_judges_nothing_and_a_short_hold_is_not_over() -> None:
    rng = random.Random(3)
    assert isinstance(stood(rng, 0.0, (600.0,)), NoValue)
    found = stood(rng, 0.0, (600.0, 1800.0))
    assert isinstance(found, Tightness)
    assert found.verdict is TightVerdict.NOT_YET
    assert found.remaining_s == pytest.approx(1800.0)
    late = stood(rng, 0.0, (3000.0, 3700.0))  # what came before the first reading nobody saw
    assert isinstance(late, Tightness)
    assert late.verdict is TightVerdict.NOT_YET
    assert "2 readings taken by hand" in late.reason


@pytest.mark.parametrize("pressure_pa", [2e6, 0.0])
def test_instruments_declared_without_error_are_judged_by_their_own_scatter(
    pressure_pa: float,
) -> None:
    exact = TightnessSettings(
        hold_s=600.0, settle_s=0.0, pressure_drift_half_width_pa=0.0, temp_drift_half_width_k=0.0
    )
    readings = [HandReading(600.0 * k, pressure_pa, (295.0, 296.0)) for k in range(4)]
    found = judge_by_hand(readings, exact, 0.0, 1800.0)
    assert isinstance(found, Tightness)
    assert found.verdict is not TightVerdict.FALLING
    assert math.isfinite(found.smallest_leak_pa_per_s)


def test_readings_of_no_pipe_or_of_other_pipes_are_a_mistake_of_the_program() -> None:
    for pipes in ((), (295.0, 296.0)):
        readings = [HandReading(0.0, 2e6, pipes), HandReading(600.0, 2e6, (295.0,))]
        with pytest.raises(ValueError, match="the same pipes"):
            judge_by_hand(readings, SETTINGS, 0.0, 600.0)


def test_one_pipe_is_worth_less_than_two_and_more_readings_than_few() -> None:
    def smallest(times: tuple[float, ...], pipes: int) -> float:
        found = stood(random.Random(5), 0.0, times, pipes)
        assert isinstance(found, Tightness)
        return found.smallest_leak_pa_per_s

    ends = (600.0, 3600.0)
    assert smallest(ends, 1) > 1.1 * smallest(ends, 2)
    assert smallest((600.0, 700.0, 3500.0, 3600.0), 2) < smallest(ends, 2)


def test_the_temperatures_are_taken_out_by_the_real_gas() -> None:
    """500 psig at 80 °F stand at 489.69 psig at 70 °F, constant density (CoolProp nitrogen)."""
    psi, station = 6894.757293168361, 101325.0
    kelvin = [(f + 459.67) / 1.8 for f in (80.0, 70.0)]
    readings = [
        HandReading(600.0, 500.0 * psi + station, (kelvin[0],)),
        HandReading(3600.0, 489.69 * psi + station, (kelvin[1],)),
    ]
    found = judge_by_hand(readings, SETTINGS, 0.0, 3600.0)
    assert isinstance(found, Tightness)
    assert found.change_pa == pytest.approx(0.0, abs=0.02 * psi)
    assert found.verdict is TightVerdict.TIGHT


@pytest.mark.parametrize("times", [(5000.0, 5000.0), (5000.0, 4000.0)])
def test_two_readings_at_one_time_say_nothing(times: tuple[float, float]) -> None:
    short = TightnessSettings(
        hold_s=600.0, pressure_drift_half_width_pa=1e3, temp_drift_half_width_k=0.5
    )
    readings = [HandReading(t, 2e6, (295.0, 296.0)) for t in times]
    assert isinstance(judge_by_hand(readings, short, 0.0, 5000.0), NoValue)
