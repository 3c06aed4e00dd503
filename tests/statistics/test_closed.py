"""Closed testing of pairs, against its definition and the studentised comparisons of an analysis of variance."""

from __future__ import annotations

from functools import partial
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from trackspread import model as m
from trackspread.statistics.closed import MOST_IN_SETS, alike_by_pairs, closed, over_figures
from trackspread.statistics.letters import holm


def partitions(members: list[int]) -> list[list[list[int]]]:
    """Return all ways to sort members into groups."""
    if not members:
        return [[]]
    first, rest = members[0], members[1:]
    out = []
    for size in range(len(rest) + 1):
        for chosen in combinations(rest, size):
            left = [k for k in rest if k not in chosen]
            out += [[[first, *chosen], *others] for others in partitions(left)]
    return out


@given(st.lists(st.floats(1e-6, 1.0), min_size=10, max_size=10), st.integers(2, 5))
def test_a_pair_is_told_only_where_every_true_state_that_holds_it_is_refused(
    p: list[float], count: int
) -> None:
    """The definition (Marcus, Peritz & Gabriel 1976): states are partitions into groups, tested by Bonferroni."""
    pairs = list(combinations(range(count), 2))
    own = np.array(p[: len(pairs)])
    found = closed(own, count, partial(alike_by_pairs, own, count))

    def of_group(group: list[int]) -> float:
        return own[pairs.index(tuple(group))] if len(group) == 2 else alike_by_pairs(own, count, group)

    for k, (i, j) in enumerate(pairs):
        worst = 0.0
        for parts in partitions(list(range(count))):
            groups = [sorted(group) for group in parts if len(group) > 1]
            if any({i, j} <= set(group) for group in groups):
                worst = max(worst, min(1.0, len(groups) * min(map(of_group, groups))))
        assert found[k] >= worst - 1e-12
        assert found[k] >= own[k]


def test_the_set_is_judged_as_by_an_analysis_of_variance() -> None:
    """Means with a known error: chi-square between them, by scipy."""
    means = np.array([0.3, 1.9, -0.4, 2.2])
    p = np.array([2.0 * stats.norm.sf(abs(a - b) / np.sqrt(2.0)) for a, b in combinations(means, 2)])
    assert alike_by_pairs(p, 4, range(4)) == pytest.approx(
        stats.chi2.sf(np.sum((means - means.mean()) ** 2), 3)
    )
    three = means[[0, 1, 3]]
    assert alike_by_pairs(p, 4, (0, 1, 3)) == pytest.approx(
        stats.chi2.sf(np.sum((three - three.mean()) ** 2), 2)
    )


def test_risk_and_power_of_three_and_four_equal_or_unequal_means() -> None:
    """2,500 draws a case: at most 5 % with any two of equal ones told apart, also beside others; more found than by Holm."""
    random = np.random.default_rng(3)
    for shift in ((0, 0, 0), (4, 0, 0), (0, 0, 0, 0), (4, 4, 0, 0)):
        count, told, holms = len(shift), list[m.Bools](), list[m.Bools]()
        pairs = list(combinations(range(count), 2))
        same = np.array([shift[i] == shift[j] for i, j in pairs])
        for means in random.standard_normal((2500, count)) + np.array(shift):
            p = np.array([2.0 * stats.norm.sf(abs(means[i] - means[j]) / np.sqrt(2.0)) for i, j in pairs])
            told.append(closed(p, count, partial(alike_by_pairs, p, count)) <= 0.05)
            holms.append(holm(p) <= 0.05)
        assert np.array(told)[:, same].any(axis=1).mean() < 0.05 + 3 * np.sqrt(0.05 * 0.95 / 2500)
        if not same.all():
            assert np.array(told)[:, ~same].mean() > np.array(holms)[:, ~same].mean()


def test_many_receivers_are_held_by_holm() -> None:
    count = MOST_IN_SETS + 1
    p = np.linspace(0.0005, 0.9, count * (count - 1) // 2)
    assert closed(p, count, lambda members: 1.0).tolist() == holm(p).tolist()


def test_what_is_not_compared_stays_so() -> None:
    p = np.array([0.01, np.nan, 0.5])
    found = closed(p, 3, partial(alike_by_pairs, p, 3))
    assert found[[0, 2]] == pytest.approx([0.02, 0.5])
    assert np.isnan(found[1])
    assert np.isnan(alike_by_pairs(np.full(3, np.nan), 3, (0, 1, 2)))


def test_over_figures_two_receivers_are_held_by_holm() -> None:
    found = over_figures([np.array([0.01]), np.array([0.03]), np.array([0.02])], [0.0, 0.0, 0.0], 0.05)
    assert np.concatenate(found) == pytest.approx(holm(np.array([0.01, 0.03, 0.02])))


def test_a_figure_that_cannot_find_anything_costs_nothing() -> None:
    """Tarone (1990)."""
    found = over_figures([np.array([0.04]), np.array([0.125]), np.array([np.nan])], [0.0, 0.125, 1.0], 0.05)
    assert found[0] == pytest.approx([0.04])
    assert np.isnan(found[2]).all()
