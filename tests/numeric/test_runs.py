"""Runs against itertools and scipy.ndimage."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from trackspread.numeric.runs import joined, runs

masks = st.lists(st.booleans(), min_size=1, max_size=40).map(lambda values: np.array(values, dtype=bool))


@settings(max_examples=150, deadline=None, derandomize=True)
@given(masks)
def test_runs_are_the_objects_that_scipy_finds(mask: np.ndarray) -> None:
    label, _ = ndimage.label(mask)
    expected = [(part[0].start, part[0].stop - 1) for part in ndimage.find_objects(label)]
    found = runs(mask)
    assert found.shape == (len(expected), 2)
    assert [tuple(run) for run in found.tolist()] == expected


@settings(max_examples=150, deadline=None, derandomize=True)
@given(masks, st.integers(0, 6))
def test_joining_closes_the_breaks_up_to_a_length(mask: np.ndarray, most_apart: int) -> None:
    breaks, _ = ndimage.label(~mask)
    closed = mask.copy()
    for (part,) in ndimage.find_objects(breaks):
        if part.start > 0 and part.stop < len(mask) and part.stop - part.start <= most_apart:
            closed[part] = True
    np.testing.assert_array_equal(joined(runs(mask), most_apart), runs(closed))
