"""The standing pressure test judged by a simulated circuit in weather, its truth unseen."""

import math
import random
from collections.abc import Callable

import pytest

from chargeassist.model.errors import ConfigError
from chargeassist.physics.tightness import Tightness, TightnessTest, TightVerdict
from chargeassist.physics.tightness_settings import TightnessSettings
from chargeassist.plant.leak import Leak
from chargeassist.plant.nitrogen_circuit import INDOOR, NitrogenCircuit
from chargeassist.plant.nitrogen_settings import NitrogenSettings

HOLD_S = 3600.0
FILLED_S = 900.0


def settings(*, hold_s: float = HOLD_S, leak_pa_per_s: float | None = None) -> TightnessSettings:
    return TightnessSettings(
        hold_s=hold_s,
        leak_pa_per_s=leak_pa_per_s,
        pressure_drift_half_width_pa=2000.0,
        temp_drift_half_width_k=0.3,
        pressure_noise_pa=300.0,
    )


def standing(
    seed: int, hole_mol: float = 0.0, leak_pa_per_s: float | None = None
) -> tuple[list[Tightness], float]:
    """Return what the test said over an hour, and the true loss [Pa/h]."""
    rng = random.Random(seed)
    circuit = NitrogenCircuit(
        NitrogenSettings(
            outdoor_k=rng.uniform(280.0, 308.0),
            indoor_k=rng.uniform(288.0, 300.0),
            outdoor_swing_k=rng.uniform(0.0, 6.0),
            swing_start_s=rng.uniform(-86_400.0, 86_400.0),
        )
    )
    circuit.set_regulator(2.4e6)
    circuit.set_supply(is_open=True)
    circuit.run_until(FILLED_S)
    circuit.set_supply(is_open=False)
    if hole_mol:
        circuit.add_leak(Leak.sized(hole_mol), part=INDOOR)
    test = TightnessTest(settings(leak_pa_per_s=leak_pa_per_s), FILLED_S)
    before_mol = circuit.amount_mol
    said = []
    so = circuit.truth()
    for k in range(1, int(HOLD_S / 5.0) + 12):
        t = FILLED_S + 5.0 * k
        circuit.run_until(t)
        so = circuit.truth()
        found = test.update(
            t,
            so.pressure_pa_abs + rng.gauss(0.0, 600.0),
            [temp + rng.gauss(0.0, 0.05) for temp in (so.outdoor_pipe_k, so.indoor_pipe_k)],
            so.outdoor_air_k,
        )
        assert isinstance(found, Tightness)
        said.append(found)
    lost = (before_mol - circuit.amount_mol) / before_mol * so.pressure_pa_abs
    return said, lost


@pytest.mark.parametrize("seed", range(8))
def test_weather_is_no_leak(seed: int) -> None:
    said, lost = standing(seed)
    assert lost == pytest.approx(0.0, abs=1.0)
    assert {each.verdict for each in said} <= {TightVerdict.NOT_YET, TightVerdict.TIGHT}
    last = said[-1]
    assert last.verdict is TightVerdict.TIGHT
    assert last.smallest_leak_pa_per_s > 0.0
    # The ideal gas is the check: at 2.4 MPa and weather's few kelvin it differs by very little.
    assert last.ideal_check_pa_abs == pytest.approx(last.compensated_pa_abs, rel=0.01)


@pytest.mark.parametrize("seed", range(8))
def test_a_leak_it_could_see_is_seen_and_sized(seed: int) -> None:
    said, lost = standing(seed, hole_mol=2e-3)
    last = said[-1]
    assert lost > 3600.0 * last.smallest_leak_pa_per_s
    assert last.verdict is TightVerdict.FALLING
    off = abs(3600.0 * last.rate_pa_per_s + lost)
    assert off < 3600.0 * last.rate_expanded_pa_per_s + 0.1 * lost


def test_nothing_is_called_tight_before_the_leak_asked_for_could_be_seen() -> None:
    said, _ = standing(3, leak_pa_per_s=1.0)
    assert {each.verdict for each in said} == {TightVerdict.NOT_YET}
    assert said[-1].remaining_s == 0.0
    assert said[-1].needed_s is not None
    assert said[-1].needed_s > 0.0


def test_longer_sees_less() -> None:
    said, _ = standing(1)
    known = [
        each.smallest_leak_pa_per_s for each in said if math.isfinite(each.smallest_leak_pa_per_s)
    ]
    assert known[-1] < 0.5 * known[0]


def test_a_circuit_without_gas_and_instruments_without_error_break_nothing() -> None:
    exact = TightnessSettings(
        hold_s=600.0, settle_s=0.0, pressure_drift_half_width_pa=0.0, temp_drift_half_width_k=0.0
    )
    test = TightnessTest(exact, 0.0)
    said = [test.update(10.0 * k, 0.0, [295.0, 296.0]) for k in range(1, 100)]
    assert all(isinstance(each, Tightness) for each in said)


def test_settings_that_cannot_be_are_refused() -> None:
    with pytest.raises(ConfigError, match="hold_s"):
        settings(hold_s=-1.0)
    with pytest.raises(ConfigError, match="a leak of nothing"):
        settings(leak_pa_per_s=0.0)


def watched(
    fallen_pa: float, seen: Callable[[float], bool], until_s: float
) -> list[tuple[float, Tightness]]:
    """Return what an hour's test says of a circuit in even warmth that is read at some times.

    It loses `fallen_pa` [Pa] half an hour after the supply was shut.
    """
    test = TightnessTest(settings(), 0.0)
    said = []
    for k in range(1, int(until_s)):
        t = float(k)
        if seen(t):
            found = test.update(
                t, 2.1e6 - (fallen_pa if t > 1800.0 else 0.0), [295.0, 296.0], 295.5
            )
            assert isinstance(found, Tightness)
            said.append((t, found))
    return said


@pytest.mark.parametrize("fall_pa", [10e3, 20e3, 50e3, 200e3])
def test_what_fell_while_nobody_looked_is_never_called_tight(fall_pa: float) -> None:
    """A probe is lost after twenty minutes, and comes back when the hold is over."""
    back_t = HOLD_S + 60.0
    said = watched(fall_pa, lambda t: t < 1200.0 or t > back_t, HOLD_S + 900.0)
    before = [found for t, found in said if t < back_t]
    after = [found for t, found in said if t > back_t]
    assert {each.verdict for each in before} == {TightVerdict.NOT_YET}
    assert after[0].verdict is TightVerdict.NOT_YET
    assert TightVerdict.TIGHT not in {each.verdict for each in after}
    assert after[-1].verdict is TightVerdict.FALLING
    assert after[-1].change_pa == pytest.approx(-fall_pa, rel=0.2)


def test_a_silence_between_readings_counts_where_readings_lie_on_both_sides() -> None:
    said = watched(0.0, lambda t: t < 1200.0 or t > 3000.0, HOLD_S + 60.0)
    assert said[-1][1].verdict is TightVerdict.TIGHT


def test_a_hold_that_was_not_watched_from_its_beginning_is_not_over_in_time() -> None:
    """As by hand: a late first reading puts the end off."""
    said = watched(0.0, lambda t: t > 3000.0, 3000.0 + HOLD_S)
    first = next(t for t, found in said if found.verdict is not TightVerdict.NOT_YET)
    assert first == pytest.approx(3000.0 + HOLD_S - 600.0, abs=60.0)
    waiting = [found for t, found in said if HOLD_S < t < first]
    assert all(each.reason in {"the hold is not over", "too few readings yet"} for each in waiting)
