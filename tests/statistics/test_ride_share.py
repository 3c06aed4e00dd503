"""The share of the way with the ride as the unit, against the exact binomial interval of scipy and by coverage."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trackspread.statistics.ride_share import share_of_way


def test_rides_alike_give_the_exact_binomial_interval() -> None:
    """Clopper & Pearson 1934, by scipy: 4 of 40 lengths, evenly on all rides, have no scatter between them."""
    found = share_of_way(np.full(4, 100.0), np.full(4, 1000.0), 100.0, 0.95)
    exact = stats.binomtest(4, 40).proportion_ci(method="exact")
    assert (found.value, found.low, found.high) == pytest.approx((0.1, exact.low, exact.high))


def test_nothing_struck_leaves_an_upper_end() -> None:
    found = share_of_way(np.zeros(4), np.full(4, 1000.0), 100.0, 0.95)
    assert (found.value, found.low) == (0.0, 0.0)
    assert found.high == pytest.approx(1.0 - 0.025 ** (1 / 40))


def test_one_bad_ride_says_less_than_many_alike() -> None:
    even = share_of_way(np.full(4, 100.0), np.full(4, 1000.0), 100.0, 0.95)
    one = share_of_way(np.array([400.0, 0.0, 0.0, 0.0]), np.full(4, 1000.0), 100.0, 0.95)
    assert one.value == even.value
    assert one.low < even.low
    assert one.high > even.high


def test_too_little() -> None:
    assert np.isnan(share_of_way(np.zeros(0), np.zeros(0), 100.0, 0.95).value)
    assert np.isnan(share_of_way(np.zeros(1), np.full(1, 900.0), 100.0, 0.95).low)


def test_intervals_hold_the_share_when_rides_differ() -> None:
    """Shares of single rides from a beta distribution of mean 0.1: 95 % intervals of 6 rides hold it."""
    random = np.random.default_rng(7)
    held = 0
    for _ in range(400):
        struck = 5000.0 * random.binomial(50, random.beta(1.0, 9.0, 6)) / 50
        found = share_of_way(struck, np.full(6, 5000.0), 100.0, 0.95)
        held += found.low <= 0.1 <= found.high
    assert held / 400 >= 0.93
