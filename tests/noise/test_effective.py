"""How much correlated series are worth, against published formulas and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import linalg, stats

from ridden_together import gauss_markov
from trackspread.noise.effective import (
    Along,
    centred,
    kind_shares,
    mean_estimate,
    sum_share,
)
from trackspread.noise.gauss_markov import LENGTH_UNIT_M, grid
from trackspread.results.words.reasons import said


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(2, 60), st.floats(-0.4, 0.95))
def test_share_of_a_mean_is_the_sum_of_its_correlation_matrix(size: int, phi: float) -> None:
    """Var(mean) / sigma^2 = 1' R 1 / n^2, with scipy's Toeplitz matrix."""
    rho = phi ** np.arange(size)
    expected = linalg.toeplitz(rho).sum() / size**2
    assert sum_share(np.full((1, size), 1.0 / size), np.zeros(size), rho) == pytest.approx(expected, rel=1e-9)


def test_of_a_single_cell() -> None:
    one = np.zeros((1, 100))
    one[0, 40] = 1.0
    assert sum_share(one, np.zeros(100), 0.9 ** np.arange(100)) == pytest.approx(1.0)


def test_a_right_angle_halves_what_is_alike() -> None:
    """Errors fixed on the earth: the two legs of a right angle see different components of them."""
    heading = np.where(np.arange(100) < 50, 0.0, np.pi / 2)
    both = sum_share(np.full((1, 100), 0.01), heading, np.stack([np.ones(100), 1e-9 ** np.arange(100)]))
    assert both == pytest.approx([0.5, 0.01], rel=1e-6)


def test_ten_times_the_weights_a_hundred_times_the_share() -> None:
    """Also of a difference of values that are all but one: next to nothing, yet more than nothing."""
    one, ten = (sum_share(w * np.array([[1.0, -1.0]]), np.zeros(2), np.ones(2)) for w in (1.0, 10.0))
    assert 0.0 < one < 1e-9
    assert ten == pytest.approx(100.0 * one)


def test_share_of_a_weighted_sum_under_every_candidate() -> None:
    """w' R w with the matrices of `posterior`, rows added; w = v / sum v^2 is the variance of a slope."""
    rng = np.random.default_rng(4)
    heading, weights = rng.uniform(0, 7, 30), rng.normal(size=(2, 30))
    weights[1, :9] = 0.0
    apart = 40.0 * np.abs(np.subtract.outer(np.arange(30.0), np.arange(30.0)))
    rho = grid().correlation(apart.ravel() / LENGTH_UNIT_M).reshape(-1, 30, 30)
    turned = rho * np.cos(np.subtract.outer(heading, heading))
    expected = np.einsum("ri,kij,rj->k", weights, np.concatenate([turned, rho]), weights)
    along = Along(step_m=40.0, heading_rad=heading)
    assert kind_shares(weights, along) == pytest.approx(expected, rel=1e-9)


def test_centred_values() -> None:
    values = np.array([[1.0, 2.0, np.nan], [3.0, np.nan, np.nan]])
    residual, dof = centred(values)
    assert residual[:, 0].tolist() == [-1.0, 1.0]
    assert np.isnan(residual[:, 1:]).all()
    assert dof.tolist() == [1.0, 0.0, 0.0]


def test_centred_values_with_one_missing() -> None:
    residual, dof = centred(np.array([[1.0], [np.nan], [6.0], [8.0]]))
    assert residual[:, 0] == pytest.approx([-4.0, np.nan, 1.0, 3.0], nan_ok=True)
    assert dof.tolist() == [2.0]


def test_interval_of_a_mean_covers() -> None:
    """At least 53 of 60 (the 5 % point of Binomial(60, 0.95) is 54), with long errors and few rides too."""
    along = Along.of(5.0 * np.arange(600.0))
    for rides, length_m in ((5, 1500.0), (3, 5500.0)):
        rng = np.random.default_rng(1)
        hits, means, errors = 0, [], []
        for _ in range(60):
            found, error = mean_estimate(2.0 + 3.0 * gauss_markov(rng, rides, 600, length_m), along, 0.95)
            hits += found.low <= 2.0 <= found.high
            means.append(found.value)
            errors.append(error)
        assert hits >= 53
        assert 0.8 < np.mean(errors) / np.std(means) < 2.5


@pytest.mark.parametrize("shape", [(1, 2), (1, 3), (2, 20)])
def test_the_mean_of_independent_values_is_student_s(shape: tuple[int, int]) -> None:
    """Stations 10,000 km apart: mean and interval of scipy's one-sample t test."""
    values = np.random.default_rng(2).normal(50.0, 3.0, shape)
    found, error = mean_estimate(values, Along.of(1e7 * np.arange(shape[1])), 0.9)
    ends = stats.ttest_1samp(values.ravel(), 0.0).confidence_interval(0.9)
    assert (found.value, found.low, found.high) == pytest.approx(
        (values.mean(), ends.low, ends.high), rel=2e-4
    )
    assert error == pytest.approx((found.high - found.value) / stats.norm.ppf(0.95))


def test_of_many_rides_some_speak_for_the_likeness_and_all_for_the_mean() -> None:
    """200 rides with errors of 1 m that last: the standard error of their mean is 1 / sqrt(200) = 0.071 m."""
    rng = np.random.default_rng(3)
    values = rng.normal(size=(200, 1)) + 0.02 * gauss_markov(rng, 200, 60, 20.0)
    found, error = mean_estimate(values, Along.of(5.0 * np.arange(60.0)), 0.95)
    assert found.value == pytest.approx(values.mean())
    assert error == pytest.approx(0.071, rel=0.5)


def test_the_mean_of_small_values_is_known_as_well_as_that_of_large_ones() -> None:
    along, values = Along.of(5.0 * np.arange(80.0)), np.random.default_rng(7).normal(9.0, 2.0, (3, 80))
    (large, error), (small, less) = (mean_estimate(unit * values, along, 0.95) for unit in (1.0, 0.001))
    assert 0.001 * error == pytest.approx(less)
    assert less > 0.0
    assert (small.low, small.high) == pytest.approx((0.001 * large.low, 0.001 * large.high))


def test_values_that_are_all_one_have_an_exact_mean() -> None:
    found, error = mean_estimate(np.full((3, 40), 2.5), Along.of(5.0 * np.arange(40.0)), 0.95)
    assert (found.value, found.low, found.high, error) == (2.5, 2.5, 2.5, 0.0)


def test_the_stations_of_a_route() -> None:
    """Eleven stations from 100 m to 150 m are 5 m apart, whatever the first is called."""
    found = Along.of(np.linspace(100.0, 150.0, 11), np.linspace(0, 1, 11))
    assert found.step_m == pytest.approx(5.0)
    assert found.heading_rad.tolist() == np.linspace(0, 1, 11).tolist()
    assert Along.of(np.array([0.0, 7.0])).step_m == 7.0
    assert Along.of(np.array([3.0])).step_m == 0.0
    assert not Along.of(np.arange(4.0)).heading_rad.any()


def test_a_mean_of_nothing() -> None:
    found, error = mean_estimate(np.full((2, 50), np.nan), Along.of(np.arange(50.0)), 0.95)
    assert np.isnan(found.value)
    assert said(found.reason) == "too few stations"
    assert np.isnan(error)
