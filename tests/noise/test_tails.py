"""How well a mean square is known: densities by scipy, and what rides that burst are worth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trackspread.noise import tails
from trackspread.noise.tails import block_count, blocks, tail_dof

ROUTE = 600


def normal(seed: int, rides: int) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((rides, ROUTE)) ** 2


@pytest.mark.parametrize(("above", "below"), [(3.0, 4.0), (0.7, 8.0), (12.0, 1e4)])
def test_blocks_have_the_density_of_fisher(above: float, below: float) -> None:
    """scipy.stats.f, times x for the density in log x."""
    x = np.geomspace(1e-3, 1e3, 40)
    expected = stats.f.logpdf(x, above, below) + np.log(x)
    np.testing.assert_allclose(
        tails._log_f(np.log(x), np.array(above), below), expected, rtol=1e-6, atol=1e-6
    )


def test_the_quality_of_a_ride_is_an_inverse_chi_square() -> None:
    """scipy.stats.invgamma, shape and scale half the degrees of freedom (textbook)."""
    level = np.linspace(-4.0, 4.0, 81)
    found = tails._kernel(level, 6.0)[40] / (level[1] - level[0])
    x = np.exp(level)
    np.testing.assert_allclose(found, stats.invgamma.pdf(x, 3.0, scale=3.0) * x, rtol=1e-9)
    assert tails._mean_of(6.0) == pytest.approx(stats.invgamma.mean(3.0, scale=3.0))


def test_blocks_are_means_of_what_is_known() -> None:
    square = np.array([[1.0, 3.0, 5.0, np.nan], [2.0, 2.0, np.nan, np.nan]])
    mean, share = blocks(square, 2)
    assert mean.tolist() == [[2.0, 5.0], [2.0, 1.0]]
    assert share.tolist() == [[1.0, 0.5], [1.0, 0.0]]


def test_blocks_are_longer_than_a_burst_and_hold_some_independent_values() -> None:
    assert block_count(30.0, 6000.0) == 10
    assert block_count(300.0, 6000.0) == 10
    assert block_count(6.0, 6000.0) == 2
    assert block_count(0.5, 300.0) == 1
    assert block_count(1e6, 1e7) == tails.MOST_BLOCKS


@pytest.mark.parametrize("bursts", [False, True])
def test_many_normal_rides_come_near_the_degrees_of_freedom_of_normal_errors(bursts: bool) -> None:
    """Rides x 30 independent values: tails that nobody sees cost less the more rides there are."""
    lengths = np.array([30.0])
    shares = []
    for rides in (4, 20, 40):
        each = [np.random.default_rng([rides, seed]).chisquare(3.0, (rides, 10)) / 3.0 for seed in range(5)]
        found = [tail_dof(np.repeat(one, 60, axis=1), lengths, 1.0, 10.0, 0.95, bursts) for one in each]
        shares.append(float(np.median(found)) / (30.0 * rides))
    assert shares[0] < shares[1] < 1.1
    assert shares[0] < shares[2] < 1.1
    assert shares[1] > (0.25 if bursts else 0.6)


def test_a_burst_and_unequal_rides_take_from_the_degrees_of_freedom() -> None:
    lengths, plain = np.array([30.0]), normal(4, 8)
    burst, unequal = plain.copy(), plain * np.geomspace(0.2, 5.0, 8)[:, None]
    burst[2, 200:260] *= 50.0
    usual, one, other = (tail_dof(each, lengths, 0.9, 5.0, 0.95, False) for each in (plain, burst, unequal))
    assert one < 0.5 * usual
    assert other < 0.5 * usual


def test_the_unit_does_not_matter_and_no_error_says_nothing() -> None:
    lengths, plain = np.array([10.0, 20.0]), normal(5, 4)
    plain[1, :300] = np.nan
    one, other = (tail_dof(unit * plain, lengths, 0.75, 5.0, 0.95, True) for unit in (1.0, 1e6))
    assert one == pytest.approx(other, rel=1e-9)
    assert np.isnan(tail_dof(0.0 * normal(6, 3), lengths, 0.7, 5.0, 0.95, True))
    assert np.isnan(tail_dof(np.full((3, 50), np.nan), lengths, 0.7, 5.0, 0.95, True))


def test_of_very_many_rides_some_are_asked_for_all() -> None:
    lengths = np.array([10.0])
    few, many = (tail_dof(normal(7, rides), lengths, 1.0, 5.0, 0.95, False) for rides in (40, 400))
    assert many == pytest.approx(10.0 * few, rel=0.3)
