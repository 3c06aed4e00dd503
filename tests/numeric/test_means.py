"""Means of what is known, against NumPy's own masked arrays."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from trackspread.numeric.means import about_mean, mean_known

VALUES = arrays(float, (3, 4), elements=st.floats(-1e6, 1e6) | st.just(np.nan))


@given(VALUES)
def test_the_mean_is_that_of_a_masked_array(values: np.ndarray) -> None:
    wanted = np.ma.masked_invalid(values).mean(axis=0).filled(np.nan)
    np.testing.assert_allclose(mean_known(values), wanted, rtol=1e-12, atol=1e-9)


@given(VALUES, st.integers(1, 3))
def test_residuals_sum_to_nothing_where_there_are_enough(values: np.ndarray, least: int) -> None:
    left = about_mean(values, least)
    enough = np.isfinite(values).sum(axis=0) >= least
    assert np.array_equal(np.isfinite(left), np.isfinite(values) & enough)
    assert np.abs(np.nansum(left, axis=0)).max() < 1e-6
