"""A smooth curve through scattered points, and the line of sparse traces against the plain pointwise mean."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import make_smoothing_spline

from sparse_lines import aligned, distance_m, drawn, line_of_points, mean_line
from thinly import first_quick
from trackspread.geometry.consensus.curve import smooth_curve


def test_points_on_a_straight_line_give_that_line_also_beyond_them() -> None:
    at = np.array([0.0, 20.0, 50.0, 90.0, 130.0])
    x, y, weight = smooth_curve(at, 3.0 + 0.6 * at, 1.0 - 0.8 * at, np.array([-10.0, 65.0, 140.0]), 10.0)
    np.testing.assert_allclose(x, [-3.0, 42.0, 87.0], atol=0.05)
    np.testing.assert_allclose(y, [9.0, -51.0, -111.0], atol=0.05)
    assert weight.min() > 0.9


def test_a_circle_comes_back_as_by_a_smoothing_spline_and_a_point_far_off_has_no_say() -> None:
    """Against scipy's smoothing spline by cross-validation, on the points without the one that is 80 m off."""
    ours, theirs = [], []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        at = np.sort(rng.uniform(0.0, 900.0, 200))
        points = 300.0 * np.stack([np.cos(at / 300.0), np.sin(at / 300.0)]) + rng.normal(0.0, 5.0, (2, 200))
        points[:, 100] += 80.0
        where = np.linspace(20.0, 880.0, 87)
        x, y, weight = smooth_curve(at, *points, where, 20.0)
        assert weight[100] == 0.0
        rest = np.arange(200) != 100
        splines = [make_smoothing_spline(at[rest], own[rest])(where) for own in points]
        ours.append(np.mean((np.hypot(x, y) - 300.0) ** 2))
        theirs.append(np.mean((np.hypot(*splines) - 300.0) ** 2))
    assert np.sqrt(np.mean(ours)) < 1.15 * np.sqrt(np.mean(theirs))


@pytest.mark.parametrize("scale_m", first_quick([100.0, 300.0, 1000.0]))
def test_sparse_lines_are_nearer_to_the_truth_than_their_pointwise_mean(scale_m: float) -> None:
    """Three to twenty lines of 3 to 12 points: once up to 65 % farther, and now and then a stub."""
    for count in (3, 5, 20):
        ours, plain = [], []
        for seed in range(5):
            lines, truth = drawn(np.random.default_rng([11, int(scale_m), count, seed]), scale_m, count)
            line = line_of_points(aligned(lines), scale_m)
            ours.append(distance_m(line, truth))
            plain.append(distance_m(mean_line(aligned(lines)), truth))
            assert np.hypot(np.diff(line[0]), np.diff(line[1])).sum() > 0.6 * scale_m
        assert np.mean(ours) < np.mean(plain)
