"""How well a mean square is known: densities by scipy, and what rides that burst are worth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trackspread.noise import tails
from trackspread.noise.tails import Sample, block_count, block_squares, sd_ends

ROUTE = 600


def normal(seed: int, rides: int) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((rides, ROUTE))


def of(error_m: np.ndarray, lengths: np.ndarray, own: float = 1.0) -> Sample:
    return Sample(error_m=error_m, ride=np.arange(len(error_m)), lengths=lengths, own=own, step_m=5.0)


def width(error_m: np.ndarray, lengths: np.ndarray, bursts: bool, own: float = 1.0) -> float:
    """Logarithm of the upper over the lower end."""
    low, high = sd_ends([of(error_m, lengths, own)], 0.95, bursts)
    assert low < 1.0 < high
    return float(np.log(high / low))


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


def test_blocks_are_mean_squares_about_the_mean_of_what_is_known() -> None:
    """Two rides weigh alike: half the squared difference of both, the unbiased variance of two values."""
    error = np.array([[1.0, 3.0, 5.0, 5.0], [2.0, 1.0, np.nan, np.nan]])
    mean, number = block_squares(error, 2, 3.0)
    assert mean[:, 0] == pytest.approx([1.25, 1.25])
    assert number.tolist() == [[2.0, 2.0], [2.0, 0.0]]


def test_a_burst_of_one_of_three_rides_does_not_show_in_the_others() -> None:
    """About the plain mean the other two have (4 + 1 + 400) / 9 / (2 / 3) = 68 times their variance."""
    error = normal(8, 3)
    error[1, 200:400] *= 20.0
    mean, _ = block_squares(error, 3, 3.0)
    assert mean[1, 1] == pytest.approx(400.0, rel=0.3)
    assert (mean[[0, 2], 1] < 3.0).all()
    assert mean[:, [0, 2]] == pytest.approx(1.0, rel=0.5)


def test_blocks_are_longer_than_a_burst_and_hold_some_independent_values() -> None:
    assert block_count(30.0, 6000.0) == 10
    assert block_count(300.0, 6000.0) == 20
    assert block_count(6.0, 6000.0) == 2
    assert block_count(0.5, 300.0) == 1
    assert block_count(1e6, 1e7) == tails.MOST_BLOCKS


@pytest.mark.parametrize("bursts", [False, True])
def test_many_normal_rides_come_near_the_interval_of_normal_errors(bursts: bool) -> None:
    """Rides x 30 independent values by scipy's chi-square: tails that nobody sees cost less with more rides."""
    times = []
    for rides in (4, 20, 40):
        each = [np.random.default_rng([rides, seed]).standard_normal((rides, 30)) for seed in range(5)]
        found = [width(np.repeat(one, 20, axis=1), np.array([30.0]), bursts) for one in each]
        low, high = stats.chi2.ppf([0.025, 0.975], 30 * rides)
        times.append(float(np.median(found) / (0.5 * np.log(high / low))))
    assert times[0] > times[1] > 0.9
    assert times[0] > times[2] > 0.9
    assert times[1] < (3.0 if bursts else 1.35)


def test_a_burst_and_unequal_rides_widen_the_interval() -> None:
    lengths, plain = np.array([30.0]), normal(4, 8)
    burst, unequal = plain.copy(), plain * np.geomspace(0.45, 2.2, 8)[:, None]
    burst[2, 200:260] *= 7.0
    usual, one, other = (width(each, lengths, False, 0.9) for each in (plain, burst, unequal))
    assert one > 1.4 * usual
    assert other > 1.4 * usual


def test_two_routes_say_what_both_together_say() -> None:
    """Eight rides of one route, or four each of two routes of the same process and length."""
    lengths, error = np.array([20.0]), normal(9, 8)
    halves = [of(part, lengths) for part in (error[:4], error[4:])]
    low, high = sd_ends(halves, 0.95, True)
    assert np.log(high / low) == pytest.approx(width(error, lengths, True), rel=0.15)


def test_the_unit_does_not_matter_and_no_error_says_nothing() -> None:
    lengths, plain = np.array([10.0, 20.0]), normal(5, 4)
    plain[1, :300] = np.nan
    one, other = (width(unit * plain, lengths, True, 0.75) for unit in (1e-3, 1e3))
    assert one == pytest.approx(other, rel=1e-6)
    for nothing in (0.0 * normal(6, 3), np.full((3, 50), np.nan)):
        sample = of(nothing, lengths)
        assert np.isnan(sd_ends([sample], 0.95, True)).all()


def test_companions_on_one_ride_are_one_ride() -> None:
    """Each of two watches as the other: the mean square of their ride, and nothing known better for it."""
    lengths, error = np.array([20.0]), normal(10, 5)
    twice = Sample(
        error_m=np.repeat(error, 2, axis=0),
        ride=np.repeat(np.arange(5), 2),
        lengths=lengths,
        own=1.0,
        step_m=5.0,
    )
    low, high = sd_ends([twice], 0.95, True)
    assert np.log(high / low) == pytest.approx(width(error, lengths, True), rel=0.05)


def test_of_very_many_rides_some_are_asked_for_all() -> None:
    few, many = (width(normal(7, rides), np.array([10.0]), False) for rides in (40, 400))
    assert many == pytest.approx(few / np.sqrt(10.0), rel=0.15)
