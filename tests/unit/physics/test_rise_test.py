"""Pull-down and rise test judged by a simulated evacuation, whose truth they never see."""

import math
import random
from collections.abc import Callable

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.model.units import PASCAL_PER_MICRON
from chargeassist.model.values import NoValue
from chargeassist.physics.pull_down import PullDownWatch, PullState
from chargeassist.physics.rise_settings import RiseSettings
from chargeassist.physics.rise_test import Rise, RiseTest, RiseVerdict
from chargeassist.physics.vacuum_gauge import GaugeLimits
from chargeassist.plant.evacuation import Evacuation
from chargeassist.plant.evacuation_settings import EvacuationSettings, Place
from chargeassist.plant.leak import Leak

LIMIT_PA = 500.0 * PASCAL_PER_MICRON
HOLD_S = 1200.0


def evacuated(seed: int, *, water_kg: float = 0.0, hole_mol: float = 0.0) -> tuple[PullState, Rise]:
    """Return where the pull-down stood after 35 minutes, and what the rise test said at its end."""
    rng = random.Random(seed)
    near, far = rng.uniform(287.0, 300.0), rng.uniform(288.0, 298.0)
    unit = Evacuation(EvacuationSettings(near_k=near, far_k=far, air_k=near, far_water_kg=water_kg))
    if hole_mol:
        unit.add_leak(Leak.sized(hole_mol), place=Place.NEAR)
    unit.start_pump()
    watch = PullDownWatch(LIMIT_PA, GaugeLimits())
    state = PullState.FALLING

    def gauge() -> float | None:
        value = unit.gauge_pa_abs(Place.FAR)
        if isinstance(value, NoValue):
            return None
        return round(value * rng.gauss(1.0, 0.005) / PASCAL_PER_MICRON) * PASCAL_PER_MICRON

    for _ in range(420):
        unit.step(5.0)
        reading = gauge()
        if reading is not None:
            state = watch.update(unit.t, reading, min(near, far)).state
    unit.set_valve(is_open=False)
    test = RiseTest(RiseSettings(limit_pa_abs=LIMIT_PA, hold_s=HOLD_S, gauge=GaugeLimits()), unit.t)
    begun = unit.t
    rise: Rise | None = None
    while unit.t < begun + HOLD_S + 10.0:
        unit.step(5.0)
        reading = gauge()
        if reading is not None:
            found = test.update(unit.t, reading, min(near, far))
            assert isinstance(found, Rise)
            rise = found
    assert rise is not None
    return state, rise


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_dry_tight_circuit_passes(seed: int) -> None:
    state, rise = evacuated(seed)
    assert state is PullState.DEEP
    assert rise.verdict is RiseVerdict.DRY_TIGHT
    assert rise.dry_probability > 0.95


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_water_levels_off_above_the_limit(seed: int) -> None:
    _, rise = evacuated(seed, water_kg=0.008)
    assert rise.verdict in {RiseVerdict.MOIST, RiseVerdict.BOTH}
    assert rise.moist_probability > 0.95


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_leak_rises_steadily(seed: int) -> None:
    _, rise = evacuated(seed, hole_mol=2e-3)
    assert rise.verdict is not RiseVerdict.DRY_TIGHT
    assert rise.leak_probability > 0.9
    assert rise.leak_pa_per_s > 0.0


def test_water_boiling_at_the_coldest_place_is_named() -> None:
    watch = PullDownWatch(LIMIT_PA, GaugeLimits())
    # ASHRAE Fundamentals 2017, chapter 1, table 3: 2339 Pa at 20 °C. Reads 1.47 times too high.
    states = {watch.update(5.0 * k, 1.47 * 2339.0, 293.15).state for k in range(200)}
    assert PullState.WATER in states
    again = PullDownWatch(LIMIT_PA, GaugeLimits())
    # The same table: 401.8 Pa over ice at -5 °C.
    icy = {again.update(5.0 * k, 401.8, 268.15).state for k in range(200)}
    assert PullState.ICE in icy


def test_a_fall_is_timed() -> None:
    watch = PullDownWatch(LIMIT_PA, GaugeLimits())
    pull = watch.update(0.0, 5000.0, 293.15)
    for k in range(1, 100):
        pull = watch.update(5.0 * k, 5000.0 * 0.99**k, 293.15)
    assert pull.state is PullState.FALLING
    # 5000 Pa * 0.99^k passes 66.66 Pa after 430 steps of 5 s; 99 of them are over.
    assert pull.seconds_to_target == pytest.approx(5.0 * (429.6 - 99.0), rel=0.02)


def test_settings_that_cannot_be_are_refused() -> None:
    with pytest.raises(ConfigError, match="hold longer"):
        RiseSettings(limit_pa_abs=LIMIT_PA, hold_s=60.0, gauge=GaugeLimits())
    with pytest.raises(ConfigError, match="unit's instructions"):
        RiseSettings(limit_pa_abs=0.0, hold_s=600.0, gauge=GaugeLimits())


def isolated(
    pressure_pa: Callable[[float], float], seen: Callable[[float], bool] = lambda _: True
) -> list[tuple[float, Rise]]:
    """Return what twenty minutes and ten more say of an invented rise, read at some times."""
    settings = RiseSettings(limit_pa_abs=LIMIT_PA, hold_s=1200.0, gauge=GaugeLimits())
    test, rng = RiseTest(settings, 0.0), random.Random(1)
    said = []
    for k in range(1, 1800):
        t = float(k)
        if seen(t):
            found = test.update(t, pressure_pa(t) + rng.gauss(0.0, 0.2), 295.0)
            assert isinstance(found, Rise)
            said.append((t, found))
    return said


@pytest.mark.parametrize("later_pa", [80.0, 90.0, 500.0, 5000.0])
def test_what_rose_while_the_gauge_was_silent_is_never_called_dry(later_pa: float) -> None:
    """The gauge is lost after ten minutes and comes back when the hold is over."""
    said = isolated(lambda t: 40.0 if t < 600.0 else later_pa, lambda t: t < 600.0 or t > 1300.0)
    assert RiseVerdict.DRY_TIGHT not in {found.verdict for _, found in said}


def test_a_circuit_that_stayed_deep_while_the_gauge_was_silent_is_dry_once_that_is_read() -> None:
    said = isolated(lambda _: 40.0, lambda t: t < 600.0 or t > 1300.0)
    first = next(t for t, found in said if found.verdict is RiseVerdict.DRY_TIGHT)
    assert 1301.0 < first < 1400.0


@pytest.mark.parametrize(
    "pressure_pa",
    [
        lambda t: 30.0 + 30.0 * math.exp(-t / 600.0),
        lambda t: 60.0 - 20.0 * min(t / 1200.0, 1.0),
    ],
)
def test_a_circuit_that_goes_on_falling_is_not_shut(pressure_pa: Callable[[float], float]) -> None:
    said = isolated(pressure_pa)
    assert RiseVerdict.DRY_TIGHT not in {found.verdict for _, found in said}
    assert said[-1][1].falls


def test_a_circuit_that_cools_a_little_falls_no_more_than_gas_does() -> None:
    """Six kelvin in half an hour: 2 % by the gas law."""
    said = isolated(lambda t: 40.0 * (295.0 - 6.0 * t / 1800.0) / 295.0)
    assert said[-1][1].verdict is RiseVerdict.DRY_TIGHT
    assert not said[-1][1].falls
