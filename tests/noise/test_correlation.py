"""Correlation along the route against numpy, scipy and plain double loops."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from polylines import exponential
from trackspread.noise.correlation import Correlation, lagged

few = settings(max_examples=25, deadline=None, derandomize=True)
seeds = st.integers(0, 10_000)


@few
@given(seeds, st.integers(2, 70))
def test_sums_by_lag_are_scipy_s(seed: int, size: int) -> None:
    values = np.random.default_rng(seed).standard_normal((2, size))
    full = sum(signal.correlate(row, row, mode="full")[size - 1 :] for row in values)
    np.testing.assert_allclose(lagged(values), full, atol=1e-9)


@few
@given(seeds, st.integers(1, 30), st.booleans())
def test_mean_square_is_that_of_all_pairs(seed: int, size: int, turning: bool) -> None:
    rng = np.random.default_rng(seed)
    heading = np.cumsum(rng.normal(0, 0.6, size + 10))
    rho = Correlation(
        by_lag=np.exp(-np.arange(size + 10) / 8.0), heading_rad=heading, turning=turning, step_m=5.0
    )
    first = int(rng.integers(0, 10))
    expected = np.mean(
        [
            (rho.by_lag[abs(i - j)] * (np.cos(heading[i] - heading[j]) if turning else 1.0)) ** 2
            for i in range(first, first + size)
            for j in range(first, first + size)
        ]
    )
    assert rho.mean_square(first, first + size) == pytest.approx(expected, rel=1e-9)


def test_mean_squares_of_parts_of_several_sizes_are_those_of_each_alone() -> None:
    heading = np.cumsum(np.random.default_rng(7).normal(0, 0.6, 60))
    rho = Correlation(by_lag=np.exp(-np.arange(60) / 8.0), heading_rad=heading, turning=True, step_m=5.0)
    first, end = np.array([0, 3, 20, 41, 0]), np.array([20, 24, 40, 60, 60])
    alone = [rho.mean_square(a, b) for a, b in zip(first.tolist(), end.tolist(), strict=True)]
    assert rho.mean_squares(first, end).tolist() == alone


def test_correlation_between_two_stations_and_its_length() -> None:
    rho = exponential(400, 5.0, 333.0)
    assert rho.at(0.0) == 1.0
    assert rho.at(1000.0) == pytest.approx(np.exp(-1000 / 333))
    assert rho.at(np.array([12.5])) == pytest.approx((rho.by_lag[2] + rho.by_lag[3]) / 2)
    assert rho.length_m() == pytest.approx(333.0, abs=0.1)
    assert exponential(40, 5.0, 1000.0).length_m() == 200.0
    white = Correlation(by_lag=np.eye(1, 30)[0], heading_rad=np.zeros(30), turning=True, step_m=5.0)
    assert white.length_m() == 5.0
