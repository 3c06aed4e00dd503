"""The points chosen for matching: twelve metres apart, with both ends of every gap, and their headings."""

from __future__ import annotations

import numpy as np
import pytest

from polylines import SHAPES, along, bundle_of
from trackspread.geometry.samples import sample


def test_samples_are_twelve_metres_apart_with_both_ends() -> None:
    traces = [along(SHAPES["corner"], 2.0), along([(0, 0), (30, 0)], 1.0), np.array([[7.0, 7.0], [7.0, 8.0]])]
    bundle = bundle_of(traces)
    found = sample(bundle)
    travel = bundle.travel_m
    assert len(found.first) == 3
    np.testing.assert_array_equal(found.x, bundle.x[found.index])
    np.testing.assert_array_equal(found.y, bundle.y[found.index])
    np.testing.assert_array_equal(found.travel_m, travel[found.index])
    for trace, mine in enumerate(np.split(found.index, found.first[1:])):
        assert mine[0] == bundle.start[trace]
        assert mine[-1] == bundle.start[trace] + len(traces[trace]) - 1
        assert np.all(np.diff(travel[mine])[:-1] == 12.0) or len(mine) < 3


def test_the_heading_of_a_sample_is_the_way_from_the_one_before_to_the_one_after() -> None:
    bundle = bundle_of([along(SHAPES["corner"], 2.0), along([(0, 0), (-60, 0)], 2.0)])
    found = sample(bundle)
    np.testing.assert_allclose(np.hypot(found.heading_x, found.heading_y), 1.0)
    for mine in np.split(np.arange(len(found.index)), found.first[1:]):
        for k in mine:
            a, b = max(k - 1, mine[0]), min(k + 1, mine[-1])
            way = np.array([found.x[b] - found.x[a], found.y[b] - found.y[a]])
            expected = way / np.hypot(*way)
            assert (found.heading_x[k], found.heading_y[k]) == pytest.approx(tuple(expected))


def test_both_ends_of_a_gap_are_samples_and_the_heading_is_not_taken_across_it() -> None:
    """Out on one leg of a hairpin, a gap over its turn, back on the other: 18 m aside, 180 degrees round."""
    trace = np.concatenate([along([(0, 0), (101, 0)], 1.0), along([(40, 18), (0, 18)], 1.0)])
    found = sample(bundle_of([trace], gap_m=40.0))
    chosen = found.index.tolist()
    before, after = chosen.index(101), chosen.index(102)
    assert found.heading_x[before] == pytest.approx(1.0)
    assert found.heading_x[after] == pytest.approx(-1.0)


def test_a_trace_that_never_moves_has_no_heading_and_gives_no_nan() -> None:
    found = sample(bundle_of([np.zeros((3, 2)), along([(0, 0), (60, 0)])]))
    assert (found.heading_x[: found.first[1]] == 0).all()
    assert np.isfinite(found.heading_x).all()


def test_headings_and_lengths_of_far_points_among_near_ones_are_in_doubt() -> None:
    """Beyond 50 m a heading counts the less the longer the line between two points, and a way may be longer."""
    near, far = along([(0, 0), (2000, 0)], 5.0), along([(0, 0), (2000, 0)], 200.0)
    found = sample(bundle_of([near, near, far], gap_m=400.0))
    sparse = found.first[2]
    assert (found.heading_share[:sparse] == 1.0).all()
    assert (found.bent_m[:sparse] == 0.0).all()
    np.testing.assert_allclose(found.heading_share[sparse:], 50.0 / 200.0)
    np.testing.assert_allclose(found.bent_m[sparse + 1 :], 0.3 * 150.0)
    alike = sample(bundle_of([far, far, far], gap_m=400.0), sparse=True)
    assert (alike.heading_share == 1.0).all()
    assert (alike.bent_m == 0.0).all()
