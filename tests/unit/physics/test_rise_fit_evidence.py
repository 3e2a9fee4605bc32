"""The evidence of each law against the integral it stands for, done by quadrature."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from chargeassist.physics.rise_fit import (
    LONGEST_S,
    PRIOR,
    SHORTEST_S,
    TIMES,
    _choices,
    _fit_all,
    _inflation,
    compare,
)

FloatArray = NDArray[np.float64]

T_S = np.linspace(0.0, 300.0, 9)
U_PA = np.full_like(T_S, 0.5)
WIDTH_PA = 40.0
BENDS = {"leak": T_S / 300.0, "level": -np.expm1(-T_S / 90.0)}


def log_evidence(y: FloatArray, bend: FloatArray | None) -> float:
    """Return the logarithm of the chance of the data, up to what all laws share.

    MacKay, Information Theory, Inference, and Learning Algorithms (2003), 28.1. The start may be
    anything (variance 1e12, by Sherman and Morrison); an amount is normal and above 0.
    """
    weights = 1.0 / U_PA**2

    def log_densities(rests: FloatArray) -> FloatArray:
        free = (rests @ weights) ** 2 / (weights.sum() + 1e-12)
        return np.asarray(-0.5 * (rests**2 @ weights - free))

    if bend is None:
        return float(log_densities(y[None, :])[0])
    amounts = np.linspace(0.0, 8.0 * WIDTH_PA, 8001)
    logs = log_densities(y - amounts[:, None] * bend)
    prior = 2.0 * np.exp(-0.5 * (amounts / WIDTH_PA) ** 2) / (WIDTH_PA * math.sqrt(2.0 * math.pi))
    top = float(logs.max())
    return math.log(float(np.trapezoid(np.exp(logs - top) * prior, amounts))) + top


@pytest.mark.parametrize("rise_pa", [0.0, 2.0, 20.0])
def test_evidence_is_the_integral_over_every_amount(rise_pa: float) -> None:
    scatter = 0.5 * np.array([0.3, -1.1, 0.8, 0.2, -0.6, 1.2, -0.9, 0.4, -0.1])
    y = rise_pa * BENDS["leak"] + scatter
    columns = np.column_stack([np.ones_like(T_S), BENDS["leak"], BENDS["level"]])
    widths = np.full(3, WIDTH_PA)
    laws = [
        ("flat", [0], 1.0),
        ("leak", [0, 1], 0.5),
        ("level", [0, 2], 0.25),
        ("both", [0, 1, 2], 0.25),
    ]
    fits = {fit.kind: fit for fit in _fit_all(columns, y, U_PA, widths, laws)}
    flat = fits["flat"].log_weight - log_evidence(y, None)
    for kind, chance in (("leak", 0.5), ("level", 0.25)):
        found = fits[kind].log_weight - math.log(chance)
        assert found - log_evidence(y, BENDS[kind]) == pytest.approx(flat, abs=1e-3)


def test_the_laws_share_the_odds_and_two_paces_are_told_apart() -> None:
    rows = _choices(TIMES)
    taus = np.geomspace(SHORTEST_S, LONGEST_S, TIMES)
    assert math.fsum(PRIOR.values()) == pytest.approx(1.0)
    for kind, odds in PRIOR.items():
        assert math.fsum(weight for k, _, weight in rows if k == kind) == pytest.approx(odds)
    for kind, used, _ in rows:
        assert used[0] == 0
        assert (1 in used) is (kind in ("leak", "both"))
    ratios = [taus[used[2] - 2] / taus[used[1] - 2] for kind, used, _ in rows if kind == "two"]
    step = taus[1] / taus[0]
    assert 3.0 / math.sqrt(step) <= min(ratios) <= 3.0 * math.sqrt(step)
    assert max(ratios) == pytest.approx(LONGEST_S / SHORTEST_S)
    paces = {used[-1] for kind, used, _ in rows if kind == "level"}
    assert paces == {used[-1] for kind, used, _ in rows if kind == "both"}
    assert len(paces) == TIMES


def test_misfits_that_are_too_large_or_alike_make_the_scatter_larger() -> None:
    """Neighbours alike by r are worth (1 - r) / (1 + r) of their number: effective sample size of a
    first-order process (D. S. Wilks, Statistical Methods in the Atmospheric Sciences, 5.2.4; from
    memory). Four are taken for what is fitted."""
    assert _inflation(np.array([2.0, -2.0] * 10)) == pytest.approx(math.sqrt(80.0 / 16.0))
    assert _inflation(np.array([0.1, -0.1] * 10)) == 1.0
    pairs = np.array([2.0, 2.0, -2.0, -2.0] * 5 + [2.0])
    echo = (pairs[1:] @ pairs[:-1]) / (pairs @ pairs)
    assert echo == pytest.approx(0.0)
    threes = np.array([2.0, 2.0, 2.0, -2.0, -2.0, -2.0] * 5)
    echo = 11.0 / 30.0  # twenty neighbours alike, nine not, of thirty
    assert _inflation(threes) == pytest.approx(
        math.sqrt(120.0 / 26.0 * (1.0 + echo) / (1.0 - echo))
    )
    # All alike: no more than twenty times.
    assert _inflation(np.full(40, 2.0)) == pytest.approx(math.sqrt(160.0 / 36.0 * 20.0))


def test_scatter_that_was_declared_too_small_widens_what_is_said() -> None:
    times = np.arange(0.0, 600.0, 15.0)
    noise = np.random.default_rng(3).normal(0.0, 3.0, times.shape)
    said = compare(times, 30.0 + 0.1 * times + noise, np.full_like(times, 0.3), scale_pa=200.0)
    leak = next(law for law in said if law.kind == "leak")
    # A straight line through even times: u = s / sqrt(sum (t - mean)^2), with s of the noise.
    expected = float(noise.std()) / math.sqrt(float(((times - times.mean()) ** 2).sum()))
    assert leak.slope_u == pytest.approx(expected, rel=0.2)
