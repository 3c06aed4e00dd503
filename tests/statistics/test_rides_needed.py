"""What rides are worth, against chi-square tables and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trackspread.statistics.power import (
    held,
    log_variance,
    power_apart,
    power_together,
)
from trackspread.statistics.rides_needed import (
    implied_dof,
    plan_row,
    rides_for_spread,
    spread_within,
)


@pytest.mark.parametrize(
    ("n", "low", "high"),
    [(2, 0.4461, 31.9102), (3, 0.5207, 6.2847), (4, 0.5665, 3.7285), (5, 0.5991, 2.8736),
     (10, 0.6878, 1.8256), (20, 0.7605, 1.4606), (30, 0.7964, 1.3443), (100, 0.8780, 1.1617)],
)  # fmt: skip
def test_factors_of_a_standard_deviation(n: int, low: float, high: float) -> None:
    """95 % multipliers of a standard deviation by sample size: Boost.Math, chi-square example output."""
    row = plan_row(n, 1.0, 1.0, 0.95, 0.8, 0.0)
    assert (row.low_factor, row.high_factor) == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize("within", [0.05, 0.1, 0.2])
def test_sample_size_for_a_standard_deviation(within: float) -> None:
    """dof = (z / x)^2 / 2 for large samples (Greenwood & Sandomire 1950), z = 1.96; quoted from memory."""
    rides = rides_for_spread(within, 0.95, 1.0)
    assert rides is not None
    assert rides - 1 == pytest.approx(0.5 * (1.95996 / within) ** 2, rel=0.03)


def test_spread_within_is_the_probability_it_says() -> None:
    """Simulated: 95 % of 200,000 standard deviations of 13 normal values."""
    s = np.sqrt(np.random.default_rng(0).chisquare(12, 200_000) / 12)
    assert np.mean(np.abs(s - 1) <= spread_within(12, 0.95)) == pytest.approx(0.95, abs=0.003)


@pytest.mark.parametrize(("rides", "lengths", "common"), [(4, 1.7, 0.0), (6, 1.2345, 0.8), (30, 4.0, 0.3)])
def test_a_row_of_the_plan_is_what_its_numbers_mean(rides: int, lengths: float, common: float) -> None:
    """Ratios are seen with the power asked for; the factors are scipy's chi-square."""
    row = plan_row(rides, lengths, 0.2, 0.9, 0.8, common)
    dof = (rides - 1) * lengths
    assert (row.rides, row.dof, row.within) == (rides, dof, spread_within(dof, 0.9))
    assert row.low_factor == pytest.approx(math.sqrt(dof / stats.chi2.ppf(0.95, dof)), rel=2e-4)
    assert row.high_factor == pytest.approx(math.sqrt(dof / stats.chi2.ppf(0.05, dof)), rel=2e-4)
    together, apart = (held(rides, 2, 0.9, shared) for shared in (True, False))
    assert power_together(row.ratio_together, rides, 0.2, together, common) == pytest.approx(0.8, abs=2e-4)
    assert power_apart(row.ratio_apart, rides, 0.2, apart, common) == pytest.approx(0.8, abs=2e-4)


def test_no_ratio_is_seen_with_two_rides_of_one_value() -> None:
    assert math.isinf(plan_row(2, 1.0, log_variance(1.0), 0.95, 0.8, 0.0).ratio_together)


@pytest.mark.parametrize("within", [0.9, 0.6, 0.45, 0.35, 0.3, 0.27, 0.24, 0.2, 0.17])
def test_the_fewest_rides_for_a_spread_are_whole_and_enough(within: float) -> None:
    rides = rides_for_spread(within, 0.95, 1.0)
    assert isinstance(rides, int)
    assert spread_within(rides - 1, 0.95) <= within
    assert rides == 2 or spread_within(rides - 2, 0.95) > within


@settings(max_examples=30, deadline=None)
@given(st.floats(0.5, 5000.0), st.floats(0.1, 10.0), st.sampled_from([0.8, 0.9, 0.95]))
def test_degrees_of_freedom_come_back_from_an_interval(dof: float, sd: float, confidence: float) -> None:
    low, high = (
        sd * math.sqrt(dof / stats.chi2.ppf(p, dof)) for p in ((1 + confidence) / 2, (1 - confidence) / 2)
    )
    if low < sd < high < 1e6:
        assert implied_dof(sd, low, high, confidence) == pytest.approx(dof, rel=0.02)


@pytest.mark.parametrize(("dof", "known"), [(0.2, False), (0.31, True), (9e5, True), (2e6, False)])
def test_degrees_of_freedom_from_a_third_to_a_million(dof: float, known: bool) -> None:
    low, high = (math.sqrt(dof / stats.chi2.ppf(p, dof)) for p in (0.6, 0.4))
    value = math.sqrt(low * high)
    assert math.isfinite(implied_dof(value, low, high, 0.2)) == known


def test_what_no_campaign_can_reach() -> None:
    assert rides_for_spread(0.001, 0.95, 1.0) is None
    assert rides_for_spread(0.9, 0.5, 1000.0) == 2


def test_what_is_no_interval_has_no_degrees_of_freedom() -> None:
    for value, low, high in ((1.0, 1.0, 1.0), (1.0, 0.0, 2.0), (math.nan, 1.0, 2.0), (1.0, 0.9, math.inf)):
        assert math.isnan(implied_dof(value, low, high, 0.95))
