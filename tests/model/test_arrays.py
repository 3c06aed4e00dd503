"""First known values, the earliest of several traces, what is kept."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from trackspread.model.arrays import earliest, first_known, kept

TIMES = st.lists(st.floats(0, 1e9) | st.just(float("nan")), max_size=5)


@given(TIMES)
def test_the_first_known_is_that_of_a_plain_loop(values: list[float]) -> None:
    known = [value for value in values if not math.isnan(value)]
    found = first_known(np.array(values, dtype=float))
    assert found == known[0] if known else np.isnan(found)


@given(st.lists(TIMES, max_size=4))
def test_the_earliest_is_the_least_first_known(traces: list[list[float]]) -> None:
    firsts = [next((t for t in trace if not math.isnan(t)), np.inf) for trace in traces]
    assert earliest([np.array(trace, dtype=float) for trace in traces]) == min(firsts, default=np.inf)


def test_what_is_left_out_is_unknown_and_the_rest_untouched() -> None:
    values = np.array([[1.0, 2.0], [np.nan, 4.0]])
    found = kept(values, np.array([[False, True], [False, False]]))
    assert np.array_equal(found, [[1.0, np.nan], [np.nan, 4.0]], equal_nan=True)
    assert values[0, 1] == 2.0
