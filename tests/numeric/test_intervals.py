"""Intervals against scipy's distributions and by enumeration."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from trackspread.numeric import intervals

INF = math.inf


@pytest.mark.parametrize("dof", [0.7, 1.0, 2.5, 9.0, 120.0])
@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.99])
def test_the_factors_leave_half_of_the_rest_in_each_tail(dof: float, confidence: float) -> None:
    """A sample SD s has dof s^2 / sigma^2 ~ chi^2(dof); at the ends of the interval sigma leaves a tail."""
    low, high = intervals.sd_factors(dof, confidence)
    assert low < high
    assert stats.chi2.sf(dof / low**2, dof) == pytest.approx((1 - confidence) / 2, rel=1e-6)
    assert stats.chi2.cdf(dof / high**2, dof) == pytest.approx((1 - confidence) / 2, rel=1e-6)


def test_the_fewest_degrees_of_freedom_know_no_upper_end() -> None:
    low, high = intervals.sd_factors(0.001, 0.95)
    assert low > 0
    assert high == INF


@pytest.mark.parametrize("n", range(1, 13))
def test_the_interval_of_a_median_covers_as_often_as_it_says(n: int) -> None:
    """All 2^n equally likely patterns of values below and above the population's median."""
    _, low, high, level = intervals.median_interval(np.arange(1.0, n + 1))
    first, last = int(low), int(high)
    below = np.array([sum(pattern) for pattern in itertools.product((0, 1), repeat=n)])
    if first < last:
        covered = (below >= first) & (below < last)
        assert covered.mean() == pytest.approx(level, abs=1e-12)
    else:
        assert level == 0.0
    if n >= 6:
        assert level >= 0.95
        narrower = (below >= first + 1) & (below < last - 1)
        assert narrower.mean() < 0.95
    else:
        assert (first, last) == (1, n)


def test_a_lower_confidence_takes_a_narrower_interval() -> None:
    assert intervals.median_interval(np.arange(1.0, 11), 0.8)[1:3] == (3.0, 8.0)
    assert intervals.median_interval(np.arange(1.0, 5), 0.5)[1:] == (1.0, 4.0, 0.875)
    assert intervals.median_interval(np.arange(1.0, 5), 0.3)[1:] == (2.0, 3.0, 0.375)
    assert intervals.median_interval(np.arange(1.0, 5), 0.375)[1:3] == (2.0, 3.0)


def test_whole_numbers_are_taken_for_what_they_are() -> None:
    assert intervals.median_interval([7, 3, 5]) == (5.0, 3.0, 7.0, 0.75)


def test_the_median_of_nothing() -> None:
    assert len(intervals.median_interval(np.array([]))) == 4
    assert all(math.isnan(figure) for figure in intervals.median_interval(np.array([])))


@pytest.mark.parametrize(
    ("values", "middle", "low", "high"),
    [
        ([1, 2, 3, INF], 2.5, 1, INF),
        ([1, 2, INF, INF], INF, 1, INF),
        ([INF, 1, INF], INF, 1, INF),
        ([2, INF, 1], 2, 1, INF),
        ([INF, INF], INF, INF, INF),
        ([5], 5, 5, 5),
        ([4, 1], 2.5, 1, 4),
    ],
)
def test_never_is_longer_than_any_time(values: list[float], middle: float, low: float, high: float) -> None:
    assert intervals.median_interval(np.array(values, float))[:3] == (middle, low, high)


def test_the_shortest_interval_is_that_of_the_highest_density() -> None:
    """Normal: both quantiles of scipy. Gamma of shape 3: the density is the same at both ends."""
    value = np.linspace(-8.0, 30.0, 20_001)
    assert intervals.shortest(value, stats.norm.cdf(value), 0.95) == pytest.approx([-1.96, 1.96], abs=0.01)
    low, high = intervals.shortest(value, stats.gamma.cdf(value, 3.0), 0.9)
    assert stats.gamma.pdf(low, 3.0) == pytest.approx(stats.gamma.pdf(high, 3.0), rel=0.03)
    assert stats.gamma.cdf(high, 3.0) - stats.gamma.cdf(low, 3.0) == pytest.approx(0.9, abs=1e-4)
