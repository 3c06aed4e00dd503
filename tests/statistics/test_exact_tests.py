"""Exact tests against scipy.stats, which goes through all permutations on its own."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest
from scipy import stats

from trackspread.statistics.exact_tests import all_alike, rank_sum, share_as_far, signed_ranks


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


def test_a_set_on_shared_rides_against_all_permutations() -> None:
    """Three receivers, four rides: all 6^4 ways by itertools, aligned ranks (Hodges & Lehmann 1962)."""
    values = np.random.default_rng(8).normal([[0.0], [0.4], [1.3]], 1.0, (3, 4))
    rank = stats.rankdata(values - np.median(values, axis=0)).reshape(3, 4)
    rank -= rank.mean(axis=0)
    seen = np.sum(rank.sum(axis=1) ** 2)
    ways = product(permutations(range(3)), repeat=4)
    far = np.mean([np.sum(rank[np.array(way).T, range(4)].sum(axis=1) ** 2) >= seen - 1e-9 for way in ways])
    receiver, ride = np.divmod(np.arange(12), 4)
    assert all_alike(values.ravel(), receiver, ride) == pytest.approx(far, abs=0.02)


def test_a_set_on_rides_of_their_own_is_that_of_kruskal_and_wallis() -> None:
    """scipy.stats.kruskal, by chi-square; 3 times 12 rides."""
    values = np.random.default_rng(9).normal([[0.0], [0.2], [0.9]], 1.0, (3, 12))
    found = all_alike(values.ravel(), np.repeat(np.arange(3), 12), np.zeros(36, dtype=np.int64))
    assert found == pytest.approx(stats.kruskal(*values).pvalue, abs=0.02)


def test_equal_sets_are_refused_at_the_risk_only() -> None:
    """400 draws of four shared rides and some alone, with a ride's own level in it."""
    random = np.random.default_rng(10)
    receiver = np.array([*np.tile([0, 1, 2], 4), 0, 0, 1, 2, 2])
    block = np.array([*np.repeat(np.arange(4), 3), *[4] * 5])
    level = random.normal(0.0, 2.0, (400, 4))
    drawn = random.standard_normal((400, 17)) + level[:, np.minimum(block, 3)] * (block < 4)
    assert np.mean([all_alike(one, receiver, block) <= 0.05 for one in drawn]) < 0.05 + 3 * 0.011


def test_the_share_as_far_is_the_p_of_the_tests() -> None:
    for seed in range(3):
        random = np.random.default_rng(seed)
        a, b = random.normal(0, 1, 6), random.normal(1, 1, 6)
        signed, chosen = signed_ranks(a - b), rank_sum(a, b)
        assert signed is not None
        assert chosen is not None
        size = abs(np.sign(a - b) @ stats.rankdata(abs(a - b)))
        assert share_as_far(np.array([size]), 6, True)[0] == pytest.approx(signed.p)
        size = abs(stats.rankdata(np.concatenate([a, b]))[:6].sum() - 39.0)
        assert share_as_far(np.array([size]), 6, False)[0] == pytest.approx(chosen.p)
