"""Polylines against shapely (GEOS) and scipy, and the laws of the plane."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import savgol_filter

from polylines import SHAPES, along, line_of, turned
from trackspread.geometry import polyline

few = settings(max_examples=25, deadline=None, derandomize=True)
seeds = st.integers(0, 10_000)


def wandering(seed: int, count: int = 40) -> np.ndarray:
    """Return vertices (V, 2) of a line that wanders without folding back."""
    rng = np.random.default_rng(seed)
    heading = np.cumsum(rng.uniform(-0.5, 0.5, count))
    step = rng.uniform(2.0, 9.0, count)
    return np.cumsum(step[:, None] * np.stack([np.cos(heading), np.sin(heading)], axis=1), axis=0)


def segments_of(points: np.ndarray) -> list[shapely.LineString]:
    return [shapely.LineString(pair) for pair in itertools.pairwise(points)]


@few
@given(seeds)
def test_length_is_that_of_shapely(seed: int) -> None:
    points = wandering(seed)
    found = polyline.cumulative_length(*points.T)
    assert found[0] == 0.0
    expected = [shapely.LineString(points[: k + 1]).length for k in range(1, len(points))]
    np.testing.assert_allclose(found[1:], expected, rtol=1e-12)


@few
@given(seeds, st.floats(1.0, 30.0))
def test_resampling_is_shapely_s_interpolation_at_even_distances(seed: int, step_m: float) -> None:
    points = wandering(seed)
    line = shapely.LineString(points)
    x, y = polyline.resample(*points.T, step_m)
    count = max(1, round(line.length / step_m))
    assert len(x) == count + 1
    at = line.interpolate(np.linspace(0.0, 1.0, count + 1), normalized=True)
    np.testing.assert_allclose(np.stack([x, y], axis=1), shapely.get_coordinates(at), atol=1e-9)


def test_a_line_shorter_than_a_step_keeps_both_ends() -> None:
    x, y = polyline.resample(np.array([0.0, 1.0]), np.array([0.0, 1.0]), 10.0)
    assert (x.tolist(), y.tolist()) == ([0.0, 1.0], [0.0, 1.0])


def test_tangents_and_headings_of_a_circle() -> None:
    """The tangent of a circle stands upright on its radius."""
    angle = np.linspace(0.3, 5.0, 60)
    x, y = 70 * np.cos(angle) + 3, 70 * np.sin(angle) - 8
    tx, ty = polyline.tangents(x, y)
    np.testing.assert_allclose(np.hypot(tx, ty), 1.0)
    np.testing.assert_allclose(tx[1:-1], -np.sin(angle)[1:-1], atol=1e-12)
    np.testing.assert_allclose(ty[1:-1], np.cos(angle)[1:-1], atol=1e-12)
    turn = polyline.headings(x, y)[1:-1] - (angle[1:-1] + np.pi / 2)
    np.testing.assert_allclose((turn + np.pi) % (2 * np.pi) - np.pi, 0.0, atol=1e-12)


def test_vertices_on_one_spot_have_no_tangent_and_give_no_nan() -> None:
    tx, ty = polyline.tangents(np.zeros(4), np.zeros(4))
    assert (tx.tolist(), ty.tolist()) == ([0.0] * 4, [0.0] * 4)


@pytest.mark.parametrize("half", [2, 3, 5])
def test_smoothing_is_savitzky_and_golay_s_with_a_window_that_shrinks_to_the_ends(half: int) -> None:
    values = np.random.default_rng(half).standard_normal(31)
    before = values.copy()
    found = polyline.smooth(values, half)
    for k in range(len(values)):
        room = min(k, len(values) - 1 - k, half)
        if room < 2:
            expected = values[k]
        else:
            window = values[k - room : k + room + 1]
            expected = savgol_filter(window, 2 * room + 1, 2)[room]
        assert found[k] == pytest.approx(expected, abs=1e-12)
    np.testing.assert_array_equal(values, before)


@pytest.mark.parametrize("size", [1, 3, 4, 5, 6])
def test_smoothing_of_a_line_shorter_than_the_window(size: int) -> None:
    found = polyline.smooth(np.arange(size, dtype=float) ** 2, 8)
    np.testing.assert_allclose(found, np.arange(size, dtype=float) ** 2, atol=1e-12)


def test_folds_are_the_vertices_that_turn_back() -> None:
    x, y = np.array([0.0, 10, 20, 15, 18, 30]), np.zeros(6)
    ahead, none = np.ones(6), np.zeros(6)
    assert polyline.without_folds(x, y, ahead, none).tolist() == [True, True, True, False, True, True]
    assert polyline.without_folds(y, x, none, ahead).tolist() == [True, True, True, False, True, True]
    assert polyline.without_folds(y, x, none, -ahead).tolist() == [True, False, False, True, False, True]
    np.testing.assert_array_equal(polyline.without_folds(x[:3], y[:3], -ahead[:3], none[:3]), [1, 0, 1])


@pytest.mark.parametrize("radius_m", [0.5, 20.0])
def test_a_full_turn_along_its_own_tangents_has_no_fold(radius_m: float) -> None:
    angle = np.linspace(0, 2 * np.pi, 40)
    x, y = radius_m * np.cos(angle), radius_m * np.sin(angle)
    assert polyline.without_folds(x, y, -np.sin(angle), np.cos(angle)).all()
    folded = polyline.without_folds(x, y, np.sin(angle), -np.cos(angle))
    assert not folded[1:-1].any()


def test_a_fold_is_judged_by_the_tangents_of_both_its_ends() -> None:
    """On a right angle the chord goes on along neither tangent alone, but along their sum."""
    x, y = np.array([0.0, 10.0, 12.0]), np.array([0.0, 0.0, 8.0])
    assert polyline.without_folds(x, y, np.array([1.0, 1, 0]), np.array([0.0, 0, 1])).all()
    assert polyline.without_folds(x, y, np.array([1.0, -0.4, 0]), np.array([0.0, 0, 1]))[1]


@few
@given(seeds)
def test_projection_onto_segments_is_shapely_s(seed: int) -> None:
    points = wandering(seed)
    rng = np.random.default_rng(seed)
    line = line_of(points)
    p = points[rng.integers(0, len(points), 60)] + rng.normal(0, 15, (60, 2))
    segment = rng.integers(0, len(points) - 1, 60)
    station, offset, distance = polyline.project_onto_segments(*p.T, line.x, line.y, line.station_m, segment)
    for k in range(60):
        piece, point = segments_of(points)[segment[k]], shapely.Point(p[k])
        assert distance[k] == pytest.approx(piece.distance(point), abs=1e-9)
        foot = piece.project(point)
        runs_on = (segment[k] == 0 and foot == 0.0) or (
            segment[k] == len(points) - 2 and foot == piece.length
        )
        if not runs_on:
            assert station[k] == pytest.approx(line.station_m[segment[k]] + foot, abs=1e-9)
            assert abs(offset[k]) == pytest.approx(piece.distance(point), abs=1e-9)
        if 0.0 < foot < piece.length:
            left = shapely.LinearRing([*points[segment[k] : segment[k] + 2], p[k]]).is_ccw
            assert (offset[k] < 0) == left


def test_beyond_the_ends_the_line_runs_on_straight() -> None:
    line = line_of(np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]]))
    station, offset, distance = polyline.project_onto_segments(
        np.array([-3.0, 14.0]), np.array([4.0, 17.0]), line.x, line.y, line.station_m, np.array([0, 1])
    )
    np.testing.assert_allclose(station, [-3.0, 27.0])
    np.testing.assert_allclose(offset, [-4.0, 4.0])
    np.testing.assert_allclose(distance, [5.0, np.hypot(4.0, 7.0)])


def test_a_line_of_one_segment_runs_on_at_both_ends() -> None:
    line = line_of(np.array([[0.0, 0.0], [10.0, 0.0]]))
    station, offset, _ = polyline.project_onto_segments(
        np.array([-3.0, 14.0]), np.array([4.0, -2.0]), line.x, line.y, line.station_m, np.array([0, 0])
    )
    np.testing.assert_allclose(station, [-3.0, 14.0])
    np.testing.assert_allclose(offset, [-4.0, 2.0])


def test_a_segment_without_length_is_a_point() -> None:
    x, y = np.array([0.0, 10.0, 10.0, 20.0]), np.zeros(4)
    station, _, distance = polyline.project_onto_segments(
        np.array([13.0]), np.array([4.0]), x, y, np.array([0.0, 10, 10, 20]), np.array([1])
    )
    assert (station[0], distance[0]) == (10.0, 5.0)


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("turn_deg", [30, 90, 150])
def test_in_the_wedge_of_a_corner_the_side_is_that_of_shapely_s_one_sided_buffer(
    side: int, turn_deg: int
) -> None:
    """Outside a corner neither segment has its foot inside; both must still say the same, right side."""
    turn = side * np.radians(turn_deg)
    points = np.array([[-40.0, 0], [0.0, 0], [40 * np.cos(turn), 40 * np.sin(turn)]])
    line = line_of(points)
    aside = np.arange(-turn_deg + 4, 0, 3) if side > 0 else np.arange(4, turn_deg, 3)
    angle = np.radians(aside) + turn - side * np.pi / 2 if side > 0 else np.radians(aside) + turn + np.pi / 2
    p = 6.0 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    right = shapely.LineString(points).buffer(-15.0, single_sided=True, join_style="mitre", mitre_limit=20)
    for segment in (0, 1):
        station, offset, distance = polyline.project_onto_segments(
            *p.T, line.x, line.y, line.station_m, np.full(len(p), segment)
        )
        np.testing.assert_allclose(station, 40.0, atol=1e-9)
        np.testing.assert_allclose(distance, 6.0)
        on_the_right = np.array([right.contains(shapely.Point(q)) for q in p])
        assert (on_the_right == (side > 0)).all()
        np.testing.assert_allclose(offset, np.where(on_the_right, 6.0, -6.0))


@few
@given(seeds)
def test_projection_at_a_vertex_takes_the_nearer_of_its_two_segments(seed: int) -> None:
    points = wandering(seed)
    rng = np.random.default_rng(seed + 1)
    line = line_of(points)
    vertex = rng.integers(0, len(points), 50)
    p = points[vertex] + rng.normal(0, 6, (50, 2))
    station, offset, distance = polyline.project_at_vertex(*p.T, vertex, line.x, line.y, line.station_m)
    for k, v in enumerate(vertex):
        pieces = [segments_of(points)[j] for j in (v - 1, v) if 0 <= j < len(points) - 1]
        gaps = [piece.distance(shapely.Point(p[k])) for piece in pieces]
        assert distance[k] == pytest.approx(min(gaps), abs=1e-9)
        if 0.01 < station[k] < line.length_m - 0.01:
            assert abs(offset[k]) == pytest.approx(distance[k], abs=1e-9)
            foot = shapely.LineString(points).interpolate(station[k])
            assert foot.distance(shapely.Point(p[k])) == pytest.approx(distance[k], abs=1e-9)


@pytest.mark.parametrize(
    ("point", "near_m", "station_m", "offset_m"),
    [
        ((250.0, 7.0), 245.0, 250.0, -7.0),
        ((250.0, 7.0), 370.0, 368.0, -11.0),
        ((250.0, 7.0), 880.0, 886.0, 29.0),
        ((50.0, -7.0), 560.0, 568.0, -25.0),
    ],
)
def test_near_a_known_station_no_point_changes_its_leg(
    point: tuple[float, float], near_m: float, station_m: float, offset_m: float
) -> None:
    """The legs of the hairpin run 0-300 m east, 318-618 m west 18 m north of it, 636-936 m east again."""
    line = line_of(along(SHAPES["hairpin"]))
    station, offset, distance = polyline.project_near(
        *np.array([point]).T, np.array([near_m]), line.x, line.y, line.station_m, 8
    )
    assert (station[0], offset[0]) == pytest.approx((station_m, offset_m))
    assert distance[0] == pytest.approx(abs(offset_m))


@pytest.mark.parametrize(
    ("near_m", "station_m"), [(80.0, 80.0), (74.0, 80.0), (123.0, 123.0), (129.0, 123.0)]
)
@pytest.mark.parametrize("y", [-6.0, 1.5, 9.0])
def test_near_the_tip_of_a_spur_a_point_that_strays_keeps_its_leg(
    near_m: float, station_m: float, y: float
) -> None:
    """The legs run 0-100 m east and 103-203 m back, 3 m north of it; the point lies 20 m from the tip."""
    line = line_of(along([(0, 0), (100, 0), (100, 3), (0, 3)], 1.0))
    station, _, _ = polyline.project_near(
        np.array([80.0]), np.array([y]), np.array([near_m]), line.x, line.y, line.station_m, 60
    )
    assert station[0] == pytest.approx(station_m, abs=0.6)


@pytest.mark.parametrize("near_m", [90.0, 113.0])
@pytest.mark.parametrize("y", [-4.0, 1.5, 7.0])
@pytest.mark.parametrize(("east", "station_m"), [(1.0, 80.0), (-1.0, 123.0)])
def test_near_the_tip_of_a_spur_a_point_stays_on_the_leg_that_runs_its_way(
    east: float, station_m: float, y: float, near_m: float
) -> None:
    """The same spur; the point is believed to lie on either leg, and may lie across the other one."""
    line = line_of(along([(0, 0), (100, 0), (100, 3), (0, 3)], 1.0))
    point, heading = (np.array([80.0]), np.array([y])), (np.array([east]), np.array([0.0]))
    where = polyline.project_near(*point, np.array([near_m]), line.x, line.y, line.station_m, 60, heading)
    assert where[0][0] == pytest.approx(station_m, abs=5.0)  # not all the way at once


@few
@given(seeds, st.floats(-np.pi / 4, np.pi / 4))
def test_at_an_ordinary_bend_the_heading_changes_nothing(seed: int, heading_rad: float) -> None:
    """Around a corner of 90 degrees all of the line runs within 135 degrees of a way through it: none against."""
    line = line_of(along([(0, 0), (100, 0), (100, 100)], 5.0))
    rng = np.random.default_rng(seed)
    p, near = rng.uniform([70, -30], [130, 30], (20, 2)).T, rng.uniform(80, 120, 20)
    way = np.pi / 4 + heading_rad
    heading = np.full(20, np.cos(way)), np.full(20, np.sin(way))
    plain = polyline.project_near(*p, near, line.x, line.y, line.station_m, 8)
    told = polyline.project_near(*p, near, line.x, line.y, line.station_m, 8, heading)
    np.testing.assert_array_equal(told, plain)


def test_the_window_of_a_projection_reaches_as_far_as_it_is_told() -> None:
    line = line_of(along([(0, 0), (400, 0)], 5.0))
    for half, expected in ((2, 117.5), (4, 127.5), (20, 160.0)):
        station, _, _ = polyline.project_near(
            np.array([160.0]), np.array([3.0]), np.array([102.0]), line.x, line.y, line.station_m, half
        )
        assert station[0] == pytest.approx(expected, abs=2.5)
    back, _, _ = polyline.project_near(
        np.array([40.0]), np.array([3.0]), np.array([102.0]), line.x, line.y, line.station_m, 4
    )
    assert back[0] == pytest.approx(77.5, abs=2.5)


@few
@given(seeds, st.floats(-3.1, 3.1), st.floats(0.2, 5.0))
def test_turning_shifting_and_scaling_do_what_they_do_in_the_plane(
    seed: int, angle: float, factor: float
) -> None:
    points = wandering(seed)
    rng = np.random.default_rng(seed)
    vertex = rng.integers(0, len(points), 40)
    p = points[vertex] + rng.normal(0, 5, (40, 2))

    def projected(points: np.ndarray, p: np.ndarray) -> np.ndarray:
        line = line_of(points)
        return np.array(polyline.project_at_vertex(*p.T, vertex, line.x, line.y, line.station_m))

    here = projected(points, p)
    there = projected(turned(points, angle, (900, -300)), turned(p, angle, (900, -300)))
    np.testing.assert_allclose(there, here, atol=1e-8)
    np.testing.assert_allclose(projected(factor * points, factor * p), factor * here, atol=1e-8)


@few
@given(seeds)
def test_reversing_the_line_flips_offsets_and_counts_stations_from_the_other_end(seed: int) -> None:
    points = wandering(seed)
    rng = np.random.default_rng(seed)
    vertex = rng.integers(0, len(points), 40)
    p = points[vertex] + rng.normal(0, 5, (40, 2))
    line, back = line_of(points), line_of(points[::-1])
    s1, o1, d1 = polyline.project_at_vertex(*p.T, vertex, line.x, line.y, line.station_m)
    s2, o2, d2 = polyline.project_at_vertex(*p.T, len(points) - 1 - vertex, back.x, back.y, back.station_m)
    np.testing.assert_allclose(d2, d1, atol=1e-9)
    clear = np.isclose(s1 + s2, line.length_m)
    assert clear.mean() > 0.9  # two segments may be equally near
    np.testing.assert_allclose(o2[clear], -o1[clear], atol=1e-9)


@pytest.mark.parametrize("at_once", [1, 7, 40])
def test_points_done_a_few_at_a_time_are_those_done_together(
    at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = line_of(wandering(3))
    rng = np.random.default_rng(4)
    near = rng.uniform(0.0, line.station_m[-1], 40)
    p = [np.interp(near, line.station_m, c) + rng.normal(0.0, 3.0, 40) for c in (line.x, line.y)]
    heading = np.cos(near), np.sin(near)
    together = polyline.project_near(*p, near, line.x, line.y, line.station_m, 3, heading)
    monkeypatch.setattr(polyline, "AT_ONCE", at_once)
    found = polyline.project_near(*p, near, line.x, line.y, line.station_m, 3, heading)
    np.testing.assert_array_equal(found, together)


def test_near_the_ends_of_a_line_its_last_segments_count() -> None:
    """A straight line of five vertices 10 m apart, points 2 m to its right: by hand."""
    x = 10.0 * np.arange(5)
    line = x, np.zeros(5), x
    at = np.array([0.0, 1.0, 4.0, 36.0, 39.0, 40.0])
    station, offset, distance = polyline.project_near(at, np.full(6, -2.0), at, *line, 1)
    np.testing.assert_allclose(station, at)
    np.testing.assert_allclose(offset, 2.0)
    np.testing.assert_allclose(distance, 2.0)
