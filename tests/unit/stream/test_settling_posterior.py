"""The posterior of the settling detector against the same regression solved in full."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from chargeassist.stream.settling_posterior import Posterior, SizePriors, weigh

Floats = NDArray[np.float64]

SHAPE_SD, CREEP_SD, NOISE_SD = 1.6, 0.6, 0.2


def regression(seed: int) -> tuple[Floats, Floats, Floats, Posterior]:
    """Return shapes (n, m), creeps (n, k), readings (n,) and their posterior; flat prior."""
    rng = np.random.default_rng([91, seed])
    age = np.arange(0.0, 240.0, 8.0)
    shapes = 1.0 - np.exp(-age[:, None] / np.array([20.0, 50.0, 120.0]))
    creeps = 1.0 - np.exp(-age[:, None] / np.array([150.0, 400.0]))
    readings = 1.3 * shapes[:, 1] - 0.5 * creeps[:, 0] + rng.normal(0.0, NOISE_SD, age.size)
    scaled, slow, y = shapes / NOISE_SD, creeps / NOISE_SD, readings / NOISE_SD
    belief = weigh(
        ((scaled**2).sum(axis=0), scaled.T @ y),
        ((slow**2).sum(axis=0), slow.T @ y),
        slow.T @ scaled,
        SizePriors(np.full(3, SHAPE_SD**2), CREEP_SD**2),
        np.log(np.full((3, 3), 1.0 / 9.0)),
        1.0,
    )
    return shapes, creeps, readings, belief


def solved(columns: Floats, sds: Floats, y: Floats) -> tuple[Floats, Floats, float]:
    """Return mean, covariance and log evidence of sizes with independent normal priors."""
    prior = np.diag(sds**2)
    marginal = NOISE_SD**2 * np.eye(y.size) + columns @ prior @ columns.T
    gain = prior @ columns.T @ np.linalg.inv(marginal)
    _, log_det = np.linalg.slogdet(marginal)
    evidence = -0.5 * (float(y @ np.linalg.solve(marginal, y)) + float(log_det))
    return gain @ y, prior - gain @ columns @ prior, evidence


@pytest.mark.parametrize("seed", range(3))
def test_sizes_and_weights_are_those_of_the_full_regression(seed: int) -> None:
    shapes, creeps, readings, belief = regression(seed)
    evidence = np.empty((3, 3))
    for row in range(3):
        for shape in range(3):
            columns, sds = shapes[:, [shape]], np.array([SHAPE_SD])
            if row:
                columns = np.column_stack((columns, creeps[:, row - 1]))
                sds = np.array([SHAPE_SD, CREEP_SD])
            mean, cov, evidence[row, shape] = solved(columns, sds, readings)
            assert belief.change[row, shape] == pytest.approx(mean[0], abs=1e-9)
            assert belief.change_var[row, shape] == pytest.approx(cov[0, 0], abs=1e-9)
            if row:
                assert belief.creep[row, shape] == pytest.approx(mean[1], abs=1e-9)
                assert belief.creep_var[row, shape] == pytest.approx(cov[1, 1], abs=1e-9)
                assert belief.cov[row, shape] == pytest.approx(cov[0, 1], abs=1e-9)
    weights = np.exp(evidence - evidence.max())
    assert belief.weights == pytest.approx(weights / weights.sum(), abs=1e-9)
    assert belief.best == divmod(int(evidence.argmax()), 3)


def draws(belief: Posterior, shape_left: Floats, creep_left: Floats) -> Floats:
    """Return what is still to come in a hundred thousand draws of hypothesis and sizes [K]."""
    rng = np.random.default_rng(92)
    which = rng.choice(9, 100_000, p=belief.weights.ravel())
    row, shape = which // 3, which % 3
    z = rng.normal(size=(2, which.size))
    d, a, v = belief.change.ravel(), belief.creep.ravel(), belief.change_var.ravel()
    lean = belief.cov.ravel() / v
    left = np.sqrt(np.maximum(belief.creep_var.ravel() - lean * belief.cov.ravel(), 0.0))
    own = np.sqrt(v)[which] * z[0]
    change, creep = d[which] + own, a[which] + lean[which] * own + left[which] * z[1]
    slow = np.concatenate(([0.0], creep_left))[row]
    out: Floats = change * shape_left[shape] + creep * slow
    return out


def test_what_is_still_to_come_is_that_of_draws_from_the_posterior() -> None:
    _, _, _, belief = regression(4)
    shape_left, creep_left = np.array([0.0, 0.05, 0.2]), np.array([0.25, 0.55])
    drawn = draws(belief, shape_left, creep_left)
    mean, sd = belief.remaining(shape_left, creep_left)
    assert mean == pytest.approx(float(drawn.mean()), abs=0.01)
    assert sd == pytest.approx(float(drawn.std()), rel=0.03)
    assert belief.mean_of(shape_left, creep_left) == pytest.approx(mean, abs=1e-12)
    chance = belief.chance_inside(0.3, shape_left, creep_left)
    inside = float((np.abs(drawn) < 0.3).mean())
    # Where shape and creep oppose each other the creep alone counts: never the more hopeful.
    assert inside - 0.1 <= chance <= inside + 0.01


def test_moments_of_the_states_are_those_of_the_sizes_they_lean_on() -> None:
    _, _, _, belief = regression(5)
    rng = np.random.default_rng(93)
    z = rng.normal(size=(2, 5))
    mean, second = belief.moments(z)
    first = [draws(belief, row[:3], row[3:]) for row in z]
    for i in range(2):
        assert mean[i] == pytest.approx(float(first[i].mean()), abs=0.02)
        assert second[i][i] == pytest.approx(float((first[i] ** 2).mean()), rel=0.03)
    assert second[0][1] == pytest.approx(second[1][0], abs=1e-12)


def test_hopeless_hypotheses_keep_weights_that_are_numbers() -> None:
    belief = weigh(
        (np.array([1e12, 1.0]), np.array([1e12, 0.0])),
        (np.array([1e6]), np.array([0.0])),
        np.zeros((1, 2)),
        SizePriors(np.ones(2), 1.0),
        np.log(np.full((2, 2), 0.25)),
        1.0,
    )
    assert math.isclose(float(belief.weights.sum()), 1.0)
    assert (belief.weights > 0.0).all()
