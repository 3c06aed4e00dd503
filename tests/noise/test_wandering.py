"""Whitening by the Kalman filter against dense linear algebra (scipy), and the grid of wanderings."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import linalg, stats

from trackspread.noise.wandering import JITTER, wanderings, whitened

STEP_S = 5.0


def covariance(kind: np.ndarray, direction: np.ndarray, noise: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Return R of one row: the sum of two exponentials, seen along the line at instants ``at``, and noise."""
    share, slow, quick = kind
    apart = STEP_S * np.abs(np.subtract.outer(at, at))
    alike = share * np.exp(-apart / slow) + (1.0 - share) * np.exp(-apart / quick)
    return np.asarray(alike * (direction @ direction.T) + np.diag(noise + JITTER))


@pytest.mark.parametrize("seed", range(4))
def test_as_by_dense_linear_algebra(seed: int) -> None:
    """Rows that turn, with noise that differs and instants missing: X' R^-1 X by Cholesky, log |R| by scipy."""
    rng = np.random.default_rng(seed)
    kind = wanderings()[0][[0, 5, 40, 119]]
    columns = rng.standard_normal((3, 40, 2))
    columns[1, 10:14, 0] = np.nan
    columns[2, 30:] = np.nan
    angle = np.cumsum(rng.normal(0.0, 0.3, (3, 40)), axis=1)
    direction = np.stack([np.cos(angle), np.sin(angle)], axis=2) * rng.uniform(0.7, 1.0, (3, 40, 1))
    noise = rng.uniform(0.0, 0.5, (4, 3, 40))
    gram, log_det = whitened(columns, noise, direction, STEP_S, kind)
    for k in range(4):
        for row in range(3):
            there = np.isfinite(columns[row]).all(axis=1)
            at = np.flatnonzero(there)
            dense = covariance(kind[k], direction[row, there], noise[k, row, there], at)
            x = columns[row, there]
            assert gram[k, row] == pytest.approx(
                x.T @ linalg.cho_solve(linalg.cho_factor(dense), x), rel=1e-6
            )
            assert log_det[k, row] == pytest.approx(np.linalg.slogdet(dense)[1], rel=1e-6, abs=1e-6)


def test_the_likelihood_is_that_of_a_normal_vector() -> None:
    """-2 log likelihood = log |R| + y' R^-1 y + n log 2 pi, by scipy.stats.multivariate_normal."""
    rng = np.random.default_rng(9)
    kind = wanderings()[0][[3, 77]]
    y, noise = rng.standard_normal((1, 25, 1)), np.full((2, 1, 25), 0.1)
    direction = np.broadcast_to([1.0, 0.0], (1, 25, 2))
    gram, log_det = whitened(y, noise, direction, STEP_S, kind)
    for k in range(2):
        dense = covariance(kind[k], direction[0], noise[k, 0], np.arange(25))
        oracle = stats.multivariate_normal(np.zeros(25), dense).logpdf(y[0, :, 0])
        own = -0.5 * (log_det[k, 0] + gram[k, 0, 0, 0] + 25 * np.log(2.0 * np.pi))
        assert own == pytest.approx(oracle, rel=1e-6)


def test_nothing_known_tells_nothing() -> None:
    kind = wanderings()[0]
    columns = np.full((1, 8, 2), np.nan)
    gram, log_det = whitened(columns, np.zeros((len(kind), 1, 8)), np.ones((1, 8, 2)), STEP_S, kind)
    assert np.all(gram == 0.0)
    assert np.all(log_det == 0.0)


def test_the_grid_of_wanderings() -> None:
    """One of each time constant, four shares of every two; slow ones weigh by the fourth root of their length."""
    kind, prior = wanderings()
    assert len(kind) == 8 + 4 * 28
    assert prior.sum() == pytest.approx(1.0)
    assert np.all(kind[:, 1] >= kind[:, 2])
    assert kind[:, 2].min() == 2.0
    assert kind[:, 1].max() == pytest.approx(4374.0)
    of = {slow: prior[kind[:, 1] == slow].sum() for slow in np.unique(kind[:, 1])}
    slow = np.array(list(of))
    assert np.array(list(of.values())) == pytest.approx(slow**0.25 / np.sum(slow**0.25))
