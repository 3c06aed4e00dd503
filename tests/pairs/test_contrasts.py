"""Contrasts of two receivers: against scipy where the textbook case holds, and by their risk and coverage."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from ridden_together import gauss_markov
from trackspread.numeric.distributions import normal_quantile
from trackspread.pairs.contrasts import (
    THETAS,
    apart,
    combined,
    contrast,
    own_sd,
    quantiles,
    shared_moments,
    together,
)
from trackspread.statistics.ride_spread import sd_posterior


def test_together_is_the_t_test_of_fishers_z() -> None:
    """scipy.stats.ttest_1samp of the z of each ride's correlation of sum and difference (Pitman, Morgan 1939)."""
    random = np.random.default_rng(2)
    a, b = 1.5 * random.standard_normal((6, 80)), random.standard_normal((6, 80))
    share = together([shared_moments(a, b)])
    assert share is not None
    both, gap = a + b, a - b
    rho = (both * gap).sum(1) / np.sqrt((both**2).sum(1) * (gap**2).sum(1))
    asked = stats.ttest_1samp(np.arctanh(rho), 0.0).pvalue
    none = float(np.interp(0.0, THETAS, share))
    assert 2 * min(none, 1 - none) == pytest.approx(asked, rel=0.02)


def test_apart_is_the_two_sample_t_test_of_logarithms() -> None:
    random = np.random.default_rng(4)
    a, b = random.chisquare(6, 5), random.chisquare(6, 7)
    share = apart([(a, b)])
    assert share is not None
    none = float(np.interp(0.0, THETAS, share))
    assert 2 * min(none, 1 - none) == pytest.approx(stats.ttest_ind(np.log(a), np.log(b)).pvalue, rel=0.02)
    ends = stats.ttest_ind(np.log(a), np.log(b)).confidence_interval(0.95)
    assert quantiles(share, np.array([0.025, 0.975])) == pytest.approx(
        [ends.low / 2, ends.high / 2], abs=0.01
    )


def test_two_equal_sources_are_worth_a_root_of_two() -> None:
    """Two normal confidence distributions of one width: the common one is narrower by sqrt(2)."""
    one = stats.norm.cdf((THETAS - 0.3) / 0.2)
    both = combined(one, one)
    assert quantiles(both, np.array([0.5]))[0] == pytest.approx(0.3, abs=1e-3)
    assert normal_quantile(np.interp(0.3 + 0.2, THETAS, both)) == pytest.approx(np.sqrt(2), rel=0.01)


def test_what_both_share_drops_out() -> None:
    """Own errors of 2 and 4 m under a shared 6 m: ratio 0.5, difference -2 m."""
    random = np.random.default_rng(8)
    line = 6.0 * gauss_markov(random, 12, 1000, 300.0)
    a, b = (line + sd * gauss_markov(random, 12, 1000, 60.0) for sd in (2.0, 4.0))
    moments = shared_moments(a, b)
    share = together([moments])
    level = sd_posterior(0.5 * moments.gap_m2, np.full(12, 40.0))
    assert share is not None
    assert level is not None
    found = contrast(share, level, 0.95)
    assert found.ratio.low < 0.5 < found.ratio.high < 1.0
    assert found.difference.low < -2.0 < found.difference.high < 0.0
    assert found.p < 0.05


def test_one_ride_tells_nothing() -> None:
    random = np.random.default_rng(1)
    assert together([shared_moments(*random.standard_normal((2, 1, 90)))]) is None
    assert together([]) is None
    assert apart([(np.ones(1), np.ones(1))]) is None


def _bursts(random: np.random.Generator, rides: int) -> np.ndarray:
    """Errors that burst sevenfold on a twentieth of the way, on rides of unequal quality."""
    on = gauss_markov(random, rides, 250, 200.0) > 1.645
    quality = np.exp(0.4 * random.standard_normal((rides, 1)))
    return quality * np.where(on, 7.0, 1.0) * gauss_markov(random, rides, 250, 60.0)


@pytest.mark.parametrize("rides", [3, 4, 8])
def test_equal_receivers_with_heavy_tails_are_seldom_told_apart(rides: int) -> None:
    """At most 5 % by design; 600 campaigns see up to 7.3 % in 99.5 of 100 cases (binomial)."""
    random = np.random.default_rng(rides)
    told = 0
    for _ in range(600):
        share = together([shared_moments(_bursts(random, rides), _bursts(random, rides))])
        assert share is not None
        none = float(np.interp(0.0, THETAS, share))
        told += 2 * min(none, 1 - none) < 0.05
    assert told / 600 <= 0.073


def test_own_sd_of_a_receiver_beside_a_worse_one() -> None:
    """2 m of its own beside 4 m of another and 6 m that both share."""
    random = np.random.default_rng(9)
    line = 6.0 * gauss_markov(random, 12, 1000, 300.0)
    a, b = (line + sd * gauss_markov(random, 12, 1000, 60.0) for sd in (2.0, 4.0))
    moments = shared_moments(a, b)
    share = together([moments])
    level = sd_posterior(0.5 * moments.gap_m2, np.full(12, 40.0))
    assert share is not None
    assert level is not None
    found = own_sd(share, level, 0.95)
    assert found.low < 2.0 < found.high < 4.0
    assert found.low < found.value < found.high
