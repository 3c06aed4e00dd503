"""Crossings of the stations' normals against geometry by hand and shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from polylines import SHAPES, along, away_by_shapely, bundle_of, line_of
from trackspread.geometry.crossings import Crossings, crossings, point_offsets
from trackspread.geometry.matching import Line, match
from trackspread.geometry.points import Bundle

GAP_M = 80.0


def crossed(
    traces: list[np.ndarray], line: Line, gap_m: float = GAP_M
) -> tuple[Crossings, Bundle, np.ndarray]:
    bundle = bundle_of(traces, gap_m)
    station = match(bundle, line, 60.0)
    return crossings(bundle, station, line, gap_m), bundle, station


@pytest.mark.parametrize("right_m", [-7.0, 0.0, 4.0])
def test_a_parallel_trace_keeps_its_offset_at_every_station(right_m: float) -> None:
    line = line_of(along([(0, 0), (400, 0)]))
    trace = along([(52, 0), (348, 0)], 8.0, right_m)
    found, _, _ = crossed([trace], line)
    inside = (line.station_m >= 52) & (line.station_m <= 348)
    np.testing.assert_array_equal(np.isfinite(found.offset_m[0]), inside)
    np.testing.assert_allclose(found.offset_m[0, inside], right_m, atol=1e-9)
    np.testing.assert_allclose(found.time_s[0, inside], (line.station_m[inside] - 52) / 8.0)
    np.testing.assert_allclose(found.span_m[0, inside], 8.0)
    assert not found.away.any()
    assert np.isnan(found.away_m).all()


def test_offsets_are_interpolated_between_two_points() -> None:
    line = line_of(along([(0, 0), (200, 0)]))
    found, _, _ = crossed([np.array([[0, 2.0], [40, -2.0], [100, -5], [200, -5]])], line, 150.0)
    np.testing.assert_allclose(found.offset_m[0, [0, 4, 8, 14, 20]], [-2, 0, 2, 4.0 - 0.5, 5.0])
    np.testing.assert_allclose(found.span_m[0, [1, 10, 30]], [40, 60, 100])


def test_sparse_sampling_is_not_cut_across_a_bend() -> None:
    """Points 60 m apart on a right angle: the chord between them cuts the corner by 21 m."""
    line = line_of(along(SHAPES["corner"]))
    sparse = np.array([[20, 0], [80, 0], [140, 0], [170, 0], [200, 30], [200, 60], [200, 120], [200, 180.0]])
    found, _, _ = crossed([sparse], line)
    inside = (line.station_m >= 20) & (line.station_m <= 380)
    assert np.abs(found.offset_m[0, inside]).max() < 1e-6


def test_points_far_apart_say_nothing_between_them_and_a_short_cut_does() -> None:
    """A point a minute beside others a second: the chord of a bend was told as a way far aside."""
    line = line_of(along([(0, 0), (300, 0), (300, 300), (700, 300)]))
    chord = np.array([[0, 0], [150.0, 0], [300, 220], [400, 300], [550, 300], [700, 300]])
    found, _, _ = crossed([chord], line, 200.0)
    between = (line.station_m > 150) & (line.station_m < 520)
    assert np.isnan(found.offset_m[0, between]).all()
    assert not found.away.any()
    spur = line_of(along([(0, 0), (300, 0), (300, 200), (310, 200), (310, 0), (700, 0)]))
    short, _, _ = crossed([along([(0, 0), (700, 0)], 10.0)], spur)
    assert short.away[0, (spur.station_m > 320) & (spur.station_m < 690)].all()


def test_each_trace_has_its_own_row() -> None:
    line = line_of(along(SHAPES["corner"]))
    found, _, _ = crossed([along(SHAPES["corner"], 6.0, d) for d in (0.0, 3.0, -2.0)], line)
    straight = (line.station_m > 10) & (line.station_m < 180)
    np.testing.assert_allclose(
        found.offset_m[:, straight].T, np.tile([0.0, 3.0, -2.0], (straight.sum(), 1)), atol=1e-9
    )


def test_over_a_gap_there_is_nothing() -> None:
    line = line_of(along([(0, 0), (600, 0)]))
    whole = along([(0, 0), (600, 0)], 5.0, 1.0)
    torn = whole[(whole[:, 0] < 200) | (whole[:, 0] > 320)]
    found, _, _ = crossed([torn], line)
    missing = (line.station_m > 190) & (line.station_m < 325)
    np.testing.assert_array_equal(np.isnan(found.offset_m[0]), missing)
    assert np.isnan(found.time_s[0, missing]).all()
    assert np.isnan(found.span_m[0, missing]).all()
    assert not found.away.any()


def test_a_short_break_is_bridged() -> None:
    line = line_of(along([(0, 0), (600, 0)]))
    whole = along([(0, 0), (600, 0)], 5.0, 1.0)
    found, _, _ = crossed([whole[(whole[:, 0] < 200) | (whole[:, 0] > 260)]], line)
    assert np.isfinite(found.offset_m[0]).all()
    assert found.span_m[0, 44] == pytest.approx(70.0)


def test_a_slow_trace_counts_point_by_point() -> None:
    """Points 0.4 m apart, left and right of the line in turn: every one of them advances."""
    line = line_of(along([(0, 0), (40, 0)], 1.0))
    x = np.arange(0.0, 40.0, 0.4)
    y = np.where(np.arange(len(x)) % 2 == 0, 1.0, -1.0)
    found = crossings(bundle_of([np.stack([x, y], axis=1)]), x.copy(), line, GAP_M)
    inside = line.station_m <= x[-1]
    np.testing.assert_allclose(found.offset_m[0, inside], np.interp(line.station_m[inside], x, -y), atol=1e-9)
    np.testing.assert_allclose(found.span_m[0, inside][:-1], 0.4)


def test_a_trace_without_a_place_does_not_hide_the_next() -> None:
    line = line_of(along([(0, 0), (100, 0)]))
    bundle = bundle_of([np.array([[0.0, 500], [50, 500]]), along([(0, 0), (100, 0)], 10.0)])
    station = np.where(bundle.owner == 1, bundle.x, np.nan)
    found = crossings(bundle, station, line, GAP_M)
    assert np.isnan(found.offset_m[0]).all()
    assert np.isfinite(found.offset_m[1]).all()


def test_two_points_are_enough_for_the_way_between_them() -> None:
    line = line_of(along([(0, 0), (100, 0)]))
    found = crossings(bundle_of([np.array([[20.0, -2], [60, 2]])]), np.array([20.0, 60.0]), line, GAP_M)
    np.testing.assert_allclose(found.offset_m[0, 4:13], np.linspace(2.0, -2.0, 9))
    assert np.isnan(found.offset_m[0, :4]).all()
    assert np.isnan(found.offset_m[0, 13:]).all()


def test_points_that_fall_back_do_not_count() -> None:
    line = line_of(along([(0, 0), (200, 0)]))
    trace = along([(0, 0), (200, 0)], 10.0)
    back = np.concatenate([trace[:12], [[95.0, -9.0], [104.0, -9.0]], trace[12:]])
    bundle = bundle_of([back])
    found = crossings(bundle, back[:, 0].copy(), line, GAP_M)
    np.testing.assert_allclose(found.offset_m[0], 0.0, atol=1e-9)


def test_of_the_points_around_a_tip_the_outermost_counts() -> None:
    line = line_of(along([(0, 0), (100, 0), (100, 3), (0, 3)], 1.0))
    trace = np.array([[80.0, 0], [101.5, 0], [106, 1.5], [109, 1.5], [104, 2], [80, 3]])
    station = np.array([80.0, 101.5, 101.5, 101.5, 101.5, 123.0])
    found = crossings(bundle_of([trace]), station, line, GAP_M)
    offset = point_offsets(bundle_of([trace]), station, line)
    expected = np.interp(101.0, [80.0, 101.5], [0.0, 9.0])
    assert offset[3] == pytest.approx(9.0)
    assert found.offset_m[0, 101] == pytest.approx(expected, abs=0.05)


def test_a_trace_with_fewer_than_two_points_on_the_line_has_no_offsets() -> None:
    line = line_of(along([(0, 0), (200, 0)]))
    bundle = bundle_of([along([(0, 0), (200, 0)]), along([(0, 500), (200, 500)])])
    station = np.where(bundle.owner == 0, bundle.x, np.nan)
    station[bundle.of(1).start] = 0.0
    found = crossings(bundle, station, line, GAP_M)
    assert np.isfinite(found.offset_m[0]).all()
    assert np.isnan(found.offset_m[1]).all()
    assert not found.away.any()


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_detour_is_as_far_away_as_shapely_says(side: float) -> None:
    line = line_of(along([(0, 0), (800, 0)]))
    detour = along([(0, 0), (300, 0), (300, -90 * side), (500, -90 * side), (500, 0), (800, 0)])
    found, bundle, station = crossed([detour], line)
    assert np.isnan(station[(np.abs(bundle.y) > 61)]).all()
    away = found.away[0]
    assert away.any()
    assert np.isnan(found.offset_m[0, away]).all()
    middle = (line.station_m > 330) & (line.station_m < 470)
    assert away[middle].all()
    assert not away[(line.station_m < 280) | (line.station_m > 520)].any()
    way = shapely.LineString(detour)
    for k in np.flatnonzero(away):
        far = away_by_shapely(way, line.x[k])
        assert far - 1e-9 <= abs(found.away_m[0, k]) <= far + (0.5 if middle[k] else 4.0)
    assert (np.sign(found.away_m[0, middle]) == side).all()
    assert np.isfinite(found.time_s[0, away]).all()
    assert (np.diff(found.time_s[0]) >= 0).all()
    assert np.isnan(found.away_m[0, ~away]).all()


def test_a_detour_aside_of_a_line_up_north_is_measured_both_ways() -> None:
    line = line_of(along([(50, 200), (50, 1000)]))
    corners = [(50, 200), (50, 450), (-40, 450), (-40, 700), (50, 700), (50, 1000)]
    found, _, _ = crossed([along(corners)], line)
    k = int(np.argmin(np.abs(line.y - 575)))
    assert found.away_m[0, k] == pytest.approx(-90.0, abs=0.02)  # sampled every two metres


def test_two_detours_of_one_trace_are_measured_each_on_its_own_way() -> None:
    line = line_of(along([(0, 0), (1400, 0)]))
    corners = [
        (0, 0),
        (300, 0),
        (300, 75),
        (450, 75),
        (450, 0),
        (900, 0),
        (900, -100),
        (1050, -100),
        (1050, 0),
        (1400, 0),
    ]
    found, _, _ = crossed([along(corners)], line)
    assert found.away_m[0, 75] == pytest.approx(-75.0, abs=0.5)
    assert found.away_m[0, 195] == pytest.approx(100.0, abs=0.5)
    assert not found.away[0, 110:170].any()


def test_a_trace_that_is_told_to_be_away_between_near_points_is_away() -> None:
    """NaN between two stations: the trace left the line there, however short the way along it is."""
    line = line_of(along([(0, 0), (200, 0)]))
    bundle = bundle_of([along([(0, 0), (200, 0)], 10.0)])
    station = bundle.x.copy()
    station[8:11] = np.nan
    found = crossings(bundle, station, line, GAP_M)
    np.testing.assert_array_equal(found.away[0], (line.station_m >= 70) & (line.station_m < 110))


def test_way_along_the_line_longer_than_a_gap_is_away_where_points_were_logged() -> None:
    """A shortcut: 60 m from point to point, but 180 m along the line."""
    line = line_of(along([(0, 0), (200, 0), (200, 60), (140, 60), (140, 300)]))
    trace = np.concatenate([along([(0, 0), (140, 0)], 10.0), along([(140, 60), (140, 300)], 10.0)])
    bundle = bundle_of([trace])
    station = np.concatenate([trace[:15, 0], 320.0 + trace[15:, 1] - 60.0])
    found = crossings(bundle, station, line, GAP_M)
    inside = (line.station_m > 140) & (line.station_m < 320)
    assert found.away[0, inside].all()
    assert found.away_m[0, (line.station_m == 200).argmax()] == pytest.approx(-60.0, abs=0.5)


def test_point_offsets_need_a_station() -> None:
    line = line_of(along([(0, 0), (200, 0)]))
    bundle = bundle_of([np.array([[10.0, 3.0], [20.0, -4.0], [30.0, 5.0]])])
    found = point_offsets(bundle, np.array([10.0, np.nan, 30.0]), line)
    np.testing.assert_allclose(found, [-3.0, np.nan, -5.0])
