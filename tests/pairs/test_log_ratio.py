"""The log ratio of two receivers: against scipy where the textbook case holds, and by its risk and coverage."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from ridden_together import gauss_markov
from trackspread.model import Floats
from trackspread.numeric.distributions import normal_quantile
from trackspread.pairs.log_ratio import (
    PAIRED_ABOVE,
    THETAS,
    apart,
    combined,
    quantiles,
    shared_moments,
    together,
)


def p_of_none(share: Floats | None) -> float:
    assert share is not None
    none = float(np.interp(0.0, THETAS, share))
    return 2 * min(none, 1 - none)


def two(random: np.random.Generator, line_m: float, rides: int = 6) -> tuple[Floats, Floats]:
    """Return errors of 1.5 and 1 m beside a line that both share, (rides, 400) each."""
    line = line_m * random.standard_normal((rides, 400))
    return line + 1.5 * random.standard_normal(line.shape), line + random.standard_normal(line.shape)


def test_together_is_the_two_sample_t_test_of_logarithms() -> None:
    """scipy.stats.ttest_ind of the logarithms of the mean squares, whatever little both share."""
    a, b = two(np.random.default_rng(2), 0.5)
    asked = stats.ttest_ind(*(np.log(np.mean(x**2, axis=1)) for x in (a, b))).pvalue
    assert p_of_none(together([shared_moments(a, b)])) == pytest.approx(asked, rel=0.02)


def test_two_that_are_much_alike_are_judged_ride_by_ride() -> None:
    """scipy.stats.ttest_rel of the same logarithms."""
    a, b = two(np.random.default_rng(3), 3.0)
    shared = shared_moments(a, b)
    assert shared.correlations().mean() > PAIRED_ABOVE
    asked = stats.ttest_rel(*(np.log(np.mean(x**2, axis=1)) for x in (a, b))).pvalue
    assert p_of_none(together([shared])) == pytest.approx(asked, rel=0.02)


@pytest.mark.parametrize("line_m", [0.0, 0.5, 1.0, 3.0])
def test_what_both_share_is_taken_off_as_grubbs_does(line_m: float) -> None:
    """Half of H lies below log SD_a / SD_b, SD² = s_aa - s_ab and s_bb - s_ab (Grubbs 1948), by numpy."""
    a, b = two(np.random.default_rng(4), line_m, rides=8)
    s = np.array([[np.mean(x * y) for x in (a, b)] for y in (a, b)])
    share = together([shared_moments(a, b)])
    assert share is not None
    grubbs = 0.5 * np.log((s[0, 0] - s[0, 1]) / (s[1, 1] - s[0, 1]))
    assert quantiles(share, np.array([0.5]))[0] == pytest.approx(grubbs, abs=0.01)


def test_a_ride_over_two_routes_is_one_ride() -> None:
    """Out and back by one name: the t test of the four means of both, not of eight values."""
    random = np.random.default_rng(5)
    parts = [two(random, 0.0, rides=4) for _ in range(2)]
    names = ["1", "2", "3", "4"]
    logs = [np.mean([np.log(np.mean(part[k] ** 2, axis=1)) for part in parts], axis=0) for k in (0, 1)]
    found = together([shared_moments(*part, names) for part in parts])
    assert p_of_none(found) == pytest.approx(stats.ttest_ind(*logs).pvalue, rel=0.02)
    own = together(
        [shared_moments(*part, [way + ride for ride in names]) for way, part in zip("ab", parts, strict=True)]
    )
    assert p_of_none(own) < p_of_none(found)


def test_apart_is_the_two_sample_t_test_of_logarithms() -> None:
    random = np.random.default_rng(4)
    a, b = random.chisquare(6, 5), random.chisquare(6, 7)
    share = apart([(a, b)], 1e9)
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


def test_one_ride_tells_nothing() -> None:
    random = np.random.default_rng(1)
    assert together([shared_moments(*random.standard_normal((2, 1, 90)))]) is None
    assert together([]) is None
    assert apart([(np.ones(1), np.ones(1))], 3.0) is None


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
        told += p_of_none(share) < 0.05
    assert told / 600 <= 0.073


def test_the_consensus_that_holds_the_errors_of_both_does_not_draw_them_together() -> None:
    """Normal errors of SD 3 and 1, four rides each of 60 values, against the plain mean of all other rides."""
    random = np.random.default_rng(12)
    sd = np.repeat([3.0, 1.0], 4)[:, None]
    seen = []
    for _ in range(200):
        errors = sd * random.standard_normal((8, 60))
        away = errors - (errors.sum(axis=0) - errors) / 7.0
        squares = (away**2).mean(axis=1)
        share = apart([(squares[:4], squares[4:])], 7.0)
        assert share is not None
        seen.append(quantiles(share, np.array([0.5]))[0])
    assert np.mean(seen) == pytest.approx(np.log(3.0), abs=0.03)
