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
    least_p,
    log_variance,
    power_apart,
    power_of_fix,
    power_together,
    rides_for_fix,
    rides_to_tell_apart,
)


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


def test_the_family_is_that_of_the_comparison() -> None:
    """Two watches: spreads and two figures by ranks, which four shared rides cannot bring below 0.125."""
    assert [held(n, 2, 0.95, True) for n in (4, 6, 7)] == pytest.approx([0.95, 0.95, 1 - 0.05 / 3])
    for receivers in (2, 3):
        assert rides_for_fix(receivers, 0.95, True) == 7
        assert rides_for_fix(receivers, 0.95, False) == 5
    for together, test in ((True, lambda n: signed_ranks(np.arange(1.0, n + 1))),
                           (False, lambda n: rank_sum(np.arange(n), 100.0 + np.arange(n)))):  # fmt: skip
        for rides in (3, 5, 6):
            asked = test(rides)
            assert asked is not None
            assert least_p(rides, together) == pytest.approx(asked.smallest)


def test_of_three_receivers_one_that_differs_is_held_as_in_an_analysis_of_variance() -> None:
    """Means (d, 0, 0) of error 1: chi-square 2 d^2 / 3 between them, the pairs d / sqrt 2 (scipy)."""
    d = math.sqrt(1.5 * stats.chi2.ppf(0.95, 2))
    assert 1.0 - held(4, 3, 0.95, True) == pytest.approx(2.0 * stats.norm.sf(d / math.sqrt(2.0)))


@pytest.mark.parametrize(("rides", "together"), [(8, True), (11, True), (6, False), (9, False)])
def test_power_of_the_first_fix_by_scipys_tests(rides: int, together: bool) -> None:
    """400 campaigns of normal times, one sooner on 9 rides of 10."""
    random, shift = np.random.default_rng(7), stats.norm.ppf(0.9) * math.sqrt(2.0)
    a, b = random.standard_normal((400, rides)), shift + random.standard_normal((400, rides))
    if together:
        p = [stats.wilcoxon(x - y, method="exact").pvalue for x, y in zip(a, b, strict=True)]
    else:
        p = stats.mannwhitneyu(a, b, axis=1, method="exact").pvalue
    seen = np.mean(np.array(p) <= 0.05 / 3)
    assert power_of_fix(0.9, rides, 0.05 / 3, together) == pytest.approx(seen, abs=0.07)


def test_rides_for_the_first_fix_are_the_fewest() -> None:
    for together in (True, False):
        rides = rides_for_fix(2, 0.95, together, 0.9, 0.8)
        assert rides is not None
        assert power_of_fix(0.9, rides, 0.05 / 3, together) >= 0.8
        assert power_of_fix(0.9, rides - 1, 0.05 / 3, together) < 0.8


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


def test_what_no_campaign_can_reach() -> None:
    assert rides_to_tell_apart(1.001, 0.9, 0.95, 1.0) is None
    assert rides_to_tell_apart(1.001, 0.9, 0.95, 1.0, together=False) is None
    assert power_together(2.0, 1, 1.0, 0.95) == 0.0
    assert MOST_PLANNED_RIDES == 5000


def test_the_line_of_the_rider_weakens_both_ways() -> None:
    assert power_together(2.0, 5, 0.5, 0.95, 1.0) < power_together(2.0, 5, 0.5, 0.95)
    assert power_apart(2.0, 5, 0.5, 0.95, 1.0) < power_apart(2.0, 5, 0.5, 0.95)


@settings(max_examples=20, deadline=None)
@given(st.floats(1.05, 4.0), st.integers(3, 300), st.floats(0.02, 3.0))
def test_more_of_everything_gives_more_power(ratio: float, rides: int, log_var: float) -> None:
    power = power_together(ratio, rides, log_var, 0.95)
    assert power_together(ratio * 1.1, rides, log_var, 0.95) >= power - 5e-3
    assert power_together(ratio, rides + 1, log_var, 0.95) >= power - 5e-3
    assert power_together(ratio, rides, log_var * 1.1, 0.95) <= power + 5e-3
