"""Whitening by the Kalman filter against dense linear algebra and the normal law (scipy), and the grid of kinds."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import linalg, stats

from trackspread.noise.gauss_markov import JITTER, LENGTH_UNIT_M, SIZES, TIME_UNIT_S, grid, weights, whitened

AT = 2.5 * np.arange(40.0) + np.where(np.arange(40) % 2, 1.5, 0.0)
"""Instants at uneven steps, in units of the shortest process."""
SOME = np.isin(np.arange(len(grid().prior)), [0, 5, 40, 119, 140])


def covariance(direction: np.ndarray, noise: np.ndarray, at: np.ndarray) -> list[np.ndarray]:
    """Return R of one row under `SOME`: two exponentials, seen along ``direction`` at instants ``at``, and noise."""
    kinds, apart = grid().of(SOME), np.abs(np.subtract.outer(AT[at], AT[at]))
    found = []
    for share, slow, quick, white in zip(kinds.share, kinds.slow, kinds.quick, noise, strict=True):
        alike = share * np.exp(-apart / SIZES[slow]) + (1.0 - share) * np.exp(-apart / SIZES[quick])
        found.append(alike * (direction @ direction.T) + np.diag(white + JITTER))
    return found


@pytest.mark.parametrize(("seed", "axes"), [(0, 1), (1, 2), (2, 2), (3, 1)])
def test_as_by_dense_linear_algebra(seed: int, axes: int) -> None:
    """Rows that turn, with noise that differs and instants missing: X' R^-1 X by Cholesky, log |R| by scipy."""
    rng = np.random.default_rng(seed)
    columns = rng.standard_normal((3, 40, 2))
    columns[1, 10:14, 0] = np.nan
    columns[2, 30:] = np.nan
    angle = np.cumsum(rng.normal(0.0, 0.3, (3, 40)), axis=1)
    direction = np.stack([np.cos(angle), np.sin(angle)], axis=2)[:, :, :axes]
    direction = direction * rng.uniform(0.7, 1.0, (3, 40, 1))
    noise = rng.uniform(0.0, 0.5, (5, 3, 40))
    gram, log_det = whitened(columns, noise, direction, AT, grid().of(SOME))
    for row in range(3):
        there = np.isfinite(columns[row]).all(axis=1)
        x = columns[row, there]
        kinds = covariance(direction[row, there], noise[:, row, there], np.flatnonzero(there))
        for k, dense in enumerate(kinds):
            expected = x.T @ linalg.cho_solve(linalg.cho_factor(dense), x)
            assert gram[k, row] == pytest.approx(expected, rel=1e-9)
            assert log_det[k, row] == pytest.approx(np.linalg.slogdet(dense)[1], rel=1e-9, abs=1e-9)


def test_the_likelihood_is_that_of_a_normal_vector() -> None:
    """-2 log likelihood = log |R| + y' R^-1 y + n log 2 pi, by scipy.stats.multivariate_normal, to 1e-9."""
    rng = np.random.default_rng(9)
    y, noise = rng.standard_normal((1, 25, 1)), np.full((5, 1, 25), 0.1)
    angle = np.cumsum(rng.normal(0.0, 0.3, 25))
    for direction in (np.ones((25, 1)), np.stack([np.cos(angle), np.sin(angle)], axis=1)):
        gram, log_det = whitened(y, noise, direction[None], AT[:25], grid().of(SOME))
        for k, dense in enumerate(covariance(direction, noise[:, 0], np.arange(25))):
            oracle = stats.multivariate_normal(np.zeros(25), dense).logpdf(y[0, :, 0])
            own = -0.5 * (log_det[k, 0] + gram[k, 0, 0, 0] + 25 * np.log(2.0 * np.pi))
            assert own == pytest.approx(oracle, rel=1e-9)


def test_nothing_known_tells_nothing() -> None:
    kinds = grid()
    columns = np.full((1, 8, 2), np.nan)
    none = np.zeros((len(kinds.prior), 1, 8))
    gram, log_det = whitened(columns, none, np.ones((1, 8, 2)), AT[:8], kinds)
    assert np.all(gram == 0.0)
    assert np.all(log_det == 0.0)


def test_the_grid_of_kinds() -> None:
    """One of each size, every two with shares; from 12.5 m to 27 km, or 2 s to 73 min; no size is favoured."""
    kinds = grid()
    assert len(kinds.prior) == 8 + 4 * 21 + 8 * 7
    assert kinds.prior.sum() == pytest.approx(1.0)
    assert len(np.unique(np.stack([kinds.share, kinds.slow, kinds.quick]), axis=1).T) == len(kinds.prior)
    assert np.all(kinds.slow >= kinds.quick)
    assert ((kinds.share > 0.0) & (kinds.share <= 1.0)).all()
    assert np.bincount(kinds.slow, kinds.prior) == pytest.approx(np.full(8, 1 / 8))
    assert (TIME_UNIT_S * SIZES[[0, -1]]).tolist() == [2.0, 4374.0]
    assert (LENGTH_UNIT_M * SIZES[[0, -1]]).tolist() == [12.5, 27_337.5]


def test_the_correlation_of_a_kind_is_the_sum_of_two_exponentials() -> None:
    kinds, apart = grid().of(SOME), np.array([0.0, 1.0, 40.0])
    slow, quick = (np.exp(-apart / SIZES[place][:, None]) for place in (kinds.slow, kinds.quick))
    expected = kinds.share[:, None] * slow + (1.0 - kinds.share[:, None]) * quick
    assert kinds.correlation(apart) == pytest.approx(expected)


def test_twenty_rides_have_half_the_say() -> None:
    """Miller & Dunson (2019): the likelihood to the power a / (a + n), a = 20; here 20 / 40."""
    prior, log_det, square = np.array([0.2, 0.8]), np.array([3.0, 1.0]), np.array([5.0, 7.0])
    full = np.exp(-0.5 * log_det) * square**-4.0
    found = weights(prior, log_det, square, 8.0, 20.0)
    assert found == pytest.approx(prior * np.sqrt(full) / np.sum(prior * np.sqrt(full)))
