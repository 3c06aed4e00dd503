"""How many rides are enough, against chi-square and F tables and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trackspread.statistics.power import (
    MOST_PLANNED_RIDES,
    implied_dof,
    plan_row,
    power_apart,
    power_together,
    rides_apart,
    rides_for_spread,
    rides_to_tell_apart,
    spread_within,
)


@pytest.mark.parametrize(
    ("n", "low", "high"),
    [(2, 0.4461, 31.9102), (3, 0.5207, 6.2847), (4, 0.5665, 3.7285), (5, 0.5991, 2.8736),
     (10, 0.6878, 1.8256), (20, 0.7605, 1.4606), (30, 0.7964, 1.3443), (100, 0.8780, 1.1617)],
)  # fmt: skip
def test_factors_of_a_standard_deviation(n: int, low: float, high: float) -> None:
    """95 % multipliers of a standard deviation by sample size: Boost.Math, chi-square example output."""
    row = plan_row(n, 1.0, 0.95, 0.8, 0.0)
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


def test_power_of_the_f_test_at_its_critical_ratio() -> None:
    """F(0.975; 9, 9) = 4.03 and F(0.975; 20, 20) = 2.46 (tables, from memory).

    A ratio of variances at the critical value is found in half of all cases: the median of F is 1.
    """
    for dof, critical in ((9, 4.03), (20, 2.46)):
        assert stats.f.ppf(0.975, dof, dof) == pytest.approx(critical, abs=0.005)
        assert power_apart(math.sqrt(critical), dof, 0.95) == pytest.approx(0.5, abs=0.005)


@pytest.mark.parametrize(
    ("ratio", "dof", "common"),
    [(1.5, 20, 0.0), (2.0, 8, 0.5), (1.3, 50, 1.0), (3.0, 4, 0.0), (8.0, 2, 0.0), (1.4, 90, 0.6)],
)
def test_power_of_the_paired_test_by_simulation(ratio: float, dof: int, common: float) -> None:
    """20,000 samples, judged by the correlation of sum and difference (scipy's t)."""
    rng = np.random.default_rng(1)
    line = common * rng.standard_normal((20_000, dof))
    a, b = (line + sigma * rng.standard_normal((20_000, dof)) for sigma in (1.0, ratio))
    u, v = a + b, a - b
    r = np.sum(u * v, axis=1) / np.sqrt(np.sum(u**2, axis=1) * np.sum(v**2, axis=1))
    t = np.abs(r) * np.sqrt((dof - 1) / (1 - r**2))
    seen = np.mean(t > stats.t.ppf(0.975, dof - 1))
    assert power_together(ratio, dof, 0.95, common) == pytest.approx(seen, abs=0.015)


@pytest.mark.parametrize(("ratio", "dof", "common"), [(1.6, 12, 0.7), (2.5, 5, 1.5), (0.5, 12, 1.0)])
def test_power_of_the_f_test_by_simulation(ratio: float, dof: int, common: float) -> None:
    """40,000 pairs of sample variances, the rider's line in both, judged by scipy's F."""
    rng = np.random.default_rng(2)
    q = max(ratio, 1.0 / ratio) ** 2
    a, b = ((sigma2 + common**2) * rng.chisquare(dof, 40_000) / dof for sigma2 in (1.0, q))
    p = stats.f.sf(np.maximum(a / b, b / a), dof, dof)
    assert power_apart(ratio, dof, 0.95, common) == pytest.approx(np.mean(p < 0.025), abs=0.01)


@pytest.mark.parametrize(("rides", "lengths", "common"), [(4, 1.7, 0.0), (6, 1.2345, 0.8), (30, 4.0, 0.3)])
def test_a_row_of_the_plan_is_what_its_numbers_mean(rides: int, lengths: float, common: float) -> None:
    """Ratios are seen with the power asked for; the factors are scipy's chi-square."""
    row = plan_row(rides, lengths, 0.9, 0.8, common)
    dof = (rides - 1) * lengths
    assert (row.rides, row.dof, row.within) == (rides, dof, spread_within(dof, 0.9))
    assert row.low_factor == pytest.approx(math.sqrt(dof / stats.chi2.ppf(0.95, dof)), rel=2e-4)
    assert row.high_factor == pytest.approx(math.sqrt(dof / stats.chi2.ppf(0.05, dof)), rel=2e-4)
    assert power_together(row.ratio_together, dof, 0.9, common) == pytest.approx(0.8, abs=2e-4)
    assert power_apart(row.ratio_apart, dof, 0.9, common) == pytest.approx(0.8, abs=2e-4)


def test_no_ratio_is_seen_with_one_degree_of_freedom() -> None:
    assert math.isinf(plan_row(2, 1.0, 0.95, 0.8, 0.0).ratio_together)


def test_exact_and_approximate_power_meet() -> None:
    for ratio in (1.1, 1.3, 1.6):
        assert power_together(ratio, 60.0, 0.95) == pytest.approx(
            power_together(ratio, 60.01, 0.95), abs=0.004
        )


def test_equal_receivers_are_told_apart_by_the_risk_only() -> None:
    for dof in (5.0, 30.0, 200.0):
        assert power_together(1.0, dof, 0.95) == pytest.approx(0.05, abs=0.002)
        assert power_apart(1.0, dof, 0.95) == pytest.approx(0.05, abs=1e-6)


def test_rides_are_the_fewest() -> None:
    for lengths in (1.0, 4.5):
        rides = rides_to_tell_apart(1.6, 0.8, 0.95, lengths, 0.3)
        assert rides is not None
        assert power_together(1.6, (rides - 1) * lengths, 0.95, 0.3) >= 0.8
        assert power_together(1.6, (rides - 2) * lengths, 0.95, 0.3) < 0.8


@pytest.mark.parametrize("within", [0.9, 0.6, 0.45, 0.35, 0.3, 0.27, 0.24, 0.2, 0.17])
def test_the_fewest_rides_for_a_spread_are_whole_and_enough(within: float) -> None:
    rides = rides_for_spread(within, 0.95, 1.0)
    assert isinstance(rides, int)
    assert spread_within(rides - 1, 0.95) <= within
    assert rides == 2 or spread_within(rides - 2, 0.95) > within


def test_rides_apart_are_the_fewest() -> None:
    for lengths, common in ((1.0, 0.0), (4.5, 0.7)):
        rides = rides_apart(1.6, 0.8, 0.95, lengths, common)
        assert rides is not None
        assert power_apart(1.6, (rides - 1) * lengths, 0.95, common) >= 0.8
        assert power_apart(1.6, (rides - 2) * lengths, 0.95, common) < 0.8
    assert rides_apart(1.6, 0.8, 0.95, 2.0) == rides_apart(1.6, 0.8, 0.95, 2.0, 0.0)
    assert rides_to_tell_apart(1.6, 0.8, 0.95, 2.0) == rides_to_tell_apart(1.6, 0.8, 0.95, 2.0, 0.0)


def test_what_no_campaign_can_reach() -> None:
    assert rides_for_spread(0.001, 0.95, 1.0) is None
    assert rides_to_tell_apart(1.001, 0.9, 0.95, 1.0) is None
    assert rides_apart(1.001, 0.9, 0.95, 1.0) is None
    assert rides_for_spread(0.9, 0.5, 1000.0) == 2
    assert power_together(2.0, 1.0, 0.95) == 0.0
    assert MOST_PLANNED_RIDES == 5000


def test_the_line_of_the_rider_weakens_both_ways() -> None:
    assert power_together(2.0, 20, 0.95, 1.0) < power_together(2.0, 20, 0.95)
    assert power_apart(2.0, 20, 0.95, 1.0) < power_apart(2.0, 20, 0.95)


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


def test_what_is_no_interval_has_no_degrees_of_freedom() -> None:
    for value, low, high in ((1.0, 1.0, 1.0), (1.0, 0.0, 2.0), (math.nan, 1.0, 2.0), (1.0, 0.9, math.inf)):
        assert math.isnan(implied_dof(value, low, high, 0.95))


@settings(max_examples=20, deadline=None)
@given(st.floats(1.05, 4.0), st.floats(3.0, 300.0))
def test_more_of_everything_gives_more_power(ratio: float, dof: float) -> None:
    power = power_together(ratio, dof, 0.95)
    assert power_together(ratio * 1.1, dof, 0.95) >= power - 5e-3
    assert power_together(ratio, dof * 1.2, 0.95) >= power - 5e-3
    assert power_together(1.0 / ratio, dof, 0.95) == pytest.approx(power)
