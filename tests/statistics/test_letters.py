"""Holm's procedure and the letters of groups, against published examples and by their definition."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackspread.statistics.letters import holm, letters


def test_holm_on_a_worked_example() -> None:
    """R's manual page of p.adjust gives 'holm' as the running maximum of (m - i + 1) p: by hand for four."""
    assert holm(np.array([0.01, 0.04, 0.03, 0.005])) == pytest.approx([0.03, 0.06, 0.06, 0.02])


def test_what_is_no_comparison_costs_nothing() -> None:
    found = holm(np.array([0.02, np.nan, 0.03]))
    assert found[[0, 2]] == pytest.approx([0.04, 0.04])
    assert np.isnan(found[1])


def test_tests_that_cannot_find_anything_are_not_counted() -> None:
    """Tarone (1990): with a smallest p of 0.125 a test cannot be false at 0.05, and the other one stands alone."""
    found = holm(np.array([0.04, 0.125]), smallest=np.array([0.0, 0.125]))
    assert found == pytest.approx([0.04, 0.25])


def test_letters_of_a_worked_example() -> None:
    """Treatments 1 to 4, of which 1-3, 1-4 and 2-4 differ: a, ab, bc, c (the form of Piepho 2004; from memory)."""
    apart = np.zeros((4, 4), dtype=bool)
    for i, j in ((0, 2), (0, 3), (1, 3)):
        apart[i, j] = apart[j, i] = True
    assert letters(apart) == ["a", "ab", "bc", "c"]


@given(
    st.integers(1, 7).flatmap(
        lambda n: st.tuples(st.just(n), st.lists(st.booleans(), min_size=n * n, max_size=n * n))
    )
)
def test_two_share_a_letter_exactly_where_they_are_not_told_apart(drawn: tuple[int, list[bool]]) -> None:
    """The definition of a compact letter display."""
    size, flags = drawn
    apart = np.triu(np.array(flags).reshape(size, size), 1)
    apart |= apart.T
    found = [set(word) for word in letters(apart)]
    for i in range(size):
        for j in range(i + 1, size):
            assert bool(found[i] & found[j]) is not bool(apart[i, j])
