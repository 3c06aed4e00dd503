"""How many rides are enough, against chi-square and F tables and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trackspread.statistics.exact_tests import rank_sum, signed_ranks
from trackspread.statistics.power import (
    MOST_PLANNED_RIDES,
    PAIRED_ABOVE,
    held,
    implied_dof,
    least_p,
    log_variance,
    plan_row,
    power_apart,
    power_together,
    rides_for_fix,
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


def logs(rng: np.random.Generator, sd: float, rides: int, lengths: int) -> np.ndarray:
    """Return the logarithms of mean squares of so many normal values, (20000, rides)."""
    return np.log(sd**2 * rng.chisquare(lengths, (20_000, rides)) / lengths)


@pytest.mark.parametrize("lengths", [1.0, 3.0, 20.0])
def test_variance_of_the_logarithm_of_a_mean_square(lengths: float) -> None:
    """That of log chi-square, by numerical integration of scipy's density."""
    law = stats.chi2(lengths)
    mean = law.expect(np.log)
    assert log_variance(lengths) == pytest.approx(law.expect(lambda x: (np.log(x) - mean) ** 2), rel=1e-3)


@pytest.mark.parametrize(
    ("ratio", "rides", "lengths"), [(1.5, 4, 12), (2.0, 3, 8), (1.3, 10, 20), (3.0, 4, 3), (1.6, 30, 2)]
)
def test_power_apart_by_simulation(ratio: float, rides: int, lengths: int) -> None:
    """scipy's two-sample t test of logarithms of chi-squares, the error of the others' consensus in both."""
    rng = np.random.default_rng(2)
    shared = 0.5 * (1.0 + ratio**2) / (2 * rides - 1)
    a, b = (logs(rng, math.sqrt(s + shared), rides, lengths) for s in (ratio**2, 1.0))
    seen = np.mean(stats.ttest_ind(a, b, axis=1).pvalue < 0.05)
    assert power_apart(ratio, rides, log_variance(lengths), 0.95) == pytest.approx(seen, abs=0.05)


@pytest.mark.parametrize(
    ("ratio", "rides", "lengths", "common"),
    [(1.5, 4, 12, 0.0), (2.0, 4, 8, 0.5), (1.3, 10, 20, 1.0), (2.0, 8, 6, 2.0), (1.4, 30, 4, 0.6)],
)
def test_power_together_by_simulation(ratio: float, rides: int, lengths: int, common: float) -> None:
    """4,000 campaigns of normal errors beside a line, against the mean of the other rides, by scipy's t tests."""
    rng = np.random.default_rng(1)
    line = common * rng.standard_normal((4000, rides, lengths))
    pair = [line + sd * rng.standard_normal(line.shape) for sd in (ratio, 1.0)]
    mean = (pair[0] + pair[1]) / 2.0
    others = (mean.sum(axis=1, keepdims=True) - mean) / (rides - 1)
    a, b = (x - others for x in pair)
    alike = np.mean((a * b).mean(2) / np.sqrt((a**2).mean(2) * (b**2).mean(2)), axis=1)
    log_a, log_b = (np.log((x**2).mean(axis=2)) for x in (a, b))
    apart, paired = (test(log_a, log_b, axis=1).pvalue for test in (stats.ttest_ind, stats.ttest_rel))
    seen = np.mean(np.where(alike > PAIRED_ABOVE, paired, apart) < 0.05)
    assert power_together(ratio, rides, log_variance(lengths), 0.95, common) == pytest.approx(seen, abs=0.055)


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


def test_the_family_is_that_of_the_comparison() -> None:
    """Two watches: one p of spreads and three of ranks, which four shared rides cannot bring below 0.125."""
    assert [held(n, 2, 0.95, True) for n in (4, 7, 8)] == pytest.approx([0.95, 0.95, 1 - 0.05 / 4])
    assert held(4, 3, 0.95, True) == pytest.approx(1 - 0.05 / 3)
    assert rides_for_fix(2, 0.95, True) == 8
    assert rides_for_fix(2, 0.95, False) == 5
    for together, test in ((True, lambda n: signed_ranks(np.arange(1.0, n + 1))),
                           (False, lambda n: rank_sum(np.arange(n), 100.0 + np.arange(n)))):  # fmt: skip
        for rides in (3, 5, 6):
            asked = test(rides)
            assert asked is not None
            assert least_p(rides, together) == pytest.approx(asked.smallest)


def test_no_ratio_is_seen_with_two_rides_of_one_value() -> None:
    assert math.isinf(plan_row(2, 1.0, log_variance(1.0), 0.95, 0.8, 0.0).ratio_together)


def test_equal_receivers_are_told_apart_by_the_risk_only() -> None:
    for rides in (3, 10, 2000):
        assert power_together(1.0, rides, 0.2, 0.95) <= 0.05
        assert power_apart(1.0, rides, 0.2, 0.95) == pytest.approx(0.05, abs=1e-4)


def test_rides_are_the_fewest() -> None:
    for together, power in ((True, power_together), (False, power_apart)):
        rides = rides_to_tell_apart(1.6, 0.8, 0.95, 0.3, 0.3, 3, together)
        assert rides is not None
        level, fewer = (held(n, 3, 0.95, together) for n in (rides, rides - 1))
        assert power(1.6, rides, 0.3, level, 0.3) >= 0.8
        assert power(1.6, rides - 1, 0.3, fewer, 0.3) < 0.8


@pytest.mark.parametrize("within", [0.9, 0.6, 0.45, 0.35, 0.3, 0.27, 0.24, 0.2, 0.17])
def test_the_fewest_rides_for_a_spread_are_whole_and_enough(within: float) -> None:
    rides = rides_for_spread(within, 0.95, 1.0)
    assert isinstance(rides, int)
    assert spread_within(rides - 1, 0.95) <= within
    assert rides == 2 or spread_within(rides - 2, 0.95) > within


def test_what_no_campaign_can_reach() -> None:
    assert rides_for_spread(0.001, 0.95, 1.0) is None
    assert rides_to_tell_apart(1.001, 0.9, 0.95, 1.0) is None
    assert rides_to_tell_apart(1.001, 0.9, 0.95, 1.0, together=False) is None
    assert rides_for_spread(0.9, 0.5, 1000.0) == 2
    assert power_together(2.0, 1, 1.0, 0.95) == 0.0
    assert MOST_PLANNED_RIDES == 5000


def test_the_line_of_the_rider_weakens_both_ways() -> None:
    assert power_together(2.0, 5, 0.5, 0.95, 1.0) < power_together(2.0, 5, 0.5, 0.95)
    assert power_apart(2.0, 5, 0.5, 0.95, 1.0) < power_apart(2.0, 5, 0.5, 0.95)


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
@given(st.floats(1.05, 4.0), st.integers(3, 300), st.floats(0.02, 3.0))
def test_more_of_everything_gives_more_power(ratio: float, rides: int, log_var: float) -> None:
    power = power_together(ratio, rides, log_var, 0.95)
    assert power_together(ratio * 1.1, rides, log_var, 0.95) >= power - 5e-3
    assert power_together(ratio, rides + 1, log_var, 0.95) >= power - 5e-3
    assert power_together(ratio, rides, log_var * 1.1, 0.95) <= power + 5e-3
