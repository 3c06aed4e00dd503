"""Exact tests against scipy.stats, which goes through all permutations on its own."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trackspread.statistics.exact_tests import rank_sum, signed_ranks


@pytest.mark.parametrize("seed", range(4))
def test_signed_ranks_are_those_of_scipy(seed: int) -> None:
    difference = np.random.default_rng(seed).normal(0.5, 1.0, 9)
    found = signed_ranks(difference)
    assert found is not None
    assert found.p == pytest.approx(stats.wilcoxon(difference, method="exact").pvalue)
    assert found.smallest == pytest.approx(2.0 / 2**9)


@pytest.mark.parametrize("seed", range(4))
def test_rank_sum_with_ties_is_that_of_scipys_permutation_test(seed: int) -> None:
    random = np.random.default_rng(seed)
    a, b = random.integers(1, 9, 5).astype(float), random.integers(3, 12, 6).astype(float)
    rank = stats.rankdata(np.concatenate([a, b]))
    asked = stats.permutation_test(
        (rank[:5], rank[5:]), lambda x, y: abs(x.sum() - 5 * rank.mean()), permutation_type="independent",
        alternative="greater", n_resamples=np.inf,
    )  # fmt: skip
    found = rank_sum(a, b)
    assert found is not None
    assert found.p == pytest.approx(asked.pvalue)


def test_four_rides_can_only_tell_so_much() -> None:
    """2 of 16 signs and 2 of 70 choices are as far out as can be: p of 0.125 and 0.029 at best."""
    far = signed_ranks(np.array([1.0, 2.0, 3.0, 4.0]))
    apart = rank_sum(np.array([1.0, 2.0, 3.0, 4.0]), np.array([5.0, 6.0, 7.0, np.inf]))
    assert far is not None
    assert apart is not None
    assert (far.p, far.smallest) == (0.125, 0.125)
    assert (apart.p, apart.smallest) == pytest.approx((2 / 70, 2 / 70))


def test_what_never_differs_or_is_not_there() -> None:
    assert signed_ranks(np.array([np.nan])) is None
    assert rank_sum(np.array([1.0]), np.array([])) is None
    same = signed_ranks(np.zeros(5))
    assert same is not None
    assert (same.p, same.smallest) == (1.0, 1.0)


def test_many_rides_are_drawn_the_same_way_each_time() -> None:
    """20 000 draws: within Monte Carlo error of scipy's normal approximation for 40 pairs."""
    difference = np.random.default_rng(5).normal(0.25, 1.0, 40)
    one, other = signed_ranks(difference), signed_ranks(difference)
    assert one == other
    assert one is not None
    assert one.p == pytest.approx(stats.wilcoxon(difference, method="approx").pvalue, abs=0.02)
