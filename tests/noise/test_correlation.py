"""Correlation along the route against numpy, scipy and plain double loops."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from polylines import exponential, gauss_markov
from trackspread.noise.correlation import (
    PRIOR_LENGTH_M,
    Correlation,
    fitted_correlation,
    residual_correlation,
)

few = settings(max_examples=25, deadline=None, derandomize=True)
seeds = st.integers(0, 10_000)


@few
@given(seeds, st.integers(2, 70))
def test_residual_correlation_of_one_straight_trace_is_scipy_s(seed: int, size: int) -> None:
    """scipy sums products; here they are means over the size - k pairs of each lag, which count as well."""
    values = np.random.default_rng(seed).standard_normal(size)
    full = signal.correlate(values, values, mode="full")[size - 1 :]
    found, pairs = residual_correlation(values[None, :], np.zeros(size))
    np.testing.assert_allclose(pairs, size - np.arange(size), atol=1e-10)
    np.testing.assert_allclose(found * pairs / size, full / full[0], atol=1e-10)


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
    assert rho.length_m() == 335.0
    assert exponential(40, 5.0, 1000.0).length_m() == 200.0
    at_once = Correlation(
        by_lag=np.array([1.0, np.exp(-1.0), 0.1]), heading_rad=np.zeros(3), turning=True, step_m=5.0
    )
    assert at_once.length_m() == 10.0


@few
@given(seeds)
def test_residual_correlation_is_least_squares_over_all_pairs(seed: int) -> None:
    """rho(k) = sum r_i r_j c / sum c^2 over all pairs k apart with data, c = cos(h_i - h_j), over rho(0)."""
    rng = np.random.default_rng(seed)
    size = 18
    values = rng.standard_normal((3, size))
    values[rng.random(values.shape) < 0.2] = np.nan
    values[:, 0] = 1.0
    heading = np.cumsum(rng.normal(0, 0.5, size))
    found, information = residual_correlation(values, heading)
    for lag in range(size):
        top, bottom = 0.0, 0.0
        for row in values:
            for i in range(size - lag):
                if np.isfinite(row[i]) and np.isfinite(row[i + lag]):
                    cos = np.cos(heading[i] - heading[i + lag])
                    top += row[i] * row[i + lag] * cos
                    bottom += cos**2
        assert information[lag] == pytest.approx(bottom, abs=1e-9)
        if lag == 0:
            scale = top / bottom
        if bottom > 0.5:
            assert found[lag] == pytest.approx(top / bottom / scale, abs=1e-9)
        else:
            assert found[lag] == 0.0


def test_residual_correlation_of_nothing_is_nothing() -> None:
    found, information = residual_correlation(np.full((3, 9), np.nan), np.zeros(9))
    assert (found == 0).all()
    np.testing.assert_allclose(information, 0.0, atol=1e-12)
    assert (residual_correlation(np.zeros((3, 9)), np.zeros(9))[0] == 0).all()


@pytest.mark.parametrize("length_m", [60.0, 400.0, 2000.0])
def test_the_fit_finds_the_length_of_a_gauss_markov_process(length_m: float) -> None:
    """Many traces over a long route: exp(-d / length) comes back within a few hundredths."""
    values = gauss_markov(np.random.default_rng(int(length_m)), 60, 3000, 5.0, length_m)
    values[:, 500:620] = np.nan
    rho = fitted_correlation(values - np.nanmean(values[:, :500]), np.zeros(3000), 5.0, 59.0)
    lag = 5.0 * np.arange(1200)
    np.testing.assert_allclose(rho.by_lag[:1200], np.exp(-lag / length_m), atol=0.09)
    assert rho.length_m() == pytest.approx(length_m, rel=0.15)
    assert rho.step_m == 5.0


def test_the_fit_finds_white_noise_upon_slow_errors() -> None:
    rng = np.random.default_rng(1)
    values = np.sqrt(0.7) * gauss_markov(rng, 60, 2000, 5.0, 1000.0)
    values += np.sqrt(0.3) * rng.standard_normal(values.shape)
    rho = fitted_correlation(values, np.zeros(2000), 5.0, 59.0)
    assert rho.by_lag[0] == pytest.approx(1.0, abs=1e-3)
    assert rho.by_lag[2] == pytest.approx(0.7, abs=0.06)
    assert rho.at(700.0) == pytest.approx(0.7 * np.exp(-0.7), abs=0.06)


@few
@given(seeds, st.integers(2, 400), st.integers(1, 6))
def test_any_fit_is_a_falling_correlation(seed: int, size: int, rows: int) -> None:
    values = np.random.default_rng(seed).standard_normal((rows, size))
    rho = fitted_correlation(values, np.zeros(size), 5.0, float(rows)).by_lag
    assert len(rho) == size
    assert rho[0] == pytest.approx(1.0, abs=1e-3)
    assert (np.diff(rho) <= 1e-12).all()
    assert rho.min() >= 0.0


def test_without_residuals_the_prior_speaks() -> None:
    rho = fitted_correlation(np.full((2, 800), np.nan), np.zeros(800), 5.0, 1.0)
    lag = 5.0 * np.arange(800)
    np.testing.assert_allclose(rho.by_lag, np.exp(-lag / PRIOR_LENGTH_M), atol=0.02)


def test_few_traces_are_drawn_towards_the_prior_and_many_are_not() -> None:
    white = np.random.default_rng(6).standard_normal((40, 200))
    few_traces = fitted_correlation(white[:2], np.zeros(200), 5.0, 1.0).at(600.0)
    many_traces = fitted_correlation(white, np.zeros(200), 5.0, 39.0).at(600.0)
    prior = np.exp(-600.0 / PRIOR_LENGTH_M)
    assert many_traces < 0.15
    assert many_traces + 0.1 < few_traces < prior


@pytest.mark.parametrize("earth_fixed", [True, False])
def test_the_fit_tells_errors_fixed_to_the_earth_from_those_that_keep_their_side(earth_fixed: bool) -> None:
    rng = np.random.default_rng(8)
    heading = np.repeat(np.tile([0.0, np.pi / 2, np.pi, np.pi / 2], 5), 40)
    east, north = (gauss_markov(rng, 12, 800, 5.0, 1500.0) for _ in range(2))
    across = east * np.sin(heading) - north * np.cos(heading) if earth_fixed else east
    rho = fitted_correlation(across, heading, 5.0, 11.0)
    assert rho.turning is earth_fixed
    assert rho.at(500.0) == pytest.approx(np.exp(-1 / 3), abs=0.12)
    np.testing.assert_array_equal(rho.heading_rad, heading)
