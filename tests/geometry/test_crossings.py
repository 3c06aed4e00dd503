"""Crossings of the stations' normals against geometry by hand and shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from polylines import SHAPES, along, bundle_of, line_of, turned
from trackspread.geometry.crossings import Crossings, crossings, point_offsets, with_ways_beside
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


def away_by_shapely(way: shapely.LineString, x: float) -> float:
    """Distance of (x, 0) on a line along y = 0 to a way: across it, or to its nearest place where that is less
    than half as far or the way passes x nowhere."""
    here = shapely.Point(x, 0.0)
    near = way.distance(here)
    passed = way.intersection(shapely.LineString([(x, -500.0), (x, 500.0)]))
    across = near if passed.is_empty else passed.hausdorff_distance(here)
    return across if across <= 2.0 * near else near


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


# --- what was logged out of reach before the first match ---------------------------------------------


def led(traces: list[np.ndarray], line: Line) -> tuple[Crossings, Crossings, Bundle, np.ndarray]:
    found, bundle, station = crossed(traces, line)
    return with_ways_beside(found, bundle, station, line), found, bundle, station


BESIDE = along([(0, -100), (300, -100), (400, 0), (800, 0)])
"""300 m beside the line, 100 m to its right, then over to it."""


def test_a_start_out_of_reach_passes_the_stations_beside_it() -> None:
    """Reckoned back by the way logged: 5 m and a second from point to point; distances by shapely."""
    line = line_of(along([(0, 0), (800, 0)]))
    found, before, bundle, station = led([BESIDE], line)
    joins = int(np.flatnonzero(np.isfinite(station))[0])
    assert abs(bundle.y[joins]) <= 60.0
    lead = line.station_m < station[joins]
    np.testing.assert_array_equal(found.away[0], lead)
    seconds = joins - (station[joins] - line.station_m[lead]) / 5.0
    np.testing.assert_allclose(found.time_s[0, lead], seconds, atol=0.01)
    way = shapely.LineString(BESIDE[: joins + 1])
    apart = [away_by_shapely(way, x) for x in line.x[lead]]
    np.testing.assert_allclose(found.away_m[0, lead], apart, atol=0.5)
    for name in ("time_s", "away_m"):
        np.testing.assert_array_equal(getattr(found, name)[0, ~lead], getattr(before, name)[0, ~lead])
    assert found.offset_m is before.offset_m
    assert not before.away.any()
    left, *_ = led([BESIDE * [1, -1]], line)
    np.testing.assert_allclose(left.away_m, -found.away_m)


def test_a_lead_reaches_back_no_farther_than_its_way_and_its_last_interruption() -> None:
    line = line_of(along([(0, 0), (800, 0)]))
    for begin, trace in ((0, BESIDE[20:]), (3, np.vstack([BESIDE[:3] - [500.0, 0.0], BESIDE[20:]]))):
        found, _, _, station = led([trace], line)
        joins = int(np.flatnonzero(np.isfinite(station))[0])
        lead = line.station_m < station[joins]
        lead &= line.station_m >= station[joins] - 5.0 * (joins - begin)
        np.testing.assert_array_equal(found.away[0], lead)
        way = shapely.LineString(trace[begin : joins + 1])
        apart = [away_by_shapely(way, x) for x in line.x[lead]]
        np.testing.assert_allclose(found.away_m[0, lead], apart, atol=0.5)


def test_who_goes_off_and_leaps_back_or_stops_passes_the_stations_beside() -> None:
    """A tunnel's guess that drifts off and leaps to the exit; a receiver that does not come back."""
    line = line_of(along([(0, 0), (1600, 0)]))
    off = along([(0, 0), (400, 0), (500, -100), (800, -100)])
    leap = np.vstack([off, along([(900, 0), (1600, 0)])])
    for trace in (off, leap):
        found, before, _, station = led([trace], line)
        last = int(np.flatnonzero(np.isfinite(station[: len(off)]))[-1])
        reckoned = station[last] + 5.0 * (len(off) - 1 - last)
        trail = (line.station_m > station[last]) & (line.station_m <= reckoned + 1e-6)
        assert station[last] < 470.0
        assert 750.0 < reckoned < 900.0
        np.testing.assert_array_equal(found.away[0], trail)
        assert not before.away.any()
        way = shapely.LineString(off[last:])
        apart = [away_by_shapely(way, x) for x in line.x[trail]]
        np.testing.assert_allclose(found.away_m[0, trail], apart, atol=0.5)
        seconds = last + (line.station_m[trail] - station[last]) / 5.0
        np.testing.assert_allclose(found.time_s[0, trail], seconds, atol=1.0)  # the corner cuts a step
    assert np.isfinite(found.offset_m[0, -100:]).all()


