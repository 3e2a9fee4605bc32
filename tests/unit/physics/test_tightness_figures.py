"""The figures of a standing test without scatter, where arithmetic says what is right."""

import math
from statistics import NormalDist
from typing import Any

import CoolProp
import numpy as np
import pytest
from CoolProp.CoolProp import AbstractState
from numpy.typing import NDArray

from chargeassist.model.values import NoValue
from chargeassist.physics.tightness import (
    DECISION_K,
    DETECTION_K,
    LEAST_BLOCKS,
    MOST_BLOCKS,
    Tightness,
    TightnessTest,
    TightVerdict,
    verdict_of,
)
from chargeassist.physics.tightness_settings import TightnessSettings

FloatArray = NDArray[np.float64]

FILLED_PA = 2.4e6
PIPES_K = [295.0, 291.0]


def settings(**changed: Any) -> TightnessSettings:
    given: dict[str, Any] = {
        "hold_s": 600.0,
        "settle_s": 100.0,
        "pressure_drift_half_width_pa": 2000.0,
        "temp_drift_half_width_k": 0.3,
        "station_half_width_pa": 500.0,
        **changed,
    }
    return TightnessSettings(**given)


def losing(
    of: TightnessSettings, rate_pa_per_s: float, last_s: float = 900.0, every_s: float = 5.0
) -> list[Tightness]:
    """Return what is said of a circuit at rest that changes by a rate, from isolation at 1000 s."""
    test = TightnessTest(of, 1000.0)
    said = []
    for k in range(1, int(last_s / every_s) + 1):
        elapsed = k * every_s
        pressure = FILLED_PA + rate_pa_per_s * elapsed
        found = test.update(1000.0 + elapsed, pressure, [295.0, 295.0])
        assert isinstance(found, Tightness)
        said.append(found)
    assert test._fit is not None
    assert len(test._blocks) <= MOST_BLOCKS
    return said


def nitrogen(pressure_pa: float, temp_k: float) -> Any:
    state = AbstractState("HEOS", "Nitrogen")
    state.update(CoolProp.PT_INPUTS, pressure_pa, temp_k)
    return state


def test_the_factors_are_those_of_the_normal_law() -> None:
    """0.5 % wrong on one side, 95 of 100 found."""
    assert pytest.approx(NormalDist().inv_cdf(0.995), abs=5e-4) == DECISION_K
    assert pytest.approx(NormalDist().inv_cdf(0.95), abs=5e-4) == DETECTION_K


def test_a_steady_loss_is_given_with_the_uncertainty_its_instruments_leave() -> None:
    """Two readings of one probe, each within limits a: u = a sqrt(2/3) (JCGM 100:2008, 4.3.7).

    Of two pipe probes the mean counts: sqrt(2/3 / 2) a, by the slope of nitrogen (CoolProp).
    """
    last = losing(settings(), -20.0)[-1]
    slope = nitrogen(FILLED_PA, 295.0).first_partial_deriv(
        CoolProp.iP, CoolProp.iT, CoolProp.iDmolar
    )
    expanded = 2.0 * math.sqrt(2000.0**2 * 2.0 / 3.0 + (slope * 0.3) ** 2 / 3.0 + 500.0**2 / 3.0)
    assert last.verdict is TightVerdict.FALLING
    assert last.rate_pa_per_s == pytest.approx(-20.0, rel=1e-4)
    assert last.expanded_pa == pytest.approx(expanded, rel=2e-3)
    # The first mean is of 100 and 105 s, the last of 890 and 895 s or later.
    assert -last.change_pa / 20.0 == pytest.approx(790.0, abs=10.0)
    span = last.change_pa / last.rate_pa_per_s
    assert last.rate_expanded_pa_per_s == pytest.approx(last.expanded_pa / span)
    assert last.smallest_leak_pa_per_s == pytest.approx(
        (2.576 + 1.645) * last.expanded_pa / 2.0 / span
    )
    assert last.compensated_pa_abs == pytest.approx(FILLED_PA - 20.0 * 900.0, abs=1.0)
    assert last.ideal_check_pa_abs == pytest.approx(FILLED_PA - 20.0 * 900.0, abs=1.0)


def test_what_is_not_settled_or_too_few_is_not_judged() -> None:
    said = losing(settings(), -20.0)
    reasons = [each.reason for each in said]
    # Each mean takes two readings of 5 s, the first of them at the end of settling, 100 s.
    first = int(100.0 / 5.0) - 1 + 2 * LEAST_BLOCKS - 1
    assert set(reasons[:19]) == {"temperatures are settling after filling"}
    assert set(reasons[19:first]) == {"too few readings yet"}
    assert all(math.isnan(each.rate_pa_per_s) for each in said[:first])
    assert math.isfinite(said[first].rate_pa_per_s)
    assert [each.elapsed_s for each in said[:3]] == [5.0, 10.0, 15.0]
    assert said[0].remaining_s == 595.0
    assert said[-1].remaining_s == 0.0


