"""Roughness: of what drives an error, not of where the trace goes."""

from __future__ import annotations

import numpy as np
import pytest

from polylines import gauss_markov
from trackspread.statistics.astray.roughness import roughness, unrest

STEP_M, SIZE = 5.0, 800


def test_roughness_is_of_the_innovations_and_not_of_the_course() -> None:
    """A straight drift of any slope has no second differences; Gauss-Markov errors seven times as large have seven
    times as large ones."""
    rng = np.random.default_rng(13)
    plain = gauss_markov(rng, 4, SIZE, STEP_M, 200.0)
    drift = plain + 0.05 * STEP_M * np.arange(SIZE)
    scale = np.ones(plain.shape)
    np.testing.assert_allclose(roughness(drift, scale, STEP_M), roughness(plain, scale, STEP_M), atol=1e-9)
    larger = plain * np.array([1.0, 1.0, 1.0, 7.0])[:, None]
    found_rough = roughness(larger, scale, STEP_M)
    assert unrest(found_rough[3], 300, 340, STEP_M) == pytest.approx(7.0, rel=0.5)
    assert unrest(found_rough[0], 300, 340, STEP_M) < 2.0
    of_its_own = roughness(larger, scale, STEP_M, np.array([0, 0, 0, 1]))
    assert unrest(of_its_own[3], 300, 340, STEP_M) < 2.0