def test_a_trail_ends_where_the_trace_is_on_the_line_again() -> None:
    """Standing about far off makes way, and still no station is passed twice."""
    line = line_of(along([(0, 0), (1600, 0)]))
    trace = np.vstack([along([(0, 0), (400, 0), (400, -200), (1000, -200)]), along([(600, 0), (1600, 0)])])
    found, _, _, station = led([trace], line)
    back = float(np.nanmin(station[np.flatnonzero(trace[:, 0] == 600.0)[-1] :]))
    assert found.away[0].any()
    assert not (found.away[0] & np.isfinite(found.offset_m[0])).any()
    assert line.station_m[found.away[0]].max() < back


def test_a_lead_and_a_detour_are_both_away() -> None:
    line = line_of(along([(0, 0), (1600, 0)]))
    detour = along([(800, 0), (1000, 0), (1000, 90), (1200, 90), (1200, 0), (1600, 0)])
    found, before, *_ = led([np.vstack([BESIDE[:-1], detour])], line)
    assert before.away[0, 220]
    assert found.away[0, [20, 220]].all()
    assert not found.away[0, 100]


@pytest.mark.parametrize("turn_rad", [0.0, 1.6, 3.5])
@pytest.mark.parametrize(("angle_deg", "away"), [(70.0, True), (80.0, False), (110.0, False)])
def test_a_way_across_the_line_is_no_lead(angle_deg: float, away: bool, turn_rad: float) -> None:
    """It must make a quarter of its length along the line: cos 75.5 degrees."""
    line = line_of(turned(along([(0, 0), (800, 0)]), turn_rad, (3000.0, -2000.0)))
    angle = np.radians(angle_deg)
    across = along([(400 - 300 * np.cos(angle), -300 * np.sin(angle)), (400, 0), (800, 0)])
    trace, beside = (turned(points, turn_rad, (3000.0, -2000.0)) for points in (across, BESIDE))
    elsewhere = trace + 5000.0
    found, before, *_ = led([elsewhere, trace, beside], line)
    assert not found.away[0].any()
    assert found.away[1].any() == away
    assert found.away[2, 20]
    if not away:
        np.testing.assert_array_equal(found.time_s[1], before.time_s[1])


def test_a_trace_that_begins_on_the_line_has_no_lead() -> None:
    line = line_of(along([(0, 0), (800, 0)]))
    found, before, *_ = led([along([(100, 3), (800, 3)])], line)
    assert not found.away.any()
    np.testing.assert_array_equal(found.time_s, before.time_s)


def test_what_is_passed_out_of_reach_ends_where_the_trace_is_back() -> None:
    """Off the line from 300 m on, beside it to 700 m, then back from 500 to 600 m: away between, nowhere else."""
    line = line_of(along([(0, 0), (800, 0)]))
    strays = along([(0, 0), (300, 0), (330, -100), (700, -100)])
    back = along([(500, 0), (600, 0)])
    found, before, _, _ = led([np.concatenate([strays, back])], line)
    away = found.away[0] & ~before.away[0]
    assert line.station_m[away].min() == pytest.approx(310.0, abs=10.0)
    assert line.station_m[away].max() == pytest.approx(495.0, abs=10.0)
    assert not (found.away[0] & np.isfinite(before.offset_m[0])).any()
    assert found.away_m[0, away].max() == pytest.approx(100.0, abs=1.0)