def test_means_joined_in_a_long_test_keep_the_line() -> None:
    """A hold of ten minutes watched for an hour, at an uneven pace."""
    test = TightnessTest(settings(), 0.0)
    times = [5.0 * k + 15.0 * (k // 7) for k in range(500)]
    found = None
    for t in times:
        found = test.update(t, FILLED_PA - 20.0 * t, [295.0, 295.0])
        assert len(test._blocks) <= MOST_BLOCKS
    assert isinstance(found, Tightness)
    assert found.rate_pa_per_s == pytest.approx(-20.0, rel=2e-3)
    assert found.change_pa == pytest.approx(-20.0 * (times[-1] - 100.0), rel=0.02)
    # No reading is lost.
    kept = sum(block.count for block in test._blocks) + len(test._open)
    assert kept == sum(1 for t in times if t >= 100.0)


def test_real_gas_in_two_places_is_brought_back_to_the_temperatures_of_the_start() -> None:
    """A quarter outdoors warms by 12 K, the rest cools by 3 K; the amount is CoolProp's."""
    shares = (0.25, 0.75)

    def density(pressure: float, temps: list[float]) -> float:
        parts = [nitrogen(pressure, temp).rhomolar() for temp in temps]
        return float(np.dot(shares, parts))

    now = [PIPES_K[0] + 12.0, PIPES_K[1] - 3.0]
    amount = density(FILLED_PA, PIPES_K)
    low, high = 0.8 * FILLED_PA, 1.2 * FILLED_PA
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if density(middle, now) < amount else (low, middle)
    test = TightnessTest(settings(volume_shares=shares, settle_s=0.0), 0.0)
    before = [test.update(5.0 * k, FILLED_PA, PIPES_K) for k in range(10)]
    after = test.update(60.0, low, now)
    assert isinstance(before[-1], Tightness)
    assert isinstance(after, Tightness)
    assert after.compensated_pa_abs == pytest.approx(before[-1].compensated_pa_abs, abs=100.0)
    # By the ideal gas at the mean temperature: 0.75 K warmer than 292 K.
    assert after.ideal_check_pa_abs == pytest.approx(low * 292.0 / 292.75, rel=1e-9)


def test_the_time_still_needed_follows_from_the_leak_asked_for() -> None:
    said = losing(settings(leak_pa_per_s=1.0), -0.1)
    last = said[-1]
    span = last.change_pa / last.rate_pa_per_s
    assert last.verdict is TightVerdict.NOT_YET
    assert last.needed_s == pytest.approx(span * (last.smallest_leak_pa_per_s - 1.0))
    assert said[0].needed_s == math.inf
    seen = losing(settings(leak_pa_per_s=100.0), -0.1)[-1]
    assert seen.verdict is TightVerdict.TIGHT
    assert seen.needed_s == 0.0


def test_the_verdict_turns_at_the_decision_factor() -> None:
    for sign, verdict in ((-1.0, TightVerdict.FALLING), (1.0, TightVerdict.RISING)):
        assert verdict_of(sign * 2.58 * 3.0, 3.0, 100.0, None)[0] is verdict
        assert verdict_of(sign * 2.57 * 3.0, 3.0, 0.0, None)[0] is TightVerdict.TIGHT
        assert verdict_of(sign * 2.57 * 3.0, 3.0, 1.0, None)[0] is TightVerdict.NOT_YET
        assert verdict_of(sign * 2.57 * 3.0, 3.0, 0.0, 1.0)[0] is TightVerdict.NOT_YET
        assert verdict_of(sign * 2.57 * 3.0, 3.0, 0.0, 0.0)[0] is TightVerdict.TIGHT


def test_readings_of_no_pipe_and_of_other_probes_than_before_are_refused() -> None:
    test = TightnessTest(settings(settle_s=0.0), 0.0)
    assert isinstance(test.update(0.0, FILLED_PA, []), NoValue)
    for k in range(10):
        test.update(5.0 * k, FILLED_PA, PIPES_K, 290.0)
    with pytest.raises(ValueError, match="expected 3 temperatures, came 2"):
        test.update(60.0, FILLED_PA, PIPES_K)
    shared = TightnessTest(settings(volume_shares=(0.5, 0.5)), 0.0)
    with pytest.raises(ValueError, match="expected 2 pipe temperatures, came 1"):
        shared.update(0.0, FILLED_PA, [295.0])


EXACT: dict[str, Any] = {
    "settle_s": 0.0,
    "pressure_drift_half_width_pa": 0.0,
    "temp_drift_half_width_k": 0.0,
    "station_half_width_pa": 0.0,
}


def scattering(of: TightnessSettings, noise_pa: FloatArray) -> tuple[float, FloatArray, FloatArray]:
    """Return the standard uncertainty of the rate, and times and values of the means it rests on.

    Two readings of 5 s make a mean.
    """
    test = TightnessTest(of, 0.0)
    times = 5.0 * np.arange(len(noise_pa))
    values = FILLED_PA - 2.0 * times + noise_pa
    found = None
    for t, value in zip(times.tolist(), values.tolist(), strict=True):
        found = test.update(t, value, [295.0, 295.0])
    assert isinstance(found, Tightness)
    assert len(test._blocks) == len(noise_pa) // 2
    return (
        found.rate_expanded_pa_per_s / 2.0,
        times.reshape(-1, 2).mean(axis=1),
        values.reshape(-1, 2).mean(axis=1),
    )


def student(means: int) -> float:
    """Return the share by which few means widen it: five unknowns are fitted."""
    return 1.0 + 1.5 / (means - 5)


def test_a_declared_scatter_gives_the_uncertainty_of_a_straight_line() -> None:
    """u = s / sqrt(sum (t - mean)^2), any book on least squares; s of a mean of two readings."""
    u, times, _ = scattering(settings(**EXACT, pressure_noise_pa=300.0), np.zeros(120))
    line = 300.0 / math.sqrt(2.0) / math.sqrt(float(((times - times.mean()) ** 2).sum()))
    assert u == pytest.approx(line * student(len(times)), rel=1e-3)


@pytest.mark.parametrize("alike", [0.0, 0.7])
def test_what_scatters_more_than_declared_counts_as_it_scatters(alike: float) -> None:
    """The same law with the scatter about the line; neighbours alike by r are worth
    (1 - r) / (1 + r) of their number (D. S. Wilks, Statistical Methods in the Atmospheric Sciences,
    5.2.4; from memory)."""
    rng = np.random.default_rng(5)
    means = [0.0]
    for _ in range(79):
        means.append(alike * means[-1] + 400.0 * rng.normal())
    u, times, values = scattering(settings(**EXACT), np.repeat(means, 2))
    slope, start = np.polyfit(times, values, 1)
    rest = values - start - slope * times
    echo = max(float(rest[1:] @ rest[:-1] / (rest @ rest)), 0.0)
    spread = math.sqrt(float(rest @ rest) / (len(rest) - 5) * (1.0 + echo) / (1.0 - echo))
    line = spread / math.sqrt(float(((times - times.mean()) ** 2).sum()))
    assert u == pytest.approx(line * student(len(times)), rel=0.03)


@pytest.mark.parametrize(
    ("moved_k", "unseen_share", "share_u", "expected_k"),
    [
        ((4.0, 4.0), 0.05, 0.1, 0.05 * 4.0),
        ((4.0, 4.0), 0.10, 0.1, 0.10 * 4.0),
        ((2.0, -2.0), 0.05, 0.1, math.sqrt(2.0) * 0.1 * 2.0),
    ],
)
def test_what_the_gas_may_not_have_followed_cannot_be_told_from_a_leak(
    moved_k: tuple[float, float], unseen_share: float, share_u: float, expected_k: float
) -> None:
    """Temperatures that move as evenly as a leak: the rate is as uncertain as what is not known.

    Gas that did not follow: its share of the change of the mean. Shares of the volume not known:
    that of how far each probe moved from the mean, the two independent (JCGM 100:2008, 5.1.2).
    The pressure is that of CoolProp's nitrogen at constant amount.
    """
    of = settings(**EXACT, hold_s=1200.0, unseen_share=unseen_share, share_u=share_u)
    test = TightnessTest(of, 0.0)
    amount = nitrogen(FILLED_PA, 295.0).rhomolar()
    slope = nitrogen(FILLED_PA, 295.0).first_partial_deriv(
        CoolProp.iP, CoolProp.iT, CoolProp.iDmolar
    )
    found = None
    pressure = FILLED_PA
    times = np.arange(0.0, 1200.0, 15.0)
    for t in times.tolist():
        now = [295.0 + moved * t / 1200.0 for moved in moved_k]
        for _ in range(4):  # Newton's step for the pressure at which both hold the amount
            there = 0.5 * sum(nitrogen(pressure, temp).rhomolar() for temp in now)
            pressure += (amount - there) * FILLED_PA / amount
        found = test.update(t, pressure, now)
    assert isinstance(found, Tightness)
    assert found.verdict is not TightVerdict.FALLING
    span = found.change_pa / found.rate_pa_per_s
    means = len(test._blocks)
    expected = slope * expected_k / 1200.0
    assert found.rate_expanded_pa_per_s / 2.0 == pytest.approx(expected * student(means), rel=0.02)
    assert abs(found.change_pa) < 0.02 * slope * expected_k
    assert span > 1100.0
